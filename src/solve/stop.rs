//! When to stop: the time is up, or somebody asked.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

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
