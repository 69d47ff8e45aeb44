//! The types of a plan.

use super::bought::{BoardSource, Buy, Confidence, Cost};
use super::edging::Edging;
use super::set_count::{MatchingCost, SetCount};
use super::work::Work;
use crate::index::{BoardIndex, PartIndex, TiSlice, TiVec};
use crate::job::{Labour, Saw, Sheet, Station, StillNeeded};
use crate::measure::{Length, Money, Unit, Volume};
use crate::pattern::Layout;
use crate::solve::{Searched, Status};
use crate::trade::{Defect, Grade, Quarter};

/// A complete plan for a job.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Plan {
    /// Unit of its lengths.
    pub unit: Unit,
    /// Currency of its money.
    pub currency: String,
    /// How the search ended.
    pub status: Status,
    /// What was done for it.
    pub searched: Searched,
    /// What it costs and what is proven.
    pub cost: Cost,
    /// Price lines bought.
    pub buy: Vec<Buy>,
    /// Boards with their cuts.
    pub boards: TiVec<BoardIndex, Board>,
    /// Pieces wanted and cut.
    pub parts: Vec<PartCount>,
    /// Where the lumber goes.
    pub waste: Waste,
    /// Where the sheets go, by area: as if every sheet were an inch thick.
    pub sheet_waste: Waste,
    /// Saw settings, each made once.
    pub setups: Vec<Setup>,
    /// What is glued on edges of parts of sheets.
    pub edging: Vec<Edging>,
    /// What is done to the pieces after the saw.
    pub work: Work,
    /// How sure the buy is to be enough, where boards are drawn and it was asked for.
    pub confidence: Option<Confidence>,
    /// Sets of matched pieces, and strips of panels.
    pub sets: Vec<SetCount>,
    /// What it costs that more of them come whole from one board, where that was asked.
    pub matching: Option<MatchingCost>,
    /// Parts that it leaves open, where the boards on hand are not enough.
    pub still_needed: Vec<StillNeeded>,
    /// Settings in the order they are made where all boards go through together.
    pub order: Vec<Made>,
    /// How many those are, and before the plan was changed for fewer of them.
    pub settings_made: (usize, Option<usize>),
    /// The same where layouts are sawn one after the other.
    pub settings_by_layout: (usize, Option<usize>),
    /// The same where every board is sawn by itself.
    pub settings_by_board: u64,
}

impl Plan {
    /// Did its search end before it had nothing more to try? Its turns are told then.
    pub fn is_cut_short(&self) -> bool {
        self.searched.cut_short || self.status == Status::Stopped
    }

    /// Are sheets in it?
    pub fn has_sheets(&self) -> bool {
        self.boards.iter().any(|board| board.sheet.is_some())
    }

    /// Is lumber in it?
    pub fn has_lumber(&self) -> bool {
        self.boards.iter().any(|board| board.sheet.is_none())
    }

    /// Do reports tell of lumber? Also where a plan is of nothing at all.
    pub fn tells_lumber(&self) -> bool {
        self.has_lumber() || !self.has_sheets()
    }

    /// Are boards in it that nobody has seen?
    pub fn has_drawn_boards(&self) -> bool {
        self.boards.iter().any(|board| board.drawn)
    }
}

/// The boards of a plan.
pub type Boards = TiSlice<BoardIndex, Board>;

/// Boards that are cut alike.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Board {
    /// Its name on the sheets.
    pub id: String,
    /// Where it comes from.
    pub source: BoardSource,
    /// How many are cut alike.
    pub copies: u32,
    /// Which cuts come first.
    pub layout: Layout,
    /// Rough length.
    pub length: Length,
    /// Rough width.
    pub width: Length,
    /// Its ends and edges are sawn already: nothing is trimmed off.
    pub trimmed: bool,
    /// Nobody has seen it: it is one of those that stand for its price line.
    pub drawn: bool,
    /// Where no piece may lie.
    pub defects: Vec<Defect>,
    /// Thickness class.
    pub quarter: Quarter,
    /// Species as bought.
    pub species: String,
    /// Grade as bought.
    pub grade: Grade,
    /// What it has beyond that, if it is a sheet.
    pub sheet: Option<Sheet>,
    /// Pieces.
    pub pieces: Vec<PlacedPiece>,
    /// Leftovers.
    pub offcuts: Vec<Offcut>,
    /// Cuts, in the order they are made.
    pub cuts: Vec<SawCut>,
    /// What is milled before some of them.
    pub joined: Vec<Joined>,
    /// The boards that these are sawn along with: they need no setting that those do not.
    pub along_with: Option<String>,
}

/// Pieces of a part that are too short to be milled alone, on one board.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Joined {
    /// Index into the job's parts.
    pub part: PartIndex,
    /// They are milled before this cut; one more than the last means that they are never too short.
    pub before_step: u32,
    /// Length of the wood that then still holds a piece of them, at least.
    pub length: Length,
}

/// A piece where it lies on its board.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct PlacedPiece {
    /// Index into the job's parts.
    pub part: PartIndex,
    /// From the board's left end.
    pub x: Length,
    /// From the board's lower edge.
    pub y: Length,
    /// Cut size along the board.
    pub length: Length,
    /// Cut size across the board.
    pub width: Length,
    /// Does the part's length lie across the board?
    pub turned: bool,
    /// Blanks it is resawn into; 1 is not resawn.
    pub blanks: u32,
}

/// A leftover where it lies on its board.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Offcut {
    /// From the board's left end.
    pub x: Length,
    /// From the board's lower edge.
    pub y: Length,
    /// Along the grain.
    pub length: Length,
    /// Across the grain.
    pub width: Length,
    /// Goes back on the rack.
    pub keep: bool,
}

/// What a cut does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum CutKind {
    /// Takes off an end or an edge.
    Trim,
    /// Along the grain.
    Rip,
    /// Across the grain.
    Crosscut,
}

impl CutKind {
    /// As `plan.json` writes it.
    pub fn name(self) -> &'static str {
        match self {
            CutKind::Trim => "trim",
            CutKind::Rip => "rip",
            CutKind::Crosscut => "crosscut",
        }
    }
}

/// One cut: the wood that the blade turns to dust.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct SawCut {
    /// Order of the cut on its board, from 1.
    pub step: u32,
    /// What it does.
    pub kind: CutKind,
    /// 0 trims the board. What comes after is 1, and one more wherever the direction changes.
    pub stage: u8,
    /// Left end of the kerf.
    pub x0: Length,
    /// Lower edge of the kerf.
    pub y0: Length,
    /// Right end of the kerf.
    pub x1: Length,
    /// Upper edge of the kerf.
    pub y1: Length,
    /// The saw's setting, where the cut is made against the fence or a stop.
    pub setting: Option<(SetupKind, Length)>,
}

/// Pieces of one part.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct PartCount {
    /// Index into the job's parts.
    pub part: PartIndex,
    /// Product.
    pub product: String,
    /// Part.
    pub name: String,
    /// Pieces wanted.
    pub required: u64,
    /// Pieces cut.
    pub cut: u64,
}

/// Where the wood of all boards goes, by area and class. The five parts add up to the stock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub struct Waste {
    /// All boards.
    pub stock: Volume,
    /// Finished lengths and widths of the wanted pieces.
    pub parts: Volume,
    /// Kerf of rips and crosscuts.
    pub kerf: Volume,
    /// End and edge trim, and allowances.
    pub trim: Volume,
    /// Offcuts that are kept.
    pub kept_offcuts: Volume,
    /// Everything else.
    pub scrap: Volume,
    /// What the wanted parts hold when they are finished, by their own thickness: it is no part of the sum.
    pub finished: Volume,
}

impl Waste {
    /// The share of the stock that some of its wood is, in percent.
    pub fn percent(&self, wood: Volume) -> f64 {
        let stock = self.stock.board_feet_f64();
        if stock > 0.0 { wood.board_feet_f64() / stock * 100.0 } else { 0.0 }
    }

    /// The five parts of the stock, in the order in which they are told.
    pub fn shares(&self) -> [(&'static str, Volume); 5] {
        [
            ("Parts", self.parts),
            ("Kerf", self.kerf),
            ("Trim and allowances", self.trim),
            ("Offcuts kept", self.kept_offcuts),
            ("Scrap", self.scrap),
        ]
    }

    /// What is neither in the parts nor kept: this is what waste means everywhere.
    pub fn lost(&self) -> Volume {
        self.kerf + self.trim + self.scrap
    }
}

impl Board {
    /// Pieces by part, in the order in which the parts come first.
    pub fn pieces_by_part(&self) -> Vec<(PartIndex, u64)> {
        let mut counts: Vec<(PartIndex, u64)> = Vec::new();
        for piece in &self.pieces {
            match counts.iter_mut().find(|(part, _)| *part == piece.part) {
                Some((_, count)) => *count += 1,
                None => counts.push((piece.part, 1)),
            }
        }
        counts
    }
}

/// Fence or stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum SetupKind {
    /// The rip fence.
    Rip,
    /// The stop block of the crosscut.
    Stop,
    /// The fence of the saw that sheets are cut with, whichever way they are cut.
    Sheet,
}

impl SetupKind {
    /// As `plan.json` writes it.
    pub fn name(self) -> &'static str {
        match self {
            SetupKind::Rip => "rip",
            SetupKind::Stop => "stop",
            SetupKind::Sheet => "sheet",
        }
    }

    /// The kind that `plan.json` calls so.
    pub fn named(name: &str) -> Option<SetupKind> {
        [SetupKind::Rip, SetupKind::Stop, SetupKind::Sheet].into_iter().find(|kind| kind.name() == name)
    }

    /// Minutes that one setting takes.
    pub fn minutes(self, labour: &Labour) -> Money {
        match self {
            SetupKind::Stop => labour.stop_setup_minutes,
            SetupKind::Rip | SetupKind::Sheet => labour.rip_setup_minutes,
        }
    }
}

/// A setting as it is made, with the boards that are cut at it then.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Made {
    /// Fence or stop.
    pub kind: SetupKind,
    /// What the saw leaves.
    pub setting: Length,
    /// Indices into [`Plan::boards`].
    pub boards: Vec<BoardIndex>,
}

/// One setting of the saw with everything that is cut at it.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Setup {
    /// Fence or stop.
    pub kind: SetupKind,
    /// What the saw leaves.
    pub setting: Length,
    /// What holds the stop, if it is one and something does.
    pub station: Option<Station>,
    /// What the station's scale reads. For a stop at the fence it includes the stand-off block. `None` if no
    /// machine of the shop can be set to it.
    pub reading: Option<Length>,
    /// Cuts over all boards.
    pub cuts: u64,
    /// Names of the boards.
    pub boards: Vec<String>,
    /// The setting is beyond what this saw reaches.
    pub beyond_reach: bool,
    /// Narrower than is ripped between fence and blade.
    pub narrow: bool,
}

impl Setup {
    /// Where it is made, in words.
    pub fn at(&self) -> &'static str {
        match self.kind {
            SetupKind::Rip => "rip fence",
            SetupKind::Sheet => "sheet saw",
            SetupKind::Stop => self.station.map_or("by the line", Station::words),
        }
    }

    /// What `plan.json` has: the fence's reading, or that of the machine where the shop names its machines.
    pub fn fence_reading(&self, saw: &Saw) -> Length {
        match self.kind {
            SetupKind::Rip | SetupKind::Sheet => self.setting,
            SetupKind::Stop if saw.stations.are_named() => self.reading.unwrap_or(self.setting),
            SetupKind::Stop => Station::Fence.reading(saw.standoff_block, self.setting),
        }
    }
}
