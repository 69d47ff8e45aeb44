//! A length, held exactly in sixteenths of a micrometre.
//!
//! One inch is 25.4 mm by definition (international yard and pound agreement, 1959), so 1/128 in is
//! 3 175 units and 0.001 mm is 16: both the inch shop's finest fraction and the metric shop's finest
//! decimal are whole numbers of the one base unit.

use std::fmt;
use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

/// Base units in one millimetre.
const PER_MM: i64 = 16_000;
/// Base units in one inch.
const PER_INCH: i64 = 406_400;
/// The finest fraction of an inch that is printed as a fraction.
const FINEST_FRACTION: i64 = 128;
/// Digits accepted in one number of a length: more is a typing error and could overflow.
const MAX_DIGITS: usize = 15;

/// The unit that a bare number takes, and that outputs are written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unit {
    /// Inches, with fractions.
    Inch,
    /// Millimetres, with decimals.
    Millimetre,
}

impl Unit {
    /// The name used in `shop.toml` and `plan.json`.
    pub fn name(self) -> &'static str {
        match self {
            Unit::Inch => "in",
            Unit::Millimetre => "mm",
        }
    }

    fn base_units(self) -> i64 {
        match self {
            Unit::Inch => PER_INCH,
            Unit::Millimetre => PER_MM,
        }
    }
}

/// An exact length; negative only as a difference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Length(i64);

/// Why a text is not a length.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LengthError {
    /// The cell is empty.
    #[error("it is empty")]
    Empty,
    /// The text is not a number with an optional unit.
    #[error("it is not a length such as 7 1/4, 8' 6\" or 184mm")]
    Malformed,
    /// A fraction has the denominator 0.
    #[error("its fraction has a zero below the line")]
    ZeroDenominator,
    /// More digits than any real measure has.
    #[error("it has too many digits")]
    TooLong,
    /// The text begins with a minus sign.
    #[error("it is negative")]
    Negative,
    /// A foot or more of inches stands beside feet.
    #[error("it has 12 inches or more beside its feet")]
    FootOfInches,
}

impl Length {
    /// No length at all.
    pub const ZERO: Length = Length(0);

    /// Whole inches.
    pub const fn inches(inches: i64) -> Length {
        Length(inches * PER_INCH)
    }

    /// A number of 1/128 inches.
    pub const fn inch_128ths(count: i64) -> Length {
        Length(count * (PER_INCH / FINEST_FRACTION))
    }

    /// Whole millimetres.
    pub const fn millimetres(count: i64) -> Length {
        Length(count * PER_MM)
    }

    /// A number of micrometres (0.001 mm).
    pub const fn micrometres(count: i64) -> Length {
        Length(count * (PER_MM / 1000))
    }

    /// From base units of 1/16 micrometre.
    pub const fn from_base(units: i64) -> Length {
        Length(units)
    }

    /// Base units of 1/16 micrometre.
    pub const fn base(self) -> i64 {
        self.0
    }

    /// The value in `unit` as the nearest binary float: for JSON and drawings only.
    pub fn to_f64(self, unit: Unit) -> f64 {
        self.0 as f64 / unit.base_units() as f64
    }

    /// The exact length nearest to a float in `unit`; `None` if it is not finite or longer than any that is
    /// read.
    pub fn from_f64(value: f64, unit: Unit) -> Option<Length> {
        let scaled = (value * unit.base_units() as f64).round();
        (scaled.abs() <= LONGEST.0 as f64).then_some(Length(scaled as i64))
    }

    /// Whole feet contained in the length.
    pub fn whole_feet(self) -> i64 {
        self.0.div_euclid(12 * PER_INCH)
    }

    /// Base units in one inch, for volumes in board feet.
    pub(crate) const fn units_per_inch() -> i64 {
        PER_INCH
    }

    /// Base units in one millimetre.
    pub(crate) const fn units_per_mm() -> i64 {
        PER_MM
    }

    /// The smaller of the difference and zero never shows: `self - other`, or zero.
    pub fn saturating_sub(self, other: Length) -> Length {
        Length(self.0.saturating_sub(other.0).max(0))
    }

    /// Reads a length as `formats.md` writes it; a bare number takes `unit`.
    pub fn parse(text: &str, unit: Unit) -> Result<Length, LengthError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(LengthError::Empty);
        }
        if text.starts_with(['-', '\u{2212}']) {
            return Err(LengthError::Negative);
        }
        if let Some(feet_end) = text.find(['\'', '\u{2032}']) {
            return parse_feet(text, feet_end);
        }
        for (suffix, per_unit) in SUFFIXES {
            if let Some(number) = text.strip_suffix(suffix) {
                return Rational::parse(number)?.scale(*per_unit);
            }
        }
        Rational::parse(text)?.scale(unit.base_units())
    }

    /// Prints in `unit`: inches as reduced fractions down to 1/128, otherwise millimetres.
    /// What is printed reads back as the same length.
    pub fn display(self, unit: Unit) -> LengthDisplay {
        LengthDisplay { length: self, unit, feet: false }
    }

    /// The name of a nominal thickness, with its unit: inches where it lies on their ruler, else millimetres.
    pub fn as_named(self) -> String {
        if is_on_the_ruler(self.0) {
            format!("{}in", inch_fraction(self.0))
        } else {
            format!("{}mm", millimetres(self.0))
        }
    }

    /// Prints in feet and inches in an inch shop, in millimetres in a metric one.
    pub fn display_feet(self, unit: Unit) -> LengthDisplay {
        LengthDisplay { length: self, unit, feet: true }
    }
}

/// The longest length that is read: far above any board, and its digits read back in either unit.
const LONGEST: Length = Length::inches(10_000_000);

/// Longest suffix first, so that `mm` is not read as `m`.
const SUFFIXES: &[(&str, i64)] = &[
    ("mm", PER_MM),
    ("cm", PER_MM * 10),
    ("m", PER_MM * 1000),
    ("in", PER_INCH),
    ("ft", PER_INCH * 12),
    ("\"", PER_INCH),
    ("\u{2033}", PER_INCH),
];

fn parse_feet(text: &str, feet_end: usize) -> Result<Length, LengthError> {
    let mark_length = text[feet_end..].chars().next().map_or(1, char::len_utf8);
    let feet = Rational::parse(&text[..feet_end])?.scale(12 * PER_INCH)?;
    let rest = text[feet_end + mark_length..].trim();
    if rest.is_empty() {
        return Ok(feet);
    }
    let rest = rest.strip_prefix('-').unwrap_or(rest);
    let rest = rest.strip_suffix(['"', '\u{2033}']).unwrap_or(rest);
    let inches = Rational::parse(rest)?.scale(PER_INCH)?;
    if inches.0 >= 12 * PER_INCH {
        return Err(LengthError::FootOfInches);
    }
    let sum = Length(feet.0 + inches.0);
    if sum > LONGEST { Err(LengthError::TooLong) } else { Ok(sum) }
}

/// A non-negative fraction read from text.
struct Rational {
    numerator: i128,
    denominator: i128,
}

impl Rational {
    /// `25`, `7.25`, `3/4`, `7 1/4` or `7-1/4`.
    fn parse(text: &str) -> Result<Rational, LengthError> {
        let text = text.trim();
        let Some((before, denominator)) = text.split_once('/') else {
            return Rational::decimal(text);
        };
        let denominator = whole(denominator.trim())?;
        if denominator == 0 {
            return Err(LengthError::ZeroDenominator);
        }
        let before = before.trim();
        let (units, numerator) = match before.rfind([' ', '-']) {
            Some(split) => {
                let units = before[..split].trim_end_matches([' ', '-']);
                (whole(units)?, whole(&before[split + 1..])?)
            }
            None => (0, whole(before)?),
        };
        Ok(Rational { numerator: units * denominator + numerator, denominator })
    }

    fn decimal(text: &str) -> Result<Rational, LengthError> {
        let (units, decimals) = text.split_once('.').unwrap_or((text, ""));
        if units.is_empty() && decimals.is_empty() {
            return Err(LengthError::Malformed);
        }
        if decimals.len() > MAX_DIGITS {
            return Err(LengthError::TooLong);
        }
        let denominator = 10i128.pow(decimals.len() as u32);
        let units = if units.is_empty() { 0 } else { whole(units)? };
        let part = if decimals.is_empty() { 0 } else { whole(decimals)? };
        Ok(Rational { numerator: units * denominator + part, denominator })
    }

    /// The nearest whole number of base units.
    fn scale(&self, per_unit: i64) -> Result<Length, LengthError> {
        let doubled = 2 * self.numerator * i128::from(per_unit) + self.denominator;
        let units = doubled.div_euclid(2 * self.denominator);
        if units > i128::from(LONGEST.0) {
            return Err(LengthError::TooLong);
        }
        Ok(Length(units as i64))
    }
}

fn whole(text: &str) -> Result<i128, LengthError> {
    if text.is_empty() || !text.bytes().all(|byte| byte.is_ascii_digit()) {
        return Err(LengthError::Malformed);
    }
    if text.len() > MAX_DIGITS {
        return Err(LengthError::TooLong);
    }
    text.parse().map_err(|_| LengthError::Malformed)
}

/// A length on its way to a reader. See [`Length::display`].
#[derive(Debug, Clone, Copy)]
pub struct LengthDisplay {
    length: Length,
    unit: Unit,
    feet: bool,
}

impl fmt::Display for LengthDisplay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut text = String::new();
        let units = self.length.0.abs();
        if self.length.0 < 0 {
            text.push('-');
        }
        let on_the_ruler = is_on_the_ruler(units);
        match self.unit {
            Unit::Inch if on_the_ruler && self.feet && units >= 12 * PER_INCH => {
                text.push_str(&format!("{}'", units / (12 * PER_INCH)));
                let rest = units % (12 * PER_INCH);
                if rest > 0 {
                    text.push_str(&format!(" {}\"", inch_fraction(rest)));
                }
            }
            Unit::Inch if on_the_ruler => text.push_str(&inch_fraction(units)),
            Unit::Inch => text.push_str(&format!("{}mm", millimetres(units))),
            Unit::Millimetre => text.push_str(&millimetres(units)),
        }
        f.pad(&text)
    }
}

/// Does a length lie on a ruler's finest fraction of an inch?
fn is_on_the_ruler(units: i64) -> bool {
    units % (PER_INCH / FINEST_FRACTION) == 0
}

fn inch_fraction(units: i64) -> String {
    let ticks = units / (PER_INCH / FINEST_FRACTION);
    let (inches, rest) = (ticks / FINEST_FRACTION, ticks % FINEST_FRACTION);
    if rest == 0 {
        return inches.to_string();
    }
    let common = num_integer::gcd(rest, FINEST_FRACTION);
    let fraction = format!("{}/{}", rest / common, FINEST_FRACTION / common);
    if inches == 0 { fraction } else { format!("{inches} {fraction}") }
}

fn millimetres(units: i64) -> String {
    // 1/16 micrometre is 0.0000625 mm: seven decimals hold it exactly.
    let tenths_of_nanometre = i128::from(units) * 625;
    let text = format!("{}.{:07}", tenths_of_nanometre / 10_000_000, tenths_of_nanometre % 10_000_000);
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// What every operator does beyond its numbers: sizes are limited when they are read, so no sum of them
/// comes near, and a sum that does is a bug that must not go on as a wrong length.
const BEYOND: &str = "lengths are limited when they are read";

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0.checked_add(other.0).expect(BEYOND))
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Length) {
        *self = *self + other;
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0.checked_sub(other.0).expect(BEYOND))
    }
}

impl SubAssign for Length {
    fn sub_assign(&mut self, other: Length) {
        *self = *self - other;
    }
}

impl Mul<i64> for Length {
    type Output = Length;
    fn mul(self, times: i64) -> Length {
        Length(self.0.checked_mul(times).expect(BEYOND))
    }
}

impl Neg for Length {
    type Output = Length;
    fn neg(self) -> Length {
        Length(self.0.checked_neg().expect(BEYOND))
    }
}

#[cfg(test)]
mod tests;
