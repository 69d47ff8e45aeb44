//! The reading of a whole job folder.

use std::path::Path;

use super::model::Job;
use super::table::Log;
use super::{FaultKind, JobError, orders, prices, rack, shop, yieldable};
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
    if let Err(error) = std::fs::read_dir(folder) {
        return Err(JobError::Folder { path: folder.to_path_buf(), why: error.to_string() });
    }
    let mut log = Log::default();
    let shop = shop::read_shop(folder, &mut log);
    let orders = orders::read_orders(folder, &mut log);
    let part_rows = orders::read_parts(folder, &shop, &mut log);
    let (suppliers, lines) = prices::read_suppliers(folder, &shop, &mut log);
    let rack = rack::read_rack(folder, &shop, &mut log);
    let parts = orders::demanded_parts(&orders, part_rows, &mut log);
    if suppliers.is_empty() && rack.is_empty() && log.faults.is_empty() {
        let what = "there is no price sheet in prices/ and no rack.csv: nothing to cut from".to_string();
        log.fault("prices", None, None, FaultKind::Empty(what));
    }
    if !log.faults.is_empty() {
        return Err(JobError::Faults { faults: log.faults, warnings: log.warnings });
    }
    let orders = orders.into_iter().map(|(_, order)| order).collect();
    let job = Job { shop, orders, parts, suppliers, lines, rack, warnings: log.warnings };
    let shortfalls = yieldable::shortfalls(&job);
    if shortfalls.is_empty() { Ok(job) } else { Err(JobError::Unobtainable(shortfalls)) }
}
