//! The validated job: orders, parts, stock and shop, and how they are read.
//!
//! What lives here: the reading of a job folder, with every error of every file, and the types that
//! only a valid job can have. What never does: patterns, solving, reports.

mod book;
mod fault;
mod glue;
mod model;
mod orders;
mod prices;
mod rack;
mod read;
mod scenarios;
mod shop;
mod table;
mod tally;
mod work;
mod yieldable;

pub use book::{Base, Book, Reject, hex, read_base, read_book};
pub use fault::{Fault, FaultKind, JobError, Shortfall, Warning};
pub use glue::{joints_must_save, ways_of};
pub use model::{
    BeyondReach, Break, Defect, Finish, Fit, Glue, Glued, GluedKind, Hole, HoleKind, Job, Labour, Milling,
    Offcuts, Order, Part, Per, PriceLine, RackBoard, Resaw, Safety, Saw, Shop, Supplier, WorkAfter,
};
pub use read::{read_job, read_job_despite_bad_prices, read_rack_of};
pub use scenarios::{Change, ScenarioRows, read_scenarios};
pub use tally::job_of_tally;
pub use yieldable::shortfalls_without;
