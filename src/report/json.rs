//! `plan.json`.

use std::io::Write;

use super::{RenderError, Report};
use crate::planning::Checked;

/// The plan as a document for machines.
pub struct PlanJson<'p>(pub &'p Checked);

impl Report for PlanJson<'_> {
    fn file_name(&self) -> &'static str {
        "plan.json"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        Ok(self.0.text().as_bytes().to_vec())
    }

    fn write(&self, to: &mut dyn Write) -> Result<(), RenderError> {
        Ok(to.write_all(self.0.text().as_bytes())?)
    }
}
