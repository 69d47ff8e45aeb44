//! Defects along the axes of a layout, and strips with positions as patterns: what both ways of cutting a board with
//! defects share.

use super::model::{Block, Cell, Laid, Layout, Limits, Pattern, Piece, Strip, Values};
use crate::index::SizeIndex;
use crate::measure::Length;
use crate::trade::{Clear, DefectKind};

/// A piece along the axes, without kerf.
#[derive(Debug, Clone, Copy)]
pub struct Placeable {
    pub index: SizeIndex,
    pub main: i64,
    pub run: i64,
    pub clear: Clear,
}

/// The pieces that fit into a board of some room, by rising main extent.
pub fn placeable(layout: Layout, pieces: &[(SizeIndex, Piece)], room: (i64, i64)) -> Vec<Placeable> {
    let along_axes = |(index, piece): &(SizeIndex, Piece)| {
        let (main, run) = layout.axes(piece.length, piece.width);
        Placeable { index: *index, main: main.base(), run: run.base(), clear: piece.clear }
    };
    let fits = |piece: &Placeable| piece.main <= room.0 && piece.run <= room.1;
    let mut placeable: Vec<Placeable> = pieces.iter().map(along_axes).filter(fits).collect();
    placeable.sort_by_key(|piece| (piece.main, piece.run, piece.index));
    placeable
}

/// A defect along the axes, from the usable rectangle's corner.
#[derive(Debug, Clone, Copy)]
pub struct Blocked {
    pub main: (i64, i64),
    pub run: (i64, i64),
    pub kind: DefectKind,
}

/// Defects along the axes.
pub fn blocked(layout: Layout, blocks: &[Block]) -> Vec<Blocked> {
    let along_axes = |block: &Block| {
        let (main0, run0) = layout.axes(block.x0, block.y0);
        let (main1, run1) = layout.axes(block.x1, block.y1);
        Blocked { main: (main0.base(), main1.base()), run: (run0.base(), run1.base()), kind: block.kind }
    };
    blocks.iter().map(along_axes).collect()
}

/// A piece in a strip: which, where along the run, and how far above the strip's lower side.
#[derive(Debug, Clone, Copy)]
pub struct Placed {
    pub piece: usize,
    pub at: i64,
    pub lift: i64,
}

/// A strip with its position, its extent and its content.
pub type PlacedStrip = (i64, i64, Vec<Placed>);

/// Strips as a pattern, without pieces beyond the limits, and what it is worth.
pub fn pattern_of(
    layout: Layout,
    (main_kerf, run_kerf): (i64, i64),
    pieces: &[Placeable],
    strips: &[PlacedStrip],
    values: &Values,
    limits: &Limits,
) -> (Pattern, i64) {
    let mut left = limits.to_vec();
    let mut worth = 0;
    let mut made = Vec::new();
    let mut main_end = 0;
    for (at, width, cells) in strips {
        let mut run_end = 0;
        let mut made_cells = Vec::new();
        for placed in cells {
            let piece = &pieces[placed.piece];
            let allowed = &mut left[piece.index];
            if *allowed == 0 {
                continue;
            }
            *allowed -= 1;
            worth += values[piece.index];
            made_cells.push(Cell {
                gap: Length::from_base(placed.at - run_end),
                run: Length::from_base(piece.run),
                lift: Length::from_base(placed.lift),
                pieces: vec![Laid::straight(piece.index)],
            });
            run_end = placed.at + piece.run + run_kerf;
        }
        if !made_cells.is_empty() {
            let gap = Length::from_base(at - main_end);
            made.push(Strip { gap, main: Length::from_base(*width), cells: made_cells });
            main_end = at + width + main_kerf;
        }
    }
    (Pattern { layout, strips: made }, worth)
}
