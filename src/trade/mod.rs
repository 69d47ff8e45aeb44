//! Facts of the trade, as data with their sources.
//!
//! What lives here: thickness classes, grades, sheets and how a board is graded, tally rules, abrasives, screws and
//! their holes, finishes, how wood moves. What never does: anything read from a job, or any decision.

pub mod abrasives;
mod clear;
pub mod drilling;
pub mod finish;
mod grade;
pub mod grading;
pub mod movement;
mod quarter;
mod sheet;
mod species;
mod tally;

pub use clear::{Clear, DefectKind};
pub use grade::Grade;
pub use grading::Defect;
pub use quarter::{Dressed, DressedTable, Quarter, standard_dressed, standard_dressed_of, trade_classes};
pub use sheet::{PartGrain, SheetGrain, Turns, usual_thickness};
pub use species::{WoodFacts, same_species, species_key, wood_facts};
pub use tally::Tally;
