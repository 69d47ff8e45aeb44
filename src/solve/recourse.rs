//! Boards cut one by one as they come, without knowing the next.
//!
//! What a shop does with a pile that it has not measured: look at a board, cut the most valuable pattern of what is
//! still wanted. Pieces are worth what the linear program of the buy says, and large ones a little more, since
//! small ones fit anywhere (value correction after Belov and Scheithauer, Operations Research Letters 35(5),
//! 2007, in one step).

use std::cmp::Reverse;
use std::collections::BTreeMap;

use fastrand::Rng;

use super::problem::{Blanks, Counts, Instance, before_resawing, blanks_in, blanks_of, blocks_of};
use crate::index::{LineIndex, SizeIndex, TiVec};
use crate::job::{DrawnBoard, Job, Offered, PriceLine, fresh_boards};
use crate::pattern::{BetweenDefects, Blemished, Layout, Limits, Piece, Rect, Values};
use crate::trade::Quarter;

/// How much more a piece is worth for each whole share of the longest and widest piece.
const PREFER_LARGE: f64 = 0.1;

/// Boards drawn for each line, from which fresh lots are put together.
const POOL: usize = 150;

/// Parts that a lot is opened in. Boards of one part are looked at with the same pieces wanted.
const PARTS: u64 = 10;

/// Boards that a lot may lack at most until it is given up.
const MOST_LACKING: usize = 400;

/// Boards of a line that are looked at to tell what it gives on the mean.
const LOOKED_AT: u64 = 3;

/// A line bought, by place, with the boards that it may bring.
type LinePool = (usize, Vec<DrawnBoard>);

/// What a board gives: its worth, and the pieces by size.
type BoardGives = (i64, Counts);

/// A board of a pool, by line bought and place.
type Fresh = (usize, usize);

/// The pieces of a job, and boards of the lines that are bought as they may come.
#[derive(Debug)]
pub struct Recourse {
    /// Value of each size.
    values: TiVec<SizeIndex, i64>,
    lines: Vec<BoughtLine>,
    kinds: Vec<BoughtKind>,
}

/// A line that is bought, with its pool.
#[derive(Debug)]
struct BoughtLine {
    line: LineIndex,
    boards: u64,
    /// The kind of its boards, and where in the kind's tables its pool begins.
    kind: usize,
    first: usize,
    /// What one board costs, roughly: for a choice among lines.
    price: f64,
}

/// Lines that offer the same sizes are looked at together.
#[derive(Debug)]
struct BoughtKind {
    sizes: Vec<SizeIndex>,
    blanks: Blanks,
    tables: Vec<BetweenDefects>,
}

impl Recourse {
    /// Draws a pool of each line that is bought (by index, with the number of boards). `values` are the pieces'
    /// values by size of the instance.
    pub fn new(instance: &Instance, bought: &[(LineIndex, u64)], values: &Values, seed: u64) -> Recourse {
        let job = &*instance.job;
        let pieces = || instance.sizes.iter().map(|size| size.piece);
        let longest = pieces().map(|piece| piece.length.base()).max().unwrap_or(1) as f64;
        let widest = pieces().map(|piece| piece.width.base()).max().unwrap_or(1) as f64;
        let worth = |(piece, value): (Piece, &i64)| {
            let share = piece.length.base() as f64 / longest + piece.width.base() as f64 / widest;
            ((*value).max(1) as f64 * (1.0 + PREFER_LARGE * share)) as i64
        };
        let values = pieces().zip(values).map(worth).collect();
        let entries: Vec<&PriceLine> = bought.iter().map(|(line, _)| &job.lines[*line]).collect();
        let mut pools = fresh_boards(&entries, job.shop.unit, seed, POOL);
        let mut kinds: BTreeMap<(Vec<SizeIndex>, Blanks), Vec<LinePool>> = BTreeMap::new();
        for (place, (line, _)) in bought.iter().enumerate() {
            let entry = &job.lines[*line];
            let (length, width) = entry.upper.unwrap_or((entry.length, entry.width));
            let largest = Offered { length, width, ..entry.offered() };
            let part_of = |size: SizeIndex| &job.parts[instance.sizes[size].parts[0].0];
            let sizes: Vec<SizeIndex> = instance
                .sizes
                .keys()
                .filter(|size| job.shop.serves(&largest, part_of(*size)).is_ok())
                .collect();
            let blanks = sizes.iter().map(|size| (*size, blanks_of(job, entry.quarter, part_of(*size))));
            let blanks = blanks.filter(|(_, blanks)| *blanks > 1).collect();
            let pool = std::mem::take(&mut pools[place]);
            kinds.entry((sizes, blanks)).or_default().push((place, pool));
        }
        let mut lines: Vec<Option<BoughtLine>> = bought.iter().map(|_| None).collect();
        let kinds = kinds.into_iter().enumerate().map(|(kind, ((sizes, blanks), members))| {
            let mut boards = Vec::new();
            let class = job.lines[bought[members[0].0].0].quarter;
            for (place, pool) in members {
                let (line, many) = bought[place];
                let entry = &job.lines[line];
                let price = entry.price_of(&job.suppliers[entry.supplier], entry.drawn.len() as u64);
                let price = price.ok().and_then(|sum| num_traits::ToPrimitive::to_f64(&sum)).unwrap_or(1.0);
                let price = price / entry.drawn.len().max(1) as f64;
                lines[place] = Some(BoughtLine { line, boards: many, kind, first: boards.len(), price });
                boards.extend(pool.iter().map(|board| blemished(job, entry.quarter, board)));
            }
            let pieces = instance.pieces(&sizes);
            let cutting = instance.cutting_of(class);
            let table = |layout| BetweenDefects::new(layout, &pieces, &boards, cutting);
            let tables = Layout::ALL.into_iter().map(table).collect();
            BoughtKind { sizes, blanks, tables }
        });
        let kinds = kinds.collect();
        let lines = lines.into_iter().flatten().collect();
        Recourse { values, lines, kinds }
    }

    /// What one board of each line bought costs on the mean, before breaks: for a choice among lines.
    pub fn prices(&self) -> Vec<f64> {
        self.lines.iter().map(|line| line.price).collect()
    }

    /// Opens a fresh lot of the boards bought and cuts it: the pieces still wanted after that, by size. A lot's
    /// boards are the same whenever it is opened.
    pub fn open(&self, lot: u64, demand: &Limits) -> TiVec<SizeIndex, u32> {
        let mut left = demand.to_vec();
        let mut order = Rng::with_seed(lot);
        for part in 0..PARTS {
            for kind in 0..self.kinds.len() {
                let mut fresh: Vec<Fresh> = Vec::new();
                for (place, line) in self.lines.iter().enumerate().filter(|(_, line)| line.kind == kind) {
                    // The boards of a line come evenly over the parts.
                    let upto = |part: u64| (line.boards * part + PARTS / 2) / PARTS;
                    fresh.extend(
                        (upto(part)..upto(part + 1)).map(|board| (place, self.fresh(lot, place, board))),
                    );
                }
                order.shuffle(&mut fresh);
                self.cut(kind, &fresh, &mut left);
            }
        }
        left
    }

    /// Which board of its pool a line brings as the next but so many of a lot.
    fn fresh(&self, lot: u64, line: usize, board: u64) -> usize {
        let of_line = (usize::from(self.lines[line].line) as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        Rng::with_seed(lot ^ of_line ^ board.wrapping_mul(0xd1b5_4a32_d192_ed03)).usize(..POOL)
    }

    /// Buys boards for what a lot still lacks after so many spares of each line: one by one, each where it gives most
    /// for its price. Returns the number of boards by line, at most `most` of each, or none if no line gives what is
    /// lacking.
    pub fn lacking(&self, lot: u64, left: &Limits, spares: &[u64], most: &[u64]) -> Option<Vec<u64>> {
        let mut left = left.to_vec();
        let mut lacked = vec![0; self.lines.len()];
        // Boards that are looked at for a mean are not the ones that come.
        let looked_at = |place: usize| (0..LOOKED_AT).map(move |n| (place, self.fresh(!lot, place, n)));
        let mut seen = OpenBoards::new(self, (0..self.lines.len()).flat_map(looked_at).collect(), &left);
        for _ in 0..MOST_LACKING {
            if left.iter().all(|pieces| *pieces == 0) {
                return Some(lacked);
            }
            let to_be_had =
                (0..self.lines.len()).filter(|place| spares[*place] + lacked[*place] < most[*place]);
            let rate = |place: usize| {
                let own = place * LOOKED_AT as usize..(place + 1) * LOOKED_AT as usize;
                let worths = own.map(|number| seen.worth(number) as f64);
                (worths.sum::<f64>() / self.lines[place].price, place)
            };
            let (rate, place) = to_be_had.map(rate).max_by(|one, other| one.0.total_cmp(&other.0))?;
            if rate <= 0.0 {
                return None;
            }
            let board = self.fresh(lot, place, self.lines[place].boards + spares[place] + lacked[place]);
            lacked[place] += 1;
            self.cut(self.lines[place].kind, &[(place, board)], &mut left);
            seen.look_again(&left);
        }
        None
    }

    /// What a lot still lacks after so many spare boards of each line. All spares can be seen before the first one is
    /// cut, so the best one comes first.
    pub fn after_spares(&self, lot: u64, left: &Limits, spares: &[u64]) -> TiVec<SizeIndex, u32> {
        let mut left = left.to_vec();
        let mut unopened: Vec<Fresh> = Vec::new();
        for (place, many) in spares.iter().enumerate() {
            let first = self.lines[place].boards;
            unopened.extend((first..first + many).map(|board| (place, self.fresh(lot, place, board))));
        }
        let mut unopened = OpenBoards::new(self, unopened, &left);
        while unopened.cut_the_best(&mut left) {}
        left
    }

    /// Cuts boards of one kind one after the other; what they give is taken off `left`.
    fn cut(&self, kind: usize, boards: &[Fresh], left: &mut Limits) {
        let places: Vec<usize> = boards.iter().map(|(line, board)| self.lines[*line].first + board).collect();
        let best = self.best_of(kind, &places, left);
        for (place, found) in places.into_iter().zip(best) {
            let Some((_, counts)) = found else { continue };
            // Where boards before it took what it was to give, it is looked at again.
            let found = if self.wants(kind, &counts, left) {
                Some(counts)
            } else {
                self.best(kind, place, left).map(|(_, counts)| counts)
            };
            self.take(kind, &found.unwrap_or_default(), left);
        }
    }

    /// Are all these pieces still wanted?
    fn wants(&self, kind: usize, counts: &Counts, left: &Limits) -> bool {
        let blanks = &self.kinds[kind].blanks;
        counts.iter().all(|(size, n)| *n <= left[*size].div_ceil(blanks_in(blanks, *size)))
    }

    /// Takes what was cut off what is left.
    fn take(&self, kind: usize, counts: &Counts, left: &mut Limits) {
        for (size, n) in counts {
            let pieces = &mut left[*size];
            *pieces = pieces.saturating_sub(n * blanks_in(&self.kinds[kind].blanks, *size));
        }
    }

    fn best(&self, kind: usize, place: usize, left: &Limits) -> Option<BoardGives> {
        self.best_of(kind, &[place], left).pop().flatten()
    }

    /// The most valuable pieces of each board, in whichever layout gives more; none where it gives nothing.
    fn best_of(&self, kind: usize, places: &[usize], left: &Limits) -> Vec<Option<BoardGives>> {
        let kind = &self.kinds[kind];
        let mut best: Vec<Option<BoardGives>> = vec![None; places.len()];
        if places.is_empty() || kind.sizes.iter().all(|size| left[*size] == 0) {
            return best;
        }
        let (values, limits) = before_resawing(&kind.blanks, &self.values, left);
        for table in &kind.tables {
            for (found, (pattern, worth)) in best.iter_mut().zip(table.patterns(places, &values, &limits)) {
                if worth > 0 && found.as_ref().is_none_or(|(most, _)| worth > *most) {
                    *found = Some((worth, pattern.counts()));
                }
            }
        }
        best
    }
}

/// Boards that lie side by side, each with what it gives of what is wanted.
struct OpenBoards<'r> {
    recourse: &'r Recourse,
    boards: Vec<Fresh>,
    gives: Vec<Option<BoardGives>>,
}

impl<'r> OpenBoards<'r> {
    fn new(recourse: &'r Recourse, boards: Vec<Fresh>, left: &Limits) -> OpenBoards<'r> {
        let mut open = OpenBoards { recourse, gives: vec![None; boards.len()], boards };
        open.look_at(|_| true, left);
        open
    }

    fn worth(&self, number: usize) -> i64 {
        self.gives[number].as_ref().map_or(0, |(worth, _)| *worth)
    }

    fn kind_of(&self, number: usize) -> usize {
        self.recourse.lines[self.boards[number].0].kind
    }

    /// Looks at some boards.
    fn look_at(&mut self, which: impl Fn(usize) -> bool, left: &Limits) {
        for kind in 0..self.recourse.kinds.len() {
            let own = (0..self.boards.len()).filter(|number| self.kind_of(*number) == kind && which(*number));
            let own: Vec<usize> = own.collect();
            let place = |number: &usize| {
                let (line, board) = self.boards[*number];
                self.recourse.lines[line].first + board
            };
            let places: Vec<usize> = own.iter().map(place).collect();
            for (number, gives) in own.iter().zip(self.recourse.best_of(kind, &places, left)) {
                self.gives[*number] = gives;
            }
        }
    }

    /// Looks again at the boards of which something is no longer wanted. Less is wanted than before, so what another board
    /// gives is still the best of it; and one that gave nothing gives nothing.
    fn look_again(&mut self, left: &Limits) {
        let is_stale = |number: usize| {
            let counts = self.gives[number].as_ref().map(|(_, counts)| counts);
            counts.is_some_and(|counts| !self.recourse.wants(self.kind_of(number), counts, left))
        };
        let stale: Vec<bool> = (0..self.boards.len()).map(is_stale).collect();
        if stale.contains(&true) {
            self.look_at(|number| stale[number], left);
        }
    }

    /// Cuts the board that gives most; false if none gives anything.
    fn cut_the_best(&mut self, left: &mut Limits) -> bool {
        let best = (0..self.boards.len()).max_by_key(|number| (self.worth(*number), Reverse(*number)));
        let Some(best) = best.filter(|best| self.worth(*best) > 0) else { return false };
        let kind = self.kind_of(best);
        self.boards.remove(best);
        if let Some((_, counts)) = self.gives.remove(best) {
            self.recourse.take(kind, &counts, left);
        }
        self.look_again(left);
        true
    }
}

fn blemished(job: &Job, class: Quarter, board: &DrawnBoard) -> Blemished {
    let nothing = Rect { length: crate::measure::Length::ZERO, width: crate::measure::Length::ZERO };
    let sawing = job.shop.sawing(class);
    let rect =
        sawing.usable(board.length, board.width).map_or(nothing, |(length, width)| Rect { length, width });
    Blemished { rect, blocks: blocks_of(sawing, &board.defects, rect) }
}
