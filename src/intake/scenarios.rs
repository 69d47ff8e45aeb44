//! `scenarios.csv`: what-if changes of a job, one or several rows a scenario.

use std::collections::BTreeMap;
use std::path::Path;

use super::log::Log;
use super::row::{Row, read_size};
use super::shop::WIDEST_KERF;
use super::source::{apart, needed};
use super::table::Columns;
use crate::index::SupplierIndex;
use crate::job::{FaultKind, Job, JobError};
use crate::measure::{Length, Money};
use crate::trade::Quarter;
use crate::trade::same_species;

pub const SCENARIOS: Columns = Columns {
    required: &["scenario"],
    optional: &[
        "price_percent",
        "dealer",
        "species",
        "quarter",
        "kerf",
        "demand_percent",
        "closed",
        "replaced_by",
        "yield_loss_percent",
        "sheet_kerf",
    ],
};

/// One change of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// Prices move by a percentage, of all lines that are meant.
    Price {
        /// Index of the dealer meant; `None` means all.
        dealer: Option<SupplierIndex>,
        /// Species meant.
        species: Option<String>,
        /// Class meant.
        quarter: Option<Quarter>,
        /// The move; it may be below zero.
        percent: Money,
    },
    /// Both kerfs of the saws for lumber.
    Kerf(Length),
    /// The kerf of the saw for sheets.
    SheetKerf(Length),
    /// Pieces wanted move by a percentage.
    Demand(Money),
    /// This percentage of the pieces is lost to defects and cut again.
    YieldLoss(Money),
    /// Nothing is bought from this dealer.
    Closed(SupplierIndex),
    /// Parts of one species are made of another.
    Replaced {
        /// What the parts list says.
        species: String,
        /// What is used instead.
        by: String,
    },
}

/// A scenario as read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScenarioRows {
    /// Its name.
    pub name: String,
    /// Its changes, in the order of the file.
    pub changes: Vec<Change>,
}

/// Reads a file of scenarios for a job. Rows of one name are one scenario.
///
/// # Errors
/// Every fault of the file.
pub fn read_scenarios(file: &Path, job: &Job) -> Result<Vec<ScenarioRows>, JobError> {
    let mut log = Log::default();
    let (folder, name) = apart(file, "scenarios.csv");
    let mut scenarios: Vec<ScenarioRows> = Vec::new();
    let mut places: BTreeMap<String, usize> = BTreeMap::new();
    if let Some(table) = needed(&folder, &name, &SCENARIOS, &mut log) {
        for row in table.rows() {
            let (Some(name), changes) = (row.name("scenario", &mut log), changes(&row, job, &mut log)) else {
                continue;
            };
            let place = *places.entry(name.clone()).or_insert_with(|| {
                scenarios.push(ScenarioRows { name, changes: Vec::new() });
                scenarios.len() - 1
            });
            scenarios[place].changes.extend(changes);
        }
        if scenarios.is_empty() && log.faults.is_empty() {
            log.fault(&name, None, None, FaultKind::Empty("it holds no scenario".to_string()));
        }
    }
    if log.faults.is_empty() { Ok(scenarios) } else { Err(log.into_error()) }
}

fn changes(row: &Row<'_>, job: &Job, log: &mut Log) -> Vec<Change> {
    let mut changes = Vec::new();
    let before = log.faults.len();
    let known = |species: &str| {
        job.parts
            .iter()
            .map(|part| &part.species)
            .chain(job.lines.iter().map(|line| &line.species))
            .any(|other| same_species(species, other))
    };
    let mut species = None;
    for column in ["species", "replaced_by"] {
        let text = row.cell(column);
        if !text.is_empty() && !known(text) {
            row.bad::<()>(column, "a species of parts.csv or of a price sheet", None, log);
        }
        if column == "species" && !text.is_empty() {
            species = Some(text.to_string());
        }
    }
    let dealer = dealer(row, "dealer", job, log);
    let quarter = match row.cell("quarter") {
        "" => None,
        _ => row.quarter(job.shop.unit, log),
    };
    if let Some(percent) = percent(row, "price_percent", -99, 1000, log) {
        changes.push(Change::Price { dealer, species: species.clone(), quarter, percent });
    }
    for column in ["kerf", "sheet_kerf"].into_iter().filter(|column| !row.cell(column).is_empty()) {
        match read_size(row.cell(column), job.shop.unit, WIDEST_KERF) {
            Ok(kerf) if column == "kerf" => changes.push(Change::Kerf(kerf)),
            Ok(kerf) => changes.push(Change::SheetKerf(kerf)),
            Err(why) => {
                row.bad::<()>(column, "a kerf such as 3/32 or 3.2mm", Some(why), log);
            }
        }
    }
    changes.extend(percent(row, "demand_percent", -99, 1000, log).map(Change::Demand));
    changes.extend(percent(row, "yield_loss_percent", 0, 90, log).map(Change::YieldLoss));
    changes.extend(self::dealer(row, "closed", job, log).map(Change::Closed));
    let by = row.cell("replaced_by");
    if !by.is_empty() {
        match species {
            Some(species) => changes.push(Change::Replaced { species, by: by.to_string() }),
            None => {
                row.bad::<()>("species", "the species that is replaced", None, log);
            }
        }
    }
    if changes.is_empty() && log.faults.len() == before {
        let expected = "a change: price_percent, kerf, sheet_kerf, demand_percent, closed, replaced_by or yield_loss_percent";
        row.bad::<()>("scenario", expected, Some("the row changes nothing".to_string()), log);
    }
    changes
}

fn dealer(row: &Row<'_>, column: &str, job: &Job, log: &mut Log) -> Option<SupplierIndex> {
    let name = row.cell(column);
    if name.is_empty() {
        return None;
    }
    let found = job.suppliers.position(|supplier| supplier.name == name);
    if found.is_none() {
        let what = format!("the dealer {name}");
        let expected = "a dealer with a price sheet in prices/".to_string();
        row.fault(column, FaultKind::Unknown { what, expected }, log);
    }
    found
}

fn percent(row: &Row<'_>, column: &str, least: i64, most: i64, log: &mut Log) -> Option<Money> {
    let text = row.cell(column);
    if text.is_empty() {
        return None;
    }
    let plain = text.strip_prefix('+').unwrap_or(text);
    let plain = plain.strip_suffix('%').unwrap_or(plain).trim();
    match Money::parse_signed(plain) {
        Ok(percent) if percent >= Money::cents(least * 100) && percent <= Money::cents(most * 100) => {
            Some(percent)
        }
        _ => row.bad(column, &format!("a percentage from {least} to {most}"), None, log),
    }
}
