//! Proper patterns of one board: those that hold no piece more often than it is wanted.
//!
//! [`patterns_worth`] lists every one worth a threshold that no other one covers. With values at a dual
//! solution and the threshold at the board's price less the gap, the list holds every pattern that a plan
//! better than the incumbent needs (reduced-cost enumeration; Baldacci, Christofides and Mingozzi,
//! Mathematical Programming 115(2), 2008, for routes). [`most_valuable`] finds the best one, which the tables
//! of `two_stage` only bound.
//!
//! Both are one depth-first search. First the strips: for every extent, the contents that can be part of a
//! good pattern. Then boards of strips, by falling extent and value. What can still be gained is bounded by
//! knapsacks over the strips to come, of which each may be used as often as its pieces are wanted; that
//! several strips share a piece is what the bound leaves out and the search looks after. Where that takes long, the
//! pieces of which strips ask for too many are charged for it (`charges`), which brings the bound down.

mod boards;
mod charges;
mod task;

use std::collections::BTreeMap;

use rayon::prelude::*;

use self::charges::{Charges, charges};
pub use self::charges::{StepLength, move_charges};
pub use self::task::Proper;
use super::budget::StepBudget;
use super::knapsack::Knapsack;
use super::model::{Counts, Cutting, Laid, Layout, Pattern, Piece};
use super::two_stage::TwoStage;
use crate::index::{SizeIndex, TiVec};

/// All patterns worth the threshold or more that no other one covers, one for each multiset of pieces;
/// `None` if it gave up.
pub fn patterns_worth(task: Proper<'_>) -> Option<Vec<Pattern>> {
    let found = wanted_patterns_worth(task, &|_| true);
    found.are_all.then_some(found.patterns)
}

/// Patterns of a search.
pub struct FoundPatterns {
    /// One for each multiset of pieces.
    pub patterns: Vec<Pattern>,
    /// Did the search go to its end?
    pub are_all: bool,
}

/// Of those patterns the ones whose pieces are wanted, or what was found of them until the search gave up.
pub fn wanted_patterns_worth(
    task: Proper<'_>,
    are_wanted: &(dyn Fn(&Counts) -> bool + Sync),
) -> FoundPatterns {
    let layouts = task.cutting.layouts_for(task.pieces, task.board);
    let of_layout = |layout: &Layout| {
        let list = List { patterns: BTreeMap::new(), are_wanted };
        let mut found = PatternsFound { list: Some(list), best: None };
        let mut left = Left::new(&task);
        let done = search(&task, *layout, &mut left, &mut found).is_ok();
        let patterns = found.list.map(|list| list.patterns).unwrap_or_default();
        (patterns, done, *task.budget - left.steps.left())
    };
    let lists: Vec<_> = layouts.par_iter().map(of_layout).collect();
    // What both layouts give is taken in the first.
    let (mut all, mut are_all) = (BTreeMap::new(), true);
    for (list, done, steps) in lists.into_iter().rev() {
        all.extend(list);
        are_all &= done;
        *task.budget = task.budget.saturating_sub(steps);
    }
    are_all &= all.len() <= task.most;
    FoundPatterns { patterns: all.into_values().collect(), are_all }
}

/// The most valuable pattern, as far as it was searched for.
pub struct MostValuable {
    /// A pattern worth the threshold or more, with its value: the best, or the best so far where the search gave up.
    pub best: Option<(Pattern, i64)>,
    /// No pattern that is worth the threshold or more is worth more than this.
    pub bound: i64,
}

/// The most valuable pattern worth the threshold or more.
pub fn most_valuable(task: Proper<'_>) -> MostValuable {
    let mut found = PatternsFound { list: None, best: None };
    // What one layout gives, the other must pass.
    let mut left = Left::new(&task);
    let mut bound = task.threshold - 1;
    for layout in task.cutting.layouts_for(task.pieces, task.board) {
        if let Err(GivenUp { bound: other }) = search(&task, *layout, &mut left, &mut found) {
            bound = bound.max(other);
        }
    }
    let worth = found.best.as_ref().map_or(bound, |(_, worth)| *worth);
    MostValuable { best: found.best, bound: bound.max(worth) }
}

/// A search that gave up, and what no pattern is worth more than.
struct GivenUp {
    bound: i64,
}

/// Searches one layout. Most boards need no charges, which take a while to be found.
fn search<'a>(
    task: &Proper<'a>,
    layout: Layout,
    left: &mut Left<'a>,
    found: &mut PatternsFound<'_>,
) -> Result<(), GivenUp> {
    let first = left.steps.left().min(STEPS_WITHOUT_CHARGES);
    let kept = left.steps.left() - first;
    left.steps = StepBudget::new(first, task.is_late);
    let uncharged = Charges::none(task);
    let done = ProperSearch::new(task, layout, &uncharged).run(left, found);
    let mut steps = kept + left.steps.left();
    left.steps = StepBudget::new(steps, task.is_late);
    if done.is_some() {
        return Ok(());
    }
    let is_too_many = found.list.as_ref().is_some_and(|list| list.patterns.len() > task.most);
    if steps == 0 || is_too_many || (task.is_late)() {
        return Err(GivenUp { bound: uncharged.bound });
    }
    let charges = charges(task, layout, &mut steps);
    left.steps = StepBudget::new(steps, task.is_late);
    if let (None, Some((pattern, worth))) = (&found.list, &charges.best)
        && *worth >= left.threshold
    {
        left.threshold = worth + 1;
        found.best = Some((pattern.clone(), *worth));
    }
    if charges.bound < left.threshold {
        return Ok(());
    }
    let done = ProperSearch::new(task, layout, &charges).run(left, found);
    done.ok_or(GivenUp { bound: charges.bound })
}

/// Steps after which a search looks for charges.
const STEPS_WITHOUT_CHARGES: usize = 20_000;

/// A list being made.
struct List<'a> {
    patterns: BTreeMap<Counts, Pattern>,
    are_wanted: &'a (dyn Fn(&Counts) -> bool + Sync),
}

/// What the search has found: a list, or the best.
struct PatternsFound<'a> {
    list: Option<List<'a>>,
    best: Option<(Pattern, i64)>,
}

/// Steps that are left, and what a pattern must be worth; the search for the best raises it.
struct Left<'a> {
    steps: StepBudget<'a>,
    threshold: i64,
}

impl<'a> Left<'a> {
    fn new(task: &Proper<'a>) -> Left<'a> {
        Left { steps: StepBudget::new(*task.budget, task.is_late), threshold: task.threshold }
    }
}

/// A piece along the axes, kerf added.
#[derive(Debug, Clone, Copy)]
struct ProperPiece {
    index: SizeIndex,
    laid: Laid,
    /// Place of the first piece with its index, which counts what is left of both.
    own: usize,
    main: i64,
    run: i64,
    /// What it is worth beyond its charge.
    value: i64,
    charge: i64,
    limit: u32,
}

/// A strip with what it holds.
#[derive(Debug)]
struct Candidate {
    main: i64,
    /// What its pieces are worth beyond their charges.
    value: i64,
    /// What they are charged.
    charge: i64,
    /// Room left along the run.
    room: i64,
    /// (place among the pieces, copies), by rising place.
    held: Vec<(usize, u32)>,
}

/// Candidates of one extent, the most valuable first.
#[derive(Debug, Clone, Copy)]
struct StripGroup {
    main: i64,
    start: usize,
    end: usize,
}

struct ProperSearch<'a> {
    task: &'a Proper<'a>,
    layout: Layout,
    /// What is given back of all charges.
    given_back: i64,
    main_kerf: i64,
    run_kerf: i64,
    main_room: i64,
    run_room: i64,
    /// By falling main extent.
    pieces: Vec<ProperPiece>,
    /// By place among the pieces: what a strip can still gain from that piece on.
    rest_of_strip: Vec<Steps>,
    candidates: Vec<Candidate>,
    groups: Vec<StripGroup>,
    /// By group: what a board can still gain from that group on.
    rest_of_board: Vec<Steps>,
    /// Bits to hold the copies of each piece in one key; none where they are too many.
    key_bits: Option<Vec<u32>>,
    /// By what a board holds: the largest room and the first candidate from which it was gone on.
    seen: BTreeMap<u128, (i64, usize)>,
}

/// A staircase: (room, value), both rising.
type Steps = Vec<(i64, i64)>;

/// The value of the last step that starts within a room.
fn highest(steps: &[(i64, i64)], room: i64) -> i64 {
    let place = steps.partition_point(|(position, _)| *position <= room);
    if place == 0 { 0 } else { steps[place - 1].1 }
}

/// Steps of a staircase that take as long to make as one step of the search.
const STEPS_OF_A_STAIRCASE: usize = 16;

/// Boards that are remembered, so that they do not fill the memory.
const MOST_SEEN: usize = 1_000_000;

/// A strip being filled.
#[derive(Clone, Copy)]
struct Filling {
    /// Place of its widest piece, the first of its kind.
    first: usize,
    /// A strip worth less is in no pattern worth the threshold.
    least: i64,
}

/// A board being filled.
#[derive(Clone, Copy)]
struct Filled {
    group: usize,
    /// First candidate that may come next.
    from: usize,
    room: i64,
    /// What its pieces are worth beyond their charges.
    value: i64,
    /// What they are charged.
    charge: i64,
    /// What it holds, as one key.
    key: u128,
}

impl<'a> ProperSearch<'a> {
    fn new(task: &'a Proper<'a>, layout: Layout, charges: &Charges) -> ProperSearch<'a> {
        let (main_kerf, run_kerf) = layout.axes(task.cutting.kerfs.1, task.cutting.kerfs.0);
        let (main_kerf, run_kerf) = (main_kerf.base(), run_kerf.base());
        let (main, run) = layout.axes(task.board.length, task.board.width);
        let (main_room, run_room) = (main.base() + main_kerf, run.base() + run_kerf);
        let along = |(index, piece): &(SizeIndex, Piece)| {
            let (main, run) = layout.axes(piece.length, piece.width);
            ProperPiece {
                index: *index,
                laid: Laid::like(*index, piece),
                own: 0,
                main: main.base() + main_kerf,
                run: run.base() + run_kerf,
                value: task.values[*index] - charges.each[*index],
                charge: charges.each[*index],
                limit: task.limits[*index],
            }
        };
        let widest = task.cutting.widest_strip(run).map_or(main_room, |widest| widest.base() + main_kerf);
        let highest = main_room.min(widest);
        let fits = |piece: &ProperPiece| piece.limit > 0 && piece.main <= highest && piece.run <= run_room;
        let mut pieces: Vec<ProperPiece> = task.pieces.iter().map(along).filter(fits).collect();
        pieces.sort_by_key(|piece| (std::cmp::Reverse(piece.main), piece.run, piece.index, piece.laid));
        for place in 0..pieces.len() {
            let first = pieces.iter().position(|piece| piece.index == pieces[place].index);
            pieces[place].own = first.unwrap_or(place);
        }
        // No more copies than fit on the board one by one matter for the key.
        let bits_of = |(place, piece): (usize, &ProperPiece)| {
            if piece.own == place { u32::BITS - piece.limit.leading_zeros() } else { 0 }
        };
        let bits: Vec<u32> = pieces.iter().enumerate().map(bits_of).collect();
        let key_bits = (bits.iter().sum::<u32>() <= u128::BITS).then_some(bits);
        ProperSearch {
            task,
            layout,
            given_back: charges.given_back,
            main_kerf,
            run_kerf,
            main_room,
            run_room,
            pieces,
            rest_of_strip: Vec::new(),
            candidates: Vec::new(),
            groups: Vec::new(),
            rest_of_board: Vec::new(),
            key_bits,
            seen: BTreeMap::new(),
        }
    }

    fn run(mut self, left: &mut Left<'_>, found: &mut PatternsFound<'_>) -> Option<()> {
        if self.pieces.is_empty() {
            return Some(());
        }
        self.rest_of_strip = self.rests_of_strip(left)?;
        let cutting = Cutting { stages: 2, ..self.task.cutting };
        let pricing = TwoStage::new(self.layout, self.task.pieces, &[self.task.board], cutting);
        let mut values: TiVec<SizeIndex, i64> = self.task.values.iter().copied().collect();
        self.pieces.iter().for_each(|piece| values[piece.index] = piece.value);
        let completion = pricing.completion(0, &values, self.task.limits);
        for first in 0..self.pieces.len() {
            // The strip takes the extent of `first`, its first widest piece in this order.
            let beside = highest(&completion, self.main_room - self.pieces[first].main);
            let strip = Filling { first, least: self.least(left) - beside };
            self.fill(strip, first, (self.run_room, 0), &mut Vec::new(), left)?;
        }
        self.candidates.sort_by(|one, other| {
            (other.main, other.value).cmp(&(one.main, one.value)).then_with(|| one.held.cmp(&other.held))
        });
        let mut start = 0;
        for alike in self.candidates.chunk_by(|one, other| one.main == other.main) {
            self.groups.push(StripGroup { main: alike[0].main, start, end: start + alike.len() });
            start += alike.len();
        }
        self.rest_of_board = self.rests_of_board(left)?;
        let mut wanted: Vec<u32> = self.pieces.iter().map(|piece| piece.limit).collect();
        let board = Filled { group: 0, from: 0, room: self.main_room, value: 0, charge: 0, key: 0 };
        self.boards(board, &mut wanted, &mut Vec::new(), left, found)
    }

    /// What a board must be worth beyond its charges.
    fn least(&self, left: &Left<'_>) -> i64 {
        left.threshold - self.given_back
    }

    fn rests_of_strip(&self, left: &mut Left<'_>) -> Option<Vec<Steps>> {
        let grid = self.pieces.iter().fold(0, |grid, piece| num_integer::gcd(grid, piece.run));
        let mut knapsack = Knapsack::new(self.run_room, grid);
        let mut rests = Vec::new();
        for piece in self.pieces.iter().rev() {
            knapsack.add(0, piece.run, piece.value, piece.limit);
            rests.push(self.staircase(&knapsack, left)?);
        }
        rests.reverse();
        Some(rests)
    }

    /// Of each group only so many of the best strips count as fit side by side, each as often as its
    /// pieces are wanted.
    fn rests_of_board(&self, left: &mut Left<'_>) -> Option<Vec<Steps>> {
        let grid = self.groups.iter().fold(0, |grid, group| num_integer::gcd(grid, group.main));
        let mut knapsack = Knapsack::new(self.main_room, grid);
        let mut rests = vec![vec![(0, 0)]];
        for group in self.groups.iter().rev() {
            let mut open = self.main_room / group.main;
            for candidate in &self.candidates[group.start..group.end] {
                let copies = i64::from(self.copies(candidate)).min(open);
                knapsack.add(0, group.main, candidate.value, copies as u32);
                open -= copies;
                if open == 0 {
                    break;
                }
            }
            rests.push(self.staircase(&knapsack, left)?);
        }
        rests.reverse();
        Some(rests)
    }

    fn staircase(&self, knapsack: &Knapsack, left: &mut Left<'_>) -> Option<Steps> {
        let steps = knapsack.staircase();
        left.steps.take(1 + steps.len() / STEPS_OF_A_STAIRCASE)?;
        Some(steps)
    }

    /// How often a strip can be cut from what is wanted.
    fn copies(&self, candidate: &Candidate) -> u32 {
        let each = candidate.held.iter().map(|(place, n)| self.pieces[*place].limit / n);
        each.min().unwrap_or(0)
    }

    /// Extends a strip by copies of the pieces from `next` on; its extent is that of its first one.
    /// `open` is the room in the strip and the value of what it holds.
    fn fill(
        &mut self,
        strip: Filling,
        next: usize,
        open: (i64, i64),
        held: &mut Vec<(usize, u32)>,
        left: &mut Left<'_>,
    ) -> Option<()> {
        left.steps.step()?;
        let (room, value) = open;
        let more = self.rest_of_strip.get(next).map_or(0, |rest| highest(rest, room));
        if value + more < strip.least {
            return Some(());
        }
        let only_even = self.task.cutting.family.is_even();
        let main = self.pieces[strip.first].main;
        if next == self.pieces.len() || (only_even && self.pieces[next].main != main) {
            if value >= strip.least {
                let charge = held.iter().map(|(place, n)| self.pieces[*place].charge * i64::from(*n)).sum();
                self.candidates.push(Candidate { main, value, charge, room, held: held.clone() });
            }
            return Some(());
        }
        let piece = self.pieces[next];
        // What lies in the strip the other way round is of the same piece.
        let other = held.iter().filter(|(place, _)| self.pieces[*place].own == piece.own).map(|(_, n)| n);
        let open = piece.limit - other.sum::<u32>().min(piece.limit);
        let most = i64::from(open).min(room / piece.run);
        let least = i64::from(next == strip.first);
        if most < least {
            return Some(());
        }
        for copies in (least..=most).rev() {
            if copies > 0 {
                held.push((next, copies as u32));
            }
            let open = (room - copies * piece.run, value + copies * piece.value);
            self.fill(strip, next + 1, open, held, left)?;
            if copies > 0 {
                held.pop();
            }
        }
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::index::ti_vec;
    use crate::measure::Length;
    use crate::pattern::{Family, Rect};

    proptest! {
        /// Charges change how far the search must go, and nothing that it finds: the same patterns, but for what another one
        /// covers, and none that is worth more than they allow.
        #[test]
        fn charges_change_nothing_that_is_found(
            pieces in prop::collection::vec((4_i64..40, 1_i64..6, 1_u32..4, 1_i64..1_000), 1..6),
            short in 0_i64..200,
        ) {
            let lying = |(number, piece): (usize, &(i64, i64, u32, i64))| {
                let piece = Piece::new(Length::inches(piece.0), Length::inches(piece.1));
                (SizeIndex::from(number), piece)
            };
            let lying: Vec<(SizeIndex, Piece)> = pieces.iter().enumerate().map(lying).collect();
            let limits: TiVec<SizeIndex, u32> = pieces.iter().map(|piece| piece.2).collect();
            let values: TiVec<SizeIndex, i64> = pieces.iter().map(|piece| piece.3).collect();
            let kerf = Length::inch_128ths(16);
            let task = |threshold: i64, budget: &'static mut usize| Proper {
                pieces: &lying,
                limits: &limits,
                values: &values,
                board: Rect { length: Length::inches(60), width: Length::inches(8) },
                cutting: Cutting { kerfs: (kerf, kerf), stages: 2, family: Family::Any, largest_strip: None },
                threshold,
                budget,
                most: usize::MAX,
                is_late: &|| false,
            };
            let steps = || Box::leak(Box::new(10_000_000_usize));
            let best = most_valuable(task(1, steps()));
            let worth = best.best.map_or(0, |(_, worth)| worth);
            prop_assert_eq!(best.bound, worth);
            let listed = |layout: Layout, charges: &Charges| {
                let task = task((worth - short).max(1), steps());
                let are_wanted = |_: &Counts| true;
                let list = List { patterns: BTreeMap::new(), are_wanted: &are_wanted };
                let mut found = PatternsFound { list: Some(list), best: None };
                let mut left = Left::new(&task);
                ProperSearch::new(&task, layout, charges).run(&mut left, &mut found).unwrap();
                let all: Vec<Counts> = found.list.unwrap().patterns.into_keys().collect();
                let holds = |one: &Counts, (size, n): &(SizeIndex, u32)| {
                    one.iter().any(|(other, many)| other == size && many >= n)
                };
                let is_covered = |one: &&Counts| {
                    all.iter().any(|other| other != *one && one.iter().all(|held| holds(other, held)))
                };
                all.iter().filter(|one| !is_covered(one)).cloned().collect::<Vec<Counts>>()
            };
            for layout in Layout::ALL {
                let task = task((worth - short).max(1), steps());
                let charged = charges(&task, layout, &mut 10_000_000);
                let list = listed(layout, &charged);
                prop_assert_eq!(&list, &listed(layout, &Charges::none(&task)));
                for counts in list {
                    let worth: i64 = counts.iter().map(|(size, n)| values[*size] * i64::from(*n)).sum();
                    prop_assert!(worth <= charged.bound, "{} above {}", worth, charged.bound);
                }
            }
        }
    }

    /// Of two pieces that no board holds together there are two patterns: a list of one gives up.
    #[test]
    fn a_list_gives_up_at_more_patterns_than_it_may_hold() {
        let size = |length: i64| Piece::new(Length::inches(length), Length::inches(5));
        let pieces = [(SizeIndex::from(0), size(40)), (SizeIndex::from(1), size(30))];
        let list = |most: usize| {
            patterns_worth(Proper {
                pieces: &pieces,
                limits: &ti_vec![1, 1],
                values: &ti_vec![4, 3],
                board: Rect { length: Length::inches(60), width: Length::inches(6) },
                cutting: Cutting {
                    kerfs: (Length::ZERO, Length::ZERO),
                    stages: 2,
                    family: Family::Any,
                    largest_strip: None,
                },
                threshold: 1,
                budget: &mut 10_000,
                most,
                is_late: &|| false,
            })
        };
        assert_eq!(list(2).map(|patterns| patterns.len()), Some(2));
        assert_eq!(list(1), None);
    }
}
