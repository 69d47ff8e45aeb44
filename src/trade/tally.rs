//! How a dealer counts the board feet of one board.

use super::Quarter;
use crate::measure::{Area, Length, Overflow, Volume};

/// A dealer's tally rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Tally {
    /// Length x width x class / 144.
    #[default]
    Exact,
    /// The same, with the length rounded down to a whole foot.
    WholeFoot,
    /// Width x whole feet / 12 to the nearest whole number (an exact half goes up), times the
    /// class: NHLA rules of measurement, as published summaries give them (American Hardwood Export
    /// Council, summary of grades, 2004).
    SurfaceMeasure,
}

impl Tally {
    /// Every rule.
    pub const ALL: [Tally; 3] = [Tally::Exact, Tally::WholeFoot, Tally::SurfaceMeasure];

    /// As `suppliers.csv` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Tally::Exact => "exact",
            Tally::WholeFoot => "whole-foot",
            Tally::SurfaceMeasure => "surface-measure",
        }
    }

    /// Reads a rule's name.
    pub fn parse(text: &str) -> Option<Tally> {
        Tally::ALL.into_iter().find(|tally| tally.name().eq_ignore_ascii_case(text.trim()))
    }

    /// What the dealer counts for one board. A class below 4/4 counts as 4/4.
    pub fn of_board(self, length: Length, width: Length, class: Quarter) -> Result<Volume, Overflow> {
        let whole_feet = Length::inches(12 * length.whole_feet());
        match self {
            Tally::Exact => Ok(Area::of(length, width).times(class.tallied())),
            Tally::WholeFoot => Ok(Area::of(whole_feet, width).times(class.tallied())),
            Tally::SurfaceMeasure => {
                let surface = surface_measure(length, width);
                // A metric class keeps its exact thickness: one surface foot is 144 square inches.
                let square_foot = Area::of(Length::inches(12), Length::inches(12));
                square_foot.times(class.tallied()).checked_times(i128::from(surface))
            }
        }
    }
}

/// Surface measure: width in inches x whole feet / 12, to the nearest whole number, halves up.
pub fn surface_measure(length: Length, width: Length) -> i64 {
    let twelve_inches = i128::from(Length::inches(12).base());
    let product = i128::from(width.base()) * i128::from(length.whole_feet());
    ((2 * product + twelve_inches).div_euclid(2 * twelve_inches)) as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Unit;

    fn inches(text: &str) -> Length {
        Length::parse(text, Unit::Inch).unwrap()
    }

    /// The published worked number (NHLA rules, as the open data's readme has it): 6 7/16 in x 10 ft 9 in is 5.36, so 5.
    #[test]
    fn surface_measure_of_the_worked_board() {
        assert_eq!(surface_measure(inches("10' 9\""), inches("6 7/16")), 5);
        assert_eq!(surface_measure(inches("12'"), inches("6 1/2")), 7, "an exact half goes up");
    }

    #[test]
    fn the_three_rules_differ_as_written() {
        let (length, width) = (inches("10' 9\""), inches("6 7/16"));
        let count = |rule: Tally, class| rule.of_board(length, width, class).unwrap().board_feet_f64();
        let eight_quarter = Quarter::quarters(8);
        assert!((count(Tally::Exact, eight_quarter) - 129.0 * 6.4375 * 2.0 / 144.0).abs() < 1e-9);
        assert!((count(Tally::WholeFoot, eight_quarter) - 120.0 * 6.4375 * 2.0 / 144.0).abs() < 1e-9);
        assert!((count(Tally::SurfaceMeasure, eight_quarter) - 10.0).abs() < 1e-9);
        assert!((count(Tally::SurfaceMeasure, Quarter::quarters(3)) - 5.0).abs() < 1e-9);
    }
}
