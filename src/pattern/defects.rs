//! Patterns of one board with defects: strips and sections that go around them.
//!
//! The same two stages as everywhere, but a position now matters for what lies there, so the knapsacks
//! become searches over positions. A piece can be pushed down until it meets another piece's kerf or
//! the far side of a defect, so only sums of extents counted from the board's corner or from a
//! defect's far side matter (normal patterns, Christofides and Whitlock 1977, with defects as in
//! Hahn, Operations Research 16(6), 1968). Limits on the copies of a piece are relaxed in the bound
//! and kept in the pattern.
//!
//! With many pieces that search takes too long for a person at the yard: [`super::BetweenDefects`] then gives
//! good patterns, and the bound is that of the board as if it were clean.

use std::collections::{BTreeMap, BTreeSet};

use super::model::{Block, Cell, Cutting, Laid, Layout, Limits, Pattern, Piece, Rect, Strip, Values};
use super::two_stage::TwoStage;
use crate::index::SizeIndex;
use crate::measure::Length;
use crate::trade::{Clear, DefectKind};

/// Positions along the main axis above which only the plainest ones are tried, and the bound is that
/// of the board without its defects.
const MOST_POSITIONS: usize = 700;

/// Pieces above which a board is cut around its defects quickly instead of exactly.
pub const MOST_PIECES: usize = 10;

/// Pricing of one board with defects in one layout.
#[derive(Debug, Clone)]
pub struct AroundDefects {
    layout: Layout,
    /// By rising main extent.
    pieces: Vec<Placeable>,
    main_room: i64,
    run_room: i64,
    main_kerf: i64,
    run_kerf: i64,
    blocks: Vec<Blocked>,
    positions: Vec<i64>,
    /// Prices the board as if it were clean, where positions are too many for the exact search.
    clean: Option<TwoStage>,
}

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

impl AroundDefects {
    /// Prepares the positions of a board. `most` limits the copies that matter.
    pub fn new(
        layout: Layout,
        pieces: &[(SizeIndex, Piece)],
        most: &Limits,
        board: Rect,
        blocks: &[Block],
        cutting: Cutting,
    ) -> AroundDefects {
        // A crosscut's kerf is eaten along the board, a rip's across it.
        let (main_kerf, run_kerf) = layout.axes(cutting.kerfs.1, cutting.kerfs.0);
        let (main_room, run_room) = layout.axes(board.length, board.width);
        let room = (main_room.base(), run_room.base());
        let mut fitting = placeable(layout, pieces, room);
        fitting.retain(|piece| most[piece.index] > 0);
        let blocks = blocked(layout, blocks);
        let mut search = AroundDefects {
            layout,
            pieces: fitting,
            main_room: room.0,
            run_room: room.1,
            main_kerf: main_kerf.base(),
            run_kerf: run_kerf.base(),
            blocks,
            positions: Vec::new(),
            clean: None,
        };
        if pieces.len() > MOST_PIECES {
            return search;
        }
        match search.main_positions(true) {
            // Two stages are cut around defects; the bound must hold for a third.
            Some(positions) if cutting.stages < 3 => search.positions = positions,
            positions => {
                let positions = positions.or_else(|| search.main_positions(false));
                search.positions = positions.unwrap_or_else(|| vec![0]);
                search.clean = Some(TwoStage::new(layout, pieces, &[board], cutting));
            }
        }
        search
    }

    /// An upper bound on the value of every pattern within `limits`, and a good pattern with its value.
    pub fn price(&self, values: &Values, limits: &Limits) -> (i64, Pattern, i64) {
        let (reached, strips) = self.best_strips(values);
        let bound = match &self.clean {
            None => reached,
            Some(clean) => {
                let nothing_traced = [i64::MAX];
                clean.price(values, limits, &nothing_traced).iter().map(|one| one.bound).max().unwrap_or(0)
            }
        };
        let kerfs = (self.main_kerf, self.run_kerf);
        let (pattern, worth) = pattern_of(self.layout, kerfs, &self.pieces, &strips, values, limits);
        (bound.max(worth), pattern, worth)
    }

    /// Positions at which a strip may begin, or `None` if they are too many.
    fn main_positions(&self, lifted: bool) -> Option<Vec<i64>> {
        let widths: BTreeSet<i64> = self.pieces.iter().map(|piece| piece.main).collect();
        let mut bases = BTreeSet::from([0]);
        for block in &self.blocks {
            bases.insert(block.main.1);
            if lifted {
                for width in &widths {
                    // A narrower piece at the upper side of a strip just clears the defect.
                    bases.extend(widths.range(..width).map(|piece| block.main.1 - (width - piece)));
                }
            }
        }
        sums(bases, &widths, self.main_kerf, self.main_room, MOST_POSITIONS)
    }

    /// The best strips, each with its position, extent and content, by rising position.
    fn best_strips(&self, values: &Values) -> (i64, Vec<PlacedStrip>) {
        let widths: Vec<i64> =
            self.pieces.iter().map(|piece| piece.main).collect::<BTreeSet<_>>().into_iter().collect();
        // Strips that meet no defect are worth the same wherever they lie.
        let mut clean: BTreeMap<i64, (i64, Vec<Placed>)> = BTreeMap::new();
        let count = self.positions.len();
        let mut best = vec![0i64; count + 1];
        let mut choice: Vec<Option<(i64, Vec<Placed>)>> = vec![None; count + 1];
        for place in (0..count).rev() {
            let at = self.positions[place];
            best[place] = best[place + 1];
            for width in widths.iter().filter(|width| at + **width <= self.main_room) {
                let near: Vec<&Blocked> = self
                    .blocks
                    .iter()
                    .filter(|block| block.main.0 < at + width && at < block.main.1)
                    .collect();
                let strip = if near.is_empty() {
                    clean.entry(*width).or_insert_with(|| self.best_cells(at, *width, &[], values)).clone()
                } else {
                    self.best_cells(at, *width, &near, values)
                };
                let next = self.positions.partition_point(|position| *position < at + width + self.main_kerf);
                let value = strip.0 + best[next];
                if value > best[place] {
                    best[place] = value;
                    choice[place] = Some((*width, strip.1));
                }
            }
        }
        let mut strips = Vec::new();
        let mut place = 0;
        while place < count {
            match choice[place].take() {
                None => place += 1,
                Some((width, cells)) => {
                    let at = self.positions[place];
                    strips.push((at, width, cells));
                    place =
                        self.positions.partition_point(|position| *position < at + width + self.main_kerf);
                }
            }
        }
        (best[0], strips)
    }

    /// The best content of a strip at `at`, with the defects that reach into it.
    fn best_cells(&self, at: i64, width: i64, near: &[&Blocked], values: &Values) -> (i64, Vec<Placed>) {
        let usable: Vec<(usize, &Placeable)> = self
            .pieces
            .iter()
            .enumerate()
            .filter(|(_, piece)| piece.main <= width && values[piece.index] > 0)
            .collect();
        let sizes: BTreeSet<i64> = usable.iter().map(|(_, piece)| piece.run).collect();
        let mut bases = BTreeSet::from([0]);
        bases.extend(near.iter().map(|block| block.run.1));
        // Along the run every position is needed: a strip holds few pieces, so they stay few.
        let positions = sums(bases, &sizes, self.run_kerf, self.run_room, usize::MAX).unwrap_or_default();
        let count = positions.len();
        let mut best = vec![0i64; count + 1];
        let mut choice: Vec<Option<Placed>> = vec![None; count + 1];
        for place in (0..count).rev() {
            let start = positions[place];
            best[place] = best[place + 1];
            for (number, piece) in &usable {
                if start + piece.run > self.run_room {
                    continue;
                }
                let free = |lift: i64| {
                    near.iter().all(|block| {
                        let clear_run = block.run.1 <= start || start + piece.run <= block.run.0;
                        let low = at + lift;
                        let beside = block.main.1 <= low || low + piece.main <= block.main.0;
                        clear_run || beside || piece.clear.bears(block.kind)
                    })
                };
                let lifts = [0, width - piece.main];
                let Some(lift) = lifts.into_iter().find(|lift| free(*lift)) else { continue };
                let next = positions.partition_point(|other| *other < start + piece.run + self.run_kerf);
                let value = values[piece.index] + best[next];
                if value > best[place] {
                    best[place] = value;
                    choice[place] = Some(Placed { piece: *number, at: start, lift });
                }
            }
        }
        let mut cells = Vec::new();
        let mut place = 0;
        while place < count {
            match choice[place] {
                None => place += 1,
                Some(placed) => {
                    cells.push(placed);
                    let end = placed.at + self.pieces[placed.piece].run + self.run_kerf;
                    place = positions.partition_point(|other| *other < end);
                }
            }
        }
        (best[0], cells)
    }
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

/// Positions reached from `bases` by sums of sizes with a kerf after each, from which the least size
/// still fits; `None` if they are more than `most`.
fn sums(bases: BTreeSet<i64>, sizes: &BTreeSet<i64>, kerf: i64, room: i64, most: usize) -> Option<Vec<i64>> {
    let least = sizes.first().copied().unwrap_or(room + 1);
    let mut open: BTreeSet<i64> =
        bases.into_iter().filter(|base| *base >= 0 && base + least <= room).collect();
    let mut positions = Vec::new();
    while let Some(position) = open.pop_first() {
        positions.push(position);
        if positions.len() > most {
            return None;
        }
        let next = sizes.iter().map(|size| position + size + kerf);
        open.extend(next.filter(|next| next + least <= room));
    }
    Some(positions)
}
