//! Facts of the trade, as data with their sources.
//!
//! What lives here: thickness classes, grades and how a board is graded, tally rules, abrasives, screws and
//! their holes, finishes. What never does: anything read from a job, or any decision.

pub mod abrasives;
pub mod drilling;
pub mod finish;
mod grade;
pub mod grading;
mod quarter;
mod species;
mod tally;

pub use grade::Grade;
pub use grading::Defect;
pub use quarter::{DressedTable, Quarter, standard_dressed};
pub use species::{same_species, species_key};
pub use tally::Tally;
