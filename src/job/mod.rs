//! What is wanted and what is on hand, validated.
//!
//! What lives here: the types that only a valid job can have, the rule for which boards may serve a part,
//! the rule for the size that is cut, and what a part can be glued from. What never does: the reading of
//! files (`intake`), patterns, solving, reports.

mod blank;
mod build;
mod drawn;
mod fault;
mod fit;
mod glue;
mod lipping;
mod model;
mod needed;
mod paper;
mod rolls;
mod saw;
mod serve;
mod sets;
mod sheet;
mod shop;
mod standing;
mod stations;
mod stock;
mod wanted;
mod yieldable;

pub use crate::trade::Defect;
pub use blank::{Blank, Make};
pub use build::{
    Draft, MAX_BOARD_LENGTH, MAX_BOARD_WIDTH, MAX_PART_LENGTH, MAX_PART_WIDTH, MAX_PIECES, MOST_AT_ONCE,
};
pub use drawn::{DRAWS, defect_share, draws, fresh_boards, one_board};
pub use fault::{Fault, FaultKind, JobError, Shortfall, Warning};
pub use fit::Fit;
pub use glue::{joints_must_save, ways_of};
pub use lipping::lippings;
pub use model::Job;
pub use needed::{LeastBoard, StillNeeded};
pub use paper::{LabelSheet, Paper};
pub use rolls::EdgingRoll;
pub use saw::{BeyondReach, Saw, Sawing, SheetSaw, SheetSawKind};
pub use serve::{Unfit, turns};
pub use sets::MatchedSet;
pub use sheet::{Edges, Sheet, SheetPart};
pub use shop::{
    AtYard, BareLength, EdgingRules, Glue, Labour, Matching, Milling, Offcuts, Resaw, Safety, SawHours, Shop,
    Wood, WoodDefects,
};
pub use standing::{Standing, Statuses};
pub use stations::{Facing, Station, Stations};
pub use stock::{Break, DrawnBoard, Offered, Per, PriceLine, RackBoard, Supplier, share_of};
pub use wanted::{Finish, Hole, HoleKind, Order, Part, Plug, ProductPart, WorkAfter};
pub use yieldable::shortfalls_without;
