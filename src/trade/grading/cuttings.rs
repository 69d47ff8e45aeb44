//! The search for cuttings on one face.
//!
//! Whether so few clear rectangles that do not meet have so much area is decided in steps, each slower than the one
//! before: the largest again and again, bounds from the rectangles that cannot grow, and branch and bound.

use super::face::{ClearCutting, Defect, Rectangle, area, in_order, meet};
use super::prices::{Block, Prices};
use crate::measure::Length;

/// Does a face make a grade?
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CuttingsMade {
    /// With these cuttings.
    With(Vec<ClearCutting>),
    /// Proven not to.
    No,
    /// Neither was shown within the steps of the search.
    Unknown,
}

/// Steps after which the search for a set of cuttings gives up.
const STEPS: usize = 20_000;

/// The search for cuttings on one face. A cutting that can grow without meeting a defect or another cutting
/// may as well grow. It stops at an edge of the board or of a defect, or at the least size away from such an
/// edge, so only cuttings with sides at those places are tried.
pub(super) struct CuttingSearch<'a> {
    board: Rectangle,
    defects: Vec<Rectangle>,
    sizes: &'a [(Length, Length)],
}

impl<'a> CuttingSearch<'a> {
    pub(super) fn new(
        length: Length,
        width: Length,
        defects: &[Defect],
        sizes: &'a [(Length, Length)],
    ) -> CuttingSearch<'a> {
        let board = Rectangle { x0: Length::ZERO, x1: length, y0: Length::ZERO, y1: width };
        CuttingSearch { board, defects: defects.iter().map(Rectangle::from).collect(), sizes }
    }

    fn allowed(&self, cutting: &ClearCutting) -> bool {
        let (long, wide) = (cutting.x1 - cutting.x0, cutting.y1 - cutting.y0);
        self.sizes.iter().any(|(width, length)| wide >= *width && long >= *length)
    }

    /// What no block reaches into between two places along the board, from the lower edge up. `gaps` is a list to fill.
    fn gaps<'b>(
        &self,
        blocks: impl Iterator<Item = &'b Rectangle>,
        (x0, x1): (Length, Length),
        gaps: &mut Vec<(Length, Length)>,
    ) {
        gaps.clear();
        let between = blocks.filter(|block| block.x0 < x1 && x0 < block.x1);
        gaps.extend(between.map(|block| (block.y0, block.y1)));
        gaps.sort_unstable();
        gaps.push((self.board.y1, self.board.y1));
        // Each block gives at most the gap below it, which takes its place.
        let mut from = self.board.y0;
        gaps.retain_mut(|block| {
            let (y0, y1) = *block;
            *block = (from, y0.min(self.board.y1));
            from = from.max(y1);
            block.0 < block.1
        });
    }

    /// Clear rectangles that cannot grow, around the defects and what is cut already.
    fn maximal(&self, taken: &[ClearCutting]) -> Vec<ClearCutting> {
        let blocks: Vec<&Rectangle> = self.defects.iter().chain(taken).collect();
        let mut found = Vec::new();
        let mut gaps = Vec::new();
        // Every pair of a left and a right side, with the gaps between them.
        let lefts = in_order(blocks.iter().map(|block| block.x1).chain([self.board.x0]));
        let rights = in_order(blocks.iter().map(|block| block.x0).chain([self.board.x1]));
        for x0 in &lefts {
            for x1 in rights.iter().filter(|x1| *x1 > x0) {
                self.gaps(blocks.iter().copied(), (*x0, *x1), &mut gaps);
                let clear = gaps.iter().map(|(y0, y1)| ClearCutting { x0: *x0, x1: *x1, y0: *y0, y1: *y1 });
                found.extend(clear.filter(|cutting| self.allowed(cutting)));
            }
        }
        found.sort_by_key(|cutting| (std::cmp::Reverse(area(cutting)), *cutting));
        found
    }

    /// The largest cutting again and again, from the first of some that cannot grow: seldom far from the best.
    fn largest_first(&self, first: Option<&ClearCutting>, most: usize) -> Vec<ClearCutting> {
        let mut taken: Vec<ClearCutting> = first.copied().into_iter().collect();
        while taken.len() < most
            && let Some(next) = self.maximal(&taken).first()
        {
            taken.push(*next);
        }
        taken
    }

    pub(super) fn find(&self, most: usize, needed: i128) -> CuttingsMade {
        let sum = |cuttings: &[ClearCutting]| cuttings.iter().map(area).sum::<i128>();
        // What is clear at all, defects that overlap counted twice: then the search decides.
        let whole = area(&self.board);
        let apart = self
            .defects
            .iter()
            .enumerate()
            .all(|(place, one)| self.defects[..place].iter().all(|other| !meet(one, other)));
        if apart && whole - sum(&self.defects) < needed {
            return CuttingsMade::No;
        }
        let maximal = self.maximal(&[]);
        let single = maximal.first().map_or(0, area);
        if single * (most as i128) < needed || covered(&maximal) < needed {
            return CuttingsMade::No;
        }
        let first = self.largest_first(maximal.first(), most);
        if sum(&first) >= needed {
            return CuttingsMade::With(first);
        }
        let prices = Prices::new(&maximal, most, needed);
        let least = prices.least(needed);
        if prices.most() * (most as f64) < least {
            return CuttingsMade::No;
        }
        // A cutting that with the best ones beside it is worth too little is in no set that is enough.
        let candidates = self.candidates(&prices, least - prices.most() * (most as f64 - 1.0));
        let mut walk =
            Walk { search: self, candidates: &candidates, needed, least, steps: STEPS, taken: Vec::new() };
        match walk.below(0, most, (0, 0.0)) {
            Some(true) => CuttingsMade::With(walk.taken),
            Some(false) => CuttingsMade::No,
            None => CuttingsMade::Unknown,
        }
    }

    /// Every clear rectangle with sides at an edge, or a least size away from one, that is worth so much beyond the price of
    /// its ground; the best first.
    fn candidates(&self, prices: &Prices, least_worth: f64) -> Vec<Candidate> {
        let edges =
            |low: Length, high: Length, at: &dyn Fn(&Rectangle) -> [Length; 2], sizes: Vec<Length>| {
                let edges: Vec<Length> = self.defects.iter().flat_map(at).chain([low, high]).collect();
                let beside = |edge: &Length| {
                    let edge = *edge;
                    sizes.iter().flat_map(move |size| [edge + *size, edge - *size])
                };
                let all = edges.iter().copied().chain(edges.iter().flat_map(beside));
                in_order(all.filter(|edge| (low..=high).contains(edge)))
            };
        let xs = edges(
            self.board.x0,
            self.board.x1,
            &|defect| [defect.x0, defect.x1],
            self.sizes.iter().map(|size| size.1).collect(),
        );
        let ys = edges(
            self.board.y0,
            self.board.y1,
            &|defect| [defect.y0, defect.y1],
            self.sizes.iter().map(|size| size.0).collect(),
        );
        let ground = prices.between(&xs, &ys);
        let mut found: Vec<Candidate> = Vec::new();
        let mut gaps = Vec::new();
        for (left, x0) in xs.iter().enumerate() {
            for (right, x1) in xs.iter().enumerate().skip(left + 1) {
                let long_enough = self.sizes.iter().filter(|(_, length)| *x1 - *x0 >= *length);
                let Some(least) = long_enough.map(|(width, _)| *width).min() else { continue };
                self.gaps(self.defects.iter(), (*x0, *x1), &mut gaps);
                for (from, to) in &gaps {
                    let start = ys.partition_point(|y| y < from);
                    let lower = ys.iter().enumerate().skip(start).take_while(|(_, y0)| **y0 + least <= *to);
                    for (low, y0) in lower {
                        let upper = ys.iter().enumerate().skip(low + 1).take_while(|(_, y1)| *y1 <= to);
                        for (high, y1) in upper.filter(|(_, y1)| **y1 - *y0 >= least) {
                            let worth = ground.of(&Block { x0: left, x1: right, y0: low, y1: high });
                            if worth >= least_worth {
                                let cutting = ClearCutting { x0: *x0, x1: *x1, y0: *y0, y1: *y1 };
                                found.push(Candidate { worth, cutting });
                            }
                        }
                    }
                }
            }
        }
        found.sort_by(|one, other| other.worth.total_cmp(&one.worth));
        found
    }
}

/// A cutting that may be taken.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    /// What it is worth beyond the price of its ground, in square inches.
    worth: f64,
    cutting: ClearCutting,
}

/// The area that some rectangles cover together: no cuttings that lie in them have more.
fn covered(rectangles: &[Rectangle]) -> i128 {
    let sides = in_order(rectangles.iter().flat_map(|one| [one.x0, one.x1]));
    let mut sum = 0;
    let mut across: Vec<(Length, Length)> = Vec::new();
    for ends in sides.windows(2) {
        across.clear();
        let reach = |one: &&Rectangle| one.x0 <= ends[0] && ends[1] <= one.x1;
        across.extend(rectangles.iter().filter(reach).map(|one| (one.y0, one.y1)));
        across.sort_unstable();
        let (mut from, mut wide) = (Length::ZERO, 0);
        for (y0, y1) in &across {
            let low = from.max(*y0);
            if *y1 > low {
                wide += (*y1 - low).base();
            }
            from = from.max(*y1);
        }
        sum += i128::from((ends[1] - ends[0]).base()) * i128::from(wide);
    }
    sum
}

/// Branch and bound over sets of cuttings that do not meet, the best first.
struct Walk<'c> {
    search: &'c CuttingSearch<'c>,
    candidates: &'c [Candidate],
    needed: i128,
    /// What they must be worth together beyond the price of their ground.
    least: f64,
    steps: usize,
    taken: Vec<ClearCutting>,
}

impl Walk<'_> {
    /// True if found, false if there is none, `None` if the steps ran out. What is taken has so much area, and so much worth.
    fn below(&mut self, from: usize, most: usize, (sum, worth): (i128, f64)) -> Option<bool> {
        if sum >= self.needed {
            return Some(true);
        }
        if most == 0 {
            return Some(false);
        }
        if !self.taken.is_empty() && most > 1 {
            // What is clear around the cuttings taken, by its largest rectangle and by all of them. Of the last cutting the
            // candidates tell it sooner.
            let clear = self.search.maximal(&self.taken);
            let single = clear.first().map_or(0, area);
            let lacks = self.needed - sum;
            if single * (most as i128) < lacks || covered(&clear) < lacks {
                return Some(false);
            }
        }
        for place in from..self.candidates.len() {
            let candidate = self.candidates[place];
            // Those that follow are worth no more.
            if worth + candidate.worth * (most as f64) < self.least {
                break;
            }
            self.steps = self.steps.checked_sub(1)?;
            let cutting = candidate.cutting;
            if self.taken.iter().any(|other| meet(other, &cutting)) {
                continue;
            }
            self.taken.push(cutting);
            if self.below(place + 1, most - 1, (sum + area(&cutting), worth + candidate.worth))? {
                return Some(true);
            }
            self.taken.pop();
        }
        Some(false)
    }
}
