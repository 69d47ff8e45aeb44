//! One search at a time, in the background, and the pages that show what came of it.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use axum::Json;
use axum::extract::State;
use axum::response::Html;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::desk::Desk;
use super::documents::made;
use super::refusal::{Answer, Refusal, apart, page as on_page};
use super::search::{Run, SearchKind};
use crate::check::check;
use crate::document::{BuyEntry, Document};
use crate::intake::{job_of_tally, read_scenarios};
use crate::measure::{Length, Money, Unit};
use crate::planning::{Event, Request, compare, plan_stack, plan_what_can_be, rank, ways};
use crate::report::{
    Decision, Printing, Report, TakeCsv, measured_area, measured_volume, plan_files, range, today,
    unit_of_area, unit_of_volume, write_file, write_reports, write_set,
};

/// Seconds that a search may be asked for.
const MOST_SECONDS: f64 = 86_400.0;

/// What is asked for.
#[derive(Debug, Deserialize)]
pub struct PlanAsked {
    kind: SearchKind,
    time: f64,
    gap: f64,
}

impl PlanAsked {
    /// What was bought is cut: nobody waits for it at the yard.
    pub fn cutting_of_what_was_bought() -> PlanAsked {
        PlanAsked { kind: SearchKind::Bought, time: 20.0, gap: 0.5 }
    }
}

/// Begins a search.
///
/// # Errors
/// If another one runs, or time and gap are none.
pub fn begin(desk: &Arc<Desk>, asked: &PlanAsked) -> Answer<()> {
    if !(asked.time > 0.0 && asked.time <= MOST_SECONDS) {
        return Err(Refusal::bad(format!("the time is a number of seconds from 1 to {MOST_SECONDS}")));
    }
    if !(0.0..=100.0).contains(&asked.gap) {
        return Err(Refusal::bad("the gap is a percentage from 0 to 100"));
    }
    let interrupt: Arc<AtomicBool> = Arc::default();
    {
        let mut run = desk.run();
        if run.running {
            return Err(Refusal::conflict("something is being planned already: stop it, or wait for it"));
        }
        *run = Run {
            kind: Some(asked.kind),
            started: Some(Instant::now()),
            running: true,
            text: "reading the job".to_string(),
            failed: None,
            interrupt: interrupt.clone(),
        };
    }
    let mut options = desk.options();
    options.time = Some(Duration::from_secs_f64(asked.time));
    options.gap_percent = asked.gap;
    options.interrupt = interrupt;
    let request = Request::new(options);
    let (kind, desk) = (asked.kind, desk.clone());
    std::thread::spawn(move || {
        let mut ending = Ending { desk, result: None };
        ending.result = Some(search(&ending.desk, kind, request));
    });
    Ok(())
}

/// Says how a search ended, also where it panicked.
struct Ending {
    desk: Arc<Desk>,
    result: Option<Answer<String>>,
}

impl Drop for Ending {
    fn drop(&mut self) {
        let mut run = self.desk.run();
        run.running = false;
        match self.result.take() {
            Some(Ok(text)) => run.text = text,
            Some(Err(refusal)) => run.failed = Some(refusal.text().to_string()),
            None => run.failed = Some("the search broke off: this is a bug, please report it".to_string()),
        }
    }
}

/// Does the search and writes what it found, as the command of the same name does.
fn search(desk: &Desk, kind: SearchKind, request: Request) -> Answer<String> {
    let folder = desk.plan_folder();
    let tell = |event: Event| {
        let text = match event {
            Event::Improved { cost: None, bound } => format!("no plan yet; none can cost less than {bound}"),
            Event::Improved { cost: Some(cost), bound } => {
                format!("the best plan so far costs {cost}; none can cost less than {bound}")
            }
            Event::TryingFreshLots => "trying the buy on fresh lots of boards".to_string(),
            Event::LookingForFewerSettings => "looking for fewer settings of the saws".to_string(),
        };
        desk.run().text = text;
    };
    let printing = Printing { dated: Some(today()), ..Printing::default() };
    match kind {
        SearchKind::Plan => {
            desk.rack_is_told()?;
            let job = desk.job()?;
            let checked = plan_what_can_be(&job, &request.as_for_a_shop(), &tell)?;
            write_set::<Refusal>(&plan_files(&checked, printing), &folder)?;
            Ok("planned".to_string())
        }
        SearchKind::Bought => {
            let job = desk.job_despite_bad_prices()?;
            let folder = desk.yard_folder();
            let job = job_of_tally(&job, &folder.join(super::stack::BOUGHT), None)?;
            let checked = plan_stack(&job, &request, &tell)?;
            write_set::<Refusal>(&plan_files(&checked, printing), &folder)?;
            write_file(&folder, TakeCsv(&checked).file_name(), &TakeCsv(&checked).bytes()?)?;
            Ok("planned".to_string())
        }
        SearchKind::Compare => {
            let job = desk.job_despite_bad_prices()?;
            let counted = counted(desk, ways(job.suppliers.len()).len());
            let comparison = compare(&job, &request.as_for_a_shop(), &counted)?;
            write_reports::<Refusal>(&Decision::of_dealers(&comparison, &job).files(), &folder)?;
            Ok("compared".to_string())
        }
        SearchKind::Scenarios => {
            let job = desk.job_despite_bad_prices()?;
            let scenarios = read_scenarios(&desk.folder().join("scenarios.csv"), &job)?;
            let counted = counted(desk, scenarios.len() + 1);
            let ranked = rank(&job, &scenarios, &request.as_for_a_shop(), &counted)?;
            write_reports::<Refusal>(&Decision::of_scenarios(&ranked, &job).files(), &folder)?;
            Ok("ranked".to_string())
        }
    }
}

/// Tells how many of so many plans are made.
fn counted(desk: &Desk, all: usize) -> impl Fn() + Sync + '_ {
    let done = std::sync::atomic::AtomicUsize::new(0);
    desk.run().text = format!("0 of {all} planned");
    move || {
        let done = done.fetch_add(1, Ordering::Relaxed) + 1;
        desk.run().text = format!("{done} of {all} planned");
    }
}

/// Begins a search.
pub async fn start(State(desk): State<Arc<Desk>>, Json(asked): Json<PlanAsked>) -> Answer<Json<Value>> {
    apart(move || begin(&desk, &asked).map(|()| Json(state_of(&desk)))).await
}

/// Stops it with what it has.
pub async fn stop(State(desk): State<Arc<Desk>>) -> Json<Value> {
    desk.run().stop();
    Json(state_of(&desk))
}

/// Where it is.
pub async fn state(State(desk): State<Arc<Desk>>) -> Json<Value> {
    Json(state_of(&desk))
}

fn state_of(desk: &Desk) -> Value {
    let run = desk.run();
    json!({
        "kind": run.kind,
        "running": run.running,
        "seconds": run.started.filter(|_| run.running).map(|since| since.elapsed().as_secs()),
        "text": run.text,
        "failed": run.failed,
    })
}

#[derive(Serialize)]
struct PlanPage {
    title: &'static str,
    here: &'static str,
    plan: Option<PlanView>,
    unreadable: Option<String>,
}

/// A share of the wood: its name, its class in the style sheet, its measure, and percent.
type Goes = (&'static str, &'static str, String, f64);

/// A plan as a page shows it: of the job, or of what was bought at the yard.
#[derive(Serialize)]
pub struct PlanView {
    currency: String,
    total: String,
    costs: Vec<(&'static str, String)>,
    proof: String,
    fits: Option<String>,
    dealers: Vec<Dealer>,
    open: Vec<String>,
    sure: Option<String>,
    wood: Vec<Goes>,
    sheets: Vec<Goes>,
    volume: &'static str,
    boards: u32,
    pieces: u64,
    settings: usize,
}

#[derive(Serialize)]
struct Dealer {
    name: String,
    sum: String,
    rows: Vec<[String; 6]>,
}

/// What a plan was made for.
pub enum PlannedFor<'d> {
    /// The job as it stands.
    ForTheJob(&'d Desk),
    /// What was bought at the yard: nothing can be bought cheaper any more.
    OfWhatWasBought,
}

impl PlannedFor<'_> {
    /// Why a plan is for something else than what stands there now, if it is.
    fn fits(&self, document: &Document) -> Option<String> {
        let PlannedFor::ForTheJob(desk) = self else { return None };
        let Ok(job) = desk.job() else {
            return Some("The job has faults now, so this plan cannot be checked against it.".to_string());
        };
        let changed = "The job was changed since this plan was made: plan again.";
        (!check(document, &job).is_empty()).then(|| changed.to_string())
    }

    /// What is proven of a plan.
    fn proof(&self, document: &Document) -> String {
        match (self, document.status.as_str()) {
            (PlannedFor::OfWhatWasBought, _) => "As much of what is wanted as these boards give.".to_string(),
            (_, "optimal") => "Proven: no plan for these boards costs less.".to_string(),
            _ => format!(
                "No plan for these boards costs less than {} (at most {:.2} % below this one).",
                document.cost.lower_bound, document.cost.gap_percent
            ),
        }
    }
}

/// What a plan's total is made of, as far as it costs anything.
fn costs_of(document: &Document) -> Vec<(&'static str, String)> {
    let cost = &document.cost;
    let none = String::new();
    let lines = [
        ("lumber", &cost.lumber),
        ("delivery", &cost.delivery),
        ("from the rack", &cost.rack),
        ("settings of the saws", &cost.setup),
        ("rolls of edging", cost.edging.as_ref().unwrap_or(&none)),
        ("offcuts kept, taken off", &cost.offcut_credit),
    ];
    let is_money = |text: &str| Money::parse(text).is_ok_and(|money| !money.is_zero());
    let told = lines.into_iter().filter(|(_, sum)| is_money(sum));
    told.map(|(name, sum)| (name, sum.clone())).collect()
}

/// A plan of a folder; none if there is none.
pub fn view(folder: &Path, made: &PlannedFor<'_>) -> Answer<Option<PlanView>> {
    let text = match std::fs::read_to_string(folder.join("plan.json")) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    let document: Document = serde_json::from_str(&text)
        .map_err(|error| Refusal::bad(format!("the plan in {} cannot be read: {error}", folder.display())))?;
    let unit = if document.unit == Unit::Millimetre.name() { Unit::Millimetre } else { Unit::Inch };
    let waste = &document.waste;
    let wood = [waste.parts_bf, waste.kerf_bf, waste.trim_bf, waste.kept_offcuts_bf, waste.scrap_bf];
    let sheets = document.sheet_waste.as_ref().map(|waste| {
        [waste.parts_ft2, waste.kerf_ft2, waste.trim_ft2, waste.kept_offcuts_ft2, waste.scrap_ft2]
    });
    let open = document.still_needed.iter().map(|open| {
        let why = open.reason.as_deref().unwrap_or("the boards are not enough");
        format!("{} of {} / {}: {why}", open.parts, open.product, open.part)
    });
    let sure = document.confidence.as_ref().map(|of| {
        format!(
            "{:.0} % of {} fresh lots of as many boards gave every part (asked for {} %)",
            of.enough_percent, of.lots, of.asked_percent
        )
    });
    Ok(Some(PlanView {
        currency: document.currency.clone(),
        total: document.cost.total.clone(),
        costs: costs_of(&document),
        proof: made.proof(&document),
        fits: made.fits(&document),
        dealers: document
            .buy
            .chunk_by(|one, other| one.supplier == other.supplier)
            .map(|rows| dealer(rows, unit))
            .collect(),
        open: open.collect(),
        sure,
        wood: goes(wood, |feet| format!("{} {}", measured_volume(feet, unit), unit_of_volume(unit))),
        sheets: sheets
            .map(|sheets| {
                goes(sheets, |feet| format!("{} {}", measured_area(feet, unit), unit_of_area(unit)))
            })
            .unwrap_or_default(),
        volume: unit_of_volume(unit),
        boards: document.boards.iter().map(|board| board.copies).sum(),
        pieces: document.parts.iter().map(|part| part.cut).sum(),
        settings: document.settings_made,
    }))
}

/// Where wood or sheets go, each share with its measure; nothing where there is none.
fn goes(shares: [f64; 5], shown: impl Fn(f64) -> String) -> Vec<Goes> {
    const NAMES: [(&str, &str); 5] = [
        ("parts", "parts"),
        ("kerf", "kerf"),
        ("trim", "trim"),
        ("kept offcuts", "kept"),
        ("scrap", "scrap"),
    ];
    let all: f64 = shares.iter().sum();
    if all <= 0.0 {
        return Vec::new();
    }
    let percent = |share: f64| (share / all * 1000.0).round() / 10.0;
    let named = NAMES.into_iter().zip(shares);
    named.map(|((name, class), share)| (name, class, shown(share), percent(share))).collect()
}

fn dealer(rows: &[BuyEntry], unit: Unit) -> Dealer {
    let money = |row: &BuyEntry| Money::parse(&row.cost).unwrap_or(Money::ZERO);
    let length = |value: f64| Length::from_f64(value, unit).unwrap_or(Length::ZERO);
    let span = |from: f64, to: Option<f64>| (length(from), length(to.unwrap_or(from)));
    let row = |row: &BuyEntry| {
        let width = range(span(row.width, row.width_to), |width| width.display(unit).to_string());
        let length = range(span(row.length, row.length_to), |length| length.display_feet(unit).to_string());
        [
            row.boards.to_string(),
            format!("{} {} {}", row.species, row.quarter, row.grade),
            format!("{width} x {length}"),
            match row.square_feet {
                Some(feet) => format!("{} {}", measured_area(feet, unit), unit_of_area(unit)),
                None => measured_volume(row.board_feet, unit),
            },
            format!("{} / {}", row.price, row.per),
            row.cost.clone(),
        ]
    };
    Dealer {
        name: rows[0].supplier.clone(),
        sum: rows.iter().map(money).sum::<Money>().to_string(),
        rows: rows.iter().map(row).collect(),
    }
}

/// The plan of the job.
pub async fn plan_page(State(desk): State<Arc<Desk>>) -> Answer<Html<Vec<u8>>> {
    on_page(move || {
        let (plan, unreadable) = match view(&desk.plan_folder(), &PlannedFor::ForTheJob(&desk)) {
            Ok(plan) => (plan, None),
            Err(refusal) => (None, Some(refusal.text().to_string())),
        };
        let page = PlanPage { title: "Plan", here: "plan", plan, unreadable };
        Ok(made(include_str!("html/plan.html"), page)?)
    })
    .await
}

#[derive(Serialize)]
struct DecisionShown {
    title: &'static str,
    /// Which page it is: what is searched for, and the name of its report.
    here: &'static str,
    what: &'static str,
    result: Option<String>,
}

async fn decision(desk: Arc<Desk>, [title, here, what]: [&'static str; 3]) -> Answer<Html<Vec<u8>>> {
    on_page(move || {
        let text = std::fs::read_to_string(desk.plan_folder().join(format!("{here}.html"))).ok();
        // The report's own page, without what is around it.
        let inner = text.as_deref().and_then(|text| {
            let (_, rest) = text.split_once("<main>")?;
            rest.split_once("</main>").map(|(inner, _)| inner.to_string())
        });
        let page = DecisionShown { title, here, what, result: inner };
        Ok(made(include_str!("html/decision.html"), page)?)
    })
    .await
}

/// Ways of buying, side by side.
pub async fn compare_page(State(desk): State<Arc<Desk>>) -> Answer<Html<Vec<u8>>> {
    let what =
        "Plans buying from each dealer alone, from every pair and from all, and shows what each costs.";
    decision(desk, ["Dealers", "compare", what]).await
}

/// What if.
pub async fn scenarios_page(State(desk): State<Arc<Desk>>) -> Answer<Html<Vec<u8>>> {
    let what =
        "Plans every scenario of the table scenarios.csv, and the job as it is, and ranks them by cost.";
    decision(desk, ["What if", "scenarios", what]).await
}
