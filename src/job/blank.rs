//! What is sawn for a part: the part itself, or the strips or layers that it is glued from.

use super::fit::Fit;
use super::sheet::SheetPart;
use super::shop::Shop;
use crate::measure::Length;

/// How a part is made of what is sawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Make {
    /// In one piece.
    Whole,
    /// A panel of so many strips, edge to edge.
    Panel(u32),
    /// So many layers, face to face.
    Lamination(u32),
}

impl Make {
    /// Blanks that make one part.
    pub fn pieces(self) -> u32 {
        match self {
            Make::Whole => 1,
            Make::Panel(pieces) | Make::Lamination(pieces) => pieces,
        }
    }

    /// Is it glued?
    pub fn is_glued(self) -> bool {
        self != Make::Whole
    }

    /// As `plan.json` writes it; none for a part in one piece.
    pub fn name(self) -> Option<&'static str> {
        match self {
            Make::Whole => None,
            Make::Panel(_) => Some("panel"),
            Make::Lamination(_) => Some("lamination"),
        }
    }

    /// What the blanks are called, one and several of them.
    pub fn words(self) -> (&'static str, &'static str) {
        match self {
            Make::Whole => ("piece", "pieces"),
            Make::Panel(_) => ("strip", "strips"),
            Make::Lamination(_) => ("layer", "layers"),
        }
    }
}

/// What is sawn for a part.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Blank {
    /// How the part is made of it.
    pub make: Make,
    /// Finished width of one blank.
    pub width: Length,
    /// Finished thickness of one blank.
    pub thickness: Length,
    /// Length it is cut at: finished plus allowances.
    pub cut_length: Length,
    /// Width it is cut at: finished plus allowances.
    pub cut_width: Length,
    /// Were all ways to glue the part weighed, so that what is proven holds for every one?
    pub of_all_ways: bool,
}

impl Blank {
    /// A blank of a part of finished `length`, itself of finished `width` and `thickness`. This is the one
    /// rule for the size that is cut: a panel's edges are jointed, a lamination's edges are cleaned of glue. A part
    /// of a sheet is cut smaller by what is glued on its edges, and is neither jointed nor planed.
    pub fn new(shop: &Shop, make: Make, fit: Fit, sheet: Option<&SheetPart>, sizes: [Length; 3]) -> Blank {
        let [length, width, thickness] = sizes;
        let milling = &shop.milling;
        let extra = match fit {
            Fit::Stop => Length::ZERO,
            Fit::Creep => milling.creep_allowance,
            Fit::ToWork => milling.to_work_allowance,
        };
        let joints = if make.is_glued() { shop.glue.joint_allowance * 2 } else { Length::ZERO };
        let (cut_length, cut_width) = match sheet {
            Some(SheetPart { edges, .. }) => {
                ((length + extra).saturating_sub(edges.along()), width.saturating_sub(edges.across()))
            }
            None => (length + milling.length_allowance + extra, width + milling.width_allowance + joints),
        };
        Blank { make, width, thickness, cut_length, cut_width, of_all_ways: false }
    }
}
