//! Money as a decimal, never a binary float.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Sub};
use std::str::FromStr;

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive};
use rust_decimal::Decimal;

use super::Overflow;

/// Decimal places a price may have.
const MAX_PLACES: u32 = 4;
/// Largest amount accepted in an input: beyond any small shop's purchase, far from overflow.
const MAX_INPUT: i64 = 1_000_000_000;

/// An amount in the job's one currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Money(Decimal);

/// Why a text is not an amount of money.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MoneyError {
    /// The cell is empty.
    #[error("it is empty")]
    Empty,
    /// Not a plain decimal number.
    #[error("it is not a plain decimal number without a currency sign")]
    Malformed,
    /// More decimal places than a price has.
    #[error("it has more than {MAX_PLACES} decimal places")]
    TooFine,
    /// A price below nothing.
    #[error("it is negative")]
    Negative,
    /// Larger than any purchase.
    #[error("it is larger than {MAX_INPUT}")]
    TooLarge,
}

impl Money {
    /// Nothing.
    pub const ZERO: Money = Money(Decimal::ZERO);

    /// Reads a non-negative decimal with at most 4 places.
    pub fn parse(text: &str) -> Result<Money, MoneyError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(MoneyError::Empty);
        }
        if text.starts_with('-') {
            return Err(MoneyError::Negative);
        }
        if !text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.') {
            return Err(MoneyError::Malformed);
        }
        let places = text.split_once('.').map_or(0, |(_, decimals)| decimals.trim_end_matches('0').len());
        if places > MAX_PLACES as usize {
            return Err(MoneyError::TooFine);
        }
        let amount = Decimal::from_str(text).map_err(|_| MoneyError::Malformed)?;
        if amount > Decimal::from(MAX_INPUT) {
            return Err(MoneyError::TooLarge);
        }
        Ok(Money(amount))
    }

    /// A whole number of hundredths.
    pub fn cents(cents: i64) -> Money {
        Money(Decimal::new(cents, 2))
    }

    /// Reads an amount in a plan, which may be a negative difference.
    pub fn parse_signed(text: &str) -> Result<Money, MoneyError> {
        match text.trim().strip_prefix('-') {
            Some(rest) => Money::parse(rest).map(|money| Money(-money.0)),
            None => Money::parse(text),
        }
    }

    /// An exact fraction rounded half up to 0.01.
    pub fn round_half_up(amount: &BigRational) -> Result<Money, Overflow> {
        let doubled = amount * BigRational::from_integer(BigInt::from(200));
        let cents = ((doubled + BigRational::from_integer(BigInt::from(1)))
            / BigRational::from_integer(BigInt::from(2)))
        .floor();
        let cents = cents.to_integer().to_i64().ok_or(Overflow)?;
        Ok(Money::cents(cents))
    }

    /// So many percent of it, rounded half up to the four places of a price.
    ///
    /// # Errors
    /// If the result is too large to be held exactly.
    pub fn in_percent(self, percent: &BigRational) -> Result<Money, Overflow> {
        let shift = BigRational::from_integer(BigInt::from(100));
        // A price has 4 places: a hundred times as much is rounded to 2.
        let rounded = Money::round_half_up(&(self.to_ratio() * percent / &shift * &shift))?;
        Ok(Money(rounded.0 / Decimal::from(100)))
    }

    /// Up to the next whole 0.01.
    pub fn rounded_up(self) -> Money {
        Money(self.0.round_dp_with_strategy(2, rust_decimal::RoundingStrategy::ToPositiveInfinity))
    }

    /// The amount as an exact fraction.
    pub fn to_ratio(self) -> BigRational {
        let denominator = BigInt::from(10).pow(self.0.scale());
        BigRational::new(BigInt::from(self.0.mantissa()), denominator)
    }

    /// The nearest float: for charts and percentages only.
    pub fn to_f64(self) -> f64 {
        let ratio = self.to_ratio();
        ratio.to_f64().unwrap_or(if ratio.is_negative() { f64::MIN } else { f64::MAX })
    }

    /// True for exactly nothing.
    pub fn is_zero(self) -> bool {
        self.0.is_zero()
    }

    /// As a price sheet writes it: no trailing zeros beyond the second place.
    pub fn price(self) -> String {
        let mut amount = self.0.normalize();
        if amount.scale() < 2 {
            amount.rescale(2);
        }
        amount.to_string()
    }
}

/// Always two places.
impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut amount =
            self.0.round_dp_with_strategy(2, rust_decimal::RoundingStrategy::MidpointAwayFromZero);
        amount.rescale(2);
        f.pad(&amount.to_string())
    }
}

impl Add for Money {
    type Output = Money;
    fn add(self, other: Money) -> Money {
        Money(self.0 + other.0)
    }
}

impl AddAssign for Money {
    fn add_assign(&mut self, other: Money) {
        self.0 += other.0;
    }
}

impl Sub for Money {
    type Output = Money;
    fn sub(self, other: Money) -> Money {
        Money(self.0 - other.0)
    }
}

impl Sum for Money {
    fn sum<I: Iterator<Item = Money>>(items: I) -> Money {
        items.fold(Money::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn half_a_cent_rounds_up() {
        let ratio = |n: i64, d: i64| BigRational::new(n.into(), d.into());
        assert_eq!(Money::round_half_up(&ratio(1, 200)), Ok(Money::cents(1)));
        assert_eq!(Money::round_half_up(&ratio(1, 201)), Ok(Money::ZERO));
        assert_eq!(Money::round_half_up(&ratio(412_505, 1000)), Ok(Money::cents(41251)));
        let huge = BigRational::from_integer(BigInt::from(10).pow(40));
        assert_eq!(Money::round_half_up(&huge), Err(Overflow));
    }

    #[test]
    fn only_plain_decimals_are_money() {
        assert_eq!(Money::parse("4.10").unwrap().price(), "4.10");
        assert_eq!(Money::parse("4.1025").unwrap().price(), "4.1025");
        for (text, error) in [
            ("", MoneyError::Empty),
            ("$4", MoneyError::Malformed),
            ("1e3", MoneyError::Malformed),
            ("NaN", MoneyError::Malformed),
            ("1.2.3", MoneyError::Malformed),
            ("4.10251", MoneyError::TooFine),
            ("-1", MoneyError::Negative),
            ("99999999999", MoneyError::TooLarge),
        ] {
            assert_eq!(Money::parse(text), Err(error), "{text}");
        }
    }

    proptest! {
        #[test]
        fn what_is_printed_reads_back(cents in 0i64..100_000_000_000) {
            let money = Money::cents(cents);
            prop_assert_eq!(Money::parse(&money.to_string()), Ok(money));
        }
    }
}
