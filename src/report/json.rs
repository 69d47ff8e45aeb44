//! `plan.json`.

use super::{RenderError, Report};
use crate::job::Job;
use crate::plan::Plan;
use crate::plan::document::Document;

/// The plan as a document for machines.
pub struct PlanJson;

impl Report for PlanJson {
    fn file_name(&self) -> &'static str {
        "plan.json"
    }

    fn render(&self, plan: &Plan, job: &Job) -> Result<String, RenderError> {
        let mut text = serde_json::to_string_pretty(&Document::new(plan, job))?;
        text.push('\n');
        Ok(text)
    }
}
