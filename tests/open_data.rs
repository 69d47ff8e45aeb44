//! Pricing and planning against open data sets with known answers.
//!
//! The sets are the ESICUP collection's (CC0), read from `../shared/data`; where the folder is missing
//! a test says that it is skipped. See `benches/README.md` for where the collection is published.

mod support;

use ripwright::measure::Length;
use ripwright::pattern::{Cutting, Family, Layout, Piece, Rect, TwoStage};

/// Beasley, Journal of the Operational Research Society 36 (1985) 297-306: one board, unlimited copies,
/// fixed orientation. Unconstrained optimum in any number of stages: Cintra, Miyazawa, Wakabayashi and
/// Xavier 2008 (from memory). Two-stage values: the data folder's README (an independent dynamic
/// program), strips along the first side and along the second.
const GCUT: [(i64, i64, i64); 13] = [
    (56460, 56460, 53808),
    (60536, 60076, 60071),
    (61036, 60133, 60078),
    (61698, 61698, 61252),
    (246_000, 246_000, 246_000),
    (238_998, 235_058, 238_998),
    (242_567, 242_567, 239_405),
    (246_633, 245_758, 244_130),
    (971_100, 971_100, 971_100),
    (982_025, 982_025, 955_058),
    (980_096, 974_638, 980_096),
    (979_986, 977_768, 978_776),
    (8_997_780, 8_906_216, 8_997_780),
];

#[test]
fn one_board_values_of_the_gcut_set_are_exact() {
    let Some(folder) = support::shared_data("gcut") else { return };
    for (number, (any_stage, first, second)) in GCUT.iter().enumerate() {
        let text = std::fs::read_to_string(folder.join(format!("gcut{}.txt", number + 1))).unwrap();
        let mut numbers = text.split_whitespace().map(|word| word.parse::<i64>().unwrap());
        let mut next = || numbers.next().unwrap();
        let count = next();
        let size = |length: i64, width: i64| (Length::micrometres(length), Length::micrometres(width));
        let (length, width) = size(next(), next());
        let board = Rect { length, width };
        let mut pieces = Vec::new();
        let mut values = Vec::new();
        for index in 0..count {
            let (length, width) = size(next(), next());
            pieces.push((index as u32, Piece { length, width }));
            values.push(next());
        }
        let cutting = Cutting { kerfs: (Length::ZERO, Length::ZERO), stages: 2, family: Family::Any };
        let best = |layout: Layout| {
            let pricing = TwoStage::new(layout, &pieces, &[board], cutting);
            let priced = pricing.price(&values, &vec![u32::MAX; values.len()], &[0]);
            let counted: i64 = match &priced[0].patterns {
                None => 0,
                Some(traced) => {
                    let counts = traced.relaxed.counts();
                    counts.iter().map(|(piece, n)| values[*piece as usize] * i64::from(*n)).sum()
                }
            };
            assert_eq!(counted, priced[0].bound, "the pattern is worth what it says");
            priced[0].bound
        };
        let found = (best(Layout::RipFirst), best(Layout::CrosscutFirst));
        assert_eq!(found, (*first, *second), "gcut{}", number + 1);
        assert!(found.0.max(found.1) <= *any_stage, "gcut{}", number + 1);
    }
}
