//! The reading of a whole job folder.

use std::path::Path;

use super::model::{Job, Part, PriceLine, RackBoard, Shop, Supplier, WorkAfter};
use super::orders::PartRow;
use super::table::Log;
use super::{Fault, FaultKind, JobError, glue, orders, prices, rack, shop, work, yieldable};
use crate::measure::Length;

/// Longest board that is read. No tree gives it; one-dimensional benchmark sets with capacities of
/// thousands of units do use such lengths, and a 900-ft board is refused.
pub const MAX_BOARD_LENGTH: Length = Length::inches(10_000);
/// Widest board that is read.
pub const MAX_BOARD_WIDTH: Length = Length::inches(1_000);
/// Longest part that is read.
pub const MAX_PART_LENGTH: Length = MAX_BOARD_LENGTH;
/// Widest part that is read.
pub const MAX_PART_WIDTH: Length = MAX_BOARD_WIDTH;

/// Reads and validates a job folder.
///
/// # Errors
/// Every fault of every file at once, or the parts that no stock line and no rack board can yield.
pub fn read_job(folder: &Path) -> Result<Job, JobError> {
    let mut log = Log::default();
    let job = read(folder, &mut log, &|_| false)?;
    let shortfalls = yieldable::shortfalls(&job);
    if shortfalls.is_empty() { Ok(job) } else { Err(JobError::Unobtainable(shortfalls)) }
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

/// Reads a job; faults that are `borne` stay in the log.
fn read(folder: &Path, log: &mut Log, borne: &dyn Fn(&Fault) -> bool) -> Result<Job, JobError> {
    let shop = open(folder, log)?;
    let orders = orders::read_orders(folder, log);
    let stock = read_stock(folder, shop, log);
    let parts = orders::demanded_parts(&orders, stock.parts, log);
    within_limits(&parts, &stock.lines, &stock.rack, log);
    end(&stock.suppliers, &stock.rack, log, borne)?;
    let orders = orders.into_iter().map(|(_, order)| order).collect();
    let warnings = std::mem::take(&mut log.warnings);
    let Stock { shop, suppliers, lines, rack, work, .. } = stock;
    let mut job = Job { shop, orders, parts, suppliers, lines, rack, work, warnings };
    glue::glue_what_no_board_gives(&mut job);
    Ok(job)
}

/// Parts, price lines or rack boards that one plan takes at most: each is a row or a table of the solver,
/// whose memory goes with their square.
const MOST_AT_ONCE: usize = 20_000;

/// A job larger than one plan can be is told before it fills the memory.
pub fn within_limits(parts: &[Part], lines: &[PriceLine], rack: &[RackBoard], log: &mut Log) {
    for (file, count, name, instead) in [
        ("parts.csv", parts.len(), "different parts ordered", "order fewer products at a time"),
        ("prices", lines.len(), "price lines", "leave out classes or dealers that no part needs"),
        ("rack.csv", rack.len(), "boards", "leave out the boards that no part needs"),
    ] {
        if count > MOST_AT_ONCE {
            let what = format!("{count} {name} are more than one plan can take");
            let kind = FaultKind::TooMany { what, most: MOST_AT_ONCE, instead: instead.to_string() };
            log.fault(file, None, None, kind);
        }
    }
}

/// Reads the shop and the rack of a job's folder, and nothing else.
///
/// # Errors
/// Every fault of both files at once.
pub fn read_rack_of(folder: &Path) -> Result<(Shop, Vec<RackBoard>), JobError> {
    let mut log = Log::default();
    let shop = open(folder, &mut log)?;
    let rack = rack::read_rack(folder, &shop, &mut log);
    if log.faults.is_empty() {
        Ok((shop, rack))
    } else {
        Err(JobError::Faults { faults: log.faults, warnings: log.warnings })
    }
}

/// Everything of a job but its orders, as read.
pub struct Stock {
    pub shop: Shop,
    pub parts: Vec<PartRow>,
    pub suppliers: Vec<Supplier>,
    pub lines: Vec<PriceLine>,
    pub rack: Vec<RackBoard>,
    pub work: WorkAfter,
}

/// Opens a job folder: the shop's settings.
pub fn open(folder: &Path, log: &mut Log) -> Result<Shop, JobError> {
    if let Err(error) = std::fs::read_dir(folder) {
        return Err(JobError::Folder { path: folder.to_path_buf(), why: error.to_string() });
    }
    Ok(shop::read_shop(folder, log))
}

/// Reads parts, prices, rack and the work after the saw.
pub fn read_stock(folder: &Path, shop: Shop, log: &mut Log) -> Stock {
    let parts = orders::read_parts(folder, &shop, log);
    let (suppliers, lines) = prices::read_suppliers(folder, &shop, log);
    let rack = rack::read_rack(folder, &shop, log);
    let work = work::read_work(folder, &shop, &parts, log);
    Stock { shop, parts, suppliers, lines, rack, work }
}

/// Ends the reading of a folder: faults that are not borne are an error.
pub fn end(
    suppliers: &[Supplier],
    rack: &[RackBoard],
    log: &mut Log,
    borne: &dyn Fn(&Fault) -> bool,
) -> Result<(), JobError> {
    if suppliers.is_empty() && rack.is_empty() && log.faults.is_empty() {
        let what = "there is no price sheet in prices/ and no rack.csv: nothing to cut from".to_string();
        log.fault("prices", None, None, FaultKind::Empty(what));
    }
    if log.faults.iter().any(|fault| !borne(fault)) {
        let (faults, warnings) = (std::mem::take(&mut log.faults), std::mem::take(&mut log.warnings));
        return Err(JobError::Faults { faults, warnings });
    }
    Ok(())
}
