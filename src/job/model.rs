//! A valid job as a whole.

use std::collections::BTreeSet;

use super::fault::{Fault, Warning};
use super::rolls::EdgingRoll;
use super::shop::Shop;
use super::stock::{PriceLine, RackBoard, Supplier};
use super::wanted::{Order, Part, WorkAfter};
use crate::index::{LineIndex, PartIndex, RackIndex, SupplierIndex, TiVec};
use crate::measure::Money;
use crate::trade::Quarter;

/// A valid job, made by [`Job::try_new`].
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Job {
    /// The shop's settings.
    pub shop: Shop,
    /// Order lines.
    pub orders: Vec<Order>,
    /// Parts of ordered products, with the demand of all orders added up.
    pub parts: TiVec<PartIndex, Part>,
    /// Dealers, in the order of their names.
    pub suppliers: TiVec<SupplierIndex, Supplier>,
    /// Every price line of every dealer.
    pub lines: TiVec<LineIndex, PriceLine>,
    /// Boards and offcuts on hand.
    pub rack: TiVec<RackIndex, RackBoard>,
    /// What is done to the pieces after the saw.
    pub work: WorkAfter,
    /// Edging that can be bought.
    pub rolls: Vec<EdgingRoll>,
    /// What was ignored while reading.
    pub warnings: Vec<Warning>,
    /// Rows that cannot be read, where a person asked for the rest: what they ask for is not in the job.
    pub left_out: Vec<Fault>,
}

impl Job {
    /// The same job with no lumber to buy: it is cut from boards that are there, and from sheets as they are
    /// sold, since nobody has to measure a sheet. No dealer has a least order here, because lumber bought
    /// from the stack counts towards it and is not in this job.
    pub fn without_lumber_to_buy(&self) -> Job {
        let mut job = self.clone();
        job.lines.retain(|line| line.quarter.is_sheet());
        if job.lines.is_empty() {
            job.suppliers.clear();
        }
        job.suppliers.iter_mut().for_each(|supplier| supplier.minimum_order = Money::ZERO);
        job
    }

    /// Classes on offer, of the dealers and of the rack.
    pub fn quarters(&self) -> BTreeSet<Quarter> {
        let sold = self.lines.iter().map(|line| line.quarter);
        sold.chain(self.rack.iter().map(|board| board.quarter)).collect()
    }
}
