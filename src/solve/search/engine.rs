//! What every search of a component is to the one that hands out the turns.
//!
//! An engine keeps its own state between its slices. It sees the plan so far and answers with a better one, with a
//! proof, with both, or with nothing.

use super::aim::Aim;
use crate::solve::problem::{Cut, Task, cost};
use crate::solve::relax::{Generated, Pool};
use crate::solve::stop::Stop;

/// A component as an engine finds it at the start of a slice.
pub struct AtHand<'a> {
    /// What is wanted.
    pub task: &'a Task<'a>,
    /// Its linear program.
    pub generated: &'a Generated,
    /// The patterns that the plan's numbers mean; those of a better plan are added.
    pub pool: &'a mut Pool,
    /// The plan so far.
    pub plan: &'a [Cut],
    /// No plan costs less, in ticks.
    pub bound: i64,
    /// How hard to try.
    pub aim: Aim,
    /// When to stop.
    pub stop: &'a Stop,
}

impl AtHand<'_> {
    /// What the plan so far costs, in ticks.
    pub fn cost(&self) -> i64 {
        cost(self.task.market, self.plan)
    }
}

/// What a slice gave.
#[derive(Debug, Clone, Default)]
pub struct Slice {
    /// Progress: a plan that is no dearer.
    pub plan: Option<Vec<Cut>>,
    /// Proof: no plan costs less, in ticks.
    pub bound: Option<i64>,
}

/// A search that works in slices, in turn with others.
pub trait Engine {
    /// Works for a slice of time.
    fn slice(&mut self, on: AtHand<'_>) -> Slice;

    /// Has it nothing more to try?
    fn is_idle(&self) -> bool;
}
