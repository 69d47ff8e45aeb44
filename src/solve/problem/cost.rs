//! What cuts cost, and what sums of whole boards can come to at all.
//!
//! A bound of the linear program allows parts of boards. Whole boards cost whole multiples of the prices'
//! common divisor, and rows are paid in whole cents: what lies between no plan can cost, and the bound rises
//! to the next sum that some plan might.

use std::collections::BTreeSet;

use super::column::Cut;
use super::market::Market;
use super::task::{Offer, Task};
use crate::index::{StockIndex, TiVec, ti_vec};
use crate::solve::tolerances as tol;

/// What cuts really cost, in ticks: a dealer's row is rounded to a cent once.
pub fn cost(market: &Market, cuts: &[Cut]) -> i64 {
    market.spent(cuts.iter().map(|cut| (cut.stock, cut.copies)))
}

/// Are there enough boards, and are breaks and minimum orders still reached?
pub fn can_be_had(task: &Task<'_>, cuts: &[Cut]) -> bool {
    let mut used: TiVec<StockIndex, u32> = ti_vec![0; task.available.len()];
    cuts.iter().for_each(|cut| used[cut.stock] += cut.copies);
    let enough = used.iter().zip(&task.available).all(|(used, most)| most.is_none_or(|most| *used <= most));
    enough && reaches_sides(task, cuts)
}

/// Are breaks and minimum orders reached by these cuts and what the plan has elsewhere?
pub fn reaches_sides(task: &Task<'_>, cuts: &[Cut]) -> bool {
    let sides = &task.market.sides;
    if sides.is_empty() {
        return true;
    }
    let boards = task.boards_with(cuts);
    sides.iter().all(|side| side.lacks(task.market, &boards) <= 0.0)
}

/// Rows of dealers are whole cents; if the rack's values are as well, so is every cost.
pub fn paid_in_cents(task: &Task<'_>, bound: i64) -> i64 {
    if in_whole_cents(task) { num_integer::div_ceil(bound, tol::CENT) * tol::CENT } else { bound }
}

fn in_whole_cents(task: &Task<'_>) -> bool {
    let costs = task.market.costs.iter_enumerated();
    let mut rack = costs.filter(|(stock, _)| task.market.bill_of(*stock).is_none());
    rack.all(|(_, cost)| cost.is_none_or(|cost| cost % tol::CENT == 0))
}

/// A bound on what whole boards cost, given one on what they cost before rows are rounded.
pub fn whole_boards(task: &Task<'_>, offers: &[Offer], unrounded: i64) -> i64 {
    let gains = most_gained(task, offers);
    let whole = exact_step(task, offers).and_then(|step| step.up(unrounded)).unwrap_or(unrounded);
    paid_in_cents(task, whole.max(unrounded) - gains).max(0)
}

/// The most that rounding can take off all rows of a plan.
pub fn most_gained(task: &Task<'_>, offers: &[Offer]) -> i64 {
    task.market.most_gained(offers.iter().map(|offer| offer.stock))
}

/// No plan that is cheaper than one of `cost` costs more than this.
pub fn next_below(task: &Task<'_>, offers: &[Offer], cost: i64) -> i64 {
    let cents = if in_whole_cents(task) { (cost - 1).div_euclid(tol::CENT) * tol::CENT } else { cost - 1 };
    let rounded = most_gained(task, offers) > 0;
    if rounded { cents } else { cents.min((cost - 1).div_euclid(step(offers)) * step(offers)) }
}

/// The common divisor of exact prices.
struct ExactStep {
    /// In shares of the currency.
    step: i128,
    shares: i128,
}

impl ExactStep {
    /// The least multiple of the step that is not below some ticks, in ticks rounded down.
    fn up(&self, ticks: i64) -> Option<i64> {
        let unit = i128::from(tol::TICKS_PER_UNIT);
        let at_least = num_integer::div_ceil(i128::from(ticks).checked_mul(self.shares)?, unit);
        let multiple = num_integer::div_ceil(at_least, self.step).checked_mul(self.step)?;
        i64::try_from(multiple.checked_mul(unit)?.div_euclid(self.shares)).ok()
    }
}

fn exact_step(task: &Task<'_>, offers: &[Offer]) -> Option<ExactStep> {
    let exact = task.market.exact.as_ref()?;
    let prices = offers.iter().filter_map(|offer| exact.prices[offer.stock]);
    let step = prices.fold(0, num_integer::gcd);
    (step > 0).then_some(ExactStep { step, shares: exact.shares })
}

/// The common divisor of all costs.
pub fn step(offers: &[Offer]) -> i64 {
    offers.iter().fold(0, |step, offer| num_integer::gcd(step, offer.cost)).max(1)
}

/// The least sum of whole rows from `bound` to `cost`, which is the cost of a plan of the whole task. It is `bound`
/// itself where finding out would take long. Every sum of cents that rows can come to is one bit.
pub fn least_sum_of_rows(task: &Task<'_>, offers: &[Offer], bound: i64, cost: i64) -> i64 {
    if bound >= cost || cost % tol::CENT != 0 || !in_whole_cents(task) {
        return bound;
    }
    let Ok(cents) = usize::try_from(cost / tol::CENT) else { return bound };
    let words = cents / BITS + 1;
    let mut work = 0usize;
    let mut sums = vec![0u64; words];
    sums[0] = 1;
    // Boards of the rack have a value each, drawn boards are one row.
    let mut rows = BTreeSet::new();
    for offer in offers {
        let bill = task.market.bill_of(offer.stock);
        if bill.is_some_and(|bill| !rows.insert(bill)) {
            continue;
        }
        let before = sums.clone();
        let most = bill.map_or(offer.available, |bill| task.market.most_boards(bill, &task.available));
        for boards in 1..=most.unwrap_or(u32::MAX) {
            let row = match bill {
                Some(bill) => task.market.row(bill, boards),
                None => offer.cost * i64::from(boards),
            };
            if row > cost {
                break;
            }
            work += words;
            if row <= 0 || work > tol::WORK_ON_SUMS {
                return bound;
            }
            or_shifted(&mut sums, &before, (row / tol::CENT) as usize);
        }
    }
    let first = num_integer::div_ceil(bound.max(0), tol::CENT) as usize;
    let reached = (first..=cents).find(|sum| sums[sum / BITS] >> (sum % BITS) & 1 == 1);
    reached.map_or(bound, |sum| sum as i64 * tol::CENT)
}

const BITS: usize = u64::BITS as usize;

/// Sets every bit of `from`, moved up, in `to`.
fn or_shifted(to: &mut [u64], from: &[u64], by: usize) {
    let (words, bits) = (by / BITS, by % BITS);
    for place in words..to.len() {
        let low = from[place - words] << bits;
        let carry = match place.checked_sub(words + 1) {
            Some(before) if bits > 0 => from[before] >> (BITS - bits),
            _ => 0,
        };
        to[place] |= low | carry;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bits_move_over_word_borders() {
        let from = [1 | 1 << 63, 1, 0];
        for by in [0usize, 1, 63, 64, 65, 127] {
            let mut to = [0u64; 3];
            or_shifted(&mut to, &from, by);
            for bit in 0..3 * BITS {
                let wanted = [0, 63, 64].iter().any(|set| set + by == bit);
                assert_eq!(to[bit / BITS] >> (bit % BITS) & 1 == 1, wanted, "{by} {bit}");
            }
        }
    }
}
