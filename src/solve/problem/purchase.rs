//! What a set of boards really costs: breaks reached, minimum orders, deliveries, to the cent.

use std::collections::BTreeMap;

use super::market::{percent_off, share_to_pay};
use crate::index::{LineIndex, SupplierIndex, TiVec, ti_vec};
use crate::job::Job;
use crate::measure::{Money, Overflow, Volume};

/// One price line bought.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BuyRow {
    /// Index of the price line.
    pub line: LineIndex,
    /// Boards.
    pub boards: u64,
    /// The dealer's tally of them.
    pub board_feet: Volume,
    /// Percent off the dealer's whole order.
    pub percent_off: Money,
    /// Cost after the break, rounded to a cent.
    pub cost: Money,
}

/// A purchase from all dealers.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Purchase {
    /// Lines bought, by index.
    pub rows: Vec<BuyRow>,
    /// Sum of the rows.
    pub lumber: Money,
    /// Sum of the deliveries.
    pub delivery: Money,
    /// By dealer, how many of his breaks are reached; none where nothing is bought.
    pub reached: TiVec<SupplierIndex, Option<usize>>,
    /// Dealers whose minimum order is not reached.
    pub below_minimum: Vec<SupplierIndex>,
}

impl Purchase {
    /// Prices `boards` of each price line.
    ///
    /// # Errors
    /// If a sum is too large to be held exactly.
    pub fn new(job: &Job, boards: &BTreeMap<LineIndex, u64>) -> Result<Purchase, Overflow> {
        let mut feet: TiVec<SupplierIndex, _> = ti_vec![Volume::ZERO; job.suppliers.len()];
        let mut used: TiVec<SupplierIndex, _> = ti_vec![false; job.suppliers.len()];
        for (index, count) in boards.iter().filter(|(_, count)| **count > 0) {
            let line = &job.lines[*index];
            feet[line.supplier] += line.tally_of(&job.suppliers[line.supplier], *count)?;
            used[line.supplier] = true;
        }
        let breaks_reached = |index: SupplierIndex| {
            let breaks = &job.suppliers[index].breaks;
            breaks.iter().take_while(|step| step.from <= feet[index]).count()
        };
        let reached: TiVec<SupplierIndex, Option<usize>> =
            job.suppliers.keys().map(|index| used[index].then(|| breaks_reached(index))).collect();
        let mut purchase = Purchase { reached, ..Purchase::default() };
        let mut spent: TiVec<SupplierIndex, _> = ti_vec![Money::ZERO; job.suppliers.len()];
        for (index, count) in boards.iter().filter(|(_, count)| **count > 0) {
            let line = &job.lines[*index];
            let supplier = &job.suppliers[line.supplier];
            let off = percent_off(supplier, purchase.reached[line.supplier].unwrap_or(0));
            let exact = line.price_of(supplier, *count)? * share_to_pay(off);
            let cost = Money::round_half_up(&exact)?;
            spent[line.supplier] += cost;
            purchase.lumber += cost;
            purchase.rows.push(BuyRow {
                line: *index,
                boards: *count,
                board_feet: line.tally_of(supplier, *count)?,
                percent_off: off,
                cost,
            });
        }
        for (index, supplier) in job.suppliers.iter_enumerated().filter(|(index, _)| used[*index]) {
            purchase.delivery += supplier.delivery;
            if spent[index] < supplier.minimum_order {
                purchase.below_minimum.push(index);
            }
        }
        Ok(purchase)
    }
}
