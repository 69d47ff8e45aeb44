//! How a search ended.

use std::sync::Arc;

use super::incumbent::Incumbent;
use super::problem::{Instance, Terms};
use super::stop::Searched;
use crate::index::{SupplierIndex, TiVec};
use crate::job::{Job, Shortfall};
use crate::measure::{Money, Overflow};

/// How a search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Status {
    /// No plan is cheaper.
    Optimal,
    /// The gap asked for is proven.
    WithinGap,
    /// Stopped with a complete plan outside the gap.
    Stopped,
}

impl Status {
    /// What a bound proves of a cost, where a gap of so many percent was asked for.
    pub fn of(cost: Money, bound: Money, gap_percent: f64) -> Status {
        if bound >= cost {
            Status::Optimal
        } else if gap_between(cost, bound) <= gap_percent {
            Status::WithinGap
        } else {
            Status::Stopped
        }
    }

    /// As `plan.json` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Status::Optimal => "optimal",
            Status::WithinGap => "within-gap",
            Status::Stopped => "stopped",
        }
    }
}

/// (cost - bound) / cost in percent, rounded up to four places.
pub fn gap_between(cost: Money, bound: Money) -> f64 {
    if cost.to_f64() <= 0.0 {
        return 0.0;
    }
    ((cost - bound).to_f64() / cost.to_f64() * 1_000_000.0).ceil() / 10_000.0
}

/// A complete plan of a problem and what is proven about it.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Solution {
    /// The plan.
    pub incumbent: Incumbent,
    /// No plan costs less in lumber, delivery and rack value.
    pub bound: Money,
    /// Percent of its cost that the bound was asked to come within.
    pub gap_percent: f64,
    /// What was done for it.
    pub searched: Searched,
    instance: Arc<Instance>,
}

impl Solution {
    pub(crate) fn new(
        instance: Arc<Instance>,
        incumbent: Incumbent,
        bound: Money,
        gap_percent: f64,
        searched: Searched,
    ) -> Solution {
        Solution { incumbent, bound, gap_percent, searched, instance }
    }

    /// The job that it is a plan of.
    pub fn job(&self) -> &Job {
        &self.instance.job
    }

    /// The job as it was grouped to be solved.
    pub(crate) fn instance(&self) -> &Arc<Instance> {
        &self.instance
    }

    /// What it costs in lumber, delivery and rack value.
    pub fn cost(&self) -> Money {
        self.incumbent.cost()
    }

    /// What is proven about that cost.
    pub fn status(&self) -> Status {
        Status::of(self.cost(), self.bound, self.gap_percent)
    }

    /// The terms on which every dealer sells.
    pub(crate) fn terms(&self) -> TiVec<SupplierIndex, Terms> {
        let reached = self.incumbent.purchase.reached.iter();
        reached.map(|reached| reached.map_or(Terms::Closed, Terms::Open)).collect()
    }

    /// Another plan of the same problem: what is proven holds for it as well.
    pub(crate) fn with_plan(&self, incumbent: Incumbent) -> Solution {
        Solution::new(Arc::clone(&self.instance), incumbent, self.bound, self.gap_percent, self.searched)
    }

    /// The boards of another problem's plan, cut alike, as a plan of this one, if they may be one
    /// ([`Incumbent::carried`]). What is proven stays as it is.
    ///
    /// # Errors
    /// If a sum is too large to be held exactly.
    pub(crate) fn carrying(&self, other: &Solution) -> Result<Option<Solution>, Overflow> {
        let incumbent = Incumbent::carried(&self.instance, &other.instance, &other.incumbent.boards)?;
        Ok(incumbent.map(|incumbent| Solution {
            bound: self.bound.min(incumbent.cost()),
            ..self.with_plan(Incumbent { values: self.incumbent.values.clone(), ..incumbent })
        }))
    }

    /// The same with the bound that is proven for all ways in which its glued parts can be made.
    pub(crate) fn proven_for_all_ways(mut self, bound: Money) -> Solution {
        let job = Arc::make_mut(&mut Arc::make_mut(&mut self.instance).job);
        for part in job.parts.iter_mut().filter(|part| part.blank.make.is_glued()) {
            part.blank.of_all_ways = true;
        }
        Solution { bound, ..self }
    }
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SolveError {
    /// Boards run out: these parts cannot all be cut.
    #[error("no plan can meet the demand:\n{}", .0.iter().map(|s| format!("  {s}")).collect::<Vec<_>>().join("\n"))]
    Short(Vec<Shortfall>),
    /// Stock is so scarce that no plan was found, though none is ruled out.
    #[error(
        "no complete plan was found: the boards on offer are just enough by area, or a minimum order cannot be reached; allow more time or more stock"
    )]
    NotFound,
    /// A number too large to be exact.
    #[error(transparent)]
    Overflow(#[from] Overflow),
    /// The threads could not be started.
    #[error("the worker threads could not be started: {0}")]
    Threads(String),
}
