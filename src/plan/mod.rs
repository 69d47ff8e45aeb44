//! The plan: boards with their pieces and cuts, the waste ledger, setup groups, and the checker.
//!
//! What lives here: everything about a plan that follows from the chosen boards and patterns, and the
//! independent check of a finished plan. What never does: choosing boards, or printing.

mod after;
mod build;
pub mod check;
pub mod document;
mod fewer;
mod joined;
mod layout;
mod ledger;
mod model;
mod order;
mod resawing;
mod setups;

pub use after::{Drilling, Finishing, Purpose, Reserved, Work};
pub use build::{BuildError, build_plan};
pub use fewer::{FewerError, with_fewer_settings};
pub use model::{
    Board, BoardSource, Buy, Cost, CutKind, Joined, Made, Offcut, PartCount, PlacedPiece, Plan, SawCut,
    Setup, SetupKind, Waste,
};
pub use resawing::{Resawing, resawing};
