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

proptest! {
    /// However cuts are shared between their two sums, no column is worth more than the sum over its entries.
    #[test]
    fn no_column_is_worth_more_than_a_linear_function_above_it(
        rhs in prop::collection::vec(1u32..5, 3..6),
        columns in prop::collection::vec((3u32..40, prop::collection::vec(0u32..4, 6)), 4..9),
        shares in prop::collection::vec(0.0_f64..1.0, 64),
        column in prop::collection::vec(0i64..5, 6),
    ) {
        let columns: Vec<(f64, Vec<(u32, f64)>)> = columns.iter().map(|(cost, entries)| {
            let entries = entries.iter().take(rhs.len()).enumerate().filter(|(_, n)| **n > 0);
            (f64::from(*cost), entries.map(|(row, n)| (row as u32, f64::from(*n))).collect())
        }).collect();
        let covering = Covering {
            most: vec![5; columns.len()],
            columns,
            rhs: rhs.iter().map(|value| f64::from(*value)).collect(),
            cutoff: f64::INFINITY,
        };
        if cheapest(&covering).is_none() {
            return Ok(());
        }
        let mut tight = Tight::recording(covering);
        tight.tighten(30, &Stop::never());
        let values = tight.values().unwrap();
        let units = values.of_single_units();
        let entries: Vec<(u32, i64)> =
            (0..).zip(column.iter().take(rhs.len()).copied()).filter(|(_, n)| *n > 0).collect();
        let of = |shares: &[f64]| {
            let LinearWorth { constant, of_rows } = values.above(&units, shares);
            constant + entries.iter().map(|(row, n)| of_rows[*row as usize] * *n as f64).sum::<f64>()
        };
        let shares: Vec<f64> = shares.into_iter().cycle().take(values.cuts()).collect();
        let worth = values.worth(&entries);
        prop_assert!(worth <= of(&shares) + 1e-6, "{} above {}", worth, of(&shares));
        prop_assert!(worth <= of(&vec![0.0; values.cuts()]) + 1e-6);
        prop_assert!(worth <= of(&vec![1.0; values.cuts()]) + 1e-6);
    }
}
