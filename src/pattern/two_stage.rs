//! The most valuable two-stage pattern, by Gilmore and Gomory's pair of knapsacks.
//!
//! Gilmore and Gomory, "Multistage cutting stock problems of two and more dimensions", Operations
//! Research 13(1), 1965: for every strip extent that equals some piece's, a knapsack along the run
//! over the pieces that are no larger across; then a knapsack of strips along the main axis. One
//! sweep over the pieces by rising main extent gives the strip values of every extent and of every
//! board length at once, since the knapsack holds all capacities.
//!
//! Within a strip no piece is used more often than it is wanted. Across strips that limit is relaxed:
//! the value is therefore an upper bound on every pattern within the limits, and exact where the
//! limits do not bind. Whoever needs a pattern within the limits takes [`Traced::proper`].
//!
//! Values are integers, so that everything that becomes a bound is exact.

use super::knapsack::{Best, Knapsack};
use super::model::{Cell, Layout, Pattern, Piece, Rect, Strip};
use crate::measure::Length;

/// Pricing of all boards that offer the same pieces, in one layout.
#[derive(Debug, Clone)]
pub struct TwoStage {
    layout: Layout,
    /// By rising main extent.
    pieces: Vec<AxisPiece>,
    /// Distinct run capacities, kerf added.
    runs: Vec<i64>,
    /// For each board, its run (index into `runs`) and its main capacity, kerf added.
    boards: Vec<(usize, i64)>,
    largest_main: i64,
}

/// A piece along the axes, kerf added.
#[derive(Debug, Clone, Copy)]
struct AxisPiece {
    index: u32,
    main: i64,
    run: i64,
    main_extent: Length,
    run_extent: Length,
}

/// The best pattern of one board.
#[derive(Debug, Clone)]
pub struct Priced {
    /// Index of the board as given to [`TwoStage::new`].
    pub board: usize,
    /// An upper bound on the value of every pattern within the limits.
    pub bound: i64,
    /// Patterns, where they are worth enough.
    pub patterns: Option<Traced>,
}

/// Patterns of one board that are worth having.
#[derive(Debug, Clone)]
pub struct Traced {
    /// The pattern that reaches the bound; it may use a piece in several strips beyond its limit.
    pub relaxed: Pattern,
    /// A good pattern within the limits, and its value.
    pub proper: (Pattern, i64),
}

/// Strip values and how to trace them back.
struct Strips {
    knapsack: Knapsack,
    /// One entry a useful strip extent, by rising extent.
    levels: Vec<Level>,
}

struct Level {
    /// The strip's extent along the main axis, kerf added.
    main: i64,
    /// How many of the pieces it may hold.
    pieces: usize,
    /// Best content for each run.
    best: Vec<Best>,
}

impl TwoStage {
    /// Takes `boards`, of which every one may hold any of `pieces`; `kerfs` are (rip, crosscut).
    pub fn new(
        layout: Layout,
        pieces: &[(u32, Piece)],
        boards: &[Rect],
        kerfs: (Length, Length),
    ) -> TwoStage {
        // A crosscut's kerf is eaten along the board, a rip's across it.
        let (main_kerf, run_kerf) = layout.axes(kerfs.1, kerfs.0);
        let (main_kerf, run_kerf) = (main_kerf.base(), run_kerf.base());
        let mut axis_pieces: Vec<AxisPiece> = pieces
            .iter()
            .map(|(index, piece)| {
                let (main_extent, run_extent) = layout.axes(piece.length, piece.width);
                let (main, run) = (main_extent.base() + main_kerf, run_extent.base() + run_kerf);
                AxisPiece { index: *index, main, run, main_extent, run_extent }
            })
            .collect();
        axis_pieces.sort_by_key(|piece| (piece.main, piece.run, piece.index));
        let capacities: Vec<(i64, i64)> = boards
            .iter()
            .map(|board| {
                let (main, run) = layout.axes(board.length, board.width);
                (main.base() + main_kerf, run.base() + run_kerf)
            })
            .collect();
        let mut runs: Vec<i64> = capacities.iter().map(|(_, run)| *run).collect();
        runs.sort_unstable();
        runs.dedup();
        let place = |run: i64| runs.partition_point(|other| *other < run);
        TwoStage {
            layout,
            pieces: axis_pieces,
            boards: capacities.iter().map(|(main, run)| (place(*run), *main)).collect(),
            largest_main: capacities.iter().map(|(main, _)| *main).max().unwrap_or(0),
            runs,
        }
    }

    /// The most valuable pattern of every board at `values` (by piece index), with no more than
    /// `limits` of each piece. Pieces of value 0 or below are left out. Patterns are only traced where
    /// they are worth more than the board's entry in `least_worth`.
    pub fn price(&self, values: &[i64], limits: &[u32], least_worth: &[i64]) -> Vec<Priced> {
        let strips = self.strip_values(values, limits);
        let tables: Vec<Knapsack> = (0..self.runs.len()).map(|run| self.board_values(&strips, run)).collect();
        let mut priced = Vec::with_capacity(self.boards.len());
        for (board, (run, main)) in self.boards.iter().enumerate() {
            let best = tables[*run].best(*main);
            let bound = best.value;
            if bound <= least_worth[board] {
                priced.push(Priced { board, bound, patterns: None });
                continue;
            }
            let mut cells: Vec<(usize, Vec<usize>)> = Vec::new();
            for (level, copies) in tables[*run].items(best) {
                let content = self.strip_content(&strips.knapsack, strips.levels[level as usize].best[*run]);
                cells.extend(std::iter::repeat_n((level as usize, content), copies as usize));
            }
            cells.sort_by_key(|(level, _)| std::cmp::Reverse(*level));
            let relaxed = self.pattern(&cells);
            let proper = self.proper(&strips, &cells, *run, values, limits, &relaxed, bound);
            priced.push(Priced { board, bound, patterns: Some(Traced { relaxed, proper }) });
        }
        priced
    }

    /// For one board, an upper bound on the value of what still fits, by room left on the main axis
    /// (base units, kerf included). Rooms are rising; the bound of a room is that of the last entry
    /// not above it.
    pub fn completion(&self, board: usize, values: &[i64], limits: &[u32]) -> Vec<(i64, i64)> {
        let strips = self.strip_values(values, limits);
        self.board_values(&strips, self.boards[board].0).staircase().collect()
    }

    /// The knapsack along the run, swept by rising main extent.
    fn strip_values(&self, values: &[i64], limits: &[u32]) -> Strips {
        let mut knapsack = Knapsack::new(self.runs.last().copied().unwrap_or(0));
        let mut levels: Vec<Level> = Vec::new();
        let mut pieces = 0;
        for group in self.pieces.chunk_by(|one, other| one.main == other.main) {
            // What is worth most for its run first: what follows then seldom makes a new step.
            let mut order: Vec<usize> = (pieces..pieces + group.len()).collect();
            order.sort_by(|one, other| {
                let (one, other) = (&self.pieces[*one], &self.pieces[*other]);
                let worth =
                    |piece: &AxisPiece, run: i64| i128::from(values[piece.index as usize]) * i128::from(run);
                worth(other, one.run).cmp(&worth(one, other.run)).then(one.index.cmp(&other.index))
            });
            for place in order {
                let piece = &self.pieces[place];
                let limit = limits[piece.index as usize];
                knapsack.add(place as u32, piece.run, values[piece.index as usize], limit);
            }
            pieces += group.len();
            let best: Vec<Best> = self.runs.iter().map(|run| knapsack.best(*run)).collect();
            let gains = |previous: &Level| {
                best.iter().zip(&previous.best).any(|(now, before)| now.value > before.value)
            };
            let useful = levels.last().map_or(best.iter().any(|best| best.value > 0), gains);
            if useful {
                levels.push(Level { main: group[0].main, pieces, best });
            }
        }
        Strips { knapsack, levels }
    }

    /// The knapsack of strips along the main axis for one run.
    fn board_values(&self, strips: &Strips, run: usize) -> Knapsack {
        let mut knapsack = Knapsack::new(self.largest_main);
        let mut before = 0;
        for (number, level) in strips.levels.iter().enumerate() {
            let value = level.best[run].value;
            // A wider strip that is worth no more is never taken.
            if value > before {
                knapsack.add(number as u32, level.main, value, u32::MAX);
                before = value;
            }
        }
        knapsack
    }

    /// Positions among `pieces` of what a strip holds.
    fn strip_content(&self, knapsack: &Knapsack, best: Best) -> Vec<usize> {
        let mut content = Vec::new();
        for (place, copies) in knapsack.items(best) {
            content.extend(std::iter::repeat_n(place as usize, copies as usize));
        }
        content
    }

    /// The pattern of traced strips, each as wide as its widest piece.
    fn pattern(&self, cells: &[(usize, Vec<usize>)]) -> Pattern {
        let strips = cells.iter().filter(|(_, cells)| !cells.is_empty()).map(|(_, cells)| self.strip(cells));
        let mut pattern = Pattern { layout: self.layout, strips: strips.collect() };
        pattern.strips.sort_by(|one, other| other.cmp(one));
        pattern
    }

    fn strip(&self, cells: &[usize]) -> Strip {
        let main = cells.iter().map(|cell| self.pieces[*cell].main_extent).max().unwrap_or(Length::ZERO);
        let mut cells: Vec<Cell> = cells
            .iter()
            .map(|cell| {
                let piece = &self.pieces[*cell];
                Cell::of(piece.run_extent, piece.index)
            })
            .collect();
        cells.sort_by(|one, other| other.cmp(one));
        Strip { gap: Length::ZERO, main, cells }
    }

    /// Strips one after the other, each re-packed with what the limits leave.
    #[expect(clippy::too_many_arguments, reason = "the traced state of one pricing")]
    fn proper(
        &self,
        strips: &Strips,
        cells: &[(usize, Vec<usize>)],
        run: usize,
        values: &[i64],
        limits: &[u32],
        relaxed: &Pattern,
        bound: i64,
    ) -> (Pattern, i64) {
        if relaxed.counts().iter().all(|(piece, count)| *count <= limits[*piece as usize]) {
            return (relaxed.clone(), bound);
        }
        let mut left = limits.to_vec();
        let mut packed = Vec::new();
        let mut worth = 0;
        for (level, wished) in cells {
            let content = if within_limits(&self.pieces, wished, &left) {
                wished.clone()
            } else {
                self.repack(strips.levels[*level].pieces, run, values, &left)
            };
            for cell in &content {
                let index = self.pieces[*cell].index as usize;
                left[index] -= 1;
                worth += values[index];
            }
            packed.push((*level, content));
        }
        (self.pattern(&packed), worth)
    }

    /// One strip of the first `pieces`, packed with no more than `left`.
    fn repack(&self, pieces: usize, run: usize, values: &[i64], left: &[u32]) -> Vec<usize> {
        let mut knapsack = Knapsack::new(self.runs[run]);
        for (place, piece) in self.pieces[..pieces].iter().enumerate() {
            let index = piece.index as usize;
            knapsack.add(place as u32, piece.run, values[index], left[index]);
        }
        self.strip_content(&knapsack, knapsack.best(self.runs[run]))
    }
}

fn within_limits(pieces: &[AxisPiece], cells: &[usize], left: &[u32]) -> bool {
    let mut sorted: Vec<u32> = cells.iter().map(|cell| pieces[*cell].index).collect();
    sorted.sort_unstable();
    sorted.chunk_by(|one, other| one == other).all(|same| same.len() <= left[same[0] as usize] as usize)
}
