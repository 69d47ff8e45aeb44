//! Decisions about the buy that take more than one plan: which dealers, what if, what to take at the yard.
//!
//! What lives here: jobs made from a job (fewer dealers, other prices, boards as measured) and what
//! their plans say together. What never does: patterns, the method, output formats.

mod compare;
mod scenarios;

pub use compare::{Alternative, Comparison, Outcome, compare};
pub use scenarios::{Ranked, Scenario, rank};

use crate::measure::Overflow;
use crate::plan::BuildError;
use crate::solve::SolveError;

/// Why a decision could not be worked out.
#[derive(Debug, thiserror::Error)]
pub enum BuyingError {
    /// No plan.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// A solution does not make a plan.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// A number too large to be exact.
    #[error(transparent)]
    Overflow(#[from] Overflow),
}
