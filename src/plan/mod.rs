//! The plan: boards with their pieces and cuts, the waste ledger, setup groups, and the work after the saw.
//!
//! What lives here: everything about a plan that follows from the chosen boards and patterns. What never
//! does: choosing boards, checking, or printing.

mod after;
mod bought;
mod build;
mod credit;
mod dealt;
mod edging;
mod joined;
mod layout;
mod ledger;
mod load;
mod model;
mod order;
mod resawing;
mod set_count;
mod sets;
mod setups;
mod sizing;
mod work;
mod written;

pub use bought::{BoardSource, Bought, Buy, Confidence, Cost, Spare};
pub use build::{BuildError, build_plan};
pub use credit::credit_of;
pub use edging::{Edging, Rolls};
pub use load::{SawLoad, Saws, saw_loads};
pub use model::{
    Board, CutKind, Joined, Made, Offcut, PartCount, PlacedPiece, Plan, SawCut, Setup, SetupKind, Waste,
};
pub use resawing::{Resawing, resawing};
pub use set_count::{MatchingCost, OfSeveral, SetCount};
pub use sizing::{FinalSetting, final_length, final_settings, final_width};
pub use work::{Drilling, Finishing, Movement, Moves, Purpose, Reserved, Work};
