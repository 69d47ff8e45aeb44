//! What cuts cost, and the steps that every cost is a multiple of.
use super::column::Cut;
use super::market::Market;
use super::task::{Offer, Task};
use crate::solve::tolerances as tol;

/// What cuts really cost, in ticks: a dealer's row is rounded to a cent once.
pub fn cost(market: &Market, cuts: &[Cut]) -> i64 {
    let by_stock = cuts.chunk_by(|one, other| one.stock == other.stock);
    by_stock
        .map(|cuts| {
            let (stock, boards) = (cuts[0].stock, cuts.iter().map(|cut| cut.copies).sum::<u32>());
            match market.unit_prices[stock] {
                Some(unit) => unit.row(boards),
                None => market.costs[stock].unwrap_or(0) * i64::from(boards),
            }
        })
        .sum()
}

/// Are there enough boards, and are breaks and minimum orders still reached?
pub fn can_be_had(task: &Task<'_>, cuts: &[Cut]) -> bool {
    let mut used = vec![0; task.available.len()];
    cuts.iter().for_each(|cut| used[cut.stock] += cut.copies);
    let enough = used.iter().zip(&task.available).all(|(used, most)| most.is_none_or(|most| *used <= most));
    let reached =
        task.side_least.iter().zip(&task.market.sides).all(|(least, side)| side.sum(cuts) >= *least);
    enough && reached
}

/// Rows of dealers are whole cents; if the rack's values are as well, so is every cost.
pub fn paid_in_cents(task: &Task<'_>, bound: i64) -> i64 {
    let rack = task.market.unit_prices.iter().zip(&task.market.costs).filter(|(unit, _)| unit.is_none());
    let whole = rack.flat_map(|(_, cost)| cost).all(|cost| cost % tol::CENT == 0);
    if whole { num_integer::div_ceil(bound, tol::CENT) * tol::CENT } else { bound }
}

/// Every cost is a multiple of the costs' common divisor, so the bound rounds up to one.
pub fn whole_steps(task: &Task<'_>, bound: i64) -> i64 {
    match exact_step(task, &task.offers()) {
        Some(step) => num_integer::div_ceil(bound, step) * step,
        None => paid_in_cents(task, bound),
    }
}

/// The dearest cost below `cost` that a plan can have from these offers.
pub fn next_below(task: &Task<'_>, offers: &[Offer], cost: i64) -> i64 {
    let step = exact_step(task, offers).unwrap_or(1);
    (cost - 1).div_euclid(step) * step
}

/// The step of which every cost is a multiple, unless rounding takes something off a row.
fn exact_step(task: &Task<'_>, offers: &[Offer]) -> Option<i64> {
    let rounded = offers.iter().any(|offer| task.market.gains[offer.stock] > 0);
    (!rounded).then(|| step(offers))
}

/// The common divisor of all costs.
pub fn step(offers: &[Offer]) -> i64 {
    offers.iter().fold(0, |step, offer| num_integer::gcd(step, offer.cost)).max(1)
}
