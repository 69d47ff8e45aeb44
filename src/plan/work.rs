//! The types of the work after the saw.

use crate::job::HoleKind;
use crate::measure::Length;
use crate::trade::finish::Film;

/// What is done to the pieces after the saw.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Work {
    /// Holes, by rising bit.
    pub drilling: Vec<Drilling>,
    /// Sanding and finishing, in the order of `finish.csv`.
    pub finishing: Vec<Finishing>,
    /// Scrap that is not thrown away yet.
    pub reserved: Vec<Reserved>,
    /// What no scrap of the plan is large enough for.
    pub lacking: Vec<Purpose>,
}

/// Holes alike in the pieces of one part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drilling {
    /// The bit, to 1/64 in.
    pub bit: Length,
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
    /// May be left out away from the ends, in wood so light.
    pub optional: bool,
}

/// Sanding and finishing of a product.
#[derive(Debug, Clone, PartialEq)]
pub struct Finishing {
    /// Product.
    pub product: String,
    /// Grits in order.
    pub grits: Vec<u16>,
    /// Film or oil.
    pub film: Film,
    /// Coats.
    pub coats: u32,
    /// All faces of all pieces, in square feet or square metres.
    pub area: f64,
    /// Quarts or litres for all coats, where the label's coverage is known; rounded up to a tenth.
    pub quantity: Option<f64>,
}

/// What a piece of scrap is set aside for.
#[derive(Debug, Clone, PartialEq, Eq)]
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
pub struct Reserved {
    /// What for.
    pub purpose: Purpose,
    /// Index of the board in the plan.
    pub board: usize,
    /// Place among the board's leftovers.
    pub offcut: usize,
}
