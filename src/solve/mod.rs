//! The method: column generation over rip and crosscut patterns, an integer phase, a proven bound.
//!
//! What lives here: everything between a valid job and the chosen boards with their patterns. What
//! never does: geometry of cuts, ledgers, reports; and nothing of it is used by the plan's checker.
//!
//! The method in short: group the job ([`instance`]); price what dealers ask under assumptions about
//! them ([`market`], [`dealers`]); solve the master's linear program by column generation
//! ([`generate`], [`simplex`], [`pool`]) with an exact bound ([`bound`]); turn it into whole boards
//! ([`dive`], [`exchange`]); close small problems ([`exact`], [`mip`]).

mod backtrack;
mod bound;
mod buy;
mod component;
mod dealers;
mod dive;
mod exact;
mod exchange;
mod generate;
mod incumbent;
mod instance;
mod market;
mod master;
mod mip;
mod pool;
mod simplex;
mod stop;
mod tolerances;

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

pub use buy::{BuyRow, Purchase};
pub use incumbent::{CutBoards, Incumbent};
pub use instance::{Instance, Source};
pub use mip::Backend;

use crate::job::{Job, Shortfall};
use crate::measure::{Money, Overflow};

/// What the caller asks for.
#[derive(Debug, Clone)]
pub struct Options {
    /// Stop after this long with the best complete plan; `None` is no limit.
    pub time: Option<Duration>,
    /// Gap in percent at which the search may stop.
    pub gap_percent: f64,
    /// Threads; 0 takes all cores.
    pub threads: usize,
    /// Seed of everything random.
    pub seed: u64,
    /// What solves the small integer programs.
    pub backend: Backend,
    /// Set by the caller to stop early.
    pub interrupt: Arc<AtomicBool>,
}

impl Default for Options {
    fn default() -> Options {
        Options {
            time: Some(Duration::from_secs(60)),
            gap_percent: 1.0,
            threads: 0,
            seed: 1,
            backend: Backend::default(),
            interrupt: Arc::default(),
        }
    }
}

/// How a search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// No plan is cheaper.
    Optimal,
    /// The gap asked for is proven.
    WithinGap,
    /// Stopped with a complete plan outside the gap.
    Stopped,
}

impl Status {
    /// As `plan.json` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Status::Optimal => "optimal",
            Status::WithinGap => "within-gap",
            Status::Stopped => "stopped",
        }
    }
}

/// A complete plan and what is proven about it.
#[derive(Debug, Clone)]
pub struct Solution {
    /// The plan.
    pub incumbent: Incumbent,
    /// No plan costs less in lumber, delivery and rack value.
    pub bound: Money,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SolveError {
    /// Boards run out: these parts cannot all be cut.
    #[error("no plan can meet the demand:\n{}", .0.iter().map(|s| format!("  {s}")).collect::<Vec<_>>().join("\n"))]
    Short(Vec<Shortfall>),
    /// Stock is so scarce that no plan was found, though none is ruled out.
    #[error(
        "no complete plan was found: the boards on offer are just enough by area, or a minimum order cannot be reached; allow more time or more stock"
    )]
    NotFound,
    /// A number too large to be exact.
    #[error(transparent)]
    Overflow(#[from] Overflow),
    /// The threads could not be started.
    #[error("the worker threads could not be started: {0}")]
    Threads(String),
}

/// Progress: the best cost so far and the bound.
pub type Progress<'a> = dyn Fn(Option<Money>, Money) + Sync + 'a;

/// Plans the buy and the cutting of a job.
///
/// # Errors
/// If boards run out, or a number is too large to be held exactly.
pub fn solve(job: &Job, options: &Options, progress: &Progress<'_>) -> Result<Solution, SolveError> {
    let workers = rayon::ThreadPoolBuilder::new()
        .num_threads(options.threads)
        .build()
        .map_err(|error| SolveError::Threads(error.to_string()))?;
    workers.install(|| solve_here(job, options, progress))
}

fn solve_here(job: &Job, options: &Options, progress: &Progress<'_>) -> Result<Solution, SolveError> {
    let stop = stop::Stop::new(options.time, options.interrupt.clone());
    let instance = Instance::new(job);
    let mut patterns = pool::Pool::default();
    let watcher = |cost: Option<Money>, bound: i64| progress(cost, whole_cents(bound));
    let shared = incumbent::Shared::new(&watcher);
    let search = dealers::Search {
        instance: &instance,
        aim: component::Aim {
            gap: options.gap_percent / 100.0,
            seed: options.seed,
            backend: options.backend,
        },
        stop: &stop,
        shared: &shared,
    };
    let ended = search.run(&mut patterns)?;
    let bound = match ended {
        dealers::Ended::Short(sizes) => return Err(SolveError::Short(shortfalls(&instance, &sizes))),
        dealers::Ended::Bound(bound) => bound,
    };
    let (best, known) = shared.into_parts();
    let incumbent = best.ok_or(SolveError::NotFound)?;
    let bound = whole_cents(bound.max(known)).min(incumbent.cost());
    Ok(Solution { incumbent, bound })
}

/// Every total is in whole cents, so a bound rounds up to one.
fn whole_cents(ticks: i64) -> Money {
    Money::cents(num_integer::div_ceil(ticks, tolerances::CENT))
}

fn shortfalls(instance: &Instance<'_>, sizes: &[u32]) -> Vec<Shortfall> {
    let mut shortfalls = Vec::new();
    for size in sizes {
        for (index, pieces) in &instance.sizes[*size as usize].parts {
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
