//! Exact areas and volumes, and their reading in board feet.
//!
//! A board foot is length x width x thickness in inches / 144 (common practice; the method-of-sale
//! texts of NIST Handbook 130 define it the same way, from memory).

use std::iter::Sum;
use std::ops::{Add, AddAssign, Sub};

use num_bigint::BigInt;
use num_rational::BigRational;

use super::{Length, Overflow};

/// Cubic base units in one board foot: 144 cubic inches.
const PER_BOARD_FOOT: i128 = {
    let inch = Length::units_per_inch() as i128;
    144 * inch * inch * inch
};
/// Square base units in one square foot, and in one square metre.
const PER_SQUARE_FOOT: i128 = PER_BOARD_FOOT / Length::units_per_inch() as i128;
const PER_SQUARE_METRE: i128 = {
    let metre = Length::units_per_mm() as i128 * 1000;
    metre * metre
};
/// Cubic base units in one cubic metre.
const PER_CUBIC_METRE: i128 = {
    let metre = Length::units_per_mm() as i128 * 1000;
    metre * metre * metre
};

/// An exact area in square base units of [`Length`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Area(i128);

/// An exact volume in cubic base units of [`Length`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Volume(i128);

impl Area {
    /// No area at all.
    pub const ZERO: Area = Area(0);

    /// The area of a rectangle.
    pub fn of(length: Length, width: Length) -> Area {
        Area(i128::from(length.base()) * i128::from(width.base()))
    }

    /// The volume under this area at one thickness.
    pub fn times(self, thickness: Length) -> Volume {
        Volume(self.0.checked_mul(i128::from(thickness.base())).expect(BEYOND))
    }

    /// Square feet as an exact fraction.
    pub fn square_feet(self) -> BigRational {
        BigRational::new(BigInt::from(self.0), BigInt::from(PER_SQUARE_FOOT))
    }

    /// Square feet as the nearest float: for printing only.
    pub fn square_feet_f64(self) -> f64 {
        self.0 as f64 / PER_SQUARE_FOOT as f64
    }

    /// Square metres as an exact fraction.
    pub fn square_metres(self) -> BigRational {
        BigRational::new(BigInt::from(self.0), BigInt::from(PER_SQUARE_METRE))
    }

    /// Whole square millimetres, rounded down.
    pub fn square_millimetres(self) -> i128 {
        self.0 / (PER_SQUARE_METRE / 1_000_000)
    }

    /// Square base units.
    pub fn base(self) -> i128 {
        self.0
    }

    /// From square base units.
    pub fn from_base(base: i128) -> Area {
        Area(base)
    }
}

impl Volume {
    /// No volume at all.
    pub const ZERO: Volume = Volume(0);

    /// Whole quarter board feet: the unit of surface measure times quarters.
    pub fn quarter_board_feet(count: i128) -> Result<Volume, Overflow> {
        count.checked_mul(PER_BOARD_FOOT / 4).map(Volume).ok_or(Overflow)
    }

    /// Ten-thousandths of a board foot, which are whole cubic base units.
    pub fn ten_thousandths_of_board_foot(count: i64) -> Volume {
        Volume(i128::from(count) * (PER_BOARD_FOOT / 10_000))
    }

    /// `count` times this volume.
    pub fn checked_times(self, count: i128) -> Result<Volume, Overflow> {
        self.0.checked_mul(count).map(Volume).ok_or(Overflow)
    }

    /// Board feet as an exact fraction.
    pub fn board_feet(self) -> BigRational {
        BigRational::new(BigInt::from(self.0), BigInt::from(PER_BOARD_FOOT))
    }

    /// Cubic metres as an exact fraction.
    pub fn cubic_metres(self) -> BigRational {
        BigRational::new(BigInt::from(self.0), BigInt::from(PER_CUBIC_METRE))
    }

    /// Board feet as the nearest float: for printing only.
    pub fn board_feet_f64(self) -> f64 {
        let whole = self.0.div_euclid(PER_BOARD_FOOT);
        let rest = self.0.rem_euclid(PER_BOARD_FOOT);
        whole as f64 + rest as f64 / PER_BOARD_FOOT as f64
    }

    /// Board feet in whole millionths, rounded down: a stable number for files.
    pub fn millionths_of_board_foot(self) -> i128 {
        let whole = self.0.div_euclid(PER_BOARD_FOOT);
        let rest = self.0.rem_euclid(PER_BOARD_FOOT);
        // A remainder is below 2^64, so the product stays far inside 128 bits.
        whole * 1_000_000 + rest * 1_000_000 / PER_BOARD_FOOT
    }

    /// Cubic base units.
    pub fn base(self) -> i128 {
        self.0
    }
}

/// Sizes and counts are limited when they are read, so no sum of them comes near; one that does is a bug
/// that must not go on as a wrong amount.
const BEYOND: &str = "sizes and counts are limited when they are read";

/// Adding and taking off, checked.
macro_rules! checked_sums {
    ($amount:ident) => {
        impl Add for $amount {
            type Output = $amount;
            fn add(self, other: $amount) -> $amount {
                $amount(self.0.checked_add(other.0).expect(BEYOND))
            }
        }

        impl AddAssign for $amount {
            fn add_assign(&mut self, other: $amount) {
                *self = *self + other;
            }
        }

        impl Sub for $amount {
            type Output = $amount;
            fn sub(self, other: $amount) -> $amount {
                $amount(self.0.checked_sub(other.0).expect(BEYOND))
            }
        }

        impl Sum for $amount {
            fn sum<I: Iterator<Item = $amount>>(items: I) -> $amount {
                items.fold($amount::ZERO, Add::add)
            }
        }
    };
}

checked_sums!(Area);
checked_sums!(Volume);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Unit;

    /// The two worked numbers of the trade's common practice: both boards are called "two".
    #[test]
    fn board_feet_of_the_worked_boards() {
        let inches = |text| Length::parse(text, Unit::Inch).unwrap();
        for (length, width, thickness, expected) in [("25", "6", "2", 2.0833), ("40", "7 1/4", "1", 2.0139)] {
            let volume = Area::of(inches(length), inches(width)).times(inches(thickness));
            assert!((volume.board_feet_f64() - expected).abs() < 5e-5, "{length} x {width}");
        }
    }

    #[test]
    fn a_board_foot_is_144_cubic_inches_exactly() {
        let one = Area::of(Length::inches(12), Length::inches(12)).times(Length::inches(1));
        assert_eq!(one, Volume::quarter_board_feet(4).unwrap());
        assert_eq!(one.board_feet(), BigRational::from_integer(1.into()));
        assert_eq!(Volume::quarter_board_feet(i128::MAX), Err(Overflow));
    }
}
