//! What is asked of a search.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::search::Backend;
use super::stop::Stop;
use crate::measure::Money;
use crate::pattern::Family;

/// What the caller asks for.
#[derive(Debug, Clone)]
pub struct Options {
    /// Stop after this long with the best complete plan; `None` is no limit.
    pub time: Option<Duration>,
    /// Begin no more turns of the long search than this; `None` is no limit. Without a time the plan is then the same on a
    /// machine of any speed.
    pub work: Option<u64>,
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
    /// When a search with these options stops that begins now.
    pub(super) fn stop(&self) -> Stop {
        Stop::new(self.time, self.work, self.interrupt.clone())
    }

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
            work: None,
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
