//! Which price lines a row of the plan means.

use super::exact;
use crate::document::BuyEntry;
use crate::index::LineIndex;
use crate::job::{Job, PriceLine};
use crate::measure::Money;
use crate::trade::{Grade, Quarter};

/// The price line that a row names, if the job has it.
pub fn price_line(entry: &BuyEntry, job: &Job) -> Option<LineIndex> {
    let unit = job.shop.unit;
    let price = Money::parse(&entry.price).ok()?;
    job.lines.position(|line| {
        job.suppliers[line.supplier].name == entry.supplier
            && line.species == entry.species
            && Quarter::parse(&entry.quarter) == Some(line.quarter)
            && Grade::parse(&entry.grade) == Some(line.grade)
            && exact(entry.width, unit) == line.width
            && exact(entry.length, unit) == line.length
            && line.price == price
            && line.per.name() == entry.per
    })
}

/// Boards to be had of all lines that a row of the plan may mean; none where there is no limit.
pub fn available(line: &PriceLine, job: &Job) -> Option<u64> {
    let meant = |other: &&PriceLine| {
        let sizes = |line: &PriceLine| (line.quarter, line.grade, line.width, line.length);
        (line.supplier, &line.species, sizes(line), line.price, line.per)
            == (other.supplier, &other.species, sizes(other), other.price, other.per)
    };
    let alike = job.lines.iter().filter(meant).map(|line| line.available);
    alike.sum::<Option<u64>>()
}
