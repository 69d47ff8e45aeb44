//! The yard, on a phone: boards as the stack is turned over, a word for each, and what is still needed.
//!
//! A phone names every board that it sends, so that one which arrives twice is one. Every board is in a file before
//! the phone is told that it arrived.

use std::sync::Arc;
use std::time::Duration;

use axum::Json;
use axum::extract::State;
use axum::response::Html;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::desk::Desk;
use super::documents::made;
use super::refusal::{Answer, Refusal, apart, page as on_page};
use super::run::{self, PlanView};
use super::stack::{BOUGHT, COLUMNS, Decided, MeasuredBoard, NeededView, Said, VALUE, read_board};
use crate::job::{Job, RackBoard};
use crate::measure::{Area, Money, Unit, Volume};
use crate::planning::{Appraiser, Request, plan_stack};
use crate::report::{Needed, csv_table, measured_volume, safe_cell, unit_of_volume, write_file};
use crate::trade::{Grade, Quarter};

/// Boards that a stack may have.
const MOST_BOARDS: usize = 2_000;

/// Letters of the name that a phone gives a board.
const LONGEST_ID: usize = 40;

/// How long pieces are valued for, and how long is looked for what is still needed, in the background.
const VALUED: Duration = Duration::from_secs(10);
const NEEDED: Duration = Duration::from_millis(1_500);

/// The job with the boards taken on its rack: they are paid for.
fn with_taken(job: &Job, taken: &[RackBoard]) -> Job {
    let mut job = job.clone();
    job.rack.extend(taken.iter().map(|board| RackBoard { value: Money::ZERO, ..board.clone() }));
    job
}

/// Values the pieces anew in the background, and looks for what is still needed. Boards are appraised by the last
/// values until then.
fn refresh(desk: &Arc<Desk>) {
    {
        let mut yard = desk.yard();
        yard.stale = true;
        if yard.busy {
            return;
        }
        yard.busy = true;
    }
    let at_work = AtWork(desk.clone());
    std::thread::spawn(move || {
        let desk = &at_work.0;
        while let Some(taken) = next_turn(desk) {
            if let Err(refusal) = revalued(desk, &taken) {
                let text = format!("that could not be reckoned: {}", refusal.text());
                desk.yard().needed = NeededView::told(&text);
            }
        }
    });
}

/// Lets another thread begin where this one panics.
struct AtWork(Arc<Desk>);

impl Drop for AtWork {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.yard().busy = false;
        }
    }
}

/// The boards taken, if anything has changed since they were last asked for. If nothing has, the thread is
/// marked as no longer at work. One lock covers both, so that no change falls between.
fn next_turn(desk: &Desk) -> Option<Vec<RackBoard>> {
    let mut yard = desk.yard();
    let stale = std::mem::take(&mut yard.stale);
    yard.busy = stale;
    stale.then(|| yard.taken().cloned().collect())
}

/// Values the pieces of the job beside the boards taken, and looks for what is still needed.
fn revalued(desk: &Desk, taken: &[RackBoard]) -> Answer<()> {
    let interrupt = desk.yard().interrupt.clone();
    let job = with_taken(&desk.job_despite_bad_prices()?, taken);
    let mut options = desk.options();
    (options.time, options.interrupt) = (Some(VALUED), interrupt);
    let appraiser = Arc::new(Appraiser::new(&job, &options)?);
    {
        let mut yard = desk.yard();
        for one in yard.boards.iter_mut().filter(|one| one.decided == Decided::Open) {
            one.said = one.board.as_ref().and_then(|board| Said::of(&appraiser, board));
        }
        yard.appraiser = Some(appraiser);
    }
    let of_stack = job.without_lumber_to_buy();
    options.time = Some(NEEDED);
    let needed = if of_stack.rack.is_empty() {
        Vec::new()
    } else {
        let checked = plan_stack(&of_stack, &Request::new(options).matching_sets(), &|_| ())?;
        Needed::of(checked.plan(), checked.job())
    };
    let unit = of_stack.shop.unit;
    let by_class = needed.chunk_by(|one, other| (&one.species, &one.class) == (&other.species, &other.class));
    let group = |group: &[Needed]| {
        let feet: f64 = group.iter().map(|one| one.feet).sum();
        let (volume, unit) = (measured_volume(feet, unit), unit_of_volume(unit));
        let part = |one: &Needed| {
            let Needed { what, grade, width, length, measured, .. } = one;
            format!("{what}: {grade}, from {width} wide and {length} long, {measured} {unit}")
        };
        NeededView {
            what: format!(
                "{} {}: {volume} {unit} and what is lost in cutting",
                group[0].species, group[0].class
            ),
            parts: group.iter().map(part).collect(),
        }
    };
    let mut yard = desk.yard();
    yard.needed = if of_stack.rack.is_empty() {
        NeededView::told("everything: nothing is taken yet")
    } else if needed.is_empty() {
        NeededView::told("nothing: the boards taken give every part")
    } else {
        by_class.map(group).collect()
    };
    Ok(())
}

#[derive(Serialize)]
struct YardPage {
    title: &'static str,
    here: &'static str,
    unit: &'static str,
    currency: String,
    species: Vec<String>,
    classes: Vec<String>,
    grades: Vec<String>,
    dealers: Vec<String>,
    faults: Option<String>,
    plan: Option<PlanView>,
}

/// The page that a phone shows.
pub async fn page(State(desk): State<Arc<Desk>>) -> Answer<Html<Vec<u8>>> {
    let told = desk.clone();
    let made = on_page(move || {
        let job = match desk.job_despite_bad_prices() {
            Ok(job) => {
                desk.yard().read(&desk.yard_folder(), &job)?;
                Ok(job)
            }
            Err(refusal) => Err(refusal.text().to_string()),
        };
        let faults = job.as_ref().err().cloned();
        let job = job.ok();
        let mut species: Vec<String> = Vec::new();
        let mut classes: Vec<Quarter> = Vec::new();
        if let Some(job) = &job {
            // Sheets are bought as they are sold: nobody measures them.
            let lines = || job.lines.iter().filter(|line| !line.quarter.is_sheet());
            let wanted = job.parts.iter().filter(|part| part.sheet.is_none()).map(|part| &part.species);
            for name in wanted.chain(lines().map(|line| &line.species)) {
                if !species.iter().any(|one| crate::trade::same_species(one, name)) {
                    species.push(name.clone());
                }
            }
            classes.extend(lines().map(|line| line.quarter));
        }
        classes.sort();
        classes.dedup();
        let unit = job.as_ref().map_or(Unit::Inch, |job| job.shop.unit);
        let page = YardPage {
            title: "Yard",
            here: "yard",
            unit: unit.name(),
            currency: job.as_ref().map(|job| job.shop.currency.clone()).unwrap_or_default(),
            species,
            classes: classes.iter().map(ToString::to_string).collect(),
            grades: Grade::ALL.iter().map(ToString::to_string).collect(),
            dealers: job.iter().flat_map(|job| &job.suppliers).map(|dealer| dealer.name.clone()).collect(),
            faults,
            plan: run::view(&desk.yard_folder(), &run::PlannedFor::OfWhatWasBought).unwrap_or(None),
        };
        Ok(made(include_str!("html/yard.html"), page)?)
    })
    .await;
    // The job may be another one than when the page was last opened.
    refresh(&told);
    made
}

/// A board as a phone sends it, or what was decided about it.
#[derive(Debug, Deserialize)]
pub struct Sent {
    id: String,
    cells: Vec<String>,
    decided: Decided,
    #[serde(default)]
    dealer: String,
}

/// Takes a board in, or what was decided about it. The same twice is the same once.
pub async fn board(State(desk): State<Arc<Desk>>, Json(sent): Json<Sent>) -> Answer<Json<Value>> {
    apart(move || {
        let mut sent = sent;
        let sound = !sent.id.is_empty()
            && sent.id.len() <= LONGEST_ID
            && sent.id.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
        if !sound || sent.cells.len() != COLUMNS.len() {
            return Err(Refusal::bad("this is no board as the page sends it: load the page again"));
        }
        let job = desk.job_despite_bad_prices()?;
        let dealer = (!sent.dealer.is_empty()).then_some(sent.dealer.as_str());
        let board = read_board(&job, &sent.cells, dealer)?;
        if sent.cells[VALUE].trim().is_empty() {
            // What a dealer's sheet asked is kept with the board: the file does not know whose sheet it was.
            sent.cells[VALUE] = board.value.to_string();
        }
        let mut yard = desk.yard();
        yard.read(&desk.yard_folder(), &job)?;
        let place = yard.boards.iter().position(|one| one.id == sent.id);
        let same_name = |one: &MeasuredBoard| {
            one.id != sent.id && one.decided != Decided::Undone && one.cells[0] == sent.cells[0]
        };
        if sent.decided != Decided::Undone && yard.boards.iter().any(same_name) {
            return Err(Refusal::conflict(format!(
                "there is another board {}: give it another name",
                sent.cells[0]
            )));
        }
        if place.is_none() && yard.boards.len() >= MOST_BOARDS {
            return Err(Refusal::bad(format!("a stack has at most {MOST_BOARDS} boards here")));
        }
        let said = yard.appraiser.as_ref().and_then(|appraiser| Said::of(appraiser, &board));
        let before = place.map(|place| yard.boards[place].decided);
        let was_taken = before == Some(Decided::Taken);
        let measured =
            MeasuredBoard { id: sent.id, cells: sent.cells, decided: sent.decided, board: Some(board), said };
        let place = match place {
            Some(place) => {
                // A board that is decided keeps what was said of it then.
                let before = yard.boards[place].said.take();
                let said = if sent.decided == Decided::Open { measured.said } else { before };
                yard.boards[place] = MeasuredBoard { said, ..measured };
                place
            }
            None => {
                yard.boards.push(measured);
                yard.boards.len() - 1
            }
        };
        yard.write(&desk.yard_folder())?;
        let answer = told(&yard.boards[place]);
        let changed = was_taken != (sent.decided == Decided::Taken) || yard.appraiser.is_none();
        drop(yard);
        if changed {
            refresh(&desk);
        }
        Ok(Json(answer))
    })
    .await
}

fn told(one: &MeasuredBoard) -> Value {
    let said = one.said.as_ref();
    json!({
        "id": one.id,
        "cells": one.cells,
        "decided": one.decided,
        "asked": one.board.as_ref().map(|board| board.value.to_string()),
        "advice": said.map(|said| said.advice),
        "worth": said.map(|said| &said.worth),
        "pieces": said.map(|said| &said.pieces),
    })
}

/// The stack so far.
pub async fn list(State(desk): State<Arc<Desk>>) -> Answer<Json<Value>> {
    apart(move || {
        let job = desk.job_despite_bad_prices()?;
        let mut yard = desk.yard();
        yard.read(&desk.yard_folder(), &job)?;
        let unit = job.shop.unit;
        let volume: Volume = yard.taken().map(feet).sum();
        let cost: Money = yard.taken().map(|board| board.value).sum();
        Ok(Json(json!({
            "boards": yard.boards.iter().map(told).collect::<Vec<_>>(),
            "taken": yard.taken().count(),
            "volume": measured_volume(volume.board_feet_f64(), unit),
            "volume_unit": unit_of_volume(unit),
            "cost": cost.to_string(),
            "currency": job.shop.currency,
            "needed": yard.needed,
            "busy": yard.busy,
        })))
    })
    .await
}

fn feet(board: &RackBoard) -> Volume {
    Area::of(board.length, board.width).times(board.quarter.tallied())
}

/// Writes the tally of what was taken, and plans its cutting.
pub async fn finish(State(desk): State<Arc<Desk>>) -> Answer<Json<Value>> {
    apart(move || {
        let job = desk.job_despite_bad_prices()?;
        let rows: Vec<Vec<String>> = {
            let mut yard = desk.yard();
            yard.read(&desk.yard_folder(), &job)?;
            let taken = yard.boards.iter().filter(|one| one.decided == Decided::Taken);
            let row = |one: &MeasuredBoard| {
                let mut cells = one.cells.clone();
                // What was asked is what was paid, whatever the sheet says tomorrow.
                let value = one.board.as_ref().map(|board| board.value.to_string());
                cells[VALUE] = value.unwrap_or_default();
                cells.iter().map(|cell| safe_cell(cell)).collect()
            };
            taken.map(row).collect()
        };
        if rows.is_empty() {
            return Err(Refusal::bad("no board is taken yet"));
        }
        let boards = rows.len();
        write_file(&desk.yard_folder(), BOUGHT, &csv_table(&COLUMNS, rows)?)?;
        let asked = run::PlanAsked::cutting_of_what_was_bought();
        run::begin(&desk, &asked)?;
        Ok(Json(json!({ "boards": boards })))
    })
    .await
}
