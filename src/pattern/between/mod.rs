//! Many boards with defects priced together: a strip is filled between the defects that it meets.
//!
//! What is given up for speed is the piece that lies beside a defect within one strip: a strip is clear wherever
//! something is cut from it. Then its value is the sum of what its clear spans are worth, and one knapsack along
//! the run, swept by rising strip extent, gives the worth of every span of every board at once (Gilmore and Gomory,
//! Operations Research 13(1), 1965). A strip can be pushed down until it meets another strip's kerf or the far
//! side of a defect, so only sums of extents counted from there matter as positions (Hahn, Operations
//! Research 16(6), 1968). Among such patterns the best one is found exactly; limits on the copies of a piece are
//! kept within a span and relaxed between them.
//!
//! A piece that may hold some kinds of defects is cut from wider spans. What lies between the defects that no piece may
//! hold is one *stretch* of a strip. It is filled in one of several *ways*, one a demand on how clear a piece is: the
//! spans that are clear enough for that demand take the pieces that ask no more.

mod list;
mod stretches;

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use self::stretches::{ClearSpan, Measured, stretches};
use super::defects::{
    Blocked, Placeable, Placed, PlacedStrip, blocked, followed, pattern_of, placeable, positions,
};
use super::knapsack::{Best, Knapsack};
use super::model::{Block, Cutting, Layout, Limits, Pattern, Piece, Rect, Values};
use super::two_stage::{Priced, Traced};
use crate::index::{SizeIndex, ti_vec};
use crate::trade::Clear;

/// One of so many extents is few of them: their own positions are then quickly found, and far fewer.
const FEW_OF_ALL: usize = 2;

/// A board with its defects.
#[derive(Debug, Clone)]
pub struct Blemished {
    /// What pieces may be cut from.
    pub rect: Rect,
    /// Boxes in it that not every piece may hold.
    pub blocks: Vec<Block>,
}

/// Pricing of boards with defects that offer the same pieces, in one layout.
#[derive(Debug, Clone)]
pub struct BetweenDefects {
    layout: Layout,
    /// Along the main axis and along the run.
    kerfs: (i64, i64),
    /// Must all pieces of a strip have its main extent?
    even: bool,
    /// By rising main extent.
    pieces: Vec<Placeable>,
    /// Distinct main extents, each with where its pieces begin; rising.
    extents: Vec<(i64, usize)>,
    /// Distinct lengths of clear spans, kerf added.
    runs: Vec<i64>,
    /// How clear the pieces must be, the strictest first.
    demands: Vec<Clear>,
    boards: Vec<Spans>,
}

/// What lies between the defects that no piece may hold: the ways to fill it, never none.
type Stretch = Vec<Way>;

/// Spans that are clear enough for the pieces cut from them.
type Way = Vec<Span>;

/// A span of a strip.
#[derive(Debug, Clone, Copy)]
struct Span {
    /// Where it begins.
    from: i64,
    /// Its length and how clear it is, as the place of its best content in a level.
    place: u32,
    /// How clear it is, as an index into the demands.
    demand: u32,
}

/// Where strips of one board may lie, and what of them is clear there.
#[derive(Debug, Clone)]
struct Spans {
    main_room: i64,
    /// From where strips are counted: the edge of the board, and the far sides of its defects.
    bases: BTreeSet<i64>,
    /// Rising.
    positions: Vec<i64>,
    /// The stretches of a strip, by the set of defects that it meets.
    clear: Vec<Vec<Stretch>>,
    /// By extent: from which position on which of them holds; rising.
    meets: Vec<Vec<(i64, usize)>>,
}

/// What spans are worth at some values.
struct Worth {
    /// By demand.
    knapsacks: Vec<Knapsack>,
    /// Strip extents worth trying (as indices), each with the best content of every run, demand after demand.
    levels: Vec<(usize, Vec<Best>)>,
}

impl BetweenDefects {
    /// Prepares the positions and spans of boards, of which every one may hold any of `pieces`.
    pub fn new(
        layout: Layout,
        pieces: &[(SizeIndex, Piece)],
        boards: &[Blemished],
        cutting: Cutting,
    ) -> BetweenDefects {
        // A crosscut's kerf is eaten along the board, a rip's across it.
        let (main_kerf, run_kerf) = layout.axes(cutting.kerfs.1, cutting.kerfs.0);
        let kerfs = (main_kerf.base(), run_kerf.base());
        let room = |board: &Blemished| {
            let (main, run) = layout.axes(board.rect.length, board.rect.width);
            (main.base(), run.base())
        };
        let largest =
            boards.iter().map(room).fold((0, 0), |most, room| (most.0.max(room.0), most.1.max(room.1)));
        let pieces = placeable(layout, pieces, largest);
        let mut extents: Vec<(i64, usize)> = Vec::new();
        for (place, piece) in pieces.iter().enumerate() {
            if extents.last().is_none_or(|(extent, _)| *extent < piece.main) {
                extents.push((piece.main, place));
            }
        }
        let demands: BTreeSet<Clear> = pieces.iter().map(|piece| piece.clear).collect();
        let demands: Vec<Clear> = demands.into_iter().collect();
        let geometry: Vec<(Spans, Vec<Measured>)> = boards
            .par_iter()
            .map(|board| Spans::new(&extents, room(board), kerfs, &demands, &blocked(layout, &board.blocks)))
            .collect();
        let lengths: BTreeSet<i64> = geometry
            .iter()
            .flat_map(|(_, sets)| sets.iter().flatten().flatten().flatten())
            .map(|span| span.to - span.from + kerfs.1)
            .collect();
        let runs: Vec<i64> = lengths.into_iter().collect();
        let number = |ClearSpan { from, to, demand }: &ClearSpan| Span {
            from: *from,
            place: (demand * runs.len() + runs.partition_point(|run| *run < to - from + kerfs.1)) as u32,
            demand: *demand as u32,
        };
        let way = |spans: &Vec<ClearSpan>| spans.iter().map(number).collect();
        let stretches = |set: &Measured| set.iter().map(|ways| ways.iter().map(way).collect()).collect();
        let boards = geometry
            .into_iter()
            .map(|(board, sets)| Spans { clear: sets.iter().map(stretches).collect(), ..board });
        let boards = boards.collect();
        let even = cutting.family.is_even();
        BetweenDefects { layout, kerfs, even, pieces, extents, runs, demands, boards }
    }

    /// The length of a span, as an index into the runs.
    fn run_of(&self, span: &Span) -> usize {
        span.place as usize - span.demand as usize * self.runs.len()
    }

    /// A good pattern within `limits` of some boards, with its value.
    pub fn patterns(&self, boards: &[usize], values: &Values, limits: &Limits) -> Vec<(Pattern, i64)> {
        let mut runs: Vec<usize> = boards
            .iter()
            .flat_map(|board| self.boards[*board].clear.iter().flatten().flatten().flatten())
            .map(|span| self.run_of(span))
            .collect();
        runs.sort_unstable();
        runs.dedup();
        let worth = self.worth(values, limits, runs.into_iter());
        // Where few sizes are wanted, strips of those alone say where others can begin.
        let extents: Vec<i64> = worth.levels.iter().map(|(extent, _)| self.extents[*extent].0).collect();
        let few = extents.len() * FEW_OF_ALL <= self.extents.len();
        let pattern = |board: &usize| {
            let spans = &self.boards[*board];
            let own = few.then(|| positions(spans.bases.clone(), &extents, self.kerfs.0, spans.main_room));
            let (_, strips) = self.best(spans, own.as_ref().unwrap_or(&spans.positions), &worth, 0);
            let strips = strips.unwrap_or_default();
            pattern_of(self.layout, self.kerfs, &self.pieces, &strips, values, limits)
        };
        boards.iter().map(pattern).collect()
    }

    /// The most valuable pattern of every board at `values` (by piece index), traced where it is worth more than
    /// the board's entry in `least_worth`.
    pub fn price(&self, values: &Values, limits: &Limits, least_worth: &[i64]) -> Vec<Priced> {
        let worth = self.worth(values, limits, 0..self.runs.len());
        let price = |(board, spans): (usize, &Spans)| {
            let (bound, strips) = self.best(spans, &spans.positions, &worth, least_worth[board]);
            let patterns = strips.map(|strips| {
                let unlimited = ti_vec![u32::MAX; limits.len()];
                let made = |limits: &Limits| {
                    pattern_of(self.layout, self.kerfs, &self.pieces, &strips, values, limits)
                };
                Traced { relaxed: made(&unlimited).0, proper: made(limits) }
            });
            Priced { board, bound, patterns }
        };
        self.boards.par_iter().enumerate().map(price).collect()
    }

    /// The knapsack along the run, swept by rising extent of the strip; its values for some of the runs.
    fn worth(&self, values: &Values, limits: &Limits, runs: impl Iterator<Item = usize> + Clone) -> Worth {
        let grid = self.pieces.iter().fold(0, |grid, piece| num_integer::gcd(grid, piece.run + self.kerfs.1));
        let knapsack = || Knapsack::new(self.runs.last().copied().unwrap_or(0), grid);
        let mut knapsacks: Vec<Knapsack> = self.demands.iter().map(|_| knapsack()).collect();
        let mut levels: Vec<(usize, Vec<Best>)> = Vec::new();
        for (number, (_, first)) in self.extents.iter().enumerate() {
            let end = self.extents.get(number + 1).map_or(self.pieces.len(), |(_, next)| *next);
            let is_wanted = |piece: &Placeable| values[piece.index] > 0 && limits[piece.index] > 0;
            if !self.pieces[*first..end].iter().any(is_wanted) {
                continue;
            }
            let mut best: Vec<Best> = Vec::with_capacity(self.demands.len() * self.runs.len());
            for (demand, knapsack) in self.demands.iter().zip(&mut knapsacks) {
                if self.even {
                    knapsack.clear();
                }
                for (place, piece) in self.pieces.iter().enumerate().take(end).skip(*first) {
                    let index = piece.index;
                    if piece.clear >= *demand {
                        knapsack.add(place as u32, piece.run + self.kerfs.1, values[index], limits[index]);
                    }
                }
                let first = best.len();
                best.resize(first + self.runs.len(), knapsack.best(0));
                runs.clone().for_each(|run| best[first + run] = knapsack.best(self.runs[run]));
            }
            let before = levels.last().map(|(_, best)| best).filter(|_| !self.even);
            let gains = |place: usize| before.map_or(0, |before| before[place].value) < best[place].value;
            // A wider strip that is worth no more is never taken.
            if (0..best.len()).any(gains) {
                levels.push((number, best));
            }
        }
        Worth { knapsacks, levels }
    }

    /// The value of a board's best pattern, with its strips by rising position where it is above `least`.
    fn best(
        &self,
        board: &Spans,
        positions: &[i64],
        worth: &Worth,
        least: i64,
    ) -> (i64, Option<Vec<PlacedStrip>>) {
        let (best, choice) = self.values_from(board, positions, worth);
        (best[0], (best[0] > least).then(|| self.strips(board, positions, worth, &choice)))
    }

    /// By position, what can be cut from there on, and the level of the strip to cut there; one value more than there
    /// are positions.
    fn values_from(&self, board: &Spans, positions: &[i64], worth: &Worth) -> (Vec<i64>, Vec<Option<u32>>) {
        let strip_worth: Vec<Vec<i64>> = worth
            .levels
            .iter()
            .map(|(_, best)| {
                let sum = |set: &Vec<Stretch>| set.iter().map(|ways| best_way(ways, best).1).sum();
                board.clear.iter().map(sum).collect()
            })
            .collect();
        let count = positions.len();
        let mut best = vec![0i64; count + 1];
        let mut choice: Vec<Option<u32>> = vec![None; count];
        // By level: the first position after the strip, and which defects it meets.
        let mut after = vec![count; worth.levels.len()];
        let mut step: Vec<usize> =
            worth.levels.iter().map(|(extent, _)| board.meets[*extent].len() - 1).collect();
        for place in (0..count).rev() {
            let at = positions[place];
            best[place] = best[place + 1];
            for (level, (extent, _)) in worth.levels.iter().enumerate() {
                let main = self.extents[*extent].0;
                if at + main > board.main_room {
                    break;
                }
                while after[level] > place + 1 && positions[after[level] - 1] >= at + main + self.kerfs.0 {
                    after[level] -= 1;
                }
                let meets = &board.meets[*extent];
                while meets[step[level]].0 > at {
                    step[level] -= 1;
                }
                let value = strip_worth[level][meets[step[level]].1] + best[after[level]];
                if value > best[place] {
                    best[place] = value;
                    choice[place] = Some(level as u32);
                }
            }
        }
        (best, choice)
    }

    fn strips(
        &self,
        board: &Spans,
        positions: &[i64],
        worth: &Worth,
        choice: &[Option<u32>],
    ) -> Vec<PlacedStrip> {
        let end_of = |place: usize, level: u32| {
            let (extent, _) = &worth.levels[level as usize];
            positions[place] + self.extents[*extent].0 + self.kerfs.0
        };
        let made = |(place, level): (usize, u32)| {
            let (extent, best) = &worth.levels[level as usize];
            let (at, main) = (positions[place], self.extents[*extent].0);
            let meets = &board.meets[*extent];
            let set = meets[meets.partition_point(|(from, _)| *from <= at) - 1].1;
            let mut cells = Vec::new();
            for span in board.clear[set].iter().flat_map(|ways| best_way(ways, best).0) {
                let mut start = span.from;
                for (piece, copies) in worth.knapsacks[span.demand as usize].items(best[span.place as usize])
                {
                    for _ in 0..copies {
                        cells.push(Placed { piece: piece as usize, at: start, lift: 0 });
                        start += self.pieces[piece as usize].run + self.kerfs.1;
                    }
                }
            }
            (at, main, cells)
        };
        followed(positions, choice, end_of).into_iter().map(made).collect()
    }
}

/// The way to fill a stretch that is worth most, and its worth.
fn best_way<'w>(ways: &'w [Way], best: &[Best]) -> (&'w [Span], i64) {
    let worth = |way: &Way| way.iter().map(|span| best[span.place as usize].value).sum();
    let mut most: (&[Span], i64) = (&ways[0], worth(&ways[0]));
    for way in &ways[1..] {
        let worth = worth(way);
        if worth > most.1 {
            most = (way, worth);
        }
    }
    most
}

impl Spans {
    /// The board without the lengths of its spans, and the spans of each set of defects met.
    fn new(
        extents: &[(i64, usize)],
        (main_room, run_room): (i64, i64),
        kerfs: (i64, i64),
        demands: &[Clear],
        blocks: &[Blocked],
    ) -> (Spans, Vec<Measured>) {
        let mut sets: BTreeMap<Vec<usize>, usize> = BTreeMap::new();
        let mut spans: Vec<Measured> = Vec::new();
        let mut meets = Vec::with_capacity(extents.len());
        for (extent, _) in extents {
            // A strip at a position meets a defect that begins below its end and ends above it.
            let borders = blocks.iter().flat_map(|block| [block.main.0 - extent + 1, block.main.1]);
            let froms: BTreeSet<i64> = borders.filter(|at| *at > 0).chain([0]).collect();
            let mut steps: Vec<(i64, usize)> = Vec::new();
            for at in froms {
                let near: Vec<usize> = (0..blocks.len())
                    .filter(|place| blocks[*place].main.0 < at + extent && at < blocks[*place].main.1)
                    .collect();
                let known = sets.len();
                let set = *sets.entry(near).or_insert_with_key(|near| {
                    spans.push(stretches(near, blocks, run_room, kerfs.1, demands));
                    known
                });
                if steps.last().is_none_or(|(_, last)| *last != set) {
                    steps.push((at, set));
                }
            }
            meets.push(steps);
        }
        let bases: BTreeSet<i64> = blocks.iter().map(|block| block.main.1).chain([0]).collect();
        let sizes: Vec<i64> = extents.iter().map(|(extent, _)| *extent).collect();
        let positions = positions(bases.clone(), &sizes, kerfs.0, main_room);
        (Spans { main_room, bases, positions, clear: Vec::new(), meets }, spans)
    }
}
