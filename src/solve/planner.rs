//! A job grouped once, and the searches on it.

use std::sync::Arc;

use super::dealers::{DealerSearch, Ended};
use super::incumbent::{Incumbent, Shared};
use super::options::Options;
use super::parallel::workers;
use super::problem::{Instance, money_ticks};
use super::relax::Pool;
use super::search::Aim;
use super::solution::{Solution, SolveError};
use super::stop::Stop;
use super::tolerances as tol;
use crate::index::{SizeIndex, SupplierIndex};
use crate::job::{Job, Shortfall};
use crate::measure::Money;
use crate::pattern::Family;

/// Progress: the best cost so far and the bound.
pub type Progress<'a> = dyn Fn(Option<Money>, Money) + Sync + 'a;

/// Plans the buy and the cutting of a job.
///
/// # Errors
/// If boards run out, or a number is too large to be held exactly.
pub fn solve(job: &Job, options: &Options, progress: &Progress<'_>) -> Result<Solution, SolveError> {
    workers(options.threads)?
        .install(|| Planner::of(job.clone(), options.family).solve(&[], options, progress))
}

/// Plans a job from what a plan of another one cuts from the rack. The other job has the same parts and the same
/// rack, wants as much or more, and may have more on offer.
///
/// # Errors
/// As [`solve`].
pub fn solve_from_rack(job: &Job, known: &Solution, options: &Options) -> Result<Solution, SolveError> {
    workers(options.threads)?.install(|| {
        let planner = Planner::of(job.clone(), options.family);
        let start = Incumbent::of_rack(&planner.instance, known.instance(), &known.incumbent.boards)?;
        planner.solve_from(start, &[], options, &|_, _| ())
    })
}

/// A job grouped once, with patterns that several searches share.
#[derive(Debug, Clone)]
pub struct Planner {
    instance: Arc<Instance>,
    patterns: Pool,
}

impl Planner {
    /// Groups a job; no pattern is known yet.
    pub fn new(job: impl Into<Arc<Job>>) -> Planner {
        Planner::of(job, Family::Any)
    }

    /// Groups a job of which only some patterns are allowed.
    pub fn of(job: impl Into<Arc<Job>>, family: Family) -> Planner {
        let instance = Instance { family, ..Instance::new(job) };
        let patterns = Pool::new(&instance);
        Planner { instance: Arc::new(instance), patterns }
    }

    /// Groups a job, and takes the patterns of another planner if they fit: if pieces and boards are the
    /// same, whatever they cost and however many are wanted.
    pub fn like(job: impl Into<Arc<Job>>, other: &Planner) -> Planner {
        let instance = Instance::new(job);
        let same = instance.has_patterns_of(&other.instance);
        let patterns = if same { other.patterns.clone() } else { Pool::new(&instance) };
        Planner { instance: Arc::new(instance), patterns }
    }

    /// Finds the patterns that matter at the prices of all dealers, for searches to start from.
    ///
    /// # Errors
    /// If a price is too large to be held exactly.
    pub fn find_patterns(&mut self, options: &Options) -> Result<(), SolveError> {
        let stop = options.stop();
        let shared = Shared::new(&|_, _| ());
        let search = self.search(options, &stop, &shared);
        let mut patterns = self.patterns.emptied();
        search.find_patterns(&mut patterns)?;
        self.patterns = patterns;
        Ok(())
    }

    /// The job as it is grouped.
    pub(super) fn instance(&self) -> &Instance {
        &self.instance
    }

    pub(super) fn search<'s>(
        &'s self,
        options: &Options,
        stop: &'s Stop,
        shared: &'s Shared<'s>,
    ) -> DealerSearch<'s> {
        DealerSearch {
            instance: &self.instance,
            aim: Aim { gap: options.gap_percent / 100.0, seed: options.seed, backend: options.backend },
            target: options.target.map(money_ticks),
            stop,
            shared,
        }
    }

    /// Plans on the threads it is called on, buying nothing from the dealers `closed` (by index).
    ///
    /// # Errors
    /// If boards run out, or a number is too large to be held exactly.
    pub fn solve(
        &self,
        closed: &[SupplierIndex],
        options: &Options,
        progress: &Progress<'_>,
    ) -> Result<Solution, SolveError> {
        self.solve_from(None, closed, options, progress)
    }

    /// The same from a plan that is known already.
    ///
    /// # Errors
    /// As [`Planner::solve`].
    fn solve_from(
        &self,
        start: Option<Incumbent>,
        closed: &[SupplierIndex],
        options: &Options,
        progress: &Progress<'_>,
    ) -> Result<Solution, SolveError> {
        let stop = options.stop();
        let watcher = |cost: Option<Money>, bound: i64| progress(cost, whole_cents(bound));
        let shared = Shared::new(&watcher);
        start.into_iter().for_each(|plan| shared.offer(plan));
        let ended = self.search(options, &stop, &shared).run(closed, &mut self.patterns.clone())?;
        let bound = match ended {
            Ended::Short(sizes) => {
                return Err(SolveError::Short(shortfalls(&self.instance, &sizes)));
            }
            Ended::Bound(bound) => bound,
        };
        let (best, known) = shared.into_parts();
        let incumbent = best.ok_or(SolveError::NotFound)?;
        let bound = whole_cents(bound.max(known)).min(incumbent.cost());
        Ok(Solution::new(Arc::clone(&self.instance), incumbent, bound, options.gap_percent, stop.searched()))
    }
}

/// Every total is in whole cents, so a bound rounds up to one.
fn whole_cents(ticks: i64) -> Money {
    Money::cents(num_integer::div_ceil(ticks, tol::CENT))
}

fn shortfalls(instance: &Instance, sizes: &[SizeIndex]) -> Vec<Shortfall> {
    let mut shortfalls = Vec::new();
    for size in sizes {
        for (index, pieces) in &instance.sizes[*size].parts {
            let part = &instance.job.parts[*index];
            shortfalls.push(Shortfall {
                product: part.product.clone(),
                part: part.part.clone(),
                reason: format!("{pieces} wanted, and the boards that can be had do not give them all"),
            });
        }
    }
    shortfalls
}
