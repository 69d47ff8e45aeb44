//! Faults and warnings gathered while files are read.

use std::collections::{BTreeMap, BTreeSet};

use crate::job::{Fault, FaultKind, JobError, Warning};

/// Faults that are told at once: a file with more of them is another file.
const MOST_FAULTS: usize = 10_000;

/// What was met so far. Reading goes on, so that every fault is told at once.
#[derive(Debug, Default)]
pub struct Log {
    pub faults: Vec<Fault>,
    pub warnings: Vec<Warning>,
    /// Cells that were read as something else than they say, by file and column.
    read_as: BTreeMap<(String, String), ReadAs>,
    /// Keys of products and of parts in rows that cannot be read: what refers to them is no fault of its own.
    pub unread: BTreeSet<String>,
}

/// The first such cell of a column, and how many there are.
#[derive(Debug)]
struct ReadAs {
    row: u64,
    text: String,
    meant: String,
    cells: u64,
}

impl Log {
    pub fn fault(&mut self, file: &str, row: Option<u64>, column: Option<&str>, kind: FaultKind) {
        if self.faults.len() < MOST_FAULTS {
            self.faults.push(Fault { file: file.to_string(), row, column: column.map(str::to_string), kind });
        }
    }

    pub fn warn(&mut self, file: &str, text: String) {
        self.warnings.push(Warning { file: file.to_string(), text });
    }

    /// A cell was read as something else than it says.
    pub fn read_as(&mut self, file: &str, row: u64, column: &str, text: &str, meant: &str) {
        let key = (file.to_string(), column.to_string());
        let (text, meant) = (text.to_string(), meant.to_string());
        self.read_as.entry(key).or_insert(ReadAs { row, text, meant, cells: 0 }).cells += 1;
    }

    /// Tells once for each column what was read differently from what was written.
    pub fn tell_read_as(&mut self) {
        for ((file, column), read) in std::mem::take(&mut self.read_as) {
            let ReadAs { row, text, meant, cells } = read;
            let more = match cells - 1 {
                0 => String::new(),
                1 => " and 1 more cell".to_string(),
                many => format!(" and {many} more cells"),
            };
            self.warn(&file, format!("row {row}, column {column}: \"{text}\" is read as {meant}{more}"));
        }
    }

    /// Everything so far as an error.
    pub fn into_error(mut self) -> JobError {
        self.tell_read_as();
        JobError::Faults { faults: self.faults, warnings: self.warnings }
    }
}
