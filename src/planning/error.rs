//! Why there is no plan, or no decision.

use super::checked::Unsound;
use crate::job::JobError;
use crate::measure::Overflow;
use crate::plan::BuildError;
use crate::solve::SolveError;

/// Why planning came to nothing.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PlanningError {
    /// A job changed for a scenario is no valid job.
    #[error(transparent)]
    Job(#[from] JobError),
    /// No plan.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// A solution does not make a plan.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// A plan that does not pass the check: a bug.
    #[error(transparent)]
    Unsound(#[from] Box<Unsound>),
    /// A number too large to be exact.
    #[error(transparent)]
    Overflow(#[from] Overflow),
}
