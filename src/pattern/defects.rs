//! Defects along the axes of a layout, and strips with positions as patterns: what both ways of cutting a board with
//! defects share.

use std::collections::BTreeSet;

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

impl Blocked {
    /// Does it reach into what lies from there on along the main axis, so wide?
    pub fn reaches_across(&self, low: i64, extent: i64) -> bool {
        self.main.0 < low + extent && low < self.main.1
    }

    /// Does it reach into what lies from there on along the run, so long?
    pub fn reaches_along(&self, at: i64, run: i64) -> bool {
        self.run.0 < at + run && at < self.run.1
    }
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

/// What is listed.
pub struct ListTask<'a> {
    /// Value of each piece, by index.
    pub values: &'a Values,
    /// Copies of each piece that matter, by index.
    pub limits: &'a Limits,
    /// Patterns worth less are of no use.
    pub threshold: i64,
    /// Steps after which the list is given up.
    pub budget: usize,
    /// Asked now and then: is it time to give up?
    pub is_late: &'a (dyn Fn() -> bool + Sync),
}

/// Cells of the grid of positions above which they are kept as a sorted set.
const MOST_CELLS: i64 = 1 << 20;

/// Positions reached from `bases` by sums of sizes (rising) with a kerf after each, from which the least size still
/// fits.
pub fn positions(bases: BTreeSet<i64>, sizes: &[i64], kerf: i64, room: i64) -> Vec<i64> {
    let Some(least) = sizes.first() else { return Vec::new() };
    let last = room - least;
    let bases: BTreeSet<i64> = bases.into_iter().filter(|base| (0..=last).contains(base)).collect();
    let grid = sizes.iter().fold(0, |grid, size| num_integer::gcd(grid, size + kerf));
    let grid = bases.iter().fold(grid, |grid, base| num_integer::gcd(grid, *base)).max(1);
    let cells = last / grid + 1;
    if cells > MOST_CELLS {
        let mut open = bases;
        let mut positions = Vec::new();
        while let Some(position) = open.pop_first() {
            positions.push(position);
            open.extend(sizes.iter().map(|size| position + size + kerf).filter(|next| *next <= last));
        }
        return positions;
    }
    let mut reached = vec![false; cells.max(0) as usize];
    bases.iter().for_each(|base| reached[(base / grid) as usize] = true);
    let mut positions = Vec::new();
    for cell in 0..reached.len() {
        if !reached[cell] {
            continue;
        }
        let position = cell as i64 * grid;
        positions.push(position);
        for size in sizes {
            let next = position + size + kerf;
            if next > last {
                break;
            }
            reached[(next / grid) as usize] = true;
        }
    }
    positions
}

/// What was chosen at the places of a sweep, followed from the first one: where something is chosen, it goes on at the
/// first place that is not before its end.
pub fn followed<T: Copy>(
    positions: &[i64],
    choice: &[Option<T>],
    end_of: impl Fn(usize, T) -> i64,
) -> Vec<(usize, T)> {
    let mut found = Vec::new();
    let mut place = 0;
    while place < choice.len() {
        let Some(chosen) = choice[place] else {
            place += 1;
            continue;
        };
        found.push((place, chosen));
        let end = end_of(place, chosen);
        place = positions.partition_point(|position| *position < end);
    }
    found
}

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
