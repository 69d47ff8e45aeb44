//! The progress line: on standard error, and only on a terminal.

use std::io::IsTerminal;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

use crate::measure::Money;

/// A spinner with the best cost and the bound, or nothing at all.
pub struct Progress(ProgressBar);

impl Progress {
    /// Shows nothing where standard error is no terminal, or on request.
    pub fn new(quiet: bool) -> Progress {
        if quiet || !std::io::stderr().is_terminal() {
            return Progress(ProgressBar::hidden());
        }
        let bar = ProgressBar::new_spinner();
        if let Ok(style) = ProgressStyle::with_template("{spinner} {elapsed} {msg}") {
            bar.set_style(style);
        }
        bar.enable_steady_tick(Duration::from_millis(120));
        Progress(bar)
    }

    /// Shows where the search is.
    pub fn show(&self, cost: Option<Money>, bound: Money) {
        let text = match cost {
            None => format!("no plan yet, none can cost less than {bound}"),
            Some(cost) => {
                let gap = (cost - bound).to_f64() / cost.to_f64().max(0.01) * 100.0;
                format!("best plan {cost}, none can cost less than {bound} (gap {gap:.2} %)")
            }
        };
        self.0.set_message(text);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
