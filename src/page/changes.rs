//! What was changed in a session, so that it can be undone.

use crate::intake::version;

/// Changes of a job that can be undone.
const MOST_CHANGES: usize = 200;

/// A change that can be undone.
#[derive(Debug)]
struct CellChange {
    table: String,
    before: Vec<u8>,
    /// The version after it: whoever changed the file since would lose his own change.
    after: String,
}

/// Changes of this session, the last one last.
#[derive(Debug, Default)]
pub struct Changes(Vec<CellChange>);

impl Changes {
    /// How many of a table can be undone.
    pub fn of(&self, table: &str) -> usize {
        self.0.iter().filter(|change| change.table == table).count()
    }

    /// Takes a change in; the oldest one goes where there are many.
    pub fn keep(&mut self, table: &str, before: Vec<u8>, after: &[u8]) {
        if self.0.len() == MOST_CHANGES {
            self.0.remove(0);
        }
        self.0.push(CellChange { table: table.to_string(), before, after: version(after) });
    }

    /// The last change of a table: what the file was before it, and its version after.
    pub fn last(&self, table: &str) -> Option<(&[u8], &str)> {
        let last = self.0.iter().rfind(|change| change.table == table)?;
        Some((&last.before, &last.after))
    }

    /// The last change of a table is undone.
    pub fn forget_last(&mut self, table: &str) {
        if let Some(place) = self.0.iter().rposition(|change| change.table == table) {
            self.0.remove(place);
        }
    }
}
