//! The progress line: on standard error, and only on a terminal unless lines are asked for.

use std::io::{IsTerminal, Write};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressStyle};

use crate::planning::Event;

/// A spinner with the best cost and the bound, a line for each change, or nothing at all.
pub struct ProgressLine {
    bar: ProgressBar,
    lines: Option<Instant>,
}

impl ProgressLine {
    /// With `lines`, each change is a line. Without it there is a spinner, but nothing at all if `quiet` is
    /// asked for or standard error is no terminal.
    pub fn new(quiet: bool, lines: bool) -> ProgressLine {
        let hidden = quiet || lines || !std::io::stderr().is_terminal();
        let lines = lines.then(Instant::now);
        if hidden {
            return ProgressLine { bar: ProgressBar::hidden(), lines };
        }
        let bar = ProgressBar::new_spinner();
        if let Ok(style) = ProgressStyle::with_template("{spinner} {elapsed} {msg}") {
            bar.set_style(style);
        }
        bar.enable_steady_tick(Duration::from_millis(120));
        ProgressLine { bar, lines }
    }

    /// Shows a word.
    pub fn note(&self, text: &'static str) {
        self.bar.set_message(text);
    }

    /// Shows where the search is.
    pub fn tell(&self, event: Event) {
        let text = match event {
            Event::Improved { cost: None, bound } => format!("no plan yet, none can cost less than {bound}"),
            Event::Improved { cost: Some(cost), bound } => {
                let gap = (cost - bound).to_f64() / cost.to_f64().max(0.01) * 100.0;
                format!("best plan {cost}, none can cost less than {bound} (gap {gap:.2} %)")
            }
            Event::TryingFreshLots => "trying the buy on fresh lots of boards".to_string(),
            _ => "looking for fewer settings".to_string(),
        };
        if let Some(start) = self.lines {
            let _ = writeln!(std::io::stderr(), "{:8.2} s  {text}", start.elapsed().as_secs_f64());
        }
        self.bar.set_message(text);
    }
}

/// A bar that counts finished plans.
pub struct Counter(ProgressBar);

impl Counter {
    /// Shows nothing where standard error is no terminal, or on request.
    pub fn new(many: usize, quiet: bool) -> Counter {
        if quiet || !std::io::stderr().is_terminal() {
            return Counter(ProgressBar::hidden());
        }
        let bar = ProgressBar::new(many as u64);
        if let Ok(style) = ProgressStyle::with_template("{elapsed} {wide_bar} {pos} of {len} planned") {
            bar.set_style(style);
        }
        bar.enable_steady_tick(Duration::from_millis(120));
        Counter(bar)
    }

    /// One more is planned.
    pub fn done(&self) {
        self.0.inc(1);
    }
}

impl Drop for Counter {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}

impl Drop for ProgressLine {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
