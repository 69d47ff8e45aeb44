//! The method: column generation over rip and crosscut patterns, an integer phase, a proven bound.
//!
//! What lives here: everything between a valid job and the chosen boards with their patterns. What
//! never does: geometry of cuts, ledgers, reports; and nothing of it is used by the plan's checker.
//!
//! The method in short, by module: `problem` groups the job and prices it; `dealers` settles what
//! dealers ask under assumptions about them; `relax` solves the master's linear program by column
//! generation and gives the exact bound; `search` turns it into whole boards and closes small
//! problems; `settings` looks for as cheap a plan with fewer settings of the saws.

mod appraise;
mod dealers;
pub(crate) mod incumbent;
pub(crate) mod listed;
mod options;
mod parallel;
mod planner;
pub(crate) mod problem;
mod recourse;
mod relax;
mod search;
pub(crate) mod settings;
mod solution;
mod stop;
mod tolerances;

pub(crate) use appraise::Worths;
pub(crate) use incumbent::{CutBoards, Incumbent};
pub use options::Options;
pub(crate) use parallel::side_by_side;
pub(crate) use planner::{Planner, solve_from_rack};
pub use planner::{Progress, solve};
pub(crate) use problem::{BuyRow, Instance, Purchase, Supply, blanks_of};
pub(crate) use recourse::Recourse;
pub use search::Backend;
pub(crate) use settings::{fewer_settings, sawn_along};
pub(crate) use solution::gap_between;
pub use solution::{Solution, SolveError, Status};
pub use stop::{Searched, Shares};
