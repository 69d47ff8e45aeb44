//! What lies on a face of a board: defects, and the cuttings between them, as rectangles.

use crate::measure::Length;
use crate::trade::clear::DefectKind;

/// A box of a board that not every piece may hold, from its left end and its lower edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Defect {
    /// Along the board, from its left end.
    pub x0: Length,
    /// End along the board.
    pub x1: Length,
    /// Across, from the lower edge.
    pub y0: Length,
    /// End across.
    pub y1: Length,
    /// What it does to the wood.
    pub kind: DefectKind,
}

/// A rectangle of a board, from its left end and its lower edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rectangle {
    /// Along the board, from its left end.
    pub x0: Length,
    /// End along the board.
    pub x1: Length,
    /// Across, from the lower edge.
    pub y0: Length,
    /// End across.
    pub y1: Length,
}

impl From<&Defect> for Rectangle {
    fn from(defect: &Defect) -> Rectangle {
        Rectangle { x0: defect.x0, x1: defect.x1, y0: defect.y0, y1: defect.y1 }
    }
}

/// A clear cutting where it lies on its board.
pub type ClearCutting = Rectangle;

/// Places in their order, each once.
pub(super) fn in_order(places: impl Iterator<Item = Length>) -> Vec<Length> {
    let mut places: Vec<Length> = places.collect();
    places.sort_unstable();
    places.dedup();
    places
}

pub(super) fn area(one: &ClearCutting) -> i128 {
    i128::from((one.x1 - one.x0).base()) * i128::from((one.y1 - one.y0).base())
}

pub(super) fn meet(one: &Rectangle, other: &Rectangle) -> bool {
    one.x0 < other.x1 && other.x0 < one.x1 && one.y0 < other.y1 && other.y0 < one.y1
}
