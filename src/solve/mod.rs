//! The method: column generation over rip and crosscut patterns, an integer phase, a proven bound.
//!
//! What lives here: everything between a valid job and the chosen boards with their patterns. What
//! never does: geometry of cuts, ledgers, reports; and nothing of it is used by the plan's checker.
//!
//! The method in short: group the job ([`instance`]); price what dealers ask under assumptions about
//! them ([`market`], [`dealers`]); solve the master's linear program by column generation
//! ([`generate`], [`simplex`], [`pool`]) with an exact bound ([`bound`]); turn it into whole boards
//! ([`dive`], [`exchange`]); close small problems ([`exact`], [`mip`]).

mod arrival;
mod dealers;
mod incumbent;
mod options;
mod parallel;
mod planner;
mod problem;
mod relax;
mod search;
mod settings;
mod solution;
mod stop;
mod tolerances;

pub use arrival::Arrival;
pub use incumbent::{CutBoards, Incumbent};
pub use options::Options;
pub use parallel::side_by_side;
pub use planner::{Planner, Progress, solve};
pub use problem::{BuyRow, Instance, Purchase, Size, Source, blanks_of};
pub use search::Backend;
pub use settings::{different, fewer_settings, more_alike, sawn_along};
pub use solution::{Solution, SolveError, Status};
pub use stop::Shares;
