//! How a search ended.

use super::incumbent::Incumbent;
use crate::job::Shortfall;
use crate::measure::{Money, Overflow};

/// How a search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// No plan is cheaper.
    Optimal,
    /// The gap asked for is proven.
    WithinGap,
    /// Stopped with a complete plan outside the gap.
    Stopped,
}

impl Status {
    /// As `plan.json` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Status::Optimal => "optimal",
            Status::WithinGap => "within-gap",
            Status::Stopped => "stopped",
        }
    }
}

/// A complete plan and what is proven about it.
#[derive(Debug, Clone)]
pub struct Solution {
    /// The plan.
    pub incumbent: Incumbent,
    /// No plan costs less in lumber, delivery and rack value.
    pub bound: Money,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
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
