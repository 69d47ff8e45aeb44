//! Decisions about the buy that take more than one plan: which dealers, what if, what to take at the yard.
//!
//! What lives here: jobs made from a job (fewer dealers, other prices, boards as measured) and what
//! their plans say together. What never does: patterns, the method, output formats.

mod compare;
mod gluing;
mod lots;
mod scenarios;

pub use compare::{Alternative, Comparison, Outcome, compare, ways};
pub use gluing::{Gluing, solve_every_way};
pub use lots::{Asked, LotBuy, LotRow, buy_lots, defect_share};
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
    /// Random boards that never give what is wanted.
    #[error(
        "six times the boards of the mean plan were not enough in any sample: some part fits too few of the boards that the lots bring"
    )]
    NotEnough,
    /// A number too large to be exact.
    #[error(transparent)]
    Overflow(#[from] Overflow),
}
