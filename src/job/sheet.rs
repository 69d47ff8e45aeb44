//! What sheets, and parts of sheets, have beyond those of lumber.

use crate::measure::Length;
use crate::trade::{PartGrain, SheetGrain};

/// What sheets have beyond their class, grade and size.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Sheet {
    /// What lies under the face, as written; empty where nobody says.
    pub core: String,
    /// Which way the grain of the face runs.
    pub grain: SheetGrain,
    /// What it really measures, where that is known; else what is usual.
    pub real: Option<Length>,
}

/// What a part of a sheet has beyond its sizes.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SheetPart {
    /// What must lie under the face, as written; empty where it does not matter.
    pub core: String,
    /// Which way the grain of its face runs.
    pub grain: PartGrain,
    /// What is glued on its edges.
    pub edges: Edges,
    /// The wood that the edges are sawn from; empty where edging is bought.
    pub lipping: String,
}

/// The thickness of what is glued on each edge of a part. The part is cut smaller by it. The first two are
/// the long edges, the front one first; then come the left end and the right end. Zero means no edging.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Edges(pub [Length; 4]);

impl Edges {
    /// What it adds to the length.
    pub fn along(self) -> Length {
        self.0[2] + self.0[3]
    }

    /// What it adds to the width.
    pub fn across(self) -> Length {
        self.0[0] + self.0[1]
    }

    /// Each edging that there is, with the length of the edge that it covers, of a finished part.
    pub fn lengths(self, length: Length, width: Length) -> impl Iterator<Item = (Length, Length)> {
        let edges = [length, length, width, width];
        self.0.into_iter().zip(edges).filter(|(thickness, _)| *thickness > Length::ZERO)
    }
}
