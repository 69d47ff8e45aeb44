//! The most valuable two-stage pattern, by Gilmore and Gomory's pair of knapsacks.
//!
//! Gilmore and Gomory, "Multistage cutting stock problems of two and more dimensions", Operations
//! Research 13(1), 1965: for every strip extent that equals some piece's, a knapsack along the run
//! over the pieces that are no larger across; then a knapsack of strips along the main axis. One
//! sweep over the pieces by rising main extent gives the strip values of every extent and of every
//! board length at once, since the knapsack's table holds all capacities.
//!
//! Within a strip no piece is used more often than it is wanted. Across strips that limit is relaxed:
//! the value is therefore an upper bound on every pattern within the limits, and exact where the
//! limits do not bind. Whoever needs a pattern within the limits takes [`Traced::proper`].
//!
//! Values are integers, so that everything that becomes a bound is exact.

use super::grid::{Bits, Extent, Grid, binary_chunks};
use super::model::{Cell, Layout, Pattern, Piece, Rect, Strip};
use crate::measure::Length;

/// Pricing of all boards that offer the same pieces, in one layout.
#[derive(Debug, Clone)]
pub struct TwoStage {
    layout: Layout,
    /// By rising main extent.
    pieces: Vec<AxisPiece>,
    run_grid: Grid,
    main_grid: Grid,
    run_kerf: i64,
    /// Distinct run capacities: the place in the run grid of each.
    runs: Vec<usize>,
    /// For each board, its run (index into `runs`) and its place in the main grid.
    boards: Vec<(usize, usize)>,
    sizes: Vec<Rect>,
    kerfs: (Length, Length),
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
    /// Chunks of copies, in the order they entered the knapsack.
    chunks: Vec<Chunk>,
    /// One entry a useful strip extent.
    levels: Vec<Level>,
}

struct Chunk {
    piece: usize,
    copies: u32,
    taken: Bits,
}

struct Level {
    /// Position among `pieces` of a piece with this main extent.
    piece: usize,
    /// How many chunks a strip of this extent may hold.
    chunks: usize,
    /// Best value for each run.
    values: Vec<i64>,
}

impl TwoStage {
    /// Prepares the positions for `boards`, of which every one may hold any of `pieces`.
    /// `most` limits the copies of each piece that matter; `kerfs` are (rip, crosscut).
    pub fn new(
        layout: Layout,
        pieces: &[(u32, Piece)],
        most: &[u32],
        boards: &[Rect],
        kerfs: (Length, Length),
    ) -> TwoStage {
        let (main_kerf, run_kerf) = match layout {
            Layout::RipFirst => (kerfs.0.base(), kerfs.1.base()),
            Layout::CrosscutFirst => (kerfs.1.base(), kerfs.0.base()),
        };
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
        let extents = |size: fn(&AxisPiece) -> i64| -> Vec<Extent> {
            let one = |piece: &AxisPiece| Extent { size: size(piece), most: most[piece.index as usize] };
            axis_pieces.iter().map(one).collect()
        };
        let largest = |capacity: fn(&(i64, i64)) -> i64| capacities.iter().map(capacity).max().unwrap_or(0);
        let run_grid = Grid::new(&extents(|piece| piece.run), largest(|capacity| capacity.1));
        // A strip takes the extent of its widest piece, whatever else it holds, so the limit on
        // copies holds here as well: every strip of that extent uses one such piece.
        let main_grid = Grid::new(&extents(|piece| piece.main), largest(|capacity| capacity.0));
        let mut runs: Vec<usize> = capacities.iter().map(|(_, run)| run_grid.place_of(*run)).collect();
        runs.sort_unstable();
        runs.dedup();
        let boards_placed = capacities
            .iter()
            .map(|(main, run)| {
                let run = runs.binary_search(&run_grid.place_of(*run)).unwrap_or(0);
                (run, main_grid.place_of(*main))
            })
            .collect();
        TwoStage {
            layout,
            pieces: axis_pieces,
            run_grid,
            main_grid,
            run_kerf,
            runs,
            boards: boards_placed,
            sizes: boards.to_vec(),
            kerfs,
        }
    }

    /// The most valuable pattern of every board at `values` (by piece index), with no more than
    /// `limits` of each piece. Pieces of value 0 or below are left out. Patterns are only traced where
    /// they are worth more than the board's entry in `least_worth`.
    pub fn price(&self, values: &[i64], limits: &[u32], least_worth: &[i64]) -> Vec<Priced> {
        let strips = self.strip_values(values, limits);
        let tables: Vec<(Vec<i64>, Vec<u32>)> =
            (0..self.runs.len()).map(|run| self.board_values(&strips, run)).collect();
        let mut priced = Vec::with_capacity(self.boards.len());
        for (board, (run, main_place)) in self.boards.iter().enumerate() {
            let (best, choice) = &tables[*run];
            let bound = best[*main_place];
            if bound <= least_worth[board] {
                priced.push(Priced { board, bound, patterns: None });
                continue;
            }
            let levels = self.trace_board(&strips, choice, *main_place);
            let cells: Vec<(usize, Vec<usize>)> = levels
                .iter()
                .map(|level| (*level, self.trace_strip(&strips, *level, self.runs[*run])))
                .collect();
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
        let (best, _) = self.board_values(&strips, self.boards[board].0);
        let rooms = self.main_grid.positions().iter().map(|place| place * self.main_grid.step());
        rooms.zip(best).collect()
    }

    /// The knapsack along the run, swept by rising main extent.
    fn strip_values(&self, values: &[i64], limits: &[u32]) -> Strips {
        let positions = self.run_grid.positions();
        let mut best = vec![0i64; positions.len()];
        let mut strips = Strips { chunks: Vec::new(), levels: Vec::new() };
        let top = positions.last().copied().unwrap_or(0);
        let mut place = 0;
        while place < self.pieces.len() {
            let main = self.pieces[place].main;
            let first = place;
            let mut useful = false;
            while place < self.pieces.len() && self.pieces[place].main == main {
                let piece = &self.pieces[place];
                let value = values[piece.index as usize];
                let size = self.run_grid.steps(piece.run);
                let limit = limits[piece.index as usize];
                if value > 0 && size > 0 && size <= top {
                    let fit = u32::try_from(top / size).unwrap_or(u32::MAX);
                    for copies in binary_chunks(limit.min(fit)) {
                        let (size, value) = (size * i64::from(copies), value * i64::from(copies));
                        let taken = add_chunk(positions, &mut best, size, value);
                        strips.chunks.push(Chunk { piece: place, copies, taken });
                        useful = true;
                    }
                }
                place += 1;
            }
            if useful {
                let values: Vec<i64> = self.runs.iter().map(|run| best[*run]).collect();
                let gains =
                    |previous: &Level| values.iter().zip(&previous.values).any(|(now, before)| now > before);
                if strips.levels.last().is_none_or(gains) {
                    strips.levels.push(Level { piece: first, chunks: strips.chunks.len(), values });
                }
            }
        }
        strips
    }

    /// The knapsack of strips along the main axis for one run.
    fn board_values(&self, strips: &Strips, run: usize) -> (Vec<i64>, Vec<u32>) {
        const NONE: u32 = u32::MAX;
        let positions = self.main_grid.positions();
        let mut best = vec![0i64; positions.len()];
        let mut choice = vec![NONE; positions.len()];
        for (number, level) in strips.levels.iter().enumerate() {
            let value = level.values[run];
            let dominated = number > 0 && strips.levels[number - 1].values[run] >= value;
            if value <= 0 || dominated {
                continue;
            }
            let size = self.main_grid.steps(self.pieces[level.piece].main);
            let mut from = 0;
            for to in 0..positions.len() {
                if positions[to] < size {
                    continue;
                }
                while from + 1 < positions.len() && positions[from + 1] <= positions[to] - size {
                    from += 1;
                }
                let reached = best[from] + value;
                if reached > best[to] {
                    best[to] = reached;
                    choice[to] = number as u32;
                }
            }
        }
        // A position that no strip ends at takes the value of the one before it.
        for to in 1..positions.len() {
            if best[to - 1] > best[to] {
                best[to] = best[to - 1];
                choice[to] = NONE - 1;
            }
        }
        (best, choice)
    }

    fn trace_board(&self, strips: &Strips, choice: &[u32], from: usize) -> Vec<usize> {
        let positions = self.main_grid.positions();
        let mut place = from;
        let mut levels = Vec::new();
        loop {
            match choice[place] {
                u32::MAX => break,
                number if number == u32::MAX - 1 => place -= 1,
                number => {
                    levels.push(number as usize);
                    let size = self.main_grid.steps(self.pieces[strips.levels[number as usize].piece].main);
                    let left = positions[place] - size;
                    place = positions.partition_point(|position| *position <= left) - 1;
                }
            }
        }
        levels
    }

    /// The pieces (positions among `pieces`) of the best strip of a level.
    fn trace_strip(&self, strips: &Strips, level: usize, run_place: usize) -> Vec<usize> {
        let positions = self.run_grid.positions();
        let mut place = run_place;
        let mut cells = Vec::new();
        for chunk in strips.chunks[..strips.levels[level].chunks].iter().rev() {
            if chunk.taken.get(place) {
                cells.extend(std::iter::repeat_n(chunk.piece, chunk.copies as usize));
                let size = self.run_grid.steps(self.pieces[chunk.piece].run) * i64::from(chunk.copies);
                let left = positions[place] - size;
                place = positions.partition_point(|position| *position <= left) - 1;
            }
        }
        cells
    }

    /// The pattern of traced strips, with the strips made no wider than their widest piece.
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
        let within = relaxed.counts().iter().all(|(piece, count)| *count <= limits[*piece as usize]);
        if within && self.fits(relaxed, run) {
            return (relaxed.clone(), bound);
        }
        let mut left = limits.to_vec();
        let mut packed = Vec::new();
        let mut worth = 0;
        for (level, wished) in cells {
            let whole = within_limits(&self.pieces, wished, &left);
            let content =
                if whole { wished.clone() } else { self.repack(strips, *level, run, values, &left) };
            for cell in &content {
                let index = self.pieces[*cell].index as usize;
                left[index] -= 1;
                worth += values[index];
            }
            if !content.is_empty() {
                packed.push((*level, content));
            }
        }
        let mut pattern = self.pattern(&packed);
        // Only a coarse grid can let a pattern overshoot: drop its least strips until it fits.
        while !self.fits(&pattern, run) {
            let Some(strip) = pattern.strips.last_mut() else { break };
            if let Some(cell) = strip.cells.pop() {
                worth -= cell.pieces.iter().map(|piece| values[*piece as usize]).sum::<i64>();
            }
            if strip.cells.is_empty() {
                pattern.strips.pop();
            }
        }
        (pattern, worth)
    }

    /// One strip of a level packed with no more than `left`.
    fn repack(&self, strips: &Strips, level: usize, run: usize, values: &[i64], left: &[u32]) -> Vec<usize> {
        let main = self.pieces[strips.levels[level].piece].main;
        let positions = &self.run_grid.positions()[..=self.runs[run]];
        let top = positions.last().copied().unwrap_or(0);
        let mut best = vec![0i64; positions.len()];
        let mut chunks = Vec::new();
        for (place, piece) in self.pieces.iter().enumerate().take_while(|(_, piece)| piece.main <= main) {
            let (value, size) = (values[piece.index as usize], self.run_grid.steps(piece.run));
            if value <= 0 || size <= 0 || size > top {
                continue;
            }
            let fit = u32::try_from(top / size).unwrap_or(u32::MAX);
            for copies in binary_chunks(left[piece.index as usize].min(fit)) {
                let many = i64::from(copies);
                let taken = add_chunk(positions, &mut best, size * many, value * many);
                chunks.push(Chunk { piece: place, copies, taken });
            }
        }
        let levels =
            vec![Level { piece: strips.levels[level].piece, chunks: chunks.len(), values: Vec::new() }];
        self.trace_strip(&Strips { chunks, levels }, 0, positions.len() - 1)
    }

    /// Does the pattern fit a board of this run? Always, unless the grid was made coarser.
    fn fits(&self, pattern: &Pattern, run: usize) -> bool {
        let exact = self
            .pieces
            .iter()
            .all(|piece| self.run_grid.is_exact_for(piece.run) && self.main_grid.is_exact_for(piece.main));
        exact || {
            let boards = self.boards.iter().zip(&self.sizes).filter(|((board, _), _)| *board == run);
            let mut sizes = boards.map(|(_, size)| *size);
            sizes.all(|size| pattern_fits(pattern, size, self.kerfs, self.run_kerf))
        }
    }
}

fn within_limits(pieces: &[AxisPiece], cells: &[usize], left: &[u32]) -> bool {
    let mut sorted: Vec<u32> = cells.iter().map(|cell| pieces[*cell].index).collect();
    sorted.sort_unstable();
    sorted.chunk_by(|one, other| one == other).all(|same| same.len() <= left[same[0] as usize] as usize)
}

/// Lets a chunk be taken or left at every capacity; says where it was taken.
fn add_chunk(positions: &[i64], best: &mut [i64], size: i64, value: i64) -> Bits {
    let mut taken = Bits::new(positions.len());
    let mut from = positions.len();
    for to in (0..positions.len()).rev() {
        let left = positions[to] - size;
        if left < 0 {
            break;
        }
        from = from.min(to);
        while positions[from] > left {
            from -= 1;
        }
        let reached = best[from] + value;
        if reached > best[to] {
            best[to] = reached;
            taken.set(to);
        }
    }
    taken
}

fn pattern_fits(pattern: &Pattern, size: Rect, kerfs: (Length, Length), run_kerf: i64) -> bool {
    let (main_room, run_room) = pattern.layout.axes(size.length, size.width);
    let main_kerf = match pattern.layout {
        Layout::RipFirst => kerfs.0.base(),
        Layout::CrosscutFirst => kerfs.1.base(),
    };
    let main: i64 = pattern.strips.iter().map(|strip| strip.main.base() + main_kerf).sum();
    let runs_fit = pattern.strips.iter().all(|strip| {
        strip.cells.iter().map(|cell| cell.run.base() + run_kerf).sum::<i64>() <= run_room.base() + run_kerf
    });
    main <= main_room.base() + main_kerf && runs_fit
}
