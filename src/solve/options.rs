//! What is asked of a search.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::search::Backend;
use super::stop::{Searched, Stop};
use crate::measure::Money;
use crate::pattern::Family;

/// What the caller asks for.
#[derive(Debug, Clone)]
pub struct Options {
    /// Stop after this long with the best complete plan; `None` is no limit.
    pub time: Option<Duration>,
    /// Begin no turn of the search after so many; `None` is no limit. A first plan takes none. Without a time the plan is
    /// then the same on a machine of any speed.
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

    /// The same after what was searched, with so much of the time left.
    pub fn after(&self, searched: Searched, time: Option<Duration>) -> Options {
        let left = self.work.map(|turns| turns.saturating_sub(searched.turns));
        Options { work: left, time, ..self.clone() }
    }

    /// Those of a search for another plan than the one that is known: its first plan takes a turn. Nothing where none is left.
    pub fn for_another_plan(&self) -> Option<Options> {
        let work = match self.work {
            Some(turns) => Some(turns.checked_sub(1)?),
            None => None,
        };
        Some(Options { work, ..self.clone() })
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
