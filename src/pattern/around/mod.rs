//! Patterns of one measured board with defects: strips and sections that go around them.
//!
//! The same two stages as everywhere, but a position now matters for what lies there, so the knapsacks
//! become searches over positions. A piece can be pushed down until it meets another piece's kerf or
//! the far side of a defect, so only sums of extents counted from the board's corner or from a
//! defect's far side matter (normal patterns, Christofides and Whitlock 1977, with defects as in
//! Hahn, Operations Research 16(6), 1968). A piece narrower than its strip lies at the lower or at the
//! upper side of it, whichever clears the defects; so a strip may also be wider than all of its pieces.
//!
//! Strips of one extent differ only by which defects are in the way of which pieces. Each such *filling*
//! is found once, so that a board has hundreds of searches along its run and not one for every position.
//! Limits on the copies of a piece are relaxed in the bound and kept in the pattern.

mod list;

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use crate::index::{SizeIndex, TiVec};
use crate::pattern::defects::{
    Blocked, Placeable, Placed, PlacedStrip, blocked, followed, pattern_of, placeable, positions,
};
use crate::pattern::model::{Block, Cutting, Family, Layout, Limits, Piece, Rect, Values};
use crate::pattern::two_stage::Traced;

/// Steps of one pricing above which a board is not searched around its defects: a thirtieth of a second.
const MOST_STEPS: usize = 20_000_000;

/// Places of strips times extents above which a board is not searched around its defects: so many are gone through
/// in a few thousandths of a second.
const MOST_STRIPS: usize = 1_000_000;

/// Defects of a board, each a bit of a set.
type DefectSet = u64;

/// Pricing of one board with defects in one layout.
#[derive(Debug, Clone)]
pub struct AroundDefects {
    layout: Layout,
    /// By rising main extent.
    pieces: Vec<Placeable>,
    blocks: Vec<Blocked>,
    main_kerf: i64,
    run_kerf: i64,
    /// Where a strip may begin; rising.
    strips_at: Vec<i64>,
    /// Where a piece may begin in a strip; rising.
    pieces_at: Vec<i64>,
    /// By place of a strip: which of the choices may begin there.
    choice_at: Vec<u32>,
    /// Strips that may begin at some places. Away from the defects all places have the same.
    choices: Vec<Vec<StripFrom>>,
    fillings: Vec<Filling>,
}

/// A strip by its extent and its filling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct StripFrom {
    main: i64,
    filling: usize,
}

/// Strips in which the same pieces clear the defects at the same places.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Filling {
    /// From which of the places along the run on which pieces may begin, at one side of the strip or the other; rising.
    open: Vec<(usize, Vec<usize>)>,
}

/// The defects in the way of each piece, from where on along the main axis its side lies; rising.
struct InTheWay {
    from: Vec<(i64, Vec<DefectSet>)>,
}

impl InTheWay {
    /// `low` tells where a piece lies whose side is at a place; a defect comes into the way or out of it at `changes`.
    fn new(
        pieces: &[Placeable],
        blocks: &[Blocked],
        low: impl Fn(i64, &Placeable) -> i64,
        changes: impl Fn(&Placeable, &Blocked) -> [i64; 2],
    ) -> InTheWay {
        let mut places: BTreeSet<i64> = BTreeSet::from([i64::MIN]);
        for piece in pieces {
            places.extend(blocks.iter().flat_map(|block| changes(piece, block)));
        }
        let sets = |at: i64| -> Vec<DefectSet> {
            let hits = |low: i64, piece: &Placeable, block: &Blocked| {
                block.reaches_across(low, piece.main) && !piece.clear.bears(block.kind)
            };
            let of = |piece: &Placeable| {
                let hit = blocks.iter().enumerate().filter(|(_, block)| hits(low(at, piece), piece, block));
                hit.map(|(place, _)| 1 << place).sum()
            };
            pieces.iter().map(of).collect()
        };
        let mut from: Vec<(i64, Vec<DefectSet>)> = Vec::new();
        for place in places {
            let sets = sets(place.max(i64::MIN / 2));
            if from.last().is_none_or(|(_, last)| *last != sets) {
                from.push((place, sets));
            }
        }
        InTheWay { from }
    }

    /// Which of the sets holds at a place.
    fn at(&self, place: i64) -> usize {
        self.from.partition_point(|(from, _)| *from <= place) - 1
    }
}

/// Which fillings are known: by the pieces that may lie in the strip, and the defects in their way at either side.
type Known = BTreeMap<(usize, usize, usize, usize), usize>;

impl AroundDefects {
    /// Prepares the positions of a board. `most` limits the copies that matter. `None` where a search of this board
    /// takes too long.
    pub fn new(
        layout: Layout,
        pieces: &[(SizeIndex, Piece)],
        most: &Limits,
        board: Rect,
        blocks: &[Block],
        cutting: Cutting,
    ) -> Option<AroundDefects> {
        // A crosscut's kerf is eaten along the board, a rip's across it.
        let (main_kerf, run_kerf) = layout.axes(cutting.kerfs.1, cutting.kerfs.0);
        let (main_kerf, run_kerf) = (main_kerf.base(), run_kerf.base());
        let (main_room, run_room) = layout.axes(board.length, board.width);
        let room = (main_room.base(), run_room.base());
        let mut pieces = placeable(layout, pieces, room);
        pieces.retain(|piece| most[piece.index] > 0);
        let blocks = blocked(layout, blocks);
        if blocks.len() > DefectSet::BITS as usize {
            return None;
        }
        let mains: Vec<i64> = distinct(pieces.iter().map(|piece| piece.main));
        let runs: Vec<i64> = distinct(pieces.iter().map(|piece| piece.run));
        let far_sides = |side: fn(&Blocked) -> i64| blocks.iter().map(side).chain([0]).collect();
        let mut bases: BTreeSet<i64> = far_sides(|block| block.main.1);
        for block in &blocks {
            for (place, main) in mains.iter().enumerate() {
                // A narrower piece at the upper side of a strip just clears the defect.
                bases.extend(mains[..place].iter().map(|narrower| block.main.1 - (main - narrower)));
            }
        }
        let mut search = AroundDefects {
            layout,
            main_kerf,
            run_kerf,
            strips_at: positions(bases, &mains, main_kerf, room.0),
            pieces_at: positions(far_sides(|block| block.run.1), &runs, run_kerf, room.1),
            choice_at: Vec::new(),
            choices: Vec::new(),
            fillings: Vec::new(),
            pieces,
            blocks,
        };
        if search.strips_at.len().saturating_mul(mains.len()) > MOST_STRIPS {
            return None;
        }
        let most_fillings = MOST_STEPS / (search.pieces_at.len() * search.pieces.len()).max(1);
        let lower = InTheWay::new(
            &search.pieces,
            &search.blocks,
            |at, _| at,
            |piece, block| [block.main.0 - piece.main + 1, block.main.1],
        );
        let upper = InTheWay::new(
            &search.pieces,
            &search.blocks,
            |top, piece| top - piece.main,
            |piece, block| [block.main.0 + 1, block.main.1 + piece.main],
        );
        let mut known = Known::new();
        let mut made: BTreeMap<Filling, usize> = BTreeMap::new();
        let mut chosen: BTreeMap<Vec<StripFrom>, u32> = BTreeMap::new();
        for at in search.strips_at.clone() {
            let mut here = Vec::new();
            for main in strip_extents(at, &mains, &search.blocks, room.0, cutting.family) {
                let pieces = search.pieces_in(main, cutting.family);
                let sides = (lower.at(at), upper.at(at + main));
                let filling =
                    *known.entry((pieces.start, pieces.end, sides.0, sides.1)).or_insert_with(|| {
                        let sets = (&lower.from[sides.0].1[..], &upper.from[sides.1].1[..]);
                        let next = made.len();
                        *made.entry(search.filling(pieces, sets, room.1)).or_insert(next)
                    });
                here.push(StripFrom { main, filling });
            }
            let next = search.choices.len() as u32;
            let choice = *chosen.entry(here.clone()).or_insert(next);
            if choice == next {
                search.choices.push(here);
            }
            search.choice_at.push(choice);
            if made.len() > most_fillings {
                return None;
            }
        }
        let mut numbered: Vec<(Filling, usize)> = made.into_iter().collect();
        numbered.sort_unstable_by_key(|(_, number)| *number);
        search.fillings = numbered.into_iter().map(|(filling, _)| filling).collect();
        Some(search)
    }

    /// The pieces that may lie in a strip of some extent.
    fn pieces_in(&self, main: i64, family: Family) -> Range<usize> {
        let end = self.pieces.partition_point(|piece| piece.main <= main);
        let even = self.pieces.partition_point(|piece| piece.main < main);
        if family.is_even() { even..end } else { 0..end }
    }

    /// Where along the run which pieces may begin, given the defects in the way of each at either side.
    fn filling(
        &self,
        pieces: Range<usize>,
        (lower, upper): (&[DefectSet], &[DefectSet]),
        run_room: i64,
    ) -> Filling {
        let place_of = |at: i64| self.pieces_at.partition_point(|position| *position < at);
        let mut changes: BTreeSet<usize> = BTreeSet::from([0]);
        for number in pieces.clone() {
            let run = self.pieces[number].run;
            changes.insert(place_of(run_room - run + 1));
            for (place, block) in self.blocks.iter().enumerate() {
                if (lower[number] | upper[number]) & (1 << place) != 0 {
                    changes.insert(place_of(block.run.0 - run + 1));
                    changes.insert(place_of(block.run.1));
                }
            }
        }
        let is_clear = |number: usize, at: i64| {
            let run = self.pieces[number].run;
            let touches = |(_, block): &(usize, &Blocked)| block.reaches_along(at, run);
            let touched: DefectSet =
                self.blocks.iter().enumerate().filter(touches).map(|(place, _)| 1 << place).sum();
            at + run <= run_room && (lower[number] & touched == 0 || upper[number] & touched == 0)
        };
        let mut open: Vec<(usize, Vec<usize>)> = Vec::new();
        for place in changes {
            let Some(at) = self.pieces_at.get(place) else { continue };
            let clear: Vec<usize> = pieces.clone().filter(|number| is_clear(*number, *at)).collect();
            if open.last().is_none_or(|(_, before)| *before != clear) {
                open.push((place, clear));
            }
        }
        Filling { open }
    }

    /// A piece in a strip: at the lower side if it clears the defects there, else at the upper one.
    fn placed(&self, number: usize, at: i64, (low, main): (i64, i64)) -> Placed {
        let piece = &self.pieces[number];
        let is_clear = |block: &Blocked| {
            !block.reaches_along(at, piece.run)
                || !block.reaches_across(low, piece.main)
                || piece.clear.bears(block.kind)
        };
        let lift = if self.blocks.iter().all(is_clear) { 0 } else { main - piece.main };
        Placed { piece: number, at, lift }
    }

    /// An upper bound on the value of every pattern within `limits`, the pattern that reaches it, which may hold a piece
    /// more often than that, and what is left of it within the limits, with its value.
    pub fn price(&self, values: &Values, limits: &Limits) -> (i64, Traced) {
        let worth: Vec<i64> = self.fillings.iter().map(|filling| self.best_value(filling, values)).collect();
        let (bound, strips) = self.best_strips(&worth, values);
        let kerfs = (self.main_kerf, self.run_kerf);
        let made = |limits: &Limits| pattern_of(self.layout, kerfs, &self.pieces, &strips, values, limits);
        let unlimited: TiVec<SizeIndex, u32> = limits.iter().map(|_| u32::MAX).collect();
        (bound, Traced { relaxed: made(&unlimited).0, proper: made(limits) })
    }

    /// What strips from each place on are worth at most, and which one begins there.
    fn values_from(&self, worth: &[i64]) -> (Vec<i64>, Vec<Option<StripFrom>>) {
        let count = self.strips_at.len();
        let mut best = vec![0i64; count + 1];
        let mut choice: Vec<Option<StripFrom>> = vec![None; count];
        for place in (0..count).rev() {
            best[place] = best[place + 1];
            for strip in self.strips_from(place) {
                let value = worth[strip.filling] + best[self.place_after(self.strips_at[place] + strip.main)];
                if value > best[place] {
                    best[place] = value;
                    choice[place] = Some(*strip);
                }
            }
        }
        (best, choice)
    }

    /// The strips that may begin at a place.
    fn strips_from(&self, place: usize) -> &[StripFrom] {
        &self.choices[self.choice_at[place] as usize]
    }

    /// The first place at which a strip may begin after one that ends there.
    fn place_after(&self, end: i64) -> usize {
        self.strips_at.partition_point(|at| *at < end + self.main_kerf)
    }

    /// The most that strips are worth, and which ones are worth it, by rising position.
    fn best_strips(&self, worth: &[i64], values: &Values) -> (i64, Vec<PlacedStrip>) {
        let (best, choice) = self.values_from(worth);
        let end_of = |place: usize, strip: StripFrom| self.strips_at[place] + strip.main + self.main_kerf;
        let made = |(place, strip): (usize, StripFrom)| {
            let low = self.strips_at[place];
            let placed = self.best_filled(&self.fillings[strip.filling], values).into_iter();
            let placed = placed.map(|(piece, at)| self.placed(piece, at, (low, strip.main)));
            (low, strip.main, placed.collect())
        };
        let strips = followed(&self.strips_at, &choice, end_of).into_iter().map(made);
        (best[0], strips.collect())
    }

    /// What a filling is worth at most.
    fn best_value(&self, filling: &Filling, values: &Values) -> i64 {
        self.values_along(filling, values, |_, _| ())[0]
    }

    /// The best content of a filling: pieces with where they begin along the run.
    fn best_filled(&self, filling: &Filling, values: &Values) -> Vec<(usize, i64)> {
        let mut choice: Vec<Option<usize>> = vec![None; self.pieces_at.len()];
        self.values_along(filling, values, |place, piece| choice[place] = Some(piece));
        let end_of =
            |place: usize, piece: usize| self.pieces_at[place] + self.pieces[piece].run + self.run_kerf;
        let filled = followed(&self.pieces_at, &choice, end_of).into_iter();
        filled.map(|(place, piece)| (piece, self.pieces_at[place])).collect()
    }

    /// The most that a filling is worth from each place along the run on. `chosen` is told the pieces that begin at a
    /// place and are worth more than any before; the last one told is the best.
    fn values_along(
        &self,
        filling: &Filling,
        values: &Values,
        mut chosen: impl FnMut(usize, usize),
    ) -> Vec<i64> {
        let count = self.pieces_at.len();
        let mut best = vec![0i64; count + 1];
        // By piece: the first place after one that begins at the place at hand.
        let mut after = vec![count; self.pieces.len()];
        let mut end = count;
        for (from, open) in filling.open.iter().rev() {
            let valued: Vec<(usize, i64, i64)> = open
                .iter()
                .map(|number| (*number, &self.pieces[*number]))
                .map(|(number, piece)| (number, values[piece.index], piece.run + self.run_kerf))
                .filter(|(_, value, _)| *value > 0)
                .collect();
            for place in (*from..end).rev() {
                let at = self.pieces_at[place];
                let mut most = best[place + 1];
                for (number, value, taken) in &valued {
                    let next = &mut after[*number];
                    while *next > 0 && self.pieces_at[*next - 1] >= at + taken {
                        *next -= 1;
                    }
                    let value = value + best[*next];
                    if value > most {
                        most = value;
                        chosen(place, *number);
                    }
                }
                best[place] = most;
            }
            end = *from;
        }
        best
    }
}

/// The extents that a strip at a place may have: those of the pieces, and those at which a piece at its upper side just
/// clears a defect. A strip so wide that two of its pieces lie one above the other is two strips.
fn strip_extents(at: i64, mains: &[i64], blocks: &[Blocked], room: i64, family: Family) -> BTreeSet<i64> {
    let mut extents: BTreeSet<i64> = mains.iter().copied().collect();
    if !family.is_even() {
        let widest = mains.last().copied().unwrap_or(0);
        for block in blocks.iter().filter(|block| at < block.main.1 && block.main.1 - at < widest) {
            extents.extend(mains.iter().map(|main| block.main.1 + main - at));
        }
    }
    extents.retain(|main| at + main <= room);
    extents
}

/// What is not equal, rising.
fn distinct(values: impl Iterator<Item = i64>) -> Vec<i64> {
    values.collect::<BTreeSet<_>>().into_iter().collect()
}
