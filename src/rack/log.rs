//! The history of a rack: every movement that ever was.

use super::error::RackError;
use super::store::Store;
use crate::document::SHORT_KEY;

/// One movement of the history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RackMovement {
    /// Its number.
    pub number: i64,
    /// When, in UTC.
    pub at: String,
    /// `import`, `reserve`, `release`, `commit` or `undo`.
    pub kind: String,
    /// First digits of the plan's SHA-256.
    pub plan: String,
    /// The movement it undoes.
    pub undoes: Option<i64>,
    /// Boards it changed.
    pub boards: u64,
}

impl Store {
    /// Every movement, the first one first.
    ///
    /// # Errors
    /// If the database cannot be read.
    pub fn history(&self) -> Result<Vec<RackMovement>, RackError> {
        let read = || -> rusqlite::Result<Vec<RackMovement>> {
            let mut query = self.database.prepare(
                "SELECT number, at, kind, plan, undoes,
                        (SELECT COUNT(*) FROM (SELECT board FROM changes WHERE movement = number
                                               UNION SELECT board FROM descriptions WHERE movement = number))
                 FROM movements ORDER BY number",
            )?;
            let rows = query.query_map([], |row| {
                let plan: Option<String> = row.get(3)?;
                Ok(RackMovement {
                    number: row.get(0)?,
                    at: row.get(1)?,
                    kind: row.get(2)?,
                    plan: plan.unwrap_or_default().chars().take(SHORT_KEY).collect(),
                    undoes: row.get(4)?,
                    boards: row.get::<_, i64>(5)?.unsigned_abs(),
                })
            })?;
            rows.collect()
        };
        read().map_err(self.failed())
    }
}
