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
//! With a third stage a cell may hold a stack of pieces of one run extent, parted by cuts in the first
//! direction (Gilmore and Gomory's third stage; no cut follows it, so a stack's pieces share their run
//! extent). For every run extent a knapsack across gives the best stack of every strip extent, and its
//! steps join the sweep as further items. Limits hold within a stack and are relaxed between stacks.
//!
//! A piece that may be turned stands there twice, straight and turned, with one index: what is limited by
//! index is limited for both together, but for the strips' knapsack, whose bound is then a little higher.
//!
//! Values are integers, so that everything that becomes a bound is exact.

use super::knapsack::{Best, Knapsack};
use super::model::{Cell, Cutting, Laid, Layout, Limits, Pattern, Piece, Rect, Strip, Values};
use crate::index::{SizeIndex, TiVec};
use crate::measure::Length;

/// Pricing of all boards that offer the same pieces, in one layout.
#[derive(Debug, Clone)]
pub struct TwoStage {
    layout: Layout,
    /// May cells hold stacks?
    stacks: bool,
    /// Must all pieces of a strip have its main extent?
    even: bool,
    main_kerf: Length,
    /// By rising main extent.
    pieces: Vec<AxisPiece>,
    /// Distinct run capacities, kerf added.
    runs: Vec<i64>,
    /// For each of them how wide a strip may be, kerf added.
    widest: Vec<i64>,
    /// For each board, its run (index into `runs`) and its main capacity, kerf added.
    boards: Vec<(usize, i64)>,
    largest_main: i64,
    /// Common divisors of the pieces' extents along the main axis and the run.
    grids: (i64, i64),
}

/// A piece along the axes, kerf added.
#[derive(Debug, Clone, Copy)]
struct AxisPiece {
    index: SizeIndex,
    laid: Laid,
    main: i64,
    run: i64,
    main_extent: Length,
    run_extent: Length,
}

impl AxisPiece {
    fn laid(&self) -> Laid {
        self.laid
    }
}

/// What one cell may hold: a piece, or a stack of pieces of one run extent.
#[derive(Debug, Clone)]
struct Content {
    main: i64,
    run: i64,
    value: i64,
    /// Copies in one strip; stacks are not limited.
    limit: u32,
    /// Places among the pieces.
    pieces: Vec<usize>,
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
    contents: Vec<Content>,
    knapsack: Knapsack,
    /// One entry a useful strip extent, by rising extent.
    levels: Vec<Level>,
}

struct Level {
    /// The strip's extent along the main axis, kerf added.
    main: i64,
    /// Best content for each run.
    best: Vec<Best>,
}

impl TwoStage {
    /// Takes `boards`, of which every one may hold any of `pieces`; they are cut as
    /// `cutting` says.
    pub fn new(layout: Layout, pieces: &[(SizeIndex, Piece)], boards: &[Rect], cutting: Cutting) -> TwoStage {
        // A crosscut's kerf is eaten along the board, a rip's across it.
        let (kerf_along_main, run_kerf) = layout.axes(cutting.kerfs.1, cutting.kerfs.0);
        let (main_kerf, run_kerf) = (kerf_along_main.base(), run_kerf.base());
        let mut axis_pieces: Vec<AxisPiece> = pieces
            .iter()
            .map(|(index, piece)| {
                let (main_extent, run_extent) = layout.axes(piece.length, piece.width);
                let (main, run) = (main_extent.base() + main_kerf, run_extent.base() + run_kerf);
                AxisPiece {
                    index: *index,
                    laid: Laid::like(*index, piece),
                    main,
                    run,
                    main_extent,
                    run_extent,
                }
            })
            .collect();
        axis_pieces.sort_by_key(|piece| (piece.main, piece.run, piece.index, piece.laid));
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
        let grid = |extent: fn(&AxisPiece) -> i64| {
            axis_pieces.iter().fold(0, |grid, piece| num_integer::gcd(grid, extent(piece)))
        };
        let grids = (grid(|piece| piece.main), grid(|piece| piece.run));
        let place = |run: i64| runs.partition_point(|other| *other < run);
        let widest = |run: &i64| {
            let widest = cutting.widest_strip(Length::from_base(run - run_kerf));
            widest.map_or(i64::MAX, |widest| widest.base().saturating_add(main_kerf))
        };
        TwoStage {
            layout,
            stacks: cutting.stages > 2 && !cutting.family.is_even(),
            even: cutting.family.is_even(),
            main_kerf: kerf_along_main,
            pieces: axis_pieces,
            boards: capacities.iter().map(|(main, run)| (place(*run), *main)).collect(),
            largest_main: capacities.iter().map(|(main, _)| *main).max().unwrap_or(0),
            grids,
            widest: runs.iter().map(widest).collect(),
            runs,
        }
    }

    /// The most valuable pattern of every board at `values` (by piece index), with no more than
    /// `limits` of each piece. Pieces of value 0 or below are left out. Patterns are only traced where
    /// they are worth more than the board's entry in `least_worth`.
    pub fn price(&self, values: &Values, limits: &Limits, least_worth: &[i64]) -> Vec<Priced> {
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
            let mut cells: Vec<(usize, StripCells)> = Vec::new();
            for (level, copies) in tables[*run].items(best) {
                let best = strips.levels[level as usize].best[*run];
                let content = self.strip_content(&strips.contents, &strips.knapsack, best);
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
    pub fn completion(&self, board: usize, values: &Values, limits: &Limits) -> Vec<(i64, i64)> {
        let strips = self.strip_values(values, limits);
        self.board_values(&strips, self.boards[board].0).staircase()
    }

    /// The knapsack along the run, swept by rising main extent.
    fn strip_values(&self, values: &Values, limits: &Limits) -> Strips {
        let mut knapsack = Knapsack::new(self.runs.last().copied().unwrap_or(0), self.grids.1);
        let mut levels: Vec<Level> = Vec::new();
        let contents = self.contents(values, limits);
        let mut number = 0;
        for group in contents.chunk_by(|one, other| one.main == other.main) {
            if self.even {
                knapsack.clear();
            }
            for content in group {
                knapsack.add(number, content.run, content.value, content.limit);
                number += 1;
            }
            let best: Vec<Best> = self.runs.iter().map(|run| knapsack.best(*run)).collect();
            let gains = |previous: &Level| {
                best.iter().zip(&previous.best).any(|(now, before)| now.value > before.value)
            };
            let useful = match levels.last() {
                Some(previous) if !self.even => gains(previous),
                _ => best.iter().any(|best| best.value > 0),
            };
            if useful {
                levels.push(Level { main: group[0].main, best });
            }
        }
        Strips { contents, knapsack, levels }
    }

    /// All that a cell may hold, by rising main extent. Of one extent, what is worth most for its run comes first, so
    /// that what follows seldom makes a new step.
    fn contents(&self, values: &Values, limits: &Limits) -> Vec<Content> {
        let single = |(place, piece): (usize, &AxisPiece)| Content {
            main: piece.main,
            run: piece.run,
            value: values[piece.index],
            limit: limits[piece.index],
            pieces: vec![place],
        };
        let mut contents: Vec<Content> = self.pieces.iter().enumerate().map(single).collect();
        if self.stacks {
            let mut by_run: Vec<usize> = (0..self.pieces.len()).collect();
            by_run.sort_by_key(|place| (self.pieces[*place].run, *place));
            for alike in by_run.chunk_by(|one, other| self.pieces[*one].run == self.pieces[*other].run) {
                self.add_stacks(alike, values, limits, &mut contents);
            }
        }
        contents.sort_by(|one, other| {
            let worth = |content: &Content, run: i64| i128::from(content.value) * i128::from(run);
            let by_worth = worth(other, one.run).cmp(&worth(one, other.run));
            one.main.cmp(&other.main).then(by_worth).then_with(|| one.pieces.cmp(&other.pieces))
        });
        contents
    }

    /// The stacks of pieces of one run extent that are worth more than every smaller one.
    fn add_stacks(&self, alike: &[usize], values: &Values, limits: &Limits, contents: &mut Vec<Content>) {
        let mut knapsack = Knapsack::new(self.largest_main, self.grids.0);
        for place in alike {
            let piece = &self.pieces[*place];
            let index = piece.index;
            knapsack.add(*place as u32, piece.main, values[index], limits[index]);
        }
        // A stack holds two pieces or more, so its extent is at least two of the smallest. A step of the
        // staircase stands for every stack up to the next step, also where one piece alone reaches it: its
        // copies must not be limited.
        let least = self.pieces[alike[0]].main * 2;
        let steps: Vec<(i64, i64)> = knapsack.staircase();
        for (place, (main, value)) in steps.iter().enumerate() {
            let reaches_stacks = steps.get(place + 1).is_none_or(|(next, _)| *next > least);
            if *value > 0 && reaches_stacks {
                let pieces = self.places(&knapsack, knapsack.best(*main));
                let main = (*main).max(least);
                if main <= self.largest_main {
                    let run = self.pieces[alike[0]].run;
                    contents.push(Content { main, run, value: *value, limit: u32::MAX, pieces });
                }
            }
        }
    }

    /// The knapsack of strips along the main axis for one run.
    fn board_values(&self, strips: &Strips, run: usize) -> Knapsack {
        let mut knapsack = Knapsack::new(self.largest_main, self.grids.0);
        let mut before = 0;
        for (number, level) in strips.levels.iter().enumerate() {
            let value = level.best[run].value;
            // A wider strip that is worth no more is never taken.
            let is_light = level.main <= self.widest[run];
            if is_light && (value > before || (self.even && value > 0)) {
                knapsack.add(number as u32, level.main, value, u32::MAX);
                before = value;
            }
        }
        knapsack
    }

    /// May a cell of this extent lie in a strip of that one?
    fn may_share(&self, cell: i64, strip: i64) -> bool {
        if self.even { cell == strip } else { cell <= strip }
    }

    /// Items of a knapsack, each as often as it is taken.
    fn places(&self, knapsack: &Knapsack, best: Best) -> Vec<usize> {
        let mut places = Vec::new();
        for (place, copies) in knapsack.items(best) {
            places.extend(std::iter::repeat_n(place as usize, copies as usize));
        }
        places.sort_unstable();
        places
    }

    /// What the cells of a strip hold: places among the pieces.
    fn strip_content(&self, contents: &[Content], knapsack: &Knapsack, best: Best) -> StripCells {
        self.places(knapsack, best).into_iter().map(|number| contents[number].pieces.clone()).collect()
    }

    /// The pattern of traced strips, each as wide as its widest cell.
    fn pattern(&self, cells: &[(usize, StripCells)]) -> Pattern {
        let strips = cells.iter().filter(|(_, cells)| !cells.is_empty()).map(|(_, cells)| self.strip(cells));
        let mut pattern = Pattern { layout: self.layout, strips: strips.collect() };
        pattern.strips.sort_by(|one, other| other.cmp(one));
        pattern
    }

    fn strip(&self, cells: &[Vec<usize>]) -> Strip {
        let kerf = self.main_kerf;
        let stacked = |cell: &Vec<usize>| -> Length {
            let sum =
                cell.iter().fold(Length::ZERO, |sum, place| sum + self.pieces[*place].main_extent + kerf);
            sum - kerf
        };
        let main = cells.iter().map(stacked).max().unwrap_or(Length::ZERO);
        let mut cells: Vec<Cell> = cells
            .iter()
            .map(|cell| Cell {
                gap: Length::ZERO,
                run: self.pieces[cell[0]].run_extent,
                lift: Length::ZERO,
                pieces: cell.iter().map(|place| self.pieces[*place].laid()).collect(),
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
        cells: &[(usize, StripCells)],
        run: usize,
        values: &Values,
        limits: &Limits,
        relaxed: &Pattern,
        bound: i64,
    ) -> (Pattern, i64) {
        if relaxed.counts().iter().all(|(piece, count)| *count <= limits[*piece]) {
            return (relaxed.clone(), bound);
        }
        let mut left = limits.to_vec();
        let mut packed = Vec::new();
        let mut worth = 0;
        for (level, wished) in cells {
            let content = if within_limits(&self.pieces, wished, &left) {
                wished.clone()
            } else {
                self.repack(strips.levels[*level].main, run, values, left.clone())
            };
            for cell in content.iter().flatten() {
                let index = self.pieces[*cell].index;
                left[index] -= 1;
                worth += values[index];
            }
            packed.push((*level, content));
        }
        (self.pattern(&packed), worth)
    }

    /// One strip of pieces no larger across than `main`, packed with no more than `left`. Stacks of one strip may ask for more of a piece than is left: what they lack is packed again.
    fn repack(&self, main: i64, run: usize, values: &Values, mut left: TiVec<SizeIndex, u32>) -> StripCells {
        let mut room = self.runs[run];
        let mut packed = StripCells::new();
        loop {
            let contents = self.contents(values, &left);
            let mut knapsack = Knapsack::new(room, self.grids.1);
            for (number, content) in
                contents.iter().enumerate().filter(|(_, one)| self.may_share(one.main, main))
            {
                knapsack.add(number as u32, content.run, content.value, content.limit);
            }
            let wished = self.strip_content(&contents, &knapsack, knapsack.best(room));
            let before = packed.len();
            for cell in wished {
                if within_limits(&self.pieces, std::slice::from_ref(&cell), &left) {
                    room -= self.pieces[cell[0]].run;
                    cell.iter().for_each(|place| left[self.pieces[*place].index] -= 1);
                    packed.push(cell);
                }
            }
            if !self.stacks || packed.len() == before {
                return packed;
            }
        }
    }
}

/// Cells of one strip, each with the places of its pieces.
type StripCells = Vec<Vec<usize>>;

fn within_limits(pieces: &[AxisPiece], cells: &[Vec<usize>], left: &Limits) -> bool {
    let mut sorted: Vec<SizeIndex> = cells.iter().flatten().map(|place| pieces[*place].index).collect();
    sorted.sort_unstable();
    sorted.chunk_by(|one, other| one == other).all(|same| same.len() <= left[same[0]] as usize)
}
