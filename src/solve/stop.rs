//! When to stop: the time is up, the work allowed is done, or somebody asked.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// A time limit shared by several searches, some of them side by side: what one leaves, the next have.
#[derive(Debug)]
pub struct Shares {
    deadline: Option<Instant>,
    threads: u32,
    left: AtomicU32,
}

impl Shares {
    /// `searches` in all, `threads` at a time.
    pub fn new(limit: Option<Duration>, threads: usize, searches: usize) -> Shares {
        let left = u32::try_from(searches).unwrap_or(u32::MAX);
        let deadline = limit.map(|limit| Instant::now() + limit);
        Shares { deadline, threads: u32::try_from(threads).unwrap_or(u32::MAX), left: left.into() }
    }

    /// The time of the next search to start.
    pub fn next(&self) -> Option<Duration> {
        let left = self.left.fetch_sub(1, Ordering::Relaxed).max(1);
        let remaining = self.deadline?.saturating_duration_since(Instant::now());
        Some(if left <= self.threads { remaining } else { remaining * self.threads / left })
    }
}

/// Shared by all threads of one run.
#[derive(Debug, Clone)]
pub struct Stop {
    deadline: Option<Instant>,
    asked: Arc<AtomicBool>,
    /// Turns of the long search that it may take.
    most_turns: u64,
    turns: Arc<AtomicU64>,
}

impl Stop {
    /// Stops after `limit`, after so many turns of the long search, or when `asked` becomes true.
    pub fn new(limit: Option<Duration>, turns: Option<u64>, asked: Arc<AtomicBool>) -> Stop {
        Stop {
            deadline: limit.map(|limit| Instant::now() + limit),
            asked,
            most_turns: turns.unwrap_or(u64::MAX),
            turns: Arc::default(),
        }
    }

    /// Never by itself.
    #[cfg(test)]
    pub fn never() -> Stop {
        Stop::new(None, None, Arc::default())
    }

    /// Begins another turn of the long search; false if none is left. A turn that is begun is not cut off by this, so that
    /// its end does not depend on the machine.
    pub fn begins_turn(&self) -> bool {
        let more = !self.has_no_turn();
        if more {
            self.turns.fetch_add(1, Ordering::Relaxed);
        }
        more
    }

    /// Is no turn of the long search left?
    pub fn has_no_turn(&self) -> bool {
        self.turns() >= self.most_turns
    }

    /// Turns of the long search that were begun.
    pub fn turns(&self) -> u64 {
        self.turns.load(Ordering::Relaxed)
    }

    /// Is it time?
    pub fn is_due(&self) -> bool {
        self.asked.load(Ordering::Relaxed) || self.deadline.is_some_and(|deadline| Instant::now() >= deadline)
    }

    /// What is left of the time, if it is limited.
    pub fn remaining(&self) -> Option<Duration> {
        self.deadline.map(|deadline| deadline.saturating_duration_since(Instant::now()))
    }
}
