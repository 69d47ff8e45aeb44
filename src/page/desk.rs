//! What a server knows beside the files of the job: the search that runs, changes that can be undone, the yard.

use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::changes::Changes;
use super::refusal::Answer;
use super::search::Run;
use super::stack::Yard;
use crate::intake::{Place, folder_of, read_job_as_it_is, read_job_despite_bad_prices};
use crate::job::{Job, JobError};
use crate::rack::{Ledger, RackError};
use crate::report::PLAN_FOLDER;
use crate::solve::Options;

/// A job that is being worked at.
#[derive(Debug)]
pub struct Desk {
    job: PathBuf,
    options: Options,
    run: Mutex<Run>,
    changes: Mutex<Changes>,
    yard: Mutex<Yard>,
}

/// A value behind a lock. Every change of one is whole before anything can fail, so one that a panicking thread left
/// is a good one.
fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Desk {
    /// Opens a job.
    ///
    /// # Errors
    /// If there is none.
    pub fn open(job: &Path, options: Options) -> std::io::Result<Desk> {
        Place::open(job)?;
        let (run, changes, yard) = Default::default();
        Ok(Desk { job: job.to_path_buf(), options, run, changes, yard })
    }

    /// The job's folder or workbook.
    pub fn job_path(&self) -> &Path {
        &self.job
    }

    /// Where the job's tables are.
    pub fn place(&self) -> std::io::Result<Place> {
        Place::open(&self.job)
    }

    /// The folder that the job's files lie in, or its workbook.
    pub fn folder(&self) -> PathBuf {
        folder_of(&self.job)
    }

    /// Is the job a workbook, whose tables are changed there?
    pub fn is_workbook(&self) -> bool {
        self.job.is_file()
    }

    /// The plan's folder: the same as the command line's.
    pub fn plan_folder(&self) -> PathBuf {
        self.folder().join(PLAN_FOLDER)
    }

    /// The folder of the yard.
    pub fn yard_folder(&self) -> PathBuf {
        self.folder().join("yard")
    }

    /// The job as it stands.
    ///
    /// # Errors
    /// Every fault of its files.
    pub fn job(&self) -> Result<Job, JobError> {
        read_job_as_it_is(&self.job)
    }

    /// The job without the rows of price sheets that cannot be read.
    ///
    /// # Errors
    /// Every other fault, or a rack that is older than its ledger.
    pub fn job_despite_bad_prices(&self) -> Answer<Job> {
        self.rack_is_told()?;
        Ok(read_job_despite_bad_prices(&self.job)?.0)
    }

    /// Is `rack.csv` as new as the rack's ledger?
    ///
    /// # Errors
    /// If it is older, and must not be planned with.
    pub fn rack_is_told(&self) -> Result<(), RackError> {
        Ledger::tells_the_last_movement(&self.folder())
    }

    /// Threads, seed and solver of a search.
    pub fn options(&self) -> Options {
        self.options.clone()
    }

    /// The search.
    pub fn run(&self) -> MutexGuard<'_, Run> {
        held(&self.run)
    }

    /// What can be undone. While it is held, no other request changes a file.
    pub fn changes(&self) -> MutexGuard<'_, Changes> {
        held(&self.changes)
    }

    /// The yard.
    pub fn yard(&self) -> MutexGuard<'_, Yard> {
        held(&self.yard)
    }

    /// Ends what runs.
    pub fn stop(&self) {
        self.run().stop();
        self.yard().stop();
    }
}
