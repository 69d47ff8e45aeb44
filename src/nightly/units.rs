//! An order book split into units that machines can plan apart, and their results joined.
//!
//! A unit is a job folder of one week. Whatever runs the units (a queue, a task farm, a loop in a shell)
//! calls `ripwright solve` on each; the results are those of one machine that plans the weeks apart.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::{Asked, NightlyError, read_into, weeks};
use crate::check::check;
use crate::document::Document;
use crate::intake::{SpokenFor, read_base, read_job_despite_bad_prices};
use crate::measure::Money;
use crate::report::{WriteError, write_file};

/// Files of a job that every unit needs.
const SHARED: [&str; 7] =
    ["shop.toml", "parts.csv", "suppliers.csv", "breaks.csv", "holes.csv", "finish.csv", "edging.csv"];
/// Folder of a unit's result within the folder of all units.
const RESULTS: &str = "results";
/// Names of the units, beside them.
const LIST: &str = "units.json";
const LIST_FORMAT: &str = "ripwright-units/1";

/// Why units could not be joined.
#[derive(Debug, thiserror::Error)]
pub enum JoinError {
    /// Results that are not there, or not whole.
    #[error("{} unit{} of {} without a whole result: {}", .0.len(), if .0.len() == 1 { " is" } else { "s are" }, .1, .0.join(", "))]
    Missing(Vec<String>, usize),
    /// Results that are not those of their units: altered, or of an earlier split.
    #[error("these results do not pass the check against their units:\n{}", .0.iter().map(|one| format!("  {one}")).collect::<Vec<_>>().join("\n"))]
    Unsound(Vec<String>),
    /// There are no units.
    #[error("{} holds no unit: it is made by `ripwright split`", .0.display())]
    NoUnits(PathBuf),
    /// The summary could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
}

/// Splits a book into one job folder a week; gives the units' folders. Rows that cannot be planned go
/// to `rejects.csv` beside them.
///
/// # Errors
/// If the job or the book cannot be read, or a folder cannot be written.
pub fn split(asked: &Asked) -> Result<Vec<PathBuf>, NightlyError> {
    let base = read_base(&asked.job)?;
    std::fs::create_dir_all(&asked.out).map_err(|why| WriteError { path: asked.out.clone(), why })?;
    let book = read_into(&asked.out, asked, &base, &mut SpokenFor::default())?;
    let mut units = Vec::new();
    for (number, week) in weeks(&book, &base).into_iter().enumerate() {
        let name = format!("unit-{:03}", number + 1);
        let mut orders = "order,product,quantity,due\n".to_string();
        for (product, quantity) in &week.products {
            let quoted = format!("\"{}\"", product.replace('"', "\"\""));
            let due = week.first.map_or(String::new(), |day| day.to_string());
            orders.push_str(&format!("{quoted},{quoted},{quantity},{due}\n"));
        }
        write_file(&asked.out, &format!("{name}/orders.csv"), orders.as_bytes())?;
        // The rack serves the first week, as at night.
        let rack = (number == 0).then_some("rack.csv");
        let seen = base.shop().wood.seen.as_deref();
        for file in SHARED.into_iter().chain(rack).chain(seen) {
            copy(&asked.job, &asked.out, &name, file)?;
        }
        for sheet in sheets(&asked.job) {
            copy(&asked.job, &asked.out, &name, &format!("prices/{sheet}"))?;
        }
        units.push(name);
    }
    // An earlier split of more weeks may have left folders behind: they are no units of this one.
    let list = json!({ "format": LIST_FORMAT, "units": units });
    write_file(&asked.out, LIST, format!("{list:#}\n").as_bytes())?;
    Ok(units.iter().map(|name| asked.out.join(name)).collect())
}

/// The units of the last split.
fn listed(folder: &Path) -> Option<Vec<String>> {
    let list: serde_json::Value = serde_json::from_slice(&std::fs::read(folder.join(LIST)).ok()?).ok()?;
    let names = list.get("units")?.as_array()?.iter().map(|name| name.as_str().map(str::to_string));
    let names: Option<Vec<String>> = names.collect();
    // A name is a folder of this one and of no other.
    names.filter(|names| names.iter().all(|name| name.starts_with("unit-") && !name.contains(['/', '\\'])))
}

fn sheets(job: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(job.join("prices")).into_iter().flatten().flatten();
    let names = entries.filter_map(|entry| entry.file_name().into_string().ok());
    let mut names: Vec<String> = names.filter(|name| name.to_ascii_lowercase().ends_with(".csv")).collect();
    names.sort();
    names
}

fn copy(job: &Path, out: &Path, unit: &str, file: &str) -> Result<(), WriteError> {
    match std::fs::read(job.join(file)) {
        Ok(content) => write_file(out, &format!("{unit}/{file}"), &content),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(why) => Err(WriteError { path: job.join(file), why }),
    }
}

/// Where the result of a unit goes if it is to be joined.
pub fn result_of(unit: &Path) -> PathBuf {
    let name = unit.file_name().unwrap_or_default();
    unit.parent().unwrap_or(Path::new(".")).join(RESULTS).join(name)
}

/// Joins the results of all units of a folder into `joined.json`; gives its text. Each result is checked against its
/// unit first.
///
/// # Errors
/// If a unit has no result yet, a result does not pass the check, or the summary cannot be written.
pub fn join(folder: &Path) -> Result<String, JoinError> {
    let units = listed(folder).unwrap_or_default();
    if units.is_empty() {
        return Err(JoinError::NoUnits(folder.to_path_buf()));
    }
    let mut missing = Vec::new();
    let mut unsound = Vec::new();
    let mut rows = Vec::new();
    let (mut total, mut worst) = (Money::ZERO, 0.0f64);
    for unit in &units {
        let path = folder.join(RESULTS).join(unit).join("plan.json");
        let read = std::fs::read(path).ok().and_then(|text| serde_json::from_slice::<Document>(&text).ok());
        let cost = read.as_ref().and_then(|document| Money::parse_signed(&document.cost.total).ok());
        let (Some(document), Some(cost)) = (read, cost) else {
            missing.push(unit.clone());
            continue;
        };
        match read_job_despite_bad_prices(&folder.join(unit)) {
            Ok((job, _)) => {
                unsound.extend(check(&document, &job).first().map(|fault| format!("{unit}: {fault}")))
            }
            Err(error) => unsound.push(format!("{unit}: {error}")),
        }
        total += cost;
        worst = worst.max(document.cost.gap_percent);
        rows.push(json!({
            "unit": unit, "status": document.status, "total": document.cost.total,
            "lower_bound": document.cost.lower_bound, "gap_percent": document.cost.gap_percent,
        }));
    }
    if !missing.is_empty() {
        return Err(JoinError::Missing(missing, units.len()));
    }
    if !unsound.is_empty() {
        return Err(JoinError::Unsound(unsound));
    }
    let joined = json!({
        "format": "ripwright-joined/1", "units": rows, "total": total.to_string(), "worst_gap_percent": worst,
    });
    let text = format!("{joined:#}\n");
    write_file(folder, "joined.json", text.as_bytes())?;
    Ok(text)
}
