//! What pieces are worth to a job, and what one board that somebody has just measured is worth by that.
//!
//! The values are those of the buy's linear program: what one piece more would cost at the price sheets, all boards
//! cut as well as they can be. A board is worth the most valuable pattern of what is still wanted.

use super::incumbent::Shared;
use super::options::Options;
use super::planner::Planner;
use super::problem::{Instance, Market, Task, blanks_in, worth};
use super::relax::{Pool, Pricer};
use super::solution::SolveError;
use super::tolerances as tol;
use crate::index::{PartIndex, SizeIndex, TiSlice, TiVec, ti_vec};
use crate::job::{Job, RackBoard};
use crate::measure::Money;

/// What one blank of each part is worth, in ticks.
#[derive(Debug, Clone)]
pub struct Worths {
    by_part: TiVec<PartIndex, i64>,
}

/// The most valuable cut of one board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BestCut {
    /// What its pieces are worth.
    pub worth: Money,
    /// Blanks by part (index).
    pub blanks: Vec<(PartIndex, u32)>,
}

impl Worths {
    /// The values of a job's blanks. Only the time and the threads of `options` matter: a linear program that was
    /// stopped gives values that are too low, never too high.
    ///
    /// # Errors
    /// If a number is too large to be held exactly.
    pub fn of(job: &Job, options: &Options) -> Result<Worths, SolveError> {
        let planner = Planner::new(job.clone());
        let stop = options.stop();
        let shared = Shared::new(&|_, _| ());
        let instance = planner.instance();
        let values = planner.search(options, &stop, &shared).values(&mut Pool::new(instance))?;
        let mut by_part = ti_vec![0; job.parts.len()];
        for (size, value) in instance.sizes.iter().zip(values) {
            size.parts.iter().for_each(|(part, _)| by_part[*part] = value);
        }
        Ok(Worths { by_part })
    }

    /// The best cut of one board for a job, whatever else is on its rack.
    ///
    /// # Errors
    /// If a number is too large to be held exactly.
    pub fn best_cut(&self, job: &Job, board: &RackBoard) -> Result<BestCut, SolveError> {
        let alone =
            Job { lines: TiVec::new(), suppliers: TiVec::new(), rack: ti_vec![board.clone()], ..job.clone() };
        let instance = Instance::new(alone);
        let market = Market::new(&instance, TiSlice::from_ref(&[]))?;
        let all: Vec<SizeIndex> = instance.sizes.keys().collect();
        let task = Task::whole(&instance, &market, &all);
        let value_of = |size: SizeIndex| {
            let parts = instance.sizes[size].parts.iter();
            parts.map(|(part, _)| self.by_part[*part]).max().unwrap_or(0)
        };
        let values: TiVec<SizeIndex, i64> = instance.sizes.keys().map(value_of).collect();
        let prices = Pricer::new(&task, &task.offers()).price(
            &values,
            &task.demand,
            &ti_vec![0; instance.shapes.len()],
        );
        let mut best = (0, Vec::new());
        let found =
            prices.iter().flat_map(|price| price.patterns.iter().map(move |(pattern, _)| (price, pattern)));
        for (price, pattern) in found {
            let blanks = instance.blanks(price.shape);
            let given = pattern.counts().into_iter().map(|(size, n)| (size, n * blanks_in(blanks, size)));
            // A pattern of the tables may hold a piece more often than it is wanted.
            let counts = task.cut_down(&given.collect::<Vec<_>>());
            let worth = worth(&values, &counts);
            if worth > best.0 {
                best = (worth, counts);
            }
        }
        let (worth, counts) = best;
        let mut by_part = Vec::new();
        for (size, n) in counts {
            let mut left = n;
            for (part, wanted) in &instance.sizes[size].parts {
                let cut = left.min(*wanted);
                left -= cut;
                if cut > 0 {
                    by_part.push((*part, cut));
                }
            }
        }
        Ok(BestCut { worth: Money::cents(worth / tol::CENT), blanks: by_part })
    }
}
