//! The search that runs, or the last one.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use serde::{Deserialize, Serialize};

/// What is searched for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SearchKind {
    /// The cheapest buy, with its cutting.
    Plan,
    /// Every way of buying.
    Compare,
    /// What if.
    Scenarios,
    /// The cutting of what was bought at the yard.
    Bought,
}

/// The search that runs, or the last one.
#[derive(Debug, Default)]
pub struct Run {
    /// What for; none before the first one.
    pub kind: Option<SearchKind>,
    /// When it began.
    pub started: Option<Instant>,
    /// Is it still at work?
    pub running: bool,
    /// Where it is, or how it ended.
    pub text: String,
    /// Why it found nothing.
    pub failed: Option<String>,
    /// Set to end it with what it has.
    pub interrupt: Arc<AtomicBool>,
}

impl Run {
    /// Asks the search to end with what it has.
    pub fn stop(&self) {
        self.interrupt.store(true, Ordering::Relaxed);
    }
}
