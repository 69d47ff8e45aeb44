//! Which price lines a row of the plan means.

use super::exact;
use crate::document::BuyEntry;
use crate::index::LineIndex;
use crate::job::{Job, PriceLine};
use crate::measure::{Area, Length, Money, Unit};
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
            && is_told_of(entry, line, unit)
    })
}

/// Is what the row says beyond the contract's columns so of the line?
fn is_told_of(entry: &BuyEntry, line: &PriceLine, unit: Unit) -> bool {
    let sheet = line.quarter.is_sheet().then_some(&line.sheet);
    let same = |said: Option<f64>, is: Option<Length>| said.is_none_or(|said| is == Some(exact(said, unit)));
    entry.grain.as_deref().is_none_or(|grain| sheet.is_some_and(|sheet| sheet.grain.name() == grain))
        && same(entry.real, sheet.map(|_| line.offered().real_thickness()))
        && same(entry.width_to, line.upper.map(|(_, width)| width))
        && same(entry.length_to, line.upper.map(|(length, _)| length))
        && entry.square_feet.is_none_or(|feet| {
            let area = Area::of(line.length, line.width).square_feet_f64() * entry.boards as f64;
            sheet.is_some() && (feet - area).abs() < AREA_SLACK * area.max(1.0)
        })
}

/// Square feet are written as floats.
const AREA_SLACK: f64 = 1e-9;

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
