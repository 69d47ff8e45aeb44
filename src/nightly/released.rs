//! Weeks whose sheets are handed out: their plans stay to the byte, whatever the book, the prices or the rack say later.
//!
//! A released week is written down with the orders that its plan is for. On later nights these orders ask for nothing
//! more, boards of the rack that the plan uses are promised to it, and the plan is published again as it was. It ends
//! when none of its orders is open any more.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::batch::{Batch, BatchTried, remembered};
use super::place::{OutFolder, PlaceError, last_record};
use super::week::Week;
use super::{Asked, NightlyError};
use crate::document::{Document, SHORT_KEY};
use crate::intake::{BookRow, SpokenFor, digest, monday, read_base, read_book};
use crate::job::{Order, RackBoard, Shop};
use crate::report::write_file;

/// The value of `format` in the file of a released week.
const FORMAT: &str = "ripwright-released/1";

/// What the file of a week without a date is called.
const UNDATED: &str = "undated";

/// A batch of a published run as `run.json` names it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PublishedBatch {
    /// The Monday of its first week; none where nothing has a date.
    pub first_week: Option<Date>,
    /// The Monday of its last week.
    pub last_week: Option<Date>,
    /// Under which its plan is kept.
    pub key: String,
    /// Products wanted.
    pub products: BTreeMap<String, u64>,
}

/// A week, or several planned as one, whose plan stays.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReleasedWeek {
    format: String,
    /// The batch as it was published.
    #[serde(flatten)]
    pub batch: PublishedBatch,
    /// What its plan is for: order, product, and how many of it.
    pub orders: Vec<(String, String, u64)>,
    /// Boards of the rack that its plan uses.
    pub boards: BTreeSet<String>,
}

/// A week as a person names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NamedWeek {
    /// The week of a day.
    Of(Date),
    /// What has no date, where nothing has one.
    Undated,
}

impl std::str::FromStr for NamedWeek {
    type Err = String;

    fn from_str(text: &str) -> Result<NamedWeek, String> {
        if text == UNDATED {
            return Ok(NamedWeek::Undated);
        }
        let day = text.parse().map_err(|_| format!("it is no date such as 2027-06-09, and not {UNDATED}"))?;
        Ok(NamedWeek::Of(day))
    }
}

impl std::fmt::Display for NamedWeek {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            NamedWeek::Of(day) => write!(f, "{}", monday(*day)),
            NamedWeek::Undated => f.write_str(UNDATED),
        }
    }
}

impl PublishedBatch {
    fn holds(&self, week: NamedWeek) -> bool {
        match (week, self.first_week, self.last_week) {
            (NamedWeek::Of(day), Some(first), Some(last)) => (first..=last).contains(&monday(day)),
            (NamedWeek::Undated, None, _) => true,
            _ => false,
        }
    }

    fn week(&self) -> Week {
        Week { first: self.first_week, last: self.last_week, products: self.products.clone() }
    }

    /// Its weeks in words.
    pub fn weeks_text(&self) -> String {
        match (self.first_week, self.last_week) {
            (Some(first), Some(last)) if first != last => format!("{first} to {last}"),
            (Some(first), _) => first.to_string(),
            (None, _) => UNDATED.to_string(),
        }
    }
}

impl ReleasedWeek {
    fn file_name(&self) -> String {
        let first = self.batch.first_week.map_or(UNDATED.to_string(), |day| day.to_string());
        format!("{first}-{}.json", &self.batch.key[..8.min(self.batch.key.len())])
    }

    /// What is said when it is released.
    pub fn text(&self) -> String {
        let pieces: u64 = self.orders.iter().map(|(.., quantity)| quantity).sum();
        let boards = match self.boards.len() {
            0 => String::new(),
            1 => "; a board of the rack is promised to it".to_string(),
            boards => format!("; {boards} boards of the rack are promised to it"),
        };
        format!(
            "Released: {}, {pieces} products: its plan stays as it is{boards}.\n",
            self.batch.weeks_text()
        )
    }

    /// What is said when it is recalled.
    pub fn recalled_text(&self) -> String {
        format!("Recalled: {}: the next night plans it anew.\n", self.batch.weeks_text())
    }
}

/// The weeks that are released in an output folder, by their files.
///
/// # Errors
/// If a file cannot be read or is no released week.
pub fn released(out: &Path) -> Result<Vec<ReleasedWeek>, PlaceError> {
    let folder = out.join(super::place::RELEASED);
    let failed = |why: std::io::Error| PlaceError::System { path: folder.clone(), why };
    let entries = match std::fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(failed(error)),
    };
    let mut paths: Vec<_> =
        entries.map(|entry| Ok(entry?.path())).collect::<Result<_, _>>().map_err(failed)?;
    paths.retain(|path| path.extension().is_some_and(|end| end == "json"));
    paths.sort();
    let read = |path: &std::path::PathBuf| {
        let bytes = std::fs::read(path);
        let week = bytes.and_then(|bytes| serde_json::from_slice(&bytes).map_err(std::io::Error::other));
        week.map_err(|why| PlaceError::System { path: path.clone(), why })
    };
    paths.iter().map(read).collect()
}

/// Orders that released weeks are for.
pub fn spoken_for(weeks: &[ReleasedWeek]) -> SpokenFor {
    let orders = weeks.iter().flat_map(|week| &week.orders);
    SpokenFor::new(orders.map(|(order, product, quantity)| (order.clone(), product.clone(), *quantity)))
}

/// The weeks that still have an open order, and those that have none.
pub fn open_and_done(weeks: Vec<ReleasedWeek>, seen: &SpokenFor) -> (Vec<ReleasedWeek>, Vec<ReleasedWeek>) {
    let is_open =
        |week: &ReleasedWeek| week.orders.iter().any(|(order, product, _)| seen.was_seen(order, product));
    weeks.into_iter().partition(is_open)
}

/// The batches of released weeks, the earliest first: one may take what those before it leave.
pub fn as_batches(
    weeks: &[ReleasedWeek],
    shop: &Shop,
    mut on_hand: Vec<RackBoard>,
    place: &OutFolder,
) -> Vec<Batch> {
    let mut batches = Vec::new();
    for week in weeks {
        let batch = as_batch(week, shop, &on_hand, place);
        on_hand.extend(batch.planned().map(|planned| planned.leaves.clone()).unwrap_or_default());
        batches.push(batch);
    }
    batches
}

/// The batch of a released week, with its plan as it was kept.
fn as_batch(week: &ReleasedWeek, shop: &Shop, on_hand: &[RackBoard], place: &OutFolder) -> Batch {
    let key = &week.batch.key;
    let kept = place.planned_before(key).and_then(|text| {
        let document: Document = serde_json::from_slice(&text).ok()?;
        Some(remembered(&document, &text, key, shop, on_hand))
    });
    let outcome = match kept {
        Some(planned) => {
            place.used(key);
            BatchTried::Planned(Box::new(planned))
        }
        None => BatchTried::Unplanned(
            "it is released, and its plan is gone or was changed: recall it, and it is planned anew"
                .to_string(),
        ),
    };
    Batch { released: true, ..Batch::of(&week.batch.week(), outcome, true) }
}

/// Releases the batch of the last published run that holds a week. `promise` is given the text of its plan, and promises
/// the boards of the rack to it.
///
/// # Errors
/// If there is no such batch, it is released already, its plan takes what a week that is not released leaves, the boards
/// cannot be promised, or the book or the folder cannot be read.
pub fn release(
    asked: &Asked,
    named: NamedWeek,
    promise: &dyn Fn(&str) -> Result<(), String>,
) -> Result<ReleasedWeek, NightlyError> {
    let place = OutFolder::open(&asked.out)?;
    let before = released(&asked.out)?;
    let batches = published(&asked.out);
    let is_released = |batch: &PublishedBatch| before.iter().any(|week| week.batch.key == batch.key);
    let Some(batch) = batches.iter().find(|batch| batch.holds(named) && !is_released(batch)) else {
        if before.iter().any(|week| week.batch.holds(named)) {
            return Err(NightlyError::ReleasedAlready(named));
        }
        let weeks: Vec<String> = batches.iter().map(PublishedBatch::weeks_text).collect();
        return Err(NightlyError::NoSuchWeek { named, weeks: weeks.join(", ") });
    };
    let Some((text, boards)) = plan_and_boards(&place, &batch.key) else {
        return Err(NightlyError::NotKept(named));
    };
    let mut unreleased = batches.iter().filter(|other| !is_released(other) && other.key != batch.key);
    if let Some(other) = unreleased.find(|other| leaves_any(&place, &other.key, &boards)) {
        return Err(NightlyError::TakesLeftovers { named, other: other.weeks_text() });
    }
    let week = ReleasedWeek {
        format: FORMAT.to_string(),
        batch: batch.clone(),
        orders: orders_of(asked, batch, &before)?,
        boards,
    };
    promise(&text).map_err(|why| NightlyError::NotPromised { named, why })?;
    let text = serde_json::to_string_pretty(&week).map_err(crate::report::RenderError::from)?;
    write_file(&place.released(), &week.file_name(), (text + "\n").as_bytes())?;
    Ok(week)
}

/// The text of a plan that is kept, and the boards on hand that it takes.
fn plan_and_boards(place: &OutFolder, key: &str) -> Option<(String, BTreeSet<String>)> {
    let text = String::from_utf8(place.planned_before(key)?).ok()?;
    let document: Document = serde_json::from_str(&text).ok()?;
    let takes = document.takes().map(str::to_string).collect();
    Some((text, takes))
}

/// Is any of the boards an offcut of a plan that is kept? Its name then begins with the plan's hash.
fn leaves_any(place: &OutFolder, key: &str, boards: &BTreeSet<String>) -> bool {
    let Some(text) = place.planned_before(key) else { return false };
    let named = format!("{}-", &digest(&text)[..SHORT_KEY]);
    boards.iter().any(|board| board.starts_with(&named))
}

/// Takes back what was released for a week: the next night plans it anew. `give_back` is given the text of its plan, and
/// gives back what was promised to it.
///
/// # Errors
/// If no such week is released, or another one that is takes what it leaves.
pub fn recall(
    asked: &Asked,
    named: NamedWeek,
    give_back: &dyn Fn(&str) -> Result<(), String>,
) -> Result<ReleasedWeek, NightlyError> {
    let place = OutFolder::open(&asked.out)?;
    let weeks = released(&asked.out)?;
    let Some(week) = weeks.iter().rfind(|week| week.batch.holds(named)) else {
        let weeks: Vec<String> = weeks.iter().map(|week| week.batch.weeks_text()).collect();
        return Err(NightlyError::NotReleased { named, weeks: weeks.join(", ") });
    };
    let takes = |other: &&ReleasedWeek| leaves_any(&place, &week.batch.key, &other.boards);
    if let Some(other) = weeks.iter().find(takes) {
        return Err(NightlyError::LeftoversTaken { named, other: other.batch.weeks_text() });
    }
    if let Some((text, _)) = plan_and_boards(&place, &week.batch.key) {
        give_back(&text).map_err(|why| NightlyError::NotPromised { named, why })?;
    }
    forget(&place, week)?;
    Ok(week.clone())
}

/// Forgets a released week.
pub fn forget(place: &OutFolder, week: &ReleasedWeek) -> Result<(), PlaceError> {
    let path = place.released().join(week.file_name());
    std::fs::remove_file(&path).map_err(|why| PlaceError::System { path, why })
}

/// The planned batches of the last published run.
fn published(out: &Path) -> Vec<PublishedBatch> {
    #[derive(Deserialize)]
    struct Record {
        batches: Vec<serde_json::Value>,
    }
    let batches = last_record(out).map_or(Vec::new(), |record: Record| record.batches);
    batches.into_iter().filter_map(|batch| serde_json::from_value(batch).ok()).collect()
}

/// The orders of the book that a batch is for: those of its weeks that are due first, until each product is as many as
/// planned.
fn orders_of(
    asked: &Asked,
    batch: &PublishedBatch,
    before: &[ReleasedWeek],
) -> Result<Vec<(String, String, u64)>, NightlyError> {
    let base = read_base(&asked.job)?;
    let mut left = batch.products.clone();
    let mut orders: BTreeMap<(String, String), u64> = BTreeMap::new();
    let week = |due: Option<Date>| match (due, batch.first_week, batch.last_week) {
        (Some(due), Some(first), Some(last)) => (first..=last).contains(&monday(due)),
        // What has no date is wanted with the first week.
        (None, ..) => true,
        (Some(_), ..) => false,
    };
    let mut wanted: Vec<Order> = Vec::new();
    read_book(&asked.book, &base, asked.until, &mut spoken_for(before), &mut |row| {
        if let BookRow::Wanted(order) = row
            && week(order.due)
            && batch.products.contains_key(&order.product)
        {
            wanted.push(order.clone());
        }
    })?;
    wanted.sort_by_key(|order| order.due);
    for order in wanted {
        let Some(left) = left.get_mut(&order.product) else { continue };
        let taken = order.quantity.min(*left);
        *left -= taken;
        if taken > 0 {
            *orders.entry((order.order, order.product)).or_insert(0) += taken;
        }
    }
    Ok(orders.into_iter().map(|((order, product), quantity)| (order, product, quantity)).collect())
}
