//! The method: column generation over rip and crosscut patterns, an integer phase, a proven bound.
//!
//! What lives here: everything between a valid job and the chosen boards with their patterns. What
//! never does: geometry of cuts, ledgers, reports; and nothing of it is used by the plan's checker.
//!
//! The method in short: group the job ([`instance`]); price what dealers ask under assumptions about
//! them ([`market`], [`dealers`]); solve the master's linear program by column generation
//! ([`generate`], [`simplex`], [`pool`]) with an exact bound ([`bound`]); turn it into whole boards
//! ([`dive`], [`exchange`]); close small problems ([`exact`], [`mip`]).

mod alike;
mod arrival;
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
mod settings;
mod simplex;
mod stop;
mod tolerances;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

pub use alike::{different, more_alike};
pub use arrival::Arrival;
pub use buy::{BuyRow, Purchase};
pub use incumbent::{CutBoards, Incumbent};
pub use instance::{Instance, Size, Source, blanks_of};
pub use mip::Backend;
pub use settings::{fewer_settings, sawn_along};
pub use stop::Shares;

use crate::job::{Job, Shortfall};
use crate::measure::{Money, Overflow};
use crate::pattern::Family;

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
    /// Which patterns are allowed. The bound then holds for these patterns only.
    pub family: Family,
    /// A plan of this cost is good enough, and if none can be had the search ends at once.
    pub target: Option<Money>,
    /// Set by the caller to stop early.
    pub interrupt: Arc<AtomicBool>,
}

impl Options {
    /// Threads to work on: all cores where no number was asked for.
    pub fn threads(&self) -> usize {
        match self.threads {
            0 => std::thread::available_parallelism().map_or(1, usize::from),
            threads => threads,
        }
    }
}

impl Default for Options {
    fn default() -> Options {
        Options {
            time: Some(Duration::from_secs(60)),
            gap_percent: 1.0,
            threads: 0,
            seed: 1,
            backend: Backend::default(),
            family: Family::Any,
            target: None,
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
    workers(options.threads)?.install(|| Planner::of(job, options.family).solve(&[], options, progress))
}

fn workers(threads: usize) -> Result<rayon::ThreadPool, SolveError> {
    let built = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    built.map_err(|error| SolveError::Threads(error.to_string()))
}

/// Runs `work` on every item, as many at a time as the options have threads, each on threads of its
/// own, so that the time of one search is not spent on another. Each is given the options with its share
/// of their time, whether it starts first or last. The results are in the items' order.
///
/// # Errors
/// If the threads cannot be started.
pub fn side_by_side<T: Sync, R: Send>(
    options: &Options,
    items: &[T],
    work: impl Fn(&T, &Options) -> R + Sync,
) -> Result<Vec<R>, SolveError> {
    let threads = options.threads();
    let shares = Shares::new(options.time, threads, items.len());
    let work = |item: &T| work(item, &Options { time: shares.next(), ..options.clone() });
    let many = threads.min(items.len());
    // Where items are fewer than threads, each has several to itself.
    let own = threads / many.max(1);
    let lanes = (0..many).map(|_| workers(own)).collect::<Result<Vec<_>, _>>()?;
    let next = AtomicUsize::new(0);
    let (work, next) = (&work, &next);
    let done: Vec<Vec<(usize, R)>> = std::thread::scope(|scope| {
        let handles: Vec<_> = lanes
            .iter()
            .map(|lane| {
                scope.spawn(move || {
                    lane.install(|| {
                        let places = std::iter::from_fn(|| Some(next.fetch_add(1, Ordering::Relaxed)));
                        let mine = places.take_while(|place| *place < items.len());
                        mine.map(|place| (place, work(&items[place]))).collect()
                    })
                })
            })
            .collect();
        handles.into_iter().map(|handle| handle.join().unwrap_or_default()).collect()
    });
    let mut done: Vec<(usize, R)> = done.into_iter().flatten().collect();
    if done.len() < items.len() {
        return Err(SolveError::Threads("a search ended in a panic".to_string()));
    }
    done.sort_by_key(|(place, _)| *place);
    Ok(done.into_iter().map(|(_, result)| result).collect())
}

/// A job grouped once, with patterns that several searches share.
#[derive(Debug, Clone)]
pub struct Planner<'j> {
    instance: Instance<'j>,
    patterns: pool::Pool,
}

impl<'j> Planner<'j> {
    /// Groups a job; no pattern is known yet.
    pub fn new(job: &'j Job) -> Planner<'j> {
        let instance = Instance::new(job);
        let patterns = pool::Pool::new(&instance);
        Planner { instance, patterns }
    }

    /// Groups a job of which only some patterns are allowed.
    pub fn of(job: &'j Job, family: Family) -> Planner<'j> {
        let mut planner = Planner::new(job);
        planner.instance.family = family;
        planner
    }

    /// Groups a job, and takes the patterns of another planner if they fit: if pieces and boards are the
    /// same, whatever they cost and however many are wanted.
    pub fn like(job: &'j Job, other: &Planner<'_>) -> Planner<'j> {
        let instance = Instance::new(job);
        let same = instance.has_patterns_of(&other.instance);
        let patterns = if same { other.patterns.clone() } else { pool::Pool::new(&instance) };
        Planner { instance, patterns }
    }

    /// Finds the patterns that matter at the prices of all dealers, for searches to start from.
    ///
    /// # Errors
    /// If a price is too large to be held exactly.
    pub fn find_patterns(&mut self, options: &Options) -> Result<(), SolveError> {
        let stop = stop::Stop::new(options.time, options.interrupt.clone());
        let shared = incumbent::Shared::new(&|_, _| ());
        let search = self.search(options, &stop, &shared);
        let mut patterns = self.patterns.emptied();
        search.find_patterns(&mut patterns)?;
        self.patterns = patterns;
        Ok(())
    }

    fn search<'s>(
        &'s self,
        options: &Options,
        stop: &'s stop::Stop,
        shared: &'s incumbent::Shared<'s>,
    ) -> dealers::Search<'s> {
        dealers::Search {
            instance: &self.instance,
            aim: component::Aim {
                gap: options.gap_percent / 100.0,
                seed: options.seed,
                backend: options.backend,
            },
            target: options.target.map(market::money_ticks),
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
        closed: &[usize],
        options: &Options,
        progress: &Progress<'_>,
    ) -> Result<Solution, SolveError> {
        let stop = stop::Stop::new(options.time, options.interrupt.clone());
        let watcher = |cost: Option<Money>, bound: i64| progress(cost, whole_cents(bound));
        let shared = incumbent::Shared::new(&watcher);
        let ended = self.search(options, &stop, &shared).run(closed, &mut self.patterns.clone())?;
        let bound = match ended {
            dealers::Ended::Short(sizes) => {
                return Err(SolveError::Short(shortfalls(&self.instance, &sizes)));
            }
            dealers::Ended::Bound(bound) => bound,
        };
        let (best, known) = shared.into_parts();
        let incumbent = best.ok_or(SolveError::NotFound)?;
        let bound = whole_cents(bound.max(known)).min(incumbent.cost());
        Ok(Solution { incumbent, bound })
    }
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
