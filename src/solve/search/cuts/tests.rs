//! Cuts against solutions found by trying everything.

use proptest::prelude::*;

use super::*;

/// The cheapest solution by trying everything.
fn cheapest(covering: &Covering) -> Option<f64> {
    fn go(covering: &Covering, next: usize, left: &mut Vec<f64>, cost: f64, best: &mut Option<f64>) {
        if best.is_some_and(|best| cost >= best) {
            return;
        }
        if left.iter().all(|row| *row <= 1e-9) {
            *best = Some(cost);
            return;
        }
        let Some((price, entries)) = covering.columns.get(next) else { return };
        for copies in 0..=covering.most[next] {
            let take = |left: &mut Vec<f64>, sign: f64| {
                entries
                    .iter()
                    .for_each(|(row, value)| left[*row as usize] -= sign * value * f64::from(copies));
            };
            take(left, 1.0);
            go(covering, next + 1, left, cost + price * f64::from(copies), best);
            take(left, -1.0);
        }
    }
    let mut best = None;
    go(covering, 0, &mut covering.rhs.clone(), 0.0, &mut best);
    best
}

proptest! {
    /// No cut may take the cheapest solution away, and no column that it uses may be dropped.
    #[test]
    fn cuts_leave_the_cheapest_solution(
        rhs in prop::collection::vec(1u32..5, 2..5),
        columns in prop::collection::vec((3u32..40, prop::collection::vec(0u32..4, 5)), 2..7),
        slack in 0u32..30,
    ) {
        let columns: Vec<(f64, Vec<(u32, f64)>)> = columns.iter().map(|(cost, entries)| {
            let entries = entries.iter().take(rhs.len()).enumerate().filter(|(_, n)| **n > 0);
            (f64::from(*cost), entries.map(|(row, n)| (row as u32, f64::from(*n))).collect())
        }).collect();
        let mut covering = Covering {
            most: vec![5; columns.len()],
            columns,
            rhs: rhs.iter().map(|value| f64::from(*value)).collect(),
            cutoff: f64::INFINITY,
        };
        let Some(best) = cheapest(&covering) else { return Ok(()) };
        covering.cutoff = best + f64::from(slack);
        let mut tightened = Tight::new(covering);
        tightened.tighten(30, &Stop::never());
        prop_assert!(tightened.bound <= best + 1e-9, "{} {}", tightened.bound, best);
        let again = cheapest(&tightened.covering).unwrap();
        prop_assert!((again - best).abs() < 1e-9, "{} {}", again, best);
    }
}
