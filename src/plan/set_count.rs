//! The types of matched sets in a plan.

use crate::index::BoardIndex;
use crate::job::MatchedSet;
use crate::measure::Money;

/// A set, and what of it comes whole from one board.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct SetCount {
    /// The set.
    pub set: MatchedSet,
    /// Sets that come whole from one board.
    pub whole: u64,
    /// Layouts that give some, with the sets that all their boards give.
    pub from: Vec<(BoardIndex, u64)>,
    /// How the others are put together.
    pub of_several: Vec<OfSeveral>,
}

/// Sets whose pieces come from several boards.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct OfSeveral {
    /// The layouts of its boards, those that give most of it first. One that is named twice gives two boards.
    pub boards: Vec<BoardIndex>,
    /// Sets that are put together so.
    pub sets: u64,
}

/// What it costs, against the cheapest plan found, that more sets come whole from one board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct MatchingCost {
    /// Sets that come whole for it.
    pub whole: u64,
    /// More than the cheapest plan found.
    pub cost: Money,
    /// Is this plan the one with them?
    pub is_paid: bool,
}
