//! Faults and warnings gathered while files are read.

use crate::job::{Fault, FaultKind, JobError, Warning};

/// What was met so far. Reading goes on, so that every fault is told at once.
#[derive(Debug, Default)]
pub struct Log {
    pub faults: Vec<Fault>,
    pub warnings: Vec<Warning>,
}

impl Log {
    pub fn fault(&mut self, file: &str, row: Option<u64>, column: Option<&str>, kind: FaultKind) {
        self.faults.push(Fault { file: file.to_string(), row, column: column.map(str::to_string), kind });
    }

    pub fn warn(&mut self, file: &str, text: String) {
        self.warnings.push(Warning { file: file.to_string(), text });
    }

    /// Everything so far as an error.
    pub fn into_error(self) -> JobError {
        JobError::Faults { faults: self.faults, warnings: self.warnings }
    }
}
