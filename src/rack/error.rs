//! Why a movement of the rack did not come about.

use std::path::PathBuf;

use crate::job::JobError;
use crate::report::{RenderError, WriteError};

/// Why the ledger did not move.
#[derive(Debug, thiserror::Error)]
pub enum RackError {
    /// The job's files.
    #[error(transparent)]
    Job(#[from] JobError),
    /// The database.
    #[error("{path} cannot be used: {why}", path = path.display())]
    Database {
        /// The file.
        path: PathBuf,
        /// Why.
        why: rusqlite::Error,
    },
    /// `rack.csv` could not be written after the movement.
    #[error("the movement is kept, but {0}; `ripwright rack export` writes it again")]
    Write(#[from] WriteError),
    /// `rack.csv` could not be made after the movement.
    #[error("the movement is kept, but {0}")]
    Render(#[from] RenderError),
    /// The tally of boards seen could not be added to.
    #[error("the movement is kept, but {} cannot be added to: {why}", path.display())]
    Tally {
        /// The file.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// The ledger was written by a later program.
    #[error("{} is a ledger of a later version of this program: it is not touched", .0.display())]
    Newer(PathBuf),
    /// `rack.csv` is older than the ledger.
    #[error("{}/rack.csv is older than the last movement of its ledger: `ripwright rack export` writes it again", .0.display())]
    Stale(PathBuf),
    /// Every board of the rack would be gone.
    #[error("nothing was changed: {0}; if the rack is empty, --allow-empty says so")]
    WouldEmpty(String),
    /// A copy of the ledger would lie over a file.
    #[error("{} is there already: name a new file for the copy", .0.display())]
    IsThere(PathBuf),
    /// There is no ledger yet.
    #[error("{} has no rack ledger: begin one with `ripwright rack import`", .0.display())]
    NoLedger(PathBuf),
    /// Boards that are not there, or promised to another plan.
    #[error("nothing was changed: {}", .0.join("; "))]
    NotFree(Vec<String>),
    /// The plan was committed before.
    #[error("nothing was changed: this plan was committed before, by movement {0}")]
    Committed(i64),
    /// Nothing to undo.
    #[error("nothing was changed: there is no movement left to undo")]
    NothingToUndo,
    /// Boards that the movement put on the rack are in use.
    #[error("movement {0} cannot be undone: {1} has been used or promised since")]
    InUse(i64, String),
    /// A plan that does not fit the rack.
    #[error("nothing was changed: {0}")]
    Plan(String),
}

/// Why a transaction is rolled back.
pub enum Refused {
    Rack(RackError),
    Database(rusqlite::Error),
}

impl From<rusqlite::Error> for Refused {
    fn from(error: rusqlite::Error) -> Refused {
        Refused::Database(error)
    }
}
