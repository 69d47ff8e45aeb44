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
mod incumbent;
mod options;
mod parallel;
mod planner;
mod problem;
mod recourse;
mod relax;
mod search;
mod settings;
mod solution;
mod stop;
mod tolerances;

pub use appraise::{BestCut, Worths};
pub use incumbent::{CutBoards, Incumbent};
pub use options::Options;
pub use parallel::side_by_side;
pub use planner::{Planner, Progress, solve, solve_from_rack};
pub use problem::{BuyRow, Instance, Purchase, Size, Source, blanks_of};
pub use recourse::Recourse;
pub use search::Backend;
pub use settings::{different, fewer_settings, more_alike, sawn_along};
pub use solution::{Solution, SolveError, Status, gap_between};
pub use stop::Shares;
