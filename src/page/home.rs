//! The first page: the job, its tables and what is wrong with them; and the rack.

use std::sync::Arc;

use axum::extract::State;
use axum::response::Html;
use serde::Serialize;

use super::desk::Desk;
use super::documents::made;
use super::refusal::{Answer, page as on_page};
use super::tables::{Judged, KnownNames, judged, known};
use crate::measure::Unit;
use crate::rack::{LEDGER, Ledger};

/// Faults and warnings that a page lists.
const MOST_LINES: usize = 100;

#[derive(Serialize)]
struct HomePage {
    title: String,
    here: &'static str,
    job: String,
    tables: Vec<KnownNames>,
    has_settings: bool,
    faults: Vec<String>,
    more_faults: usize,
    warnings: Vec<String>,
    shortfalls: Vec<String>,
    orders: usize,
    parts: usize,
    dealers: usize,
    boards: usize,
}

/// The job.
pub async fn page(State(desk): State<Arc<Desk>>) -> Answer<Html<Vec<u8>>> {
    on_page(move || {
        let place = desk.place()?;
        let Judged { faults: single, warnings, whole, job } = judged(&desk);
        let mut faults: Vec<String> = whole.into_iter().collect();
        faults.extend(single.iter().map(ToString::to_string));
        let more_faults = faults.len().saturating_sub(MOST_LINES);
        faults.truncate(MOST_LINES);
        let shop = job.as_ref().map(|job| job.shop.name.clone()).filter(|name| !name.is_empty());
        let count = |of: &dyn Fn(&crate::job::Job) -> usize| job.as_ref().map_or(0, of);
        let shortfalls = job.as_ref().map(crate::job::Job::shortfalls).unwrap_or_default();
        let page = HomePage {
            title: shop.unwrap_or_else(|| "The job".to_string()),
            here: "job",
            job: desk.job_path().display().to_string(),
            tables: known(&place)?,
            has_settings: !desk.is_workbook(),
            faults,
            more_faults,
            warnings: warnings.iter().take(MOST_LINES).map(ToString::to_string).collect(),
            shortfalls: shortfalls.iter().take(MOST_LINES).map(ToString::to_string).collect(),
            orders: count(&|job| job.orders.len()),
            parts: count(&|job| job.parts.len()),
            dealers: count(&|job| job.suppliers.len()),
            boards: count(&|job| job.rack.len()),
        };
        Ok(made(include_str!("html/home.html"), page)?)
    })
    .await
}

#[derive(Serialize)]
struct RackPage {
    title: &'static str,
    here: &'static str,
    boards: Vec<[String; 6]>,
    has_ledger: bool,
    history: Vec<[String; 4]>,
    faults: Option<String>,
}

/// The rack: what is free, and what moved.
pub async fn rack(State(desk): State<Arc<Desk>>) -> Answer<Html<Vec<u8>>> {
    on_page(move || {
        let (job, has_ledger) = (desk.job(), desk.folder().join(LEDGER).exists());
        let unit = job.as_ref().map_or(Unit::Inch, |job| job.shop.unit);
        let board = |board: &crate::job::RackBoard| {
            [
                board.board.clone(),
                format!("{} {} {}", board.species, board.quarter, board.grade),
                board.width.display(unit).to_string(),
                board.length.display_feet(unit).to_string(),
                board.value.to_string(),
                if board.defects.is_empty() { String::new() } else { board.defects.len().to_string() },
            ]
        };
        let history = match has_ledger {
            true => Ledger::open(&desk.folder()).and_then(|ledger| ledger.history()),
            false => Ok(Vec::new()),
        };
        let faults = job.as_ref().err().map(ToString::to_string);
        let faults = faults.or_else(|| history.as_ref().err().map(ToString::to_string));
        let moved = |one: crate::rack::RackMovement| [one.at, one.kind, one.plan, one.boards.to_string()];
        let page = RackPage {
            title: "Rack",
            here: "rack",
            boards: job.map(|job| job.rack.iter().map(board).collect()).unwrap_or_default(),
            has_ledger,
            history: history.unwrap_or_default().into_iter().rev().map(moved).collect(),
            faults,
        };
        Ok(made(include_str!("html/rack.html"), page)?)
    })
    .await
}
