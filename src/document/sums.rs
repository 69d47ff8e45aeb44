//! Money, wood and confidence, as they are written.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Money, as decimal texts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CostEntry {
    /// Rows of the buy.
    pub lumber: String,
    /// Deliveries.
    pub delivery: String,
    /// Value of rack boards used up.
    pub rack: String,
    /// Labour of the settings.
    pub setup: String,
    /// What kept offcuts are worth, taken off.
    pub offcut_credit: String,
    /// Rolls of edging, where the job says what they cost.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edging: Option<String>,
    /// The sum.
    pub total: String,
    /// No plan for the job can cost less.
    pub lower_bound: String,
    /// (total - bound) / total in percent.
    pub gap_percent: f64,
}

/// The share of fresh lots of boards, as many as are bought, that gave every part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ConfidenceEntry {
    /// Percent asked for.
    pub asked_percent: f64,
    /// Percent of the lots.
    pub enough_percent: f64,
    /// Lower end of its 95 percent interval.
    pub low_percent: f64,
    /// Upper end.
    pub high_percent: f64,
    /// Fresh lots.
    pub lots: u64,
    /// Percent with one spare board fewer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub one_board_fewer_percent: Option<f64>,
    /// The same share for fewer spare boards and for more, by board feet of drawn boards.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub curve: Vec<CurveEntry>,
    /// Boards bought beyond those of the sample's plan.
    pub spare: Vec<SpareEntry>,
    /// What those cost.
    pub spare_cost: String,
}

/// Parts that a plan leaves open, and the least board that gives a blank of one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StillNeededEntry {
    /// Product.
    pub product: String,
    /// Part.
    pub part: String,
    /// Finished parts.
    pub parts: u64,
    /// What is sawn for them: strips or layers where the part is glued, else the parts.
    pub blanks: u64,
    /// Species.
    pub species: String,
    /// Thinnest class that is thick enough.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quarter: Option<String>,
    /// Lowest acceptable grade.
    pub grade: String,
    /// Least width of a board for one blank.
    pub least_width: f64,
    /// Least length of a board for one blank.
    pub least_length: f64,
    /// Board feet of so many of the least boards.
    pub board_feet: f64,
    /// Why no board of the dealers and the rack gives it; missing where measured boards are too few.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A point of the curve of confidence.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CurveEntry {
    /// Board feet of drawn boards that are bought.
    pub board_feet: f64,
    /// Percent of fresh lots of so many that gave every part.
    pub enough_percent: f64,
}

/// Spare boards of a row of the buy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SpareEntry {
    /// Row of the buy, from 0.
    pub buy: usize,
    /// Boards.
    pub boards: u64,
}

/// The waste ledger.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WasteEntry {
    /// All boards.
    pub stock_bf: f64,
    /// Finished pieces.
    pub parts_bf: f64,
    /// Kerf of rips and crosscuts.
    pub kerf_bf: f64,
    /// Trims and allowances.
    pub trim_bf: f64,
    /// Offcuts kept.
    pub kept_offcuts_bf: f64,
    /// Everything else.
    pub scrap_bf: f64,
    /// What the wanted parts hold when they are finished, by their own thickness: it is no part of the sum.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finished_bf: Option<f64>,
}

/// Where the area of the sheets goes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SheetWasteEntry {
    /// All sheets.
    pub stock_ft2: f64,
    /// Finished pieces, without what is glued on their edges.
    pub parts_ft2: f64,
    /// Kerf of the cuts.
    pub kerf_ft2: f64,
    /// Trims and allowances.
    pub trim_ft2: f64,
    /// Offcuts kept.
    pub kept_offcuts_ft2: f64,
    /// Everything else.
    pub scrap_ft2: f64,
}

/// What is glued on the edges of parts of sheets.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EdgingEntry {
    /// Species of the parts.
    pub species: String,
    /// Thickness of the sheets, which it covers.
    pub sheet: f64,
    /// Thickness of the edging.
    pub thickness: f64,
    /// Edges.
    pub edges: u64,
    /// Length of all of them.
    pub length: f64,
    /// Rolls to buy, where the job says what they cost.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rolls: Vec<RollsEntry>,
}

/// Rolls of edging of one length.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RollsEntry {
    /// Length of a roll.
    pub length: f64,
    /// How many.
    pub rolls: u64,
    /// What they cost.
    pub cost: String,
}
