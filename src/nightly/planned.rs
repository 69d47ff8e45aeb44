//! One batch planned, or taken as it was planned before from the same content.

use std::sync::Mutex;
use std::sync::atomic::Ordering;
use std::time::Duration;

use super::batch::{Batch, BatchTried, WeeksPlanned, remembered};
use super::key::key;
use super::place::OutFolder;
use super::week::Week;
use super::{Asked, NightlyError};
use crate::document::Document;
use crate::intake::Base;
use crate::job::{Job, JobError, RackBoard, shortfalls_without};
use crate::planning::{Checked, PlanningError, plan_here};
use crate::report::{Printing, plan_files};
use crate::solve::{Options, SolveError, Status};

/// What every batch of a run is planned from.
pub struct Run<'r> {
    /// The job without its orders.
    pub base: &'r Base,
    /// Where plans are kept.
    pub place: &'r OutFolder,
    /// How plans are searched for; each has its own time.
    pub options: &'r Options,
    /// What the run is asked for.
    pub asked: &'r Asked,
    /// Held while the files of a plan are made: those of a large week take as much memory as its search.
    pub making_files: Mutex<()>,
}

impl Run<'_> {
    /// The job of a week, with boards on hand.
    pub fn job(&self, week: &Week, on_hand: &[RackBoard]) -> Result<Job, JobError> {
        self.base.job(&week.products, week.first, on_hand)
    }

    /// Under which the plan of a job is kept.
    pub fn key(&self, job: &Job) -> String {
        key(job, self.options, self.asked.confidence_percent)
    }

    /// Plans a week with boards on hand in a share of the run's time, or takes the plan of the same content from before.
    pub fn plan(
        &self,
        week: &Week,
        on_hand: &[RackBoard],
        time: Option<Duration>,
    ) -> Result<Batch, NightlyError> {
        let unplanned = |why: String| Ok(Batch::of(week, BatchTried::Unplanned(why), false));
        let job = match self.job(week, on_hand) {
            Ok(job) => job,
            Err(error) => return unplanned(error.to_string()),
        };
        let key = self.key(&job);
        let before = self.kept(&job, &key);
        let reused =
            |planned: WeeksPlanned| Ok(Batch::of(week, BatchTried::Planned(Box::new(planned)), true));
        if let Some(planned) = &before {
            self.place.used(&key);
            // A plan that time stopped is as good as it was: what is published stays until somebody asks for better.
            if !self.asked.improve || planned.status != Status::Stopped.name() {
                return reused(planned.clone());
            }
        }
        let missing = shortfalls_without(&job, &[]);
        if !missing.is_empty() {
            return unplanned(JobError::Unobtainable(missing).to_string());
        }
        let planned = self.searched(&job, time)?;
        let dearer = |checked: &Checked, before: &WeeksPlanned| {
            Some(checked.plan().cost.total) >= before.total() && checked.plan().status == Status::Stopped
        };
        if let Some(before) = before
            && planned.as_ref().map_or(true, |checked| dearer(checked, &before))
        {
            return reused(before);
        }
        let checked = match planned {
            Ok(checked) => checked,
            Err(why) => return unplanned(why),
        };
        // What a person cut short is shown, but not taken for the plan of this content the next night.
        let cut_short = self.is_asked_to_stop() && checked.plan().status == Status::Stopped;
        let key = if cut_short { format!("{key}-stopped") } else { key };
        let planned = self.keep(&checked, &key)?;
        Ok(Batch::of(week, BatchTried::Planned(Box::new(planned)), false))
    }

    /// A plan for a job, or why there is none.
    pub fn searched(
        &self,
        job: &Job,
        time: Option<Duration>,
    ) -> Result<Result<Checked, String>, NightlyError> {
        let options = Options { time, ..self.options.clone() };
        match plan_here(job, &options, self.asked.confidence_percent) {
            Ok(checked) => Ok(Ok(checked)),
            Err(PlanningError::Solve(error @ (SolveError::Short(_) | SolveError::NotFound))) => {
                Ok(Err(error.to_string()))
            }
            Err(PlanningError::Solve(error)) => Err(error.into()),
            Err(error) => Ok(Err(error.to_string())),
        }
    }

    /// Did somebody ask the run to stop?
    pub fn is_asked_to_stop(&self) -> bool {
        self.options.interrupt.load(Ordering::Relaxed)
    }

    /// Keeps the files of a plan for the nights to come.
    pub fn keep(&self, checked: &Checked, key: &str) -> Result<WeeksPlanned, NightlyError> {
        let _one_at_a_time = self.making_files.lock();
        let mut files = Vec::new();
        for report in plan_files(checked, Printing::default()) {
            let hash = self.place.keep::<NightlyError>(key, report.as_ref())?;
            files.push((report.file_name(), hash));
        }
        self.place.keep_whole(key, &files)?;
        let job = checked.job();
        let text = checked.text().as_bytes();
        Ok(remembered(checked.document(), text, key, &job.shop, &job.rack.raw))
    }

    /// What is remembered of a plan that was kept. It passed the check when it was made; its files are as they were
    /// written then, and its key holds the job, the options and the build that checked it.
    pub fn kept(&self, job: &Job, key: &str) -> Option<WeeksPlanned> {
        let text = self.place.planned_before(key)?;
        let document: Document = serde_json::from_slice(&text).ok()?;
        Some(remembered(&document, &text, key, &job.shop, &job.rack.raw))
    }
}
