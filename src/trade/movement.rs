//! How much a board's width changes with its moisture.

use crate::measure::{Length, Money, Unit};

/// The equation holds from this moisture content to [`WETTEST`], in percent (Wood Handbook, FPL-GTR-190, 2010,
/// equation 13-2).
pub const DRIEST: i64 = 6;
/// See [`DRIEST`].
pub const WETTEST: i64 = 14;

/// The change of a width from one moisture content to another, in percent, by a coefficient in hundred-thousandths
/// of the width for each percent: width x C x change (Wood Handbook, FPL-GTR-190, 2010, equation 13-2). It is
/// rounded up to what a rule shows: 1/64 in or 0.1 mm.
pub fn change(width: Length, coefficient: u16, from: Money, to: Money, unit: Unit) -> Length {
    let percent = (to.to_f64() - from.to_f64()).abs();
    let change = width.base() as f64 * f64::from(coefficient) / 100_000.0 * percent;
    let step = match unit {
        Unit::Inch => Length::inch_128ths(2),
        Unit::Millimetre => Length::micrometres(100),
    };
    // A change that is a whole step up to the rounding of floats is that step.
    let steps = (change / step.base() as f64 - 1e-9).ceil() as i64;
    step * steps
}

#[cfg(test)]
mod tests {
    use super::*;

    fn percent(text: &str) -> Money {
        Money::parse(text).unwrap()
    }

    /// Wood Handbook, equation 13-2 with the coefficients of table 13-5, by hand: a flat-sawn white oak panel 20 in
    /// wide from 8 to 12 %: 20 x 0.00365 x 4 = 0.292 in, 19 of 64; quarter-sawn 20 x 0.0018 x 4 = 0.144, 10 of 64.
    #[test]
    fn a_panel_moves_as_the_handbook_s_equation_says() {
        let wide = Length::inches(20);
        let of = |coefficient| change(wide, coefficient, percent("8"), percent("12"), Unit::Inch);
        assert_eq!(of(365), Length::inch_128ths(2 * 19));
        assert_eq!(of(180), Length::inch_128ths(2 * 10));
        assert_eq!(change(wide, 365, percent("12"), percent("8"), Unit::Inch), of(365));
        assert_eq!(change(wide, 365, percent("8"), percent("8"), Unit::Inch), Length::ZERO);
        // 500 mm x 0.00369 x 2 = 3.69 mm.
        let metric = Length::micrometres(500_000);
        let moved = change(metric, 369, percent("8"), percent("10"), Unit::Millimetre);
        assert_eq!(moved, Length::micrometres(3_700));
    }
}
