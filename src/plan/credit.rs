//! What kept offcuts are worth to the plan that leaves them, and to the one that takes them.

use num_bigint::BigInt;
use num_rational::BigRational;

use super::bought::{BoardSource, Buy};
use super::model::Boards;
use crate::job::Job;
use crate::measure::{Area, Money, Overflow};

/// What kept offcuts are worth: their share, by area, of what their board was paid or valued at.
///
/// # Errors
/// If a sum is too large to be held exactly.
pub fn offcut_credit(job: &Job, boards: &Boards, buy: &[Buy]) -> Result<Money, Overflow> {
    let percent = job.shop.offcuts.credit_percent;
    if percent.is_zero() {
        return Ok(Money::ZERO);
    }
    let mut sum = BigRational::from_integer(BigInt::from(0));
    for board in boards {
        let kept = board.offcuts.iter().filter(|offcut| offcut.keep);
        let area: Area = kept.map(|offcut| Area::of(offcut.length, offcut.width)).sum();
        let paid = match &board.source {
            BoardSource::Buy(row) => {
                buy[*row].cost.to_ratio() / BigRational::from_integer(BigInt::from(buy[*row].boards))
            }
            BoardSource::Rack(index, _) => job.rack[*index].value.to_ratio(),
        };
        let one = credit(area, Area::of(board.length, board.width), &paid, percent);
        sum += one * BigRational::from_integer(BigInt::from(board.copies));
    }
    rounded_down(&sum)
}

/// What so much of a board is worth that was paid for as a whole.
///
/// # Errors
/// If it is too large to be held exactly.
pub fn credit_of(kept: Area, whole: Area, paid: &BigRational, percent: Money) -> Result<Money, Overflow> {
    if percent.is_zero() {
        return Ok(Money::ZERO);
    }
    rounded_down(&credit(kept, whole, paid, percent))
}

fn credit(kept: Area, whole: Area, paid: &BigRational, percent: Money) -> BigRational {
    let share = BigRational::new(BigInt::from(kept.base()), BigInt::from(whole.base()));
    share * paid * percent.to_ratio() / BigRational::from_integer(BigInt::from(100))
}

/// A credit is rounded down: it never makes a plan look cheaper than it is.
fn rounded_down(credit: &BigRational) -> Result<Money, Overflow> {
    let hundred = BigRational::from_integer(BigInt::from(100));
    Money::round_half_up(&((credit * &hundred).floor() / hundred))
}
