//! How the nights are doing: the last good run and its age, what became of the last attempt, what waits.

use std::path::Path;
use std::time::{Duration, SystemTime};

use serde::Serialize;
use serde_json::Value;

use super::place::{RECORD, is_running, kept, last_attempt, last_record};
use super::released::released;

/// How an output folder of nights is doing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NightsStatus {
    /// Name and version of the document.
    pub format: &'static str,
    /// Is the last attempt published, and the last run no older than asked for?
    pub healthy: bool,
    /// Name of the last published run; none where there is none.
    pub run: Option<String>,
    /// Its age in hours.
    pub age_hours: Option<f64>,
    /// Is a run on now?
    pub running: bool,
    /// How the last attempt ended: `planned`, `rejects`, `stopped`, `unplanned` or `failed`.
    pub ended: Option<String>,
    /// Why it published nothing, if so.
    pub error: Option<String>,
    /// Batches of the last attempt that was published.
    pub batches: Option<u64>,
    /// Its rows that were rejected.
    pub rejected_rows: Option<u64>,
    /// Its rows that are done, held or cancelled.
    pub held_rows: Option<u64>,
    /// Its rows that are due later.
    pub later_rows: Option<u64>,
    /// Weeks that are released.
    pub released: Vec<String>,
    /// Runs that are kept.
    pub runs_kept: usize,
    /// Plans that are kept for the nights to come.
    pub plans_kept: usize,
    /// Bytes of both.
    pub bytes: u64,
}

/// Looks at an output folder. Nothing in it is changed.
pub fn status(out: &Path, within: Duration) -> NightsStatus {
    let latest = super::latest(out);
    let record: Option<Value> = last_record(out);
    let text = |value: &Option<Value>, key: &str| {
        value.as_ref().and_then(|value| Some(value.get(key)?.as_str()?.to_string()))
    };
    // The record is written once, when the run is whole.
    let written = std::fs::metadata(latest.join(RECORD)).and_then(|data| data.modified()).ok();
    let age = written.map(|at| SystemTime::now().duration_since(at).unwrap_or_default());
    let attempt: Option<Value> = last_attempt(out).and_then(|line| serde_json::from_str(&line).ok());
    let number = |key: &str| attempt.as_ref().and_then(|line| line.get(key)?.as_u64());
    let published = attempt.as_ref().is_none_or(|line| line.get("published") == Some(&Value::Bool(true)));
    let (runs_kept, plans_kept, bytes) = kept(out);
    NightsStatus {
        format: "ripwright-status/1",
        healthy: published && age.is_some_and(|age| age <= within),
        run: text(&record, "run"),
        age_hours: age.map(|age| (age.as_secs_f64() / 36.0).round() / 100.0),
        running: is_running(out),
        ended: text(&attempt, "ended"),
        error: text(&attempt, "error"),
        batches: number("batches"),
        rejected_rows: number("rejected_rows"),
        held_rows: number("held_rows"),
        later_rows: number("later_rows"),
        released: released(out).unwrap_or_default().iter().map(|week| week.batch.weeks_text()).collect(),
        runs_kept,
        plans_kept,
        bytes,
    }
}

impl NightsStatus {
    /// A few lines for a person.
    pub fn text(&self) -> String {
        let mut text = match (&self.run, self.age_hours) {
            (Some(run), Some(age)) => format!("Last run: {run}, {age:.1} hours old\n"),
            _ => "Last run: none was published\n".to_string(),
        };
        match (&self.ended, &self.error) {
            (_, Some(error)) => text.push_str(&format!("Last attempt: nothing was published: {error}\n")),
            (Some(ended), None) => {
                let [batches, rejected, held, later] =
                    [self.batches, self.rejected_rows, self.held_rows, self.later_rows]
                        .map(|count| count.unwrap_or(0));
                text.push_str(&format!(
                    "Last attempt: {ended}; {batches} batches; rows: {rejected} rejected, {held} done or held, \
                     {later} due later\n"
                ));
            }
            (None, None) => {}
        }
        if !self.released.is_empty() {
            text.push_str(&format!("Released: {}\n", self.released.join(", ")));
        }
        if self.running {
            text.push_str("A run is on.\n");
        }
        let megabytes = self.bytes as f64 / 1e6;
        text.push_str(&format!(
            "Kept: {} runs, {} plans, {megabytes:.1} MB\n{}\n",
            self.runs_kept,
            self.plans_kept,
            if self.healthy { "All is well." } else { "Somebody must look." }
        ));
        text
    }
}
