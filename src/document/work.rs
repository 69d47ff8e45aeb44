//! Work after the saw, as it is written.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The work after the saw.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WorkEntry {
    /// Holes, by rising bit.
    pub drilling: Vec<DrillingEntry>,
    /// Sanding and finishing by product.
    pub finishing: Vec<FinishingEntry>,
    /// Leftovers that are set aside for it.
    pub reserved: Vec<ReservedEntry>,
    /// What no leftover is large enough for.
    pub lacking: Vec<PurposeEntry>,
    /// Wide parts, and those held in a frame, with how much they move.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub movement: Vec<MovementEntry>,
}

/// Holes alike in the pieces of a part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrillingEntry {
    /// Product.
    pub product: String,
    /// Part.
    pub part: String,
    /// Diameter of the bit; none where the specific gravity of the wood is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bit: Option<f64>,
    /// `lead`, `clearance` or `plain`.
    pub kind: String,
    /// Gauge of the screw, if there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge: Option<u8>,
    /// Diameter of a metric screw.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screw: Option<f64>,
    /// Pieces wanted.
    pub pieces: u64,
    /// Holes in one piece.
    pub holes: u64,
    /// Depth; none goes through.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth: Option<f64>,
    /// Countersunk?
    pub countersink: bool,
    /// Diameter of the plug that covers the screw's head, and of its counterbore.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plug: Option<f64>,
    /// How deep that is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plug_depth: Option<f64>,
}

/// How much a part's width moves between the shop and the room.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MovementEntry {
    /// Product.
    pub product: String,
    /// Part.
    pub part: String,
    /// Finished width.
    pub width: f64,
    /// Flat-sawn; none where no coefficient of the species is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flat_sawn: Option<MovesEntry>,
    /// Quarter-sawn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quarter_sawn: Option<MovesEntry>,
    /// Where it is held in a frame, the room that it has.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub room: Option<f64>,
    /// Is that less than it may swell by?
    #[serde(default)]
    pub is_tight: bool,
}

/// How much a width may change.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MovesEntry {
    /// Wider, in the wettest season.
    pub swells: f64,
    /// Narrower, in the driest.
    pub shrinks: f64,
}

/// Sanding and finishing of a product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FinishingEntry {
    /// Product.
    pub product: String,
    /// Grits in order.
    pub grits: Vec<u16>,
    /// `film` or `oil`.
    pub finish: String,
    /// Coats.
    pub coats: u32,
    /// Faces that are finished: `all`, `show` (the face that shows, and all edges) or `top`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finish_faces: Option<String>,
    /// Those faces, in square feet or square metres.
    pub area: f64,
    /// Quarts or litres, where the coverage is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<f64>,
}

/// What a leftover is for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PurposeEntry {
    /// `test-piece` or `backer`.
    pub purpose: String,
    /// Species of a test piece.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub species: Option<String>,
    /// Product that a backer is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<String>,
    /// Part that a backer is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
}

/// A leftover set aside, where it lies on its board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReservedEntry {
    /// What for.
    #[serde(flatten)]
    pub purpose: PurposeEntry,
    /// Board.
    pub board: String,
    /// From the left end.
    pub x: f64,
    /// From the lower edge.
    pub y: f64,
    /// Along the grain.
    pub length: f64,
    /// Across the grain.
    pub width: f64,
}
