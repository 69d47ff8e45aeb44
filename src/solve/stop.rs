//! When to stop: the time is up, or somebody asked.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
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
}

impl Stop {
    /// Stops after `limit`, or when `asked` becomes true.
    pub fn new(limit: Option<Duration>, asked: Arc<AtomicBool>) -> Stop {
        Stop { deadline: limit.map(|limit| Instant::now() + limit), asked }
    }

    /// Never by itself.
    #[cfg(test)]
    pub fn never() -> Stop {
        Stop::new(None, Arc::default())
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
