//! What each copy of a piece is charged, so that a table's best pattern keeps to what is wanted.
//!
//! The table limits a piece within a strip only. Lagrangian relaxation takes the limits over the whole board into the
//! values: a copy of piece i is charged c_i, and c_i times what is wanted of it is given back. For charges from
//! nothing up to the value, the table's bound at `value - charge`, plus all that is given back, is no less than the
//! worth of any proper pattern. The least such bound is looked for by subgradient steps towards the best proper
//! pattern that the tables have shown (Held, Wolfe and Crowder, Mathematical Programming 6, 1974).

use super::task::Proper;
use crate::index::{SizeIndex, TiVec};
use crate::pattern::model::{Counts, Layout, Limits, Pattern};
use crate::pattern::two_stage::TwoStage;

/// Charges of the pieces of one board, and what they prove.
pub struct Charges {
    /// What a copy is charged, by index.
    pub each: TiVec<SizeIndex, i64>,
    /// What is given back.
    pub given_back: i64,
    /// No proper pattern is worth more.
    pub bound: i64,
    /// The best proper pattern that was met, with its worth.
    pub best: Option<(Pattern, i64)>,
}

impl Charges {
    /// Nothing is charged, and nothing is known.
    pub fn none(task: &Proper<'_>) -> Charges {
        let each = task.values.iter().map(|_| 0).collect();
        Charges { each, given_back: 0, bound: i64::MAX, best: None }
    }
}

/// Steps towards the least bound, at most.
const STEPS: usize = 40;

/// Tables of the pricing that take as long as one step of the search.
const STEPS_OF_A_TABLE: usize = 200;

/// How long subgradient steps are, as a share of what is to be gained.
pub struct StepLength {
    share: f64,
    idle: usize,
}

impl StepLength {
    /// Steps without a better bound after which they become half as long.
    const BEFORE_SHORTER: usize = 3;

    /// Steps of full length.
    pub fn whole() -> StepLength {
        StepLength { share: 1.0, idle: 0 }
    }

    /// The length after a step, which gave a better bound or did not.
    pub fn after(&mut self, is_better: bool) -> f64 {
        self.idle = if is_better { 0 } else { self.idle + 1 };
        if self.idle > 0 && self.idle.is_multiple_of(Self::BEFORE_SHORTER) {
            self.share /= 2.0;
        }
        self.share
    }
}

/// Moves charges by a subgradient step: up for pieces of which a pattern holds more than are wanted, down for others.
/// False if none moves.
pub fn move_charges(
    charges: &mut TiVec<SizeIndex, i64>,
    sizes: &[SizeIndex],
    held: &Counts,
    limits: &Limits,
    to_gain: f64,
) -> bool {
    let over = |size: &SizeIndex| {
        let held = held.iter().find(|(other, _)| other == size).map_or(0, |(_, n)| *n);
        (*size, i64::from(held) - i64::from(limits[*size]))
    };
    // A charge of nothing cannot fall.
    let moves = |(size, over): &(SizeIndex, i64)| *over > 0 || charges[*size] > 0;
    let over: Vec<(SizeIndex, i64)> = sizes.iter().map(over).filter(moves).collect();
    let square: f64 = over.iter().map(|(_, over)| (over * over) as f64).sum();
    for (size, over) in over.iter().filter(|_| square > 0.0) {
        let moved = (to_gain / square * *over as f64) as i64;
        charges[*size] = charges[*size].saturating_add(moved).max(0);
    }
    square > 0.0
}

/// Charges under which the table proves little more than what is possible, or that none is worth the threshold. It
/// ends sooner where no step is left.
pub fn charges(task: &Proper<'_>, layout: Layout, steps: &mut usize) -> Charges {
    let table = TwoStage::new(layout, task.pieces, &[task.board], task.cutting);
    let mut sizes: Vec<SizeIndex> = task.pieces.iter().map(|(index, _)| *index).collect();
    sizes.sort_unstable();
    sizes.dedup();
    let mut least = Charges::none(task);
    let mut now = least.each.clone();
    let mut length = StepLength::whole();
    for _ in 0..STEPS {
        let Some(left) = steps.checked_sub(STEPS_OF_A_TABLE) else { break };
        *steps = left;
        // Nothing is charged more than it is worth.
        now.iter_mut().zip(task.values).for_each(|(charge, value)| *charge = (*charge).min((*value).max(0)));
        let charged: TiVec<SizeIndex, i64> =
            task.values.iter().zip(&now).map(|(value, charge)| value - charge).collect();
        let priced = table.price(&charged, task.limits, &[0]).remove(0);
        let given_back: i64 = sizes.iter().map(|size| now[*size] * i64::from(task.limits[*size])).sum();
        let bound = priced.bound + given_back;
        let is_better = bound < least.bound;
        if is_better {
            (least.each, least.given_back, least.bound) = (now.clone(), given_back, bound);
        }
        let length = length.after(is_better);
        let Some(patterns) = priced.patterns else { break };
        let (proper, _) = patterns.proper;
        let worth = proper.counts().iter().map(|(size, n)| task.values[*size] * i64::from(*n)).sum();
        if least.best.as_ref().is_none_or(|(_, best)| worth > *best) {
            least.best = Some((proper, worth));
        }
        let aim = least.best.as_ref().map_or(0, |(_, worth)| *worth).max(task.threshold - 1);
        let to_gain = (bound - aim) as f64 * length;
        let held = patterns.relaxed.counts();
        if least.bound <= aim || !move_charges(&mut now, &sizes, &held, task.limits, to_gain) {
            break;
        }
    }
    least
}
