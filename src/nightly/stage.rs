//! Where a run is: what its log tells, stage by stage.

use serde::Serialize;

/// A stage that is over.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "stage", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Stage {
    /// The order book was read.
    Read {
        /// Rows that hold anything.
        rows: u64,
        /// Rows that are planned.
        planned: u64,
        /// Rows that are no orders.
        rejected: u64,
        /// Weeks that they are due in.
        weeks: usize,
    },
    /// A week was planned, in whichever order they end.
    Week {
        /// Its Monday as an ISO date; none for orders without a date.
        week: Option<String>,
        /// Was its plan taken from before?
        reused: bool,
        /// `optimal`, `within-gap` or `stopped`; none where it has no plan.
        status: Option<String>,
    },
    /// Weeks that save lumber together were joined.
    Joined {
        /// Batches that are left.
        batches: usize,
    },
    /// The run is published.
    Published {
        /// Its name.
        run: String,
    },
}
