//! The unattended run: an order book in, whole and checked results out, or a clear reason.
//!
//! What lives here: the grouping of a book by week, the batching of weeks, the reuse of what was planned
//! before, and the publishing of a run so that a reader sees a whole one. What never does: a plan's
//! figures, which come from `plan`, and the clock, except where the record of a run says when it was.

mod batch;
mod capacity;
mod changes;
mod key;
mod leaves;
mod on_hand;
mod place;
mod planned;
mod record;
mod released;
mod stage;
mod status;
mod units;
mod week;
mod weeks;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::Instant;

use jiff::civil::Date;

pub use batch::Batch;
pub use capacity::MovedEarly;
pub use place::{PlaceError, note_attempt};
pub use record::{Night, NightEnded, line_of_failure};
pub use released::{NamedWeek, PublishedBatch, ReleasedWeek, recall, release, released};
pub use stage::Stage;
pub use status::{NightsStatus, status};
pub use units::{JoinError, join, result_of, split};
pub use week::Week;

use planned::Run;

use crate::intake::{Base, Book, BookRow, Reject, SpokenFor, read_base, read_book};
use crate::job::{JobError, MOST_AT_ONCE};
use crate::report::{RenderError, WriteError};
use crate::solve::Options;

/// What a run is asked for.
#[derive(Debug, Clone)]
pub struct Asked {
    /// The job folder: shop, parts, prices, rack.
    pub job: PathBuf,
    /// The order book.
    pub book: PathBuf,
    /// Where runs are published.
    pub out: PathBuf,
    /// Orders due later are not planned.
    pub until: Option<Date>,
    /// Any bad row stops the run.
    pub strict: bool,
    /// At most so many weeks early is anything cut to be in a batch with an earlier week.
    pub early_weeks: u32,
    /// What wood that is cut early costs, in percent of its price a year.
    pub carry_percent: f64,
    /// Plans that time stopped are tried again, and weeks are joined anew; else what was published stays.
    pub improve: bool,
    /// Rows that must be planned for a run to be published.
    pub at_least: u64,
    /// Percent of the last run's rows by which they may be fewer.
    pub largest_drop: f64,
    /// Older runs that are kept beside the latest.
    pub keep_runs: usize,
    /// Percent of fresh lots of boards not yet seen that must give every part; none are tried where it is 0.
    pub confidence_percent: f64,
}

/// Why a run published nothing. The last one is still there, whole.
#[derive(Debug, thiserror::Error)]
pub enum NightlyError {
    /// The job or the book cannot be read.
    #[error(transparent)]
    Job(#[from] JobError),
    /// Rows that are no orders, and the run is strict.
    #[error("{} row{} of the order book cannot be planned and the run is strict; the first: row {}, {}: {}", .0, if *.0 == 1 { "" } else { "s" }, .1.row, .1.column, .1.reason)]
    Strict(u64, Box<Reject>),
    /// Far fewer rows than a book has.
    #[error("{planned} row{} of the order book can be planned, {why}: nothing was published, and the last run stays", if *.planned == 1 { "" } else { "s" })]
    TooFew {
        /// Rows that can be planned.
        planned: u64,
        /// What was expected.
        why: String,
    },
    /// The last published run has no such week.
    #[error("the last published run has no plan for the week of {named} ({})", if weeks.is_empty() { "it has none".to_string() } else { format!("it has {weeks}") })]
    NoSuchWeek {
        /// The week that was asked for.
        named: NamedWeek,
        /// The weeks that it has.
        weeks: String,
    },
    /// The week is released already.
    #[error("the week of {0} is released already; --recall takes that back")]
    ReleasedAlready(NamedWeek),
    /// The week is not released.
    #[error("the week of {named} is not released ({})", if weeks.is_empty() { "none is".to_string() } else { format!("released are {weeks}") })]
    NotReleased {
        /// The week that was asked for.
        named: NamedWeek,
        /// The weeks that are.
        weeks: String,
    },
    /// A week that is not released leaves what the one to be released takes.
    #[error(
        "the week of {named} takes boards that the week of {other} leaves: release the week of {other} first"
    )]
    TakesLeftovers {
        /// The week that was asked for.
        named: NamedWeek,
        /// The other one.
        other: String,
    },
    /// A week that is released takes what the one to be recalled leaves.
    #[error(
        "the week of {named} leaves boards that the week of {other} takes: recall the week of {other} first"
    )]
    LeftoversTaken {
        /// The week that was asked for.
        named: NamedWeek,
        /// The other one.
        other: String,
    },
    /// The rack's ledger refuses.
    #[error("the week of {named} stays as it is: {why}")]
    NotPromised {
        /// The week that was asked for.
        named: NamedWeek,
        /// The ledger's reason.
        why: String,
    },
    /// The plan of the week is not kept as it was made.
    #[error("the plan for the week of {0} is not kept as it was made: run the night again, then release it")]
    NotKept(NamedWeek),
    /// The output folder.
    #[error(transparent)]
    Place(#[from] PlaceError),
    /// A file could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// A report could not be made.
    #[error(transparent)]
    Render(#[from] RenderError),
    /// No plan, for want of threads or of exact numbers.
    #[error(transparent)]
    Solve(#[from] crate::solve::SolveError),
}

/// Plans what an order book asks for and publishes it.
///
/// # Errors
/// If nothing could be published; what was published before is untouched.
pub fn run(asked: &Asked, options: &Options, stages: &(dyn Fn(Stage) + Sync)) -> Result<Night, NightlyError> {
    let start = Instant::now();
    let place = place::OutFolder::open(&asked.out)?;
    let mut base = read_base(&asked.job)?;
    let released = released::released(&asked.out)?;
    let mut spoken_for = released::spoken_for(&released);
    let fresh = place.fresh_run()?;
    let book = read_into(&fresh, asked, &base, &mut spoken_for)?;
    let (released, done) = released::open_and_done(released, &spoken_for);
    let rack = base.rack().to_vec();
    base.set_aside(&released.iter().flat_map(|week| week.boards.iter().cloned()).collect());
    let read = start.elapsed();
    is_enough(&book, asked)?;
    let weeks: Vec<Week> = weeks(&book, &base);
    let Book { rows, planned, rejected, .. } = book;
    stages(Stage::Read { rows, planned, rejected, weeks: weeks.len() });
    let mut batches = released::as_batches(&released, base.shop(), rack, &place);
    let run = Run { base: &base, place: &place, options, asked, making_files: Mutex::new(()) };
    let (planned, moved) = weeks::plan(&run, weeks, &batches, stages)?;
    batches.extend(planned);
    // Of one week, what is released comes before what was ordered since.
    batches.sort_by_key(|batch| batch.week.first);
    stages(Stage::Joined { batches: batches.len() });
    let night = Night::of(asked, (&base, &place), &book, batches, moved, options);
    record::write(&night, &fresh, &place, (start, read))?;
    place.publish(&fresh, &night.name(), asked.keep_runs)?;
    for week in &done {
        released::forget(&place, week)?;
    }
    stages(Stage::Published { run: night.name() });
    Ok(night)
}

/// A book that is suddenly empty, or much shorter than the night before, is a mistake more often than not.
fn is_enough(book: &Book, asked: &Asked) -> Result<(), NightlyError> {
    let few = |why: String| NightlyError::TooFew { planned: book.planned, why };
    if book.planned < asked.at_least {
        return Err(few(format!("and --at-least asks for {}", asked.at_least)));
    }
    let Some(before) = record::rows_planned_before(&asked.out) else { return Ok(()) };
    let least = before as f64 * (1.0 - asked.largest_drop / 100.0);
    if (book.planned as f64) < least {
        let drop = asked.largest_drop;
        return Err(few(format!("the last run had {before}, and --largest-drop allows {drop} % fewer")));
    }
    Ok(())
}

/// Reads the book; what cannot be planned goes to `rejects.csv` in `folder`.
fn read_into(
    folder: &Path,
    asked: &Asked,
    base: &Base,
    spoken_for: &mut SpokenFor,
) -> Result<Book, NightlyError> {
    let mut rejects = record::Rejects::create(folder)?;
    for fault in &base.left_out {
        rejects.fault(fault)?;
    }
    let mut first: Option<Reject> = None;
    let mut failed: Option<NightlyError> = None;
    let book = read_book(&asked.book, base, asked.until, spoken_for, &mut |row| {
        let BookRow::Rejected(reject) = row else { return };
        first.get_or_insert_with(|| reject.clone());
        if let Err(error) = rejects.row(reject) {
            failed.get_or_insert(error.into());
        }
    })?;
    if let Some(error) = failed {
        return Err(error);
    }
    if let (true, Some(first)) = (asked.strict, first) {
        return Err(NightlyError::Strict(book.rejected, Box::new(first)));
    }
    rejects.finish()?;
    Ok(book)
}

/// The weeks of a book, the earliest first. What is wanted without a date is wanted with the first. A week of more parts
/// than one plan takes is several.
fn weeks(book: &Book, base: &Base) -> Vec<Week> {
    let mut weeks: Vec<Week> = Vec::new();
    let undated: BTreeMap<String, u64> = book.demand.get(&None).cloned().unwrap_or_default();
    for (monday, products) in book.demand.iter().filter(|(monday, _)| monday.is_some()) {
        weeks.push(Week { first: *monday, last: *monday, products: products.clone() });
    }
    if !undated.is_empty() {
        match weeks.first_mut() {
            Some(first) => week::add(&mut first.products, &undated),
            None => weeks.push(Week { first: None, last: None, products: undated }),
        }
    }
    let parts = base.parts_of_products();
    weeks.into_iter().flat_map(|week| week.split(&parts, MOST_AT_ONCE)).collect()
}

/// Where the last published run is.
pub fn latest(out: &Path) -> PathBuf {
    out.join(place::LATEST)
}
