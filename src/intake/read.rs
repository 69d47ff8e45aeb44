//! The reading of a whole job.

use std::path::Path;

use super::log::Log;
use super::names::Names;
use super::orders::read_orders;
use super::parts::read_parts;
use super::place::Place;
use super::prices::read_suppliers;
use super::rack::{read_rack, read_seen};
use super::rolls::read_rolls;
use super::shop::read_shop;
use super::source::Source;
use super::work::read_work;
use crate::job::{DRAWS, Draft, EdgingRoll, Fault, FaultKind, Job, JobError, ProductPart, RackBoard, Shop};

/// Reads and validates a job folder.
///
/// # Errors
/// Every fault of every file at once, or the parts that no stock line and no rack board can yield.
pub fn read_job(folder: &Path) -> Result<Job, JobError> {
    let job = read_job_as_it_is(folder)?;
    let shortfalls = job.shortfalls();
    if shortfalls.is_empty() { Ok(job) } else { Err(JobError::Unobtainable(shortfalls)) }
}

/// Reads and validates a job folder; parts that nothing on offer can yield are left for the plan to say.
///
/// # Errors
/// Every fault of every file at once.
pub fn read_job_as_it_is(folder: &Path) -> Result<Job, JobError> {
    read(folder, &mut Log::default(), &|_| false)
}

/// Reads a job folder for a comparison: a bad row of a price sheet leaves out that row and nothing
/// else, and what cannot be had is left for the comparison to say. Gives the faults that were left out.
///
/// # Errors
/// Every fault of every other file at once.
pub fn read_job_despite_bad_prices(folder: &Path) -> Result<(Job, Vec<Fault>), JobError> {
    let mut log = Log::default();
    let job = read(folder, &mut log, &|fault| fault.file.starts_with("prices/"))?;
    Ok((job, log.faults))
}

/// Reads a job folder for a plan of what can be read: a row with a fault is left out, and the job tells which.
///
/// # Errors
/// Every fault that is not of one row, and every one where the rest is no job.
pub fn read_job_despite_bad_rows(folder: &Path) -> Result<Job, JobError> {
    let mut log = Log::default();
    let mut job = read(folder, &mut log, &Fault::is_of_a_row)?;
    // A plan of nothing would say that nothing need be bought.
    if !log.faults.is_empty() && job.parts.iter().all(|part| part.required == 0) {
        return Err(JobError::Faults { faults: log.faults, warnings: job.warnings });
    }
    job.left_out = log.faults;
    Ok(job)
}

/// Reads a job; faults that are `borne` stay in the log.
fn read(folder: &Path, log: &mut Log, borne: &dyn Fn(&Fault) -> bool) -> Result<Job, JobError> {
    let (source, shop) = open(folder, log)?;
    let mut draft = read_stock(&source, shop, log);
    let described = Names::of(draft.parts.iter().map(|part| part.product.as_str()));
    draft.orders = read_orders(&source, &described, &draft.shop.statuses, log);
    // What can be said of the whole is said beside what is wrong with single rows.
    let whole = Job::try_new(draft.clone());
    let faults = match &whole {
        Err(JobError::Faults { faults, .. }) => faults.clone(),
        _ => Vec::new(),
    };
    for fault in faults {
        let told = |known: &Fault| {
            (&known.file, known.row, &known.column) == (&fault.file, fault.row, &fault.column)
        };
        if !log.faults.iter().any(told) {
            log.faults.push(fault);
        }
    }
    end(&draft, log, borne)?;
    let mut job = whole.map_err(|error| match error {
        JobError::Faults { .. } => std::mem::take(log).into_error(),
        other => other,
    })?;
    if let Some(file) = &job.shop.wood.seen {
        let few = job.lines.iter().filter(|line| line.seen.len() < DRAWS).count();
        if few > 0 {
            let lines = job.lines.len();
            let text = format!(
                "fewer than {DRAWS} boards such as {few} of {lines} price lines sell are in it: the others are drawn by \
                 grade"
            );
            log.warn(file, text);
        }
    }
    warn_of_rolls(&draft, log);
    log.tell_read_as();
    job.warnings = std::mem::take(&mut log.warnings);
    Ok(job)
}

/// Rolls of edging that cover no edge of any part are a typing error more often than not.
fn warn_of_rolls(draft: &Draft, log: &mut Log) {
    let covers = |roll: &EdgingRoll, part: &ProductPart| {
        let mut edges = part.sheet.iter().flat_map(|sheet| sheet.edges.lengths(part.length, part.width));
        edges.any(|(thickness, _)| roll.covers(&part.species, part.thickness, thickness))
    };
    for roll in &draft.rolls {
        if !draft.parts.iter().any(|part| covers(roll, part)) {
            let [sheet, thickness] =
                [roll.sheet, roll.thickness].map(|size| size.display(draft.shop.unit).to_string());
            let text = format!(
                "no part has an edge of {thickness} on {sheet} {}: the roll is left out",
                roll.species
            );
            log.warn("edging.csv", text);
        }
    }
}

/// Reads the shop and the rack of a job's folder, and nothing else.
///
/// # Errors
/// Every fault of both files at once.
pub fn read_rack_of(folder: &Path) -> Result<(Shop, Vec<RackBoard>), JobError> {
    let mut log = Log::default();
    let (source, shop) = open(folder, &mut log)?;
    let rack = read_rack(&source, &shop, &mut log);
    if log.faults.is_empty() { Ok((shop, rack)) } else { Err(log.into_error()) }
}

/// Opens a job: where its tables are, and the shop's settings.
pub fn open(folder: &Path, log: &mut Log) -> Result<(Place, Shop), JobError> {
    let failed =
        |error: std::io::Error| JobError::Folder { path: folder.to_path_buf(), why: error.to_string() };
    let place = Place::open(folder).map_err(failed)?;
    let shop = read_shop(&place, log);
    Ok((place, shop))
}

/// Reads everything of a job but its orders.
pub fn read_stock(source: &dyn Source, shop: Shop, log: &mut Log) -> Draft {
    let parts = read_parts(source, &shop, log);
    let (suppliers, lines) = read_suppliers(source, &shop, log);
    let rack = read_rack(source, &shop, log);
    let work = read_work(source, &shop, &parts, log);
    let seen = shop.wood.seen.clone().map(|file| read_seen(source, &file, &shop, log)).unwrap_or_default();
    let rolls = read_rolls(source, &shop, log);
    Draft { shop, orders: Vec::new(), parts, suppliers, lines, rack, seen, work, rolls }
}

/// Ends the reading of a job: faults that are not borne are an error.
pub fn end(draft: &Draft, log: &mut Log, borne: &dyn Fn(&Fault) -> bool) -> Result<(), JobError> {
    if draft.suppliers.is_empty() && draft.rack.is_empty() && log.faults.is_empty() {
        let what = "there is no price sheet in prices/ and no rack.csv: nothing to cut from".to_string();
        log.fault("prices", None, None, FaultKind::Empty(what));
    }
    if log.faults.iter().any(|fault| !borne(fault)) {
        return Err(std::mem::take(log).into_error());
    }
    Ok(())
}
