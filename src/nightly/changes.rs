//! What a run has otherwise than the last published one: batch by batch, board by board, in money.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::path::Path;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::batch::{Batch, batch_name};
use super::place::{OutFolder, last_record};
use crate::document::{BoardTold, BoughtOtherwise, Difference, Document};
use crate::measure::Unit;

/// Price lines of a batch that a person is told of; the file has all of them.
const MOST_TOLD: usize = 5;

/// A batch that is other than before, by its first week.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BatchChange {
    first_week: Option<Date>,
    before: Option<BatchSide>,
    after: Option<BatchSide>,
    #[serde(flatten)]
    difference: Difference,
}

/// A batch as a run has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct BatchSide {
    /// Its name in the run.
    batch: String,
    #[serde(skip_serializing)]
    first_week: Option<Date>,
    last_week: Option<Date>,
    /// Missing where there is no plan.
    #[serde(default)]
    total: Option<String>,
    #[serde(default, rename = "plan_sha256", skip_serializing)]
    hash: Option<String>,
    #[serde(default, skip_serializing)]
    key: Option<String>,
}

/// What of `run.json` names its batches.
#[derive(Debug, Deserialize)]
struct RunRead {
    batches: Vec<BatchSide>,
}

/// What differs between the last run of an output folder and batches of a new one. Nothing where no run is there.
pub fn changes(out: &Path, batches: &[Batch], place: &OutFolder, unit: Unit) -> Vec<BatchChange> {
    let Some(run) = last_record::<RunRead>(out) else { return Vec::new() };
    let before = super::latest(out);
    let plan_before =
        |side: &BatchSide| read(&std::fs::read(before.join(&side.batch).join("plan.json")).ok()?);
    let plan_now = |side: &BatchSide| read(&place.planned_before(side.key.as_ref()?)?);
    let now = batches.iter().enumerate().map(|(number, batch)| BatchSide::of(number, batch));
    let change = |(before, after): (Option<BatchSide>, Option<BatchSide>)| {
        let first_week = before.as_ref().or(after.as_ref())?.first_week;
        let plans = (before.as_ref().and_then(plan_before), after.as_ref().and_then(plan_now));
        let difference = Difference::between(plans.0.as_ref(), plans.1.as_ref(), unit);
        // A run of an earlier version does not tell what its batches cost.
        let told = before.map(|side| {
            let total = side.total.or(plans.0.map(|plan| plan.cost.total));
            BatchSide { total, ..side }
        });
        let money = |side: &Option<BatchSide>| side.as_ref().map(|side| (side.last_week, side.total.clone()));
        let is_other = money(&told) != money(&after) || !difference.is_nothing();
        is_other.then_some(BatchChange { first_week, before: told, after, difference })
    };
    unlike(run.batches, now.collect()).into_iter().filter_map(change).collect()
}

/// Batches that are in one run and not in the other, in pairs of the same first week. A week of very many parts is several
/// batches: those of them that are as they were are left out.
fn unlike(before: Vec<BatchSide>, now: Vec<BatchSide>) -> Vec<(Option<BatchSide>, Option<BatchSide>)> {
    let same = |one: &BatchSide, other: &BatchSide| {
        let weeks = |side: &BatchSide| (side.first_week, side.last_week);
        one.hash.is_some() && one.hash == other.hash && weeks(one) == weeks(other)
    };
    let only = |these: &[BatchSide], others: &[BatchSide]| {
        let mut by_week: BTreeMap<Option<Date>, VecDeque<BatchSide>> = BTreeMap::new();
        for one in these.iter().filter(|one| !others.iter().any(|other| same(one, other))) {
            by_week.entry(one.first_week).or_default().push_back(one.clone());
        }
        by_week
    };
    let (mut gone, mut new) = (only(&before, &now), only(&now, &before));
    let weeks: BTreeSet<Option<Date>> = gone.keys().chain(new.keys()).copied().collect();
    let mut pairs = Vec::new();
    for week in weeks {
        let (mut gone, mut new) =
            (gone.remove(&week).unwrap_or_default(), new.remove(&week).unwrap_or_default());
        while !gone.is_empty() || !new.is_empty() {
            pairs.push((gone.pop_front(), new.pop_front()));
        }
    }
    pairs
}

fn read(text: &[u8]) -> Option<Document> {
    serde_json::from_slice(text).ok()
}

impl BatchSide {
    fn of(number: usize, batch: &Batch) -> BatchSide {
        let planned = batch.planned();
        BatchSide {
            batch: batch_name(number),
            first_week: batch.week.first,
            last_week: batch.week.last,
            total: planned.map(|planned| planned.cost.total.clone()),
            hash: planned.map(|planned| planned.hash.clone()),
            key: planned.map(|planned| planned.key.clone()),
        }
    }

    fn told(&self) -> String {
        let to = self.last_week.map_or(String::new(), |day| format!(" to {day}"));
        match &self.total {
            Some(total) => format!("{total}{to}"),
            None => format!("no plan{to}"),
        }
    }
}

impl BatchChange {
    /// For a person.
    pub fn text(&self, currency: &str) -> String {
        let BatchChange { first_week, before, after, difference } = self;
        let week = first_week.map_or("no date".to_string(), |day| day.to_string());
        let told = |side: &Option<BatchSide>| side.as_ref().map_or("none".to_string(), BatchSide::told);
        let mut text = format!("Changed from {week}: {} before, {} now\n", told(before), told(after));
        if before.is_none() || after.is_none() {
            return text;
        }
        for bought in difference.buy.iter().take(MOST_TOLD) {
            let BoughtOtherwise { line, boards_before, boards_now, cost_more } = bought;
            let cost = match cost_more.strip_prefix('-') {
                Some(less) => format!("{less} {currency} less"),
                None => format!("{cost_more} {currency} more"),
            };
            text.push_str(&format!("  {line}: {boards_before} before, {boards_now} now, {cost}\n"));
        }
        if difference.buy.len() > MOST_TOLD {
            text.push_str(&format!(
                "  and {} more price lines (changes.json)\n",
                difference.buy.len() - MOST_TOLD
            ));
        }
        let copies = |boards: &[BoardTold]| boards.iter().map(|board| board.copies).sum::<u64>();
        text.push_str(&format!(
            "  boards: {} cut as before, {} no more, {} new (changes.json)\n",
            difference.boards_as_before,
            copies(&difference.boards_gone),
            copies(&difference.boards_new)
        ));
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(batch: &str, first_week: &str, hash: &str) -> BatchSide {
        let week = Some(first_week.parse().unwrap());
        let (hash, key) = (Some(hash.to_string()), None);
        BatchSide { batch: batch.to_string(), first_week: week, last_week: week, total: None, hash, key }
    }

    /// A week of very many parts was told of as one batch, whichever of its batches changed.
    #[test]
    fn of_a_week_of_several_batches_the_one_that_changed_is_told() {
        let (first, later) = ("2027-03-01", "2027-03-08");
        let before = [("batch-01", first, "a"), ("batch-02", first, "b"), ("batch-03", later, "c")];
        let now = [("batch-01", first, "a"), ("batch-02", first, "d"), ("batch-03", first, "e")];
        let sides =
            |run: [(&str, &str, &str); 3]| run.map(|(batch, week, hash)| side(batch, week, hash)).to_vec();
        let pairs = unlike(sides(before), sides(now));
        let names: Vec<_> = pairs
            .iter()
            .map(|(before, now)| [before, now].map(|side| side.as_ref().map_or("-", |side| &side.batch)))
            .collect();
        assert_eq!(names, [["batch-02", "batch-02"], ["-", "batch-03"], ["batch-03", "-"]]);
    }
}
