//! Every pattern of a board worth at least a threshold, where there are not too many.
//!
//! With values at a dual solution and the threshold at the board's price less the gap, the result
//! holds every pattern that a plan better than the incumbent can use (reduced-cost enumeration;
//! Baldacci, Christofides and Mingozzi, Mathematical Programming 115(2), 2008, for routes).

use std::collections::BTreeMap;

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
    for layout in task.cutting.family.layouts() {
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
    /// By falling main extent.
    candidates: Vec<Candidate>,
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
            candidates: Vec::new(),
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
        for first in 0..fitting.len() {
            // The strip takes the extent of `first`, its first widest piece in this order.
            self.contents(&fitting, first, first, self.run_room, &mut Vec::new(), budget)?;
        }
        self.candidates.sort_by_key(|candidate| std::cmp::Reverse(candidate.main));
        let mut left = self.task.limits.to_vec();
        self.boards(0, self.main_room, 0, &mut left, &mut Vec::new(), budget, found)
    }

    fn bound(&self, room: i64) -> i64 {
        let place = self.completion.partition_point(|(position, _)| *position <= room);
        if place == 0 { 0 } else { self.completion[place - 1].1 }
    }

    /// Extends a strip by copies of `fitting[next..]`; every extent is that of `fitting[first]`.
    fn contents(
        &mut self,
        fitting: &[(u32, i64, i64)],
        first: usize,
        next: usize,
        room: i64,
        held: &mut Vec<(usize, u32)>,
        budget: &mut usize,
    ) -> Option<()> {
        *budget = budget.checked_sub(1)?;
        if next == fitting.len() {
            self.keep_strip(fitting, first, held);
            return Some(());
        }
        let (index, main, run) = fitting[next];
        if self.task.cutting.family == Family::Even && main != fitting[first].1 {
            return self.contents(fitting, first, fitting.len(), room, held, budget);
        }
        let most = i64::from(self.task.limits[index as usize]).min(room / run);
        let least = i64::from(next == first);
        for copies in least..=most {
            if copies > 0 {
                held.push((next, copies as u32));
            }
            self.contents(fitting, first, next + 1, room - copies * run, held, budget)?;
            if copies > 0 {
                held.pop();
            }
        }
        Some(())
    }

    fn keep_strip(&mut self, fitting: &[(u32, i64, i64)], first: usize, held: &[(usize, u32)]) {
        let main = fitting[first].1;
        let value: i64 =
            held.iter().map(|(place, n)| self.task.values[fitting[*place].0 as usize] * i64::from(*n)).sum();
        if value + self.bound(self.main_room - main) < self.task.threshold {
            return;
        }
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
        if value + self.bound(room) < self.task.threshold {
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
