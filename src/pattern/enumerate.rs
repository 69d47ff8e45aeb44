//! Every pattern of a board worth at least a threshold, where there are not too many.
//!
//! With values at a dual solution and the threshold at the board's price less the gap, the result
//! holds every pattern that a plan better than the incumbent can use (reduced-cost enumeration;
//! Baldacci, Christofides and Mingozzi, Mathematical Programming 115(2), 2008, for routes).

use std::collections::BTreeMap;

use super::knapsack::Knapsack;
use super::model::{Cell, Cutting, Family, Layout, Pattern, Piece, Rect, Strip};
use super::two_stage::TwoStage;
use crate::measure::Length;

/// What is enumerated.
pub struct Enumeration<'a> {
    /// Pieces the board may hold, by index.
    pub pieces: &'a [(u32, Piece)],
    /// Copies of each piece that matter, by index.
    pub limits: &'a [u32],
    /// Value of each piece, by index.
    pub values: &'a [i64],
    /// The board's usable rectangle.
    pub board: Rect,
    /// How boards are cut; a third stage is not listed.
    pub cutting: Cutting,
    /// Patterns worth less are left out.
    pub threshold: i64,
    /// Steps of the search that are left; it gives up at none.
    pub budget: &'a mut usize,
}

/// All patterns worth `threshold` or more, one for each multiset of pieces, or `None` if the budget
/// ran out.
pub fn enumerate_patterns(task: Enumeration<'_>) -> Option<Vec<Pattern>> {
    let mut found = BTreeMap::new();
    let mut budget = *task.budget;
    for layout in task.cutting.layouts_for(task.pieces, task.board) {
        Search::new(&task, *layout).run(&mut budget, &mut found)?;
    }
    *task.budget = budget;
    Some(found.into_values().collect())
}

/// A strip with what it holds.
struct Candidate {
    main: i64,
    value: i64,
    counts: Vec<(u32, u32)>,
    strip: Strip,
}

struct Search<'a> {
    task: &'a Enumeration<'a>,
    layout: Layout,
    main_kerf: i64,
    run_kerf: i64,
    main_room: i64,
    run_room: i64,
    completion: Vec<(i64, i64)>,
    /// By place in the list of fitting pieces: what a strip can still gain from that piece on.
    rest_of_strip: Vec<Vec<(i64, i64)>>,
    /// By falling main extent.
    candidates: Vec<Candidate>,
    /// By place among the candidates: what a board can still gain from that one on, where they are few.
    rest_of_board: Vec<Vec<(i64, i64)>>,
}

/// A strip being filled.
#[derive(Clone, Copy)]
struct Contents {
    /// Place of its widest piece, the first of its kind.
    first: usize,
    /// A strip worth less is in no pattern worth the threshold.
    least: i64,
}

/// Steps of a staircase that take as long to make as one step of the search.
const STEPS_OF_A_STAIRCASE: usize = 16;

/// Candidates up to which each has a staircase of its own: their number goes with the square.
const FEW_CANDIDATES: usize = 500;

/// For each of some (extent, value, copies): what it and those after it can gain at most, as a staircase.
fn rests(
    room: i64,
    items: impl DoubleEndedIterator<Item = (i64, i64, u32)>,
    budget: &mut usize,
) -> Option<Vec<Vec<(i64, i64)>>> {
    let items: Vec<(i64, i64, u32)> = items.rev().collect();
    let grid = items.iter().fold(0, |grid, item| num_integer::gcd(grid, item.0));
    let mut knapsack = Knapsack::new(room, grid);
    let mut rests = Vec::new();
    for (extent, value, copies) in items {
        knapsack.add(0, extent, value, copies);
        let staircase = knapsack.staircase();
        *budget = budget.checked_sub(staircase.len() / STEPS_OF_A_STAIRCASE)?;
        rests.push(staircase);
    }
    rests.reverse();
    Some(rests)
}

/// The value of the last step that starts within a room.
fn highest(steps: &[(i64, i64)], room: i64) -> i64 {
    let place = steps.partition_point(|(position, _)| *position <= room);
    if place == 0 { 0 } else { steps[place - 1].1 }
}

type Found = BTreeMap<Vec<(u32, u32)>, Pattern>;

impl<'a> Search<'a> {
    fn new(task: &'a Enumeration<'a>, layout: Layout) -> Search<'a> {
        let (main_kerf, run_kerf) = layout.axes(task.cutting.kerfs.1, task.cutting.kerfs.0);
        let (main_kerf, run_kerf) = (main_kerf.base(), run_kerf.base());
        let (main, run) = layout.axes(task.board.length, task.board.width);
        let pricing =
            TwoStage::new(layout, task.pieces, &[task.board], Cutting { stages: 2, ..task.cutting });
        Search {
            task,
            layout,
            main_kerf,
            run_kerf,
            main_room: main.base() + main_kerf,
            run_room: run.base() + run_kerf,
            completion: pricing.completion(0, task.values, task.limits),
            rest_of_strip: Vec::new(),
            candidates: Vec::new(),
            rest_of_board: Vec::new(),
        }
    }

    fn run(mut self, budget: &mut usize, found: &mut Found) -> Option<()> {
        let mut fitting: Vec<(u32, i64, i64)> = Vec::new();
        for (index, piece) in self.task.pieces {
            let (main, run) = self.layout.axes(piece.length, piece.width);
            let (main, run) = (main.base() + self.main_kerf, run.base() + self.run_kerf);
            if self.task.limits[*index as usize] > 0 && main <= self.main_room && run <= self.run_room {
                fitting.push((*index, main, run));
            }
        }
        fitting.sort_by_key(|(index, main, run)| (std::cmp::Reverse(*main), *run, *index));
        let values = |index: u32| self.task.values[index as usize];
        let pieces =
            fitting.iter().map(|(index, _, run)| (*run, values(*index), self.task.limits[*index as usize]));
        self.rest_of_strip = rests(self.run_room, pieces, budget)?;
        for first in 0..fitting.len() {
            // The strip takes the extent of `first`, its first widest piece in this order.
            let strip = Contents {
                first,
                least: self.task.threshold - self.bound(self.main_room - fitting[first].1),
            };
            self.contents(&fitting, strip, first, (self.run_room, 0), &mut Vec::new(), budget)?;
        }
        self.candidates.sort_by_key(|candidate| std::cmp::Reverse(candidate.main));
        if self.candidates.len() <= FEW_CANDIDATES {
            let most = |candidate: &Candidate| {
                let copies = candidate.counts.iter().map(|(piece, n)| self.task.limits[*piece as usize] / n);
                copies.min().unwrap_or(0)
            };
            let strips = self.candidates.iter().map(|one| (one.main, one.value, most(one)));
            self.rest_of_board = rests(self.main_room, strips, budget)?;
        }
        let mut left = self.task.limits.to_vec();
        self.boards(0, self.main_room, 0, &mut left, &mut Vec::new(), budget, found)
    }

    fn bound(&self, room: i64) -> i64 {
        highest(&self.completion, room)
    }

    /// Extends a strip by copies of `fitting[next..]`; every extent is that of `fitting[first]`.
    /// `left` is the room in the strip and the value of what it holds.
    fn contents(
        &mut self,
        fitting: &[(u32, i64, i64)],
        strip: Contents,
        next: usize,
        left: (i64, i64),
        held: &mut Vec<(usize, u32)>,
        budget: &mut usize,
    ) -> Option<()> {
        *budget = budget.checked_sub(1)?;
        let (room, value) = left;
        let more = self.rest_of_strip.get(next).map_or(0, |rest| highest(rest, room));
        if value + more < strip.least {
            return Some(());
        }
        if next == fitting.len() {
            self.keep_strip(fitting, strip.first, value, held);
            return Some(());
        }
        let (index, main, run) = fitting[next];
        if self.task.cutting.family == Family::Even && main != fitting[strip.first].1 {
            return self.contents(fitting, strip, fitting.len(), left, held, budget);
        }
        let most = i64::from(self.task.limits[index as usize]).min(room / run);
        let least = i64::from(next == strip.first);
        for copies in least..=most {
            if copies > 0 {
                held.push((next, copies as u32));
            }
            let left = (room - copies * run, value + copies * self.task.values[index as usize]);
            self.contents(fitting, strip, next + 1, left, held, budget)?;
            if copies > 0 {
                held.pop();
            }
        }
        Some(())
    }

    fn keep_strip(&mut self, fitting: &[(u32, i64, i64)], first: usize, value: i64, held: &[(usize, u32)]) {
        let main = fitting[first].1;
        let mut counts: Vec<(u32, u32)> = held.iter().map(|(place, n)| (fitting[*place].0, *n)).collect();
        counts.sort_unstable();
        let cells = held.iter().flat_map(|(place, copies)| {
            let run = Length::from_base(fitting[*place].2 - self.run_kerf);
            std::iter::repeat_n(Cell::of(run, fitting[*place].0), *copies as usize)
        });
        let strip = Strip {
            gap: Length::ZERO,
            main: Length::from_base(main - self.main_kerf),
            cells: cells.collect(),
        };
        self.candidates.push(Candidate { main, value, counts, strip });
    }

    #[expect(clippy::too_many_arguments, reason = "the state of one depth-first search")]
    fn boards(
        &self,
        from: usize,
        room: i64,
        value: i64,
        left: &mut Vec<u32>,
        held: &mut Vec<usize>,
        budget: &mut usize,
        found: &mut Found,
    ) -> Option<()> {
        *budget = budget.checked_sub(1)?;
        let more = match self.rest_of_board.get(from) {
            Some(rest) => highest(rest, room),
            None => self.bound(room),
        };
        if value + more < self.task.threshold {
            return Some(());
        }
        if value >= self.task.threshold && !held.is_empty() {
            let strips = held.iter().map(|place| self.candidates[*place].strip.clone()).collect();
            let pattern = Pattern { layout: self.layout, strips };
            found.entry(pattern.counts()).or_insert(pattern);
        }
        for place in from..self.candidates.len() {
            let candidate = &self.candidates[place];
            let allowed = candidate.counts.iter().all(|(piece, n)| left[*piece as usize] >= *n);
            if candidate.main > room || !allowed {
                *budget = budget.checked_sub(1)?;
                continue;
            }
            for (piece, n) in &candidate.counts {
                left[*piece as usize] -= n;
            }
            held.push(place);
            let value = value + candidate.value;
            self.boards(place, room - candidate.main, value, left, held, budget, found)?;
            held.pop();
            for (piece, n) in &candidate.counts {
                left[*piece as usize] += n;
            }
        }
        Some(())
    }
}
