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

/// What a search did, in whole turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct Searched {
    /// Turns that were done.
    pub turns: u64,
    /// Did it end for want of time or of turns, or since somebody asked?
    pub cut_short: bool,
    /// Do as many turns give the same plan on any machine? Not where it was cut short before any plan was known.
    pub repeatable: bool,
}

impl Searched {
    /// None yet.
    pub const NONE: Searched = Searched { turns: 0, cut_short: false, repeatable: true };

    /// The same of a search for another plan than the one that is known. Its first plan takes a turn; where it was cut short
    /// before that, it is as if it had not begun.
    pub fn of_another_plan(self) -> Searched {
        let turns = if self.repeatable { self.turns + 1 } else { 0 };
        Searched { turns, repeatable: true, ..self }
    }

    /// With what was done after it.
    pub fn and(self, more: Searched) -> Searched {
        Searched {
            turns: self.turns + more.turns,
            cut_short: self.cut_short || more.cut_short,
            repeatable: self.repeatable && more.repeatable,
        }
    }
}

/// Shared by all threads of one run.
#[derive(Debug, Clone)]
pub struct Stop {
    deadline: Option<Instant>,
    asked: Arc<AtomicBool>,
    /// Turns of the search that it may take.
    most_turns: u64,
    turns: Arc<AtomicU64>,
    torn: Arc<AtomicBool>,
}

impl Stop {
    /// Stops after `limit`, after so many turns of the search, or when `asked` becomes true.
    pub fn new(limit: Option<Duration>, turns: Option<u64>, asked: Arc<AtomicBool>) -> Stop {
        Stop {
            deadline: limit.map(|limit| Instant::now() + limit),
            asked,
            most_turns: turns.unwrap_or(u64::MAX),
            turns: Arc::default(),
            torn: Arc::default(),
        }
    }

    /// Never by itself.
    #[cfg(test)]
    pub fn never() -> Stop {
        Stop::new(None, None, Arc::default())
    }

    /// Ends a turn of the search. False if it was cut off: what it gave is then forgotten, so that as many turns give the
    /// same plan on a machine of any speed.
    pub fn ends_turn(&self) -> bool {
        let is_whole = !self.is_due();
        if is_whole {
            self.turns.fetch_add(1, Ordering::Relaxed);
        }
        is_whole
    }

    /// What a turn gave that was cut off is kept, for want of anything else.
    pub fn keeps_what_is_torn(&self) {
        self.torn.store(true, Ordering::Relaxed);
    }

    /// May no other turn begin?
    pub fn begins_no_turn(&self) -> bool {
        self.is_due() || self.turns.load(Ordering::Relaxed) >= self.most_turns
    }

    /// What was done.
    pub fn searched(&self) -> Searched {
        Searched {
            turns: self.turns.load(Ordering::Relaxed),
            cut_short: self.begins_no_turn(),
            repeatable: !self.torn.load(Ordering::Relaxed),
        }
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
