//! A plan that has passed the independent check: the only kind that leaves this room.

use crate::check::{PlanFault, check};
use crate::document::Document;
use crate::job::Job;
use crate::plan::{BoardSource, Plan};

/// A plan with the job it is for, checked as it is written.
#[derive(Debug, Clone)]
pub struct Checked {
    job: Job,
    plan: Plan,
    document: Document,
    text: String,
}

/// A plan that does not pass the check: a bug.
#[derive(Debug, thiserror::Error)]
#[error("the plan failed its own check; this is a bug, please report it with the job:\n{}", .faults.iter().map(|fault| format!("  {fault}")).collect::<Vec<_>>().join("\n"))]
pub struct Unsound {
    /// Everything wrong with it.
    pub faults: Vec<PlanFault>,
    /// The plan as it would have been written.
    pub text: String,
}

impl Checked {
    /// Checks a plan for a job as it was read; `job` is the same with its parts glued as the plan glues them.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn new(as_read: &Job, job: Job, plan: Plan) -> Result<Checked, Box<Unsound>> {
        // The check starts from the text that is written, as anybody else's would.
        let written = serde_json::to_string_pretty(&plan.document(&job)).map(|text| text + "\n");
        let read = written.and_then(|text| Ok((serde_json::from_str::<Document>(&text)?, text)));
        let (document, text) = match read {
            Ok(read) => read,
            Err(error) => {
                let faults = vec![PlanFault::new("plan.json", format!("cannot be written: {error}"))];
                return Err(Box::new(Unsound { faults, text: String::new() }));
            }
        };
        let faults = check(&document, as_read);
        if faults.is_empty() {
            Ok(Checked { job, plan, document, text })
        } else {
            Err(Box::new(Unsound { faults, text }))
        }
    }

    /// The same plan for a job whose rack has the boards that it takes, whatever else was on offer.
    ///
    /// # Errors
    /// If a board is not there.
    pub fn on_rack_of(self, job: Job) -> Result<Checked, Box<Unsound>> {
        let mut plan = self.plan;
        for board in &mut plan.boards {
            if let BoardSource::Rack(index, name) = &mut board.source
                && let Some(place) = job.rack.position(|one| one.board == *name)
            {
                *index = place;
            }
        }
        Checked::new(&job.clone(), job, plan)
    }

    /// The plan.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The job, with its parts glued as the plan glues them.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// The plan as it stands in the file.
    pub fn document(&self) -> &Document {
        &self.document
    }

    /// The text of `plan.json`.
    pub fn text(&self) -> &str {
        &self.text
    }
}
