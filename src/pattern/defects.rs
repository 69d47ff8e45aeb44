//! Patterns of one board with defects: strips and sections that go around them.
//!
//! The same two stages as everywhere, but a position now matters for what lies there, so the knapsacks
//! become searches over positions. A piece can be pushed down until it meets another piece's kerf or
//! the far side of a defect, so only sums of extents counted from the board's corner or from a
//! defect's far side matter (normal patterns, Christofides and Whitlock 1977, with defects as in
//! Hahn, Operations Research 16(6), 1968). Limits on the copies of a piece are relaxed in the bound
//! and kept in the pattern.
//!
//! With many pieces that search takes too long for a person at the yard. Then the bound is that of the
//! board as if it were clean, and [`AroundDefects::quickly`] gives a good pattern: a strip that meets
//! defects is filled between them, by one knapsack for all strips.

use std::collections::{BTreeMap, BTreeSet};

use super::knapsack::{Best, Knapsack};
use super::model::{Block, Cell, Cutting, Layout, Pattern, Piece, Rect, Strip};
use super::two_stage::TwoStage;
use crate::measure::Length;

/// Positions along the main axis above which only the plainest ones are tried, and the bound is that
/// of the board without its defects.
const MOST_POSITIONS: usize = 700;

/// Pieces above which a board is cut around its defects quickly instead of exactly.
pub const MOST_PIECES: usize = 10;

/// Positions along the main axis that the quick search tries from the corner and from each defect.
const QUICK_POSITIONS: usize = 60;

/// What a strip holds between its defects: its value, and where each span begins with its content.
type Filled = (i64, Vec<(i64, Best)>);

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
struct Placeable {
    index: u32,
    main: i64,
    run: i64,
}

/// A defect along the axes, from the usable rectangle's corner.
#[derive(Debug, Clone, Copy)]
struct Blocked {
    main: (i64, i64),
    run: (i64, i64),
}

/// A piece in a strip: which, where along the run, and how far above the strip's lower side.
#[derive(Debug, Clone, Copy)]
struct Placed {
    piece: usize,
    at: i64,
    lift: i64,
}

impl AroundDefects {
    /// Prepares the positions of a board. `most` limits the copies that matter.
    pub fn new(
        layout: Layout,
        pieces: &[(u32, Piece)],
        most: &[u32],
        board: Rect,
        blocks: &[Block],
        cutting: Cutting,
    ) -> AroundDefects {
        let axes = |length: Length, width: Length| {
            let (main, run) = layout.axes(length, width);
            (main.base(), run.base())
        };
        // A crosscut's kerf is eaten along the board, a rip's across it.
        let (main_kerf, run_kerf) = axes(cutting.kerfs.1, cutting.kerfs.0);
        let (main_room, run_room) = axes(board.length, board.width);
        let mut placeable: Vec<Placeable> = pieces
            .iter()
            .map(|(index, piece)| {
                let (main, run) = axes(piece.length, piece.width);
                Placeable { index: *index, main, run }
            })
            .filter(|piece| {
                piece.main <= main_room && piece.run <= run_room && most[piece.index as usize] > 0
            })
            .collect();
        placeable.sort_by_key(|piece| (piece.main, piece.run, piece.index));
        let blocks: Vec<Blocked> = blocks
            .iter()
            .map(|block| {
                let (main0, run0) = axes(block.x0, block.y0);
                let (main1, run1) = axes(block.x1, block.y1);
                Blocked { main: (main0, main1), run: (run0, run1) }
            })
            .collect();
        let mut search = AroundDefects {
            layout,
            pieces: placeable,
            main_room,
            run_room,
            main_kerf,
            run_kerf,
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
    pub fn price(&self, values: &[i64], limits: &[u32]) -> (i64, Pattern, i64) {
        let (reached, strips) = self.best_strips(values);
        let bound = match &self.clean {
            None => reached,
            Some(clean) => {
                let nothing_traced = [i64::MAX];
                clean.price(values, limits, &nothing_traced).iter().map(|one| one.bound).max().unwrap_or(0)
            }
        };
        let (pattern, worth) = self.pattern(&strips, values, limits);
        (bound.max(worth), pattern, worth)
    }

    /// A good pattern within `limits`, and its value: strips are filled between the defects they meet.
    pub fn quickly(&self, values: &[i64], limits: &[u32]) -> (Pattern, i64) {
        let mut positions: BTreeSet<i64> = BTreeSet::new();
        let widths: BTreeSet<i64> = self.pieces.iter().map(|piece| piece.main).collect();
        let mains = self.blocks.iter().map(|block| block.main.1).chain([0]);
        for base in mains {
            positions.extend(first_sums(base, &widths, self.main_kerf, self.main_room, QUICK_POSITIONS));
        }
        let positions: Vec<i64> = positions.into_iter().collect();
        let near = |at: i64, width: i64| -> Vec<usize> {
            let meets = |block: &Blocked| block.main.0 < at + width && at < block.main.1;
            (0..self.blocks.len()).filter(|place| meets(&self.blocks[*place])).collect()
        };
        let mut met: BTreeSet<Vec<usize>> = BTreeSet::new();
        for at in &positions {
            met.extend(widths.iter().map(|width| near(*at, *width)));
        }
        // What lies between each set of defects that one strip can meet.
        let gaps: BTreeMap<Vec<usize>, Vec<(i64, i64)>> =
            met.into_iter().map(|blocks| (blocks.clone(), self.between(&blocks))).collect();
        let mut knapsack = Knapsack::new(self.run_room + self.run_kerf, 1);
        let mut strips: BTreeMap<i64, BTreeMap<&Vec<usize>, Filled>> = BTreeMap::new();
        for group in self.pieces.chunk_by(|one, other| one.main == other.main) {
            let first = self.pieces.partition_point(|piece| piece.main < group[0].main);
            for (place, piece) in group.iter().enumerate() {
                let index = piece.index as usize;
                knapsack.add((first + place) as u32, piece.run + self.run_kerf, values[index], limits[index]);
            }
            let filled = gaps.iter().map(|(blocks, gaps)| {
                let best: Vec<(i64, Best)> =
                    gaps.iter().map(|(from, to)| (*from, knapsack.best(to - from + self.run_kerf))).collect();
                (blocks, (best.iter().map(|(_, best)| best.value).sum(), best))
            });
            strips.insert(group[0].main, filled.collect());
        }
        let count = positions.len();
        let after = |end: i64| positions.partition_point(|position| *position < end + self.main_kerf);
        let mut best = vec![0i64; count + 1];
        let mut choice: Vec<Option<i64>> = vec![None; count];
        for place in (0..count).rev() {
            let at = positions[place];
            best[place] = best[place + 1];
            for (width, filled) in strips.iter().take_while(|(width, _)| at + **width <= self.main_room) {
                let Some((value, _)) = filled.get(&near(at, *width)) else { continue };
                let value = value + best[after(at + width)];
                if value > best[place] {
                    best[place] = value;
                    choice[place] = Some(*width);
                }
            }
        }
        let mut chosen = Vec::new();
        let mut place = 0;
        while place < count {
            let Some(width) = choice[place] else {
                place += 1;
                continue;
            };
            let at = positions[place];
            let mut cells = Vec::new();
            if let Some((_, filled)) = strips[&width].get(&near(at, width)) {
                for (from, best) in filled {
                    let mut start = *from;
                    for (piece, copies) in knapsack.items(*best) {
                        for _ in 0..copies {
                            cells.push(Placed { piece: piece as usize, at: start, lift: 0 });
                            start += self.pieces[piece as usize].run + self.run_kerf;
                        }
                    }
                }
            }
            chosen.push((at, width, cells));
            place = after(at + width);
        }
        self.pattern(&chosen, values, limits)
    }

    /// The clear spans of a strip that meets these defects, far enough apart for a kerf between them.
    fn between(&self, blocks: &[usize]) -> Vec<(i64, i64)> {
        let mut spans: Vec<(i64, i64)> = blocks.iter().map(|place| self.blocks[*place].run).collect();
        spans.sort_unstable();
        let mut clear = Vec::new();
        let mut from = 0;
        for (low, high) in spans {
            if low > from {
                clear.push((from, low));
            }
            from = from.max(high).max(low + self.run_kerf);
        }
        if from < self.run_room {
            clear.push((from, self.run_room));
        }
        clear
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
    fn best_strips(&self, values: &[i64]) -> (i64, Vec<(i64, i64, Vec<Placed>)>) {
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
    fn best_cells(&self, at: i64, width: i64, near: &[&Blocked], values: &[i64]) -> (i64, Vec<Placed>) {
        let usable: Vec<(usize, &Placeable)> = self
            .pieces
            .iter()
            .enumerate()
            .filter(|(_, piece)| piece.main <= width && values[piece.index as usize] > 0)
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
                        clear_run || block.main.1 <= low || low + piece.main <= block.main.0
                    })
                };
                let lifts = [0, width - piece.main];
                let Some(lift) = lifts.into_iter().find(|lift| free(*lift)) else { continue };
                let next = positions.partition_point(|other| *other < start + piece.run + self.run_kerf);
                let value = values[piece.index as usize] + best[next];
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

    /// The strips as a pattern, without pieces beyond the limits.
    fn pattern(&self, strips: &[(i64, i64, Vec<Placed>)], values: &[i64], limits: &[u32]) -> (Pattern, i64) {
        let mut left = limits.to_vec();
        let mut worth = 0;
        let mut made = Vec::new();
        let mut main_end = 0;
        for (at, width, cells) in strips {
            let mut run_end = 0;
            let mut made_cells = Vec::new();
            for placed in cells {
                let piece = &self.pieces[placed.piece];
                let allowed = &mut left[piece.index as usize];
                if *allowed == 0 {
                    continue;
                }
                *allowed -= 1;
                worth += values[piece.index as usize];
                made_cells.push(Cell {
                    gap: Length::from_base(placed.at - run_end),
                    run: Length::from_base(piece.run),
                    lift: Length::from_base(placed.lift),
                    pieces: vec![piece.index],
                });
                run_end = placed.at + piece.run + self.run_kerf;
            }
            if !made_cells.is_empty() {
                let gap = Length::from_base(at - main_end);
                made.push(Strip { gap, main: Length::from_base(*width), cells: made_cells });
                main_end = at + width + self.main_kerf;
            }
        }
        (Pattern { layout: self.layout, strips: made }, worth)
    }
}

/// The first positions reached from `base` by sums of sizes with a kerf after each.
fn first_sums(base: i64, sizes: &BTreeSet<i64>, kerf: i64, room: i64, most: usize) -> Vec<i64> {
    let mut open = BTreeSet::from([base]);
    let mut positions = Vec::new();
    while let Some(position) = open.pop_first() {
        positions.push(position);
        if positions.len() == most {
            break;
        }
        open.extend(sizes.iter().map(|size| position + size + kerf).filter(|next| *next < room));
    }
    positions
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
