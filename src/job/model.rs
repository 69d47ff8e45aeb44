//! A valid job as a whole.

use std::collections::BTreeSet;

use super::fault::Warning;
use super::shop::Shop;
use super::stock::{PriceLine, RackBoard, Supplier};
use super::wanted::{Order, Part, WorkAfter};
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
    pub parts: Vec<Part>,
    /// Dealers, in the order of their names.
    pub suppliers: Vec<Supplier>,
    /// Every price line of every dealer.
    pub lines: Vec<PriceLine>,
    /// Boards and offcuts on hand.
    pub rack: Vec<RackBoard>,
    /// What is done to the pieces after the saw.
    pub work: WorkAfter,
    /// What was ignored while reading.
    pub warnings: Vec<Warning>,
}

impl Job {
    /// Classes on offer, of the dealers and of the rack.
    pub fn quarters(&self) -> BTreeSet<Quarter> {
        let sold = self.lines.iter().map(|line| line.quarter);
        sold.chain(self.rack.iter().map(|board| board.quarter)).collect()
    }
}
