//! Weeks planned side by side, and neighbouring weeks planned as one where that saves lumber.
//!
//! The rack serves the first batch: later weeks are planned again on the nights to come.

use std::sync::atomic::Ordering;
use std::time::Duration;

use jiff::civil::Date;

use super::capacity::{HoursTaken, MovedEarly, TURNS, WorkOfWeeks, is_said, strain};
use super::key::key;
use super::place::OutFolder;
use super::stage::Stage;
use super::week::{Week, add};
use super::{Asked, NightlyError};
use crate::check::check;
use crate::document::{BuyEntry, ConfidenceEntry, CostEntry, Document};
use crate::intake::{Base, digest};
use crate::job::{Job, JobError, Shop, shortfalls_without};
use crate::measure::Money;
use crate::plan::{SawLoad, saw_loads};
use crate::planning::{Checked, PlanningError, plan_here};
use crate::report::{Printing, plan_files};
use crate::solve::{Options, Shares, SolveError, Status, side_by_side};

/// A batch with what comes of it.
#[derive(Debug, Clone)]
pub struct Batch {
    /// What it asks for.
    pub week: Week,
    /// What comes of it.
    pub outcome: BatchTried,
    /// Was it planned before, from the same content?
    pub reused: bool,
    /// Are its sheets handed out, so that its plan stays?
    pub released: bool,
    /// Weeks that joined it: what joining saved, and what cutting them early costs.
    pub joined: Vec<WeeksJoined>,
}

/// A week cut with an earlier one.
#[derive(Debug, Clone)]
pub struct WeeksJoined {
    /// Its Monday.
    pub week: Option<Date>,
    /// Money that planning it together saves.
    pub saves: Money,
    /// What the wood cut early costs for that time.
    pub carrying: f64,
}

/// What comes of a batch.
#[derive(Debug, Clone)]
pub enum BatchTried {
    /// A plan; its files are among those that are kept.
    Planned(Box<WeeksPlanned>),
    /// Why there is no plan.
    Unplanned(String),
}

/// What a run remembers of a plan: its files may be large, so they stay on the disk.
#[derive(Debug, Clone)]
pub struct WeeksPlanned {
    /// What it costs and what is proven.
    pub cost: CostEntry,
    /// As the document says it.
    pub status: String,
    /// Under which its files are kept.
    pub key: String,
    /// SHA-256 of plan.json.
    pub hash: String,
    /// What one board of each line bought costs.
    pub one_of_each: f64,
    /// What the spare boards cost: weeks that are planned as one need fewer.
    pub spares: f64,
    /// Boards to cut.
    pub boards: u64,
    /// What it asks of each saw.
    pub loads: Vec<SawLoad>,
}

impl Batch {
    fn stage(&self) -> Stage {
        let status = self.planned().map(|planned| planned.status.clone());
        Stage::Week { week: self.week.first.map(|day| day.to_string()), reused: self.reused, status }
    }

    /// The plan, if there is one.
    pub fn planned(&self) -> Option<&WeeksPlanned> {
        match &self.outcome {
            BatchTried::Planned(planned) => Some(planned),
            BatchTried::Unplanned(_) => None,
        }
    }

    /// What its plan asks of each saw.
    pub fn loads(&self) -> &[SawLoad] {
        self.planned().map_or(&[], |planned| &planned.loads)
    }

    /// Its status as a person is told it.
    pub fn state(&self) -> String {
        match (self.planned(), self.released) {
            (None, _) => "no plan".to_string(),
            (Some(planned), true) => format!("{}, released", planned.status),
            (Some(planned), false) => planned.status.clone(),
        }
    }

    fn total(&self) -> Option<Money> {
        Money::parse_signed(&self.planned()?.cost.total).ok()
    }
}

/// Plans every week, then joins neighbours while that saves more than early work costs. Where the shop says what its saws
/// can do in a week, what does not fit beside the weeks that are released is cut earlier first.
pub fn plan(
    base: &Base,
    weeks: Vec<Week>,
    released: &[Batch],
    place: &OutFolder,
    options: &Options,
    asked: &Asked,
    stages: &(dyn Fn(Stage) + Sync),
) -> Result<(Vec<Batch>, Vec<MovedEarly>), NightlyError> {
    let hours = &base.shop().labour.hours;
    let taken = HoursTaken::by(released.iter().map(|batch| (batch.week.first, batch.loads())));
    // Some of the time is kept for joining weeks.
    let most = options.time.map(|time| time * 4 / 5);
    let (planned, moved) = if is_said(hours) && weeks.iter().all(|week| week.first.is_some()) {
        let mut work = WorkOfWeeks::of(&weeks);
        let turn = most.map(|time| time / (TURNS as u32 + 1));
        let mut planned = plan_weeks(base, weeks, place, turn, options, asked, stages)?;
        for _ in 0..TURNS {
            let strains = planned.iter().filter_map(|batch| {
                Some((batch.week.first?, strain(batch.loads(), batch.week.first, hours, &taken)))
            });
            if !work.thin(&strains.collect::<Vec<_>>(), asked.early_weeks) {
                break;
            }
            planned = plan_weeks(base, work.weeks(), place, turn, options, asked, stages)?;
        }
        (planned, work.moved())
    } else {
        (plan_weeks(base, weeks, place, most, options, asked, stages)?, Vec::new())
    };
    let mut batches: Vec<Batch> = Vec::new();
    let rest = Shares::new(options.time.map(|time| time / 5), 1, planned.len().saturating_sub(1));
    for (number, batch) in planned.into_iter().enumerate() {
        let first = batches.len() == 1 || number == 0;
        match batches.last().map(|last| join(base, last, &batch, first, place, &rest, &taken, options, asked))
        {
            Some(joined) => match joined? {
                Some(joined) => {
                    batches.pop();
                    batches.push(joined);
                }
                None => batches.push(batch),
            },
            None => batches.push(batch),
        }
    }
    Ok((batches, moved))
}

/// Plans weeks side by side.
fn plan_weeks(
    base: &Base,
    weeks: Vec<Week>,
    place: &OutFolder,
    time: Option<Duration>,
    options: &Options,
    asked: &Asked,
    stages: &(dyn Fn(Stage) + Sync),
) -> Result<Vec<Batch>, NightlyError> {
    let numbered: Vec<(usize, &Week)> = weeks.iter().enumerate().collect();
    let planned = side_by_side(&Options { time, ..options.clone() }, &numbered, |(number, week), own| {
        let batch = plan_one(base, week, *number == 0, place, own.time, options, asked);
        if let Ok(batch) = &batch {
            stages(batch.stage());
        }
        batch
    })?;
    planned.into_iter().collect()
}

/// Two neighbours as one batch, if that is worth more than the early work costs.
#[expect(clippy::too_many_arguments, reason = "what planning one batch takes, and what it is compared with")]
fn join(
    base: &Base,
    earlier: &Batch,
    later: &Batch,
    with_rack: bool,
    place: &OutFolder,
    shares: &Shares,
    taken: &HoursTaken,
    options: &Options,
    asked: &Asked,
) -> Result<Option<Batch>, NightlyError> {
    let (Some(one), Some(other), Some(from), Some(to)) =
        (earlier.planned(), later.planned(), earlier.week.first, later.week.first)
    else {
        return Ok(None);
    };
    let (Some(one_cost), Some(other_cost)) = (earlier.total(), later.total()) else { return Ok(None) };
    let amount = |text: &str| Money::parse_signed(text).map_or(0.0, Money::to_f64);
    let weeks_early = from.until(to).map_or(0.0, |span| f64::from(span.get_days()) / 7.0);
    let carrying = amount(&other.cost.lumber) * asked.carry_percent / 100.0 * weeks_early / 52.0;
    // What joining can save is about a part of a board of each line that is bought, a delivery, and spare boards.
    let boards = one.one_of_each + other.one_of_each + one.spares + other.spares;
    let most_saved = boards + amount(&other.cost.delivery);
    let time = shares.next();
    let too_early = weeks_early > f64::from(asked.early_weeks);
    if too_early || most_saved <= carrying {
        return Ok(None);
    }
    // Decided once, it stays so while both weeks are what they were: what is printed and lies on the bench holds.
    let pair = digest(format!("{} {} {with_rack} {carrying}", one.hash, other.hash).as_bytes());
    let decided = if asked.improve { None } else { place.joined_before(&pair) };
    if decided == Some(false) {
        place.used(&pair);
        return Ok(None);
    }
    if time.is_some_and(|time| time.is_zero()) {
        place.decide(&pair, false)?;
        return Ok(None);
    }
    let mut week = earlier.week.clone();
    week.last = later.week.last;
    add(&mut week.products, &later.week.products);
    let together = plan_one(base, &week, with_rack, place, time, options, asked)?;
    let saves = together.total().map(|cost| one_cost + other_cost - cost);
    let fits = strain(together.loads(), week.first, &base.shop().labour.hours, taken) <= 1.0;
    let saves = saves.filter(|saves| saves.to_f64() > carrying && fits);
    if !options.interrupt.load(Ordering::Relaxed) {
        place.decide(&pair, saves.is_some())?;
    }
    let Some(saves) = saves else { return Ok(None) };
    let mut joined = earlier.joined.clone();
    joined.push(WeeksJoined { week: later.week.first, saves, carrying });
    Ok(Some(Batch { joined, ..together }))
}

/// Plans one batch in a share of the run's time, or takes the plan of the same content from before.
fn plan_one(
    base: &Base,
    week: &Week,
    with_rack: bool,
    place: &OutFolder,
    time: Option<Duration>,
    options: &Options,
    asked: &Asked,
) -> Result<Batch, NightlyError> {
    let batch = |outcome: BatchTried, reused: bool| Batch {
        week: week.clone(),
        outcome,
        reused,
        released: false,
        joined: Vec::new(),
    };
    let job = match base.job(&week.products, week.first, with_rack) {
        Ok(job) => job,
        Err(error) => return Ok(batch(BatchTried::Unplanned(error.to_string()), false)),
    };
    let missing = shortfalls_without(&job, &[]);
    if !missing.is_empty() {
        return Ok(batch(BatchTried::Unplanned(JobError::Unobtainable(missing).to_string()), false));
    }
    let key = key(&job, options, asked.confidence_percent);
    let before = place.planned_before(&key).and_then(|text| sound(&text, &job, &key));
    if let Some(planned) = &before {
        place.used(&key);
        // A plan that time stopped is as good as it was: what is published stays until somebody asks for better.
        if !asked.improve || planned.status != Status::Stopped.name() {
            return Ok(batch(BatchTried::Planned(Box::new(planned.clone())), true));
        }
    }
    let options = Options { time, ..options.clone() };
    let planned = plan_here(&job, &options, asked.confidence_percent);
    let cost = |text: &str| Money::parse_signed(text).ok();
    let dearer = |checked: &Checked, before: &WeeksPlanned| {
        Some(checked.plan().cost.total) >= cost(&before.cost.total)
            && checked.plan().status == Status::Stopped
    };
    if let Some(before) = before
        && planned.as_ref().map_or(true, |checked| dearer(checked, &before))
    {
        return Ok(batch(BatchTried::Planned(Box::new(before)), true));
    }
    let checked = match planned {
        Ok(checked) => checked,
        Err(PlanningError::Solve(error @ (SolveError::Short(_) | SolveError::NotFound))) => {
            return Ok(batch(BatchTried::Unplanned(error.to_string()), false));
        }
        Err(PlanningError::Solve(error)) => return Err(error.into()),
        Err(error) => return Ok(batch(BatchTried::Unplanned(error.to_string()), false)),
    };
    // What a person cut short is shown, but not taken for the plan of this content the next night.
    let cut_short = options.interrupt.load(Ordering::Relaxed) && checked.plan().status == Status::Stopped;
    let key = if cut_short { format!("{key}-stopped") } else { key };
    let planned = remembered(checked.document(), checked.text().as_bytes(), &key, &job.shop);
    let mut files = Vec::new();
    for report in plan_files(&checked, Printing::default()) {
        let content = report.bytes()?;
        place.keep(&key, report.file_name(), &content)?;
        files.push((report.file_name(), digest(&content)));
    }
    place.keep_whole(&key, &files)?;
    Ok(batch(BatchTried::Planned(Box::new(planned)), false))
}

/// What is remembered of a plan.json that was kept, if it is still sound for the job.
fn sound(text: &[u8], job: &Job, key: &str) -> Option<WeeksPlanned> {
    let document: Document = serde_json::from_slice(text).ok()?;
    check(&document, job).is_empty().then(|| remembered(&document, text, key, &job.shop))
}

/// What a run remembers of a plan that is kept.
pub fn remembered(document: &Document, text: &[u8], key: &str, shop: &Shop) -> WeeksPlanned {
    let price =
        |row: &BuyEntry| Money::parse_signed(&row.cost).map_or(0.0, Money::to_f64) / row.boards.max(1) as f64;
    let spares = |of: &ConfidenceEntry| Money::parse_signed(&of.spare_cost).map_or(0.0, Money::to_f64);
    WeeksPlanned {
        cost: document.cost.clone(),
        status: document.status.clone(),
        key: key.to_string(),
        hash: digest(text),
        one_of_each: document.buy.iter().map(price).sum(),
        spares: document.confidence.as_ref().map_or(0.0, spares),
        boards: document.boards.iter().map(|board| u64::from(board.copies)).sum(),
        loads: saw_loads(document, shop),
    }
}
