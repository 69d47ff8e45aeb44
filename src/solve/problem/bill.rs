//! A row of a dealer's bill, rounded to a cent once, and what rounding can gain or add.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::ToPrimitive;

use crate::index::StockIndex;
use crate::job::share_of;
use crate::measure::Money;
use crate::solve::tolerances::{CENT, TICKS_PER_UNIT};

/// Prices are held to so small a share of the currency, and an exact half a cent is never missed by it.
const PRECISE: i128 = 1_000_000_000_000_000_000_000;

const CENT_PRECISELY: i128 = PRECISE / 100;

/// Far above the error of a precise price times any number of boards, far below any real difference.
const PRECISE_SLACK: i128 = 1_000_000_000;

/// Rows of more boards than this are taken to gain the most that rounding can give.
pub const ROWS_SCANNED: u32 = 400;

/// The price of one board, held so that rows of many boards can be rounded as the dealer rounds them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UnitPrice(i128);

impl UnitPrice {
    pub fn new(price: &BigRational) -> UnitPrice {
        let scaled = (price * BigRational::from_integer(BigInt::from(PRECISE))).round();
        UnitPrice(scaled.to_integer().to_i128().unwrap_or(i128::MAX / 1_000_000_000_000))
    }

    pub fn times(self, boards: u32) -> i128 {
        self.0.saturating_mul(i128::from(boards))
    }
}

/// A precise sum in whole cents, half up.
fn cents(sum: i128) -> i128 {
    (sum + CENT_PRECISELY / 2 + PRECISE_SLACK).div_euclid(CENT_PRECISELY)
}

/// Ticks of a precise sum, rounded half up to a cent.
pub fn ticks_in_cents(sum: i128) -> i64 {
    i64::try_from(cents(sum)).unwrap_or(i64::MAX / TICKS_PER_UNIT) * CENT
}

/// A row of a dealer's bill, rounded to a cent once: boards of one price, or the drawn boards of a line.
#[derive(Debug, Clone)]
pub struct Bill {
    /// Its stock, as the boards come in turn.
    pub stocks: Vec<StockIndex>,
    /// Prices of its stock, as the boards come in turn.
    pub prices: Vec<UnitPrice>,
    /// The most ticks that rounding can take off it.
    pub gain: i64,
    /// The most ticks that rounding can add to it.
    pub lift: i64,
}

impl Bill {
    /// The row of at most so many boards.
    pub fn new(stocks: Vec<StockIndex>, prices: Vec<UnitPrice>, most: u32) -> Bill {
        let bill = Bill { stocks, prices, gain: 0, lift: 0 };
        let (gain, lift) = bill.most_rounded(most);
        Bill { gain, lift, ..bill }
    }

    /// The price of one of its stock.
    pub fn price_of(&self, stock: StockIndex) -> UnitPrice {
        let first = self.stocks.first().map_or(0, |first| usize::from(*first));
        self.prices[usize::from(stock) - first]
    }

    /// Ticks of the first so many boards.
    pub fn row(&self, boards: u32) -> i64 {
        let share = |place: usize| share_of(u64::from(boards), place, self.prices.len()) as u32;
        ticks_in_cents(self.prices.iter().enumerate().map(|(place, price)| price.times(share(place))).sum())
    }

    /// The most ticks that rounding can take off a row of at most `boards` boards, and the most that it can
    /// add, both rounded up.
    pub fn most_rounded(&self, boards: u32) -> (i64, i64) {
        let cent = CENT_PRECISELY;
        let (mut gain, mut lift, mut row) = (0, 0, 0i128);
        for price in self.prices.iter().cycle().take(boards.min(ROWS_SCANNED) as usize) {
            row = row.saturating_add(price.0);
            let cents = cents(row);
            gain = gain.max(row - cents * cent);
            lift = lift.max(cents * cent - row);
        }
        if boards > ROWS_SCANNED && self.prices.iter().any(|price| price.0 % cent != 0) {
            (gain, lift) = (cent / 2, cent / 2);
        }
        let tick = PRECISE / i128::from(TICKS_PER_UNIT);
        // A price that is whole cents up to its last digit is not rounded.
        let ticks = |most: i128| if most <= PRECISE_SLACK { 0 } else { (most / tick) as i64 + 1 };
        (ticks(gain), ticks(lift))
    }
}

/// Whole ticks, rounded down.
pub fn ticks(amount: &BigRational) -> i64 {
    (amount * BigRational::from_integer(BigInt::from(TICKS_PER_UNIT)))
        .floor()
        .to_integer()
        .to_i64()
        .unwrap_or(i64::MAX / 4)
}

/// Ticks of an amount, rounded down.
pub fn money_ticks(amount: Money) -> i64 {
    ticks(&amount.to_ratio())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_rounded_as_money_is_and_gain_no_more_than_promised() {
        for (numerator, denominator) in [(10_004i64, 1000i64), (1, 3), (12_345, 1000), (999, 700), (5, 1)] {
            let price = BigRational::new(numerator.into(), denominator.into());
            let bill = Bill::new(vec![StockIndex::from(0)], vec![UnitPrice::new(&price)], u32::MAX);
            for boards in 1u32..2000 {
                let row = &price * BigRational::from_integer(boards.into());
                let paid = money_ticks(Money::round_half_up(&row).unwrap());
                assert_eq!(bill.row(boards), paid, "{numerator}/{denominator} x {boards}");
                assert!(paid <= ticks(&row) + 1 + bill.most_rounded(boards).1);
                assert!(
                    paid >= ticks(&row) - bill.most_rounded(boards).0,
                    "{numerator}/{denominator} x {boards}"
                );
            }
        }
    }
}
