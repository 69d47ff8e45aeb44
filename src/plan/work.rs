//! The types of the work after the saw.

use crate::index::{BoardIndex, PartIndex};
use crate::job::{HoleKind, Plug};
use crate::measure::Length;
use crate::trade::finish::{Faces, Film};

/// What is done to the pieces after the saw.
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct Work {
    /// Holes, by rising bit.
    pub drilling: Vec<Drilling>,
    /// Sanding and finishing, in the order of `finish.csv`.
    pub finishing: Vec<Finishing>,
    /// Scrap that is not thrown away yet.
    pub reserved: Vec<Reserved>,
    /// What no scrap of the plan is large enough for.
    pub lacking: Vec<Purpose>,
    /// Wide parts, and those held in a frame, with how much they move.
    pub movement: Vec<Movement>,
}

/// How much a part's width moves between the shop and the room.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Movement {
    /// Index into the job's parts.
    pub part: PartIndex,
    /// Flat-sawn and quarter-sawn; none where no coefficient of the species is known.
    pub by_cut: Option<[Moves; 2]>,
    /// Is it held in a frame with less room than it may swell by?
    pub is_tight: bool,
}

/// How much a width may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct Moves {
    /// Wider, in the wettest season.
    pub swells: Length,
    /// Narrower, in the driest.
    pub shrinks: Length,
}

/// Holes alike in the pieces of one part.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Drilling {
    /// The bit as it is sold; none for a lead hole in a wood whose specific gravity is not known.
    pub bit: Option<Length>,
    /// What the holes are for.
    pub kind: HoleKind,
    /// Product.
    pub product: String,
    /// Part.
    pub part: String,
    /// Pieces wanted.
    pub pieces: u64,
    /// Holes in one piece.
    pub holes: u64,
    /// Where the depth stop is set; `None` goes through.
    pub depth: Option<Length>,
    /// Countersunk?
    pub countersink: bool,
    /// The plug that covers the screw's head: it is counterbored for first.
    pub plug: Option<Plug>,
}

/// Sanding and finishing of a product.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Finishing {
    /// Product.
    pub product: String,
    /// Grits in order.
    pub grits: Vec<u16>,
    /// Film or oil.
    pub film: Film,
    /// Coats.
    pub coats: u32,
    /// Which faces are finished.
    pub faces: Faces,
    /// Those of all pieces, in square feet or square metres.
    pub area: f64,
    /// Quarts or litres for all coats, where the label's coverage is known; rounded up to a tenth.
    pub quantity: Option<f64>,
}

/// What a piece of scrap is set aside for.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Purpose {
    /// Stain and finish are tried on it first.
    TestPiece {
        /// Of this species.
        species: String,
    },
    /// It backs holes as the bit comes through.
    Backer {
        /// Product.
        product: String,
        /// Part.
        part: String,
    },
}

/// A leftover set aside.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Reserved {
    /// What for.
    pub purpose: Purpose,
    /// Index of the board in the plan.
    pub board: BoardIndex,
    /// Place among the board's leftovers.
    pub offcut: usize,
}
