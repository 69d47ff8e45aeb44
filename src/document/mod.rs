//! `plan.json` as it stands in the file: plain numbers and texts.
//!
//! Lengths are numbers in the plan's unit, money is a decimal text, volumes are board feet. The
//! checker starts from this, not from the types that the plan was built with.

mod difference;
mod leftovers;
mod sums;
mod work;

pub use difference::{BoardTold, BoughtOtherwise, Difference};
pub use leftovers::{SHORT_KEY, Wood};
pub use sums::{
    ConfidenceEntry, CostEntry, CurveEntry, EdgingEntry, RollsEntry, SheetWasteEntry, SpareEntry,
    StillNeededEntry, WasteEntry,
};
pub use work::{
    DrillingEntry, FinishingEntry, MovementEntry, MovesEntry, PurposeEntry, ReservedEntry, WorkEntry,
};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The value of `format`.
pub const FORMAT: &str = "ripwright-plan/1";

/// A whole `plan.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Document {
    /// Always `ripwright-plan/1`.
    pub format: String,
    /// `in` or `mm`.
    pub unit: String,
    /// Currency code.
    pub currency: String,
    /// `optimal`, `within-gap` or `stopped`.
    pub status: String,
    /// Turns of the search that were done, where it was cut short: as many give the same plan on any machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turns: Option<u64>,
    /// Set where they do not, since the search was cut short before it had a first plan, or ways to glue were left.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub not_repeatable: bool,
    /// What it costs.
    pub cost: CostEntry,
    /// Price lines bought.
    pub buy: Vec<BuyEntry>,
    /// Boards with their cuts.
    pub boards: Vec<BoardEntry>,
    /// Pieces wanted and cut.
    pub parts: Vec<PartEntry>,
    /// The waste ledger in board feet.
    pub waste: WasteEntry,
    /// The same of the sheets in square feet, where there are any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheet_waste: Option<SheetWasteEntry>,
    /// Saw settings.
    pub setups: Vec<SetupEntry>,
    /// What is glued on edges of parts of sheets.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub edging: Vec<EdgingEntry>,
    /// What is done to the pieces after the saw.
    #[serde(default)]
    pub work: WorkEntry,
    /// How sure the buy is to be enough, where boards are drawn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<ConfidenceEntry>,
    /// Parts that it leaves open, where measured boards are not enough.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub still_needed: Vec<StillNeededEntry>,
    /// Rows of the job's files that cannot be read, so that the plan goes without them, each as a sentence.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<String>,
    /// Sets of matched pieces.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sets: Vec<SetEntry>,
    /// What it costs that more sets come whole from one board, where that was asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub matching: Option<MatchingEntry>,
    /// Settings in the order they are made where all boards go through together: some come back.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub settings_order: Vec<MadeEntry>,
    /// How many those are.
    #[serde(default)]
    pub settings_made: usize,
    /// The same in the cheaper plan that this one was changed from for fewer of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub settings_made_before: Option<usize>,
    /// Settings made where layouts are sawn one after the other.
    #[serde(default)]
    pub settings_by_layout: usize,
    /// The same in the cheaper plan that this one was changed from for fewer of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub settings_by_layout_before: Option<usize>,
    /// Settings made where every board is sawn by itself.
    #[serde(default)]
    pub settings_by_board: u64,
}

/// A set of matched pieces.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SetEntry {
    /// The product that has it.
    pub product: String,
    /// Its name in `parts.csv`, or that of the part whose strips they are.
    pub set: String,
    /// Are they the strips of a panel?
    pub panel: bool,
    /// Pieces in one.
    pub pieces: u64,
    /// Sets wanted.
    pub wanted: u64,
    /// Sets that come whole from one board.
    pub whole: u64,
}

/// What it costs that more sets come whole from one board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MatchingEntry {
    /// Sets that come whole for it.
    pub whole: u64,
    /// More than the cheapest plan found.
    pub cost: String,
    /// Is this plan the one with them?
    pub paid: bool,
}

/// A price line bought.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BuyEntry {
    /// Dealer.
    pub supplier: String,
    /// Species.
    pub species: String,
    /// Thickness class.
    pub quarter: String,
    /// Grade.
    pub grade: String,
    /// Width of a board.
    pub width: f64,
    /// Length of a board.
    pub length: f64,
    /// Which way the grain of a sheet runs: `along`, `across` or `none`; missing for lumber.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grain: Option<String>,
    /// What lies under a sheet's face, where that is known.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub core: String,
    /// What a sheet really measures in thickness.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub real: Option<f64>,
    /// Square feet of all sheets.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub square_feet: Option<f64>,
    /// Upper end of the widths, where boards of random sizes are drawn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width_to: Option<f64>,
    /// Upper end of the lengths.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_to: Option<f64>,
    /// Boards.
    pub boards: u64,
    /// The dealer's tally of them all.
    pub board_feet: f64,
    /// Price per measure.
    pub price: String,
    /// `bf`, `piece`, `ft` or `m3`.
    pub per: String,
    /// Percent off the dealer's whole order.
    pub percent_off: String,
    /// Cost of the row.
    pub cost: String,
}

impl Document {
    /// Does it hold only what the contract of `plan.json` asks for, as a plan made by hand may? It then says nothing of
    /// the work beside the sawing, nor in which order settings are made.
    pub fn is_bare(&self) -> bool {
        self.settings_order.is_empty() && self.settings_made == 0 && self.work == WorkEntry::default()
    }
}

/// Boards cut alike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoardEntry {
    /// Name on the sheets.
    pub id: String,
    /// `buy:ROW` or `rack:NAME`.
    pub source: String,
    /// How many are cut alike.
    pub copies: u32,
    /// `rip-first` or `crosscut-first`.
    pub layout: String,
    /// Rough length.
    pub length: f64,
    /// Rough width.
    pub width: f64,
    /// Set where the ends and edges of a board on hand are sawn already: nothing is trimmed off.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub trimmed: bool,
    /// Set where nobody has seen the board: it is one of those that stand for its price line.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub drawn: bool,
    /// Defects of a drawn board.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub defects: Vec<DefectEntry>,
    /// Thickness class.
    pub quarter: String,
    /// Which way the grain of a sheet runs; missing for lumber.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grain: Option<String>,
    /// Pieces.
    pub pieces: Vec<PieceEntry>,
    /// Leftovers.
    pub offcuts: Vec<OffcutEntry>,
    /// Cuts in order.
    pub cuts: Vec<CutEntry>,
    /// Pieces too short to be milled alone, and before which cut they are milled.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub mill_joined: Vec<JoinedEntry>,
    /// The layout that it is sawn along with, where one needs all of its settings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub along_with: Option<String>,
}

/// A box that not every piece may hold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DefectEntry {
    /// From the left end.
    pub x0: f64,
    /// End along the board.
    pub x1: f64,
    /// From the lower edge.
    pub y0: f64,
    /// End across.
    pub y1: f64,
    /// `sound` or `sound back` (where the better face does not show it); nothing where the wood does not hold.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub kind: String,
}

/// Pieces of a part that are milled while they still hang together with more wood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JoinedEntry {
    /// Product.
    pub product: String,
    /// Part.
    pub part: String,
    /// The cut before which they are milled.
    pub before_step: u32,
    /// Length of the wood that then still holds one of them, at least.
    pub length: f64,
}

/// A piece on its board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PieceEntry {
    /// Product.
    pub product: String,
    /// Part.
    pub part: String,
    /// From the left end.
    pub x: f64,
    /// From the lower edge.
    pub y: f64,
    /// Cut size along the board.
    pub length: f64,
    /// Cut size across the board.
    pub width: f64,
    /// Set where the part's length lies across the board: on sheets only.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub turned: bool,
    /// Blanks it is resawn into, where that is more than one.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub blanks: u32,
}

fn one() -> u32 {
    1
}

fn is_one(blanks: &u32) -> bool {
    *blanks == 1
}

/// A leftover on its board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OffcutEntry {
    /// From the left end.
    pub x: f64,
    /// From the lower edge.
    pub y: f64,
    /// Along the grain.
    pub length: f64,
    /// Across the grain.
    pub width: f64,
    /// Goes back on the rack.
    pub keep: bool,
}

/// The wood one cut turns to dust.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CutEntry {
    /// Order on the board, from 1.
    pub step: u32,
    /// `trim`, `rip` or `crosscut`.
    pub kind: String,
    /// Left end of the kerf.
    pub x0: f64,
    /// Lower edge of the kerf.
    pub y0: f64,
    /// Right end of the kerf.
    pub x1: f64,
    /// Upper edge of the kerf.
    pub y1: f64,
}

/// Pieces of a part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PartEntry {
    /// Product.
    pub product: String,
    /// Part.
    pub part: String,
    /// Pieces wanted.
    pub required: u64,
    /// Pieces cut.
    pub cut: u64,
    /// What is glued on its edges: on the two long ones, the left end and the right end; missing where nothing is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edges: Option<[f64; 4]>,
    /// Set where the part is glued: the pieces are then the strips or layers it is glued from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub glued: Option<GluedEntry>,
}

/// What a part is glued from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GluedEntry {
    /// `panel` (strips edge to edge) or `lamination` (layers face to face).
    pub kind: String,
    /// So many pieces make one part.
    pub pieces: u32,
    /// Parts wanted.
    pub parts: u64,
    /// Finished width of the part.
    pub width: f64,
    /// Finished thickness of the part.
    pub thickness: f64,
    /// Finished width of a piece.
    pub piece_width: f64,
    /// Finished thickness of a piece.
    pub piece_thickness: f64,
}

/// One setting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SetupEntry {
    /// `rip`, `stop` or `sheet`: a setting of the fence that sheets are cut at, whichever way.
    pub kind: String,
    /// What the saw leaves.
    pub setting: f64,
    /// What the scale shows when this is set. For a stop at the fence that includes the stand-off block.
    /// Where the shop names its machines, it is the scale of the machine that holds the stop.
    pub fence_reading: f64,
    /// What holds a stop: `chop-saw`, `sled`, `fence` or `long-stop`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub station: Option<String>,
    /// Cuts over all boards.
    pub cuts: u64,
    /// Boards cut at it.
    pub boards: Vec<String>,
    /// The setting is beyond what this saw reaches.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub beyond_reach: bool,
    /// Narrower than is ripped between fence and blade: the strip falls off the far side.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub narrow: bool,
}

/// A setting as it is made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MadeEntry {
    /// `rip`, `stop` or `sheet`.
    pub kind: String,
    /// What the saw leaves.
    pub setting: f64,
    /// Boards that are cut at it then.
    pub boards: Vec<String>,
}
