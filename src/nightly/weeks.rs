//! Weeks planned side by side, then one after the other with what is on hand by then, and neighbours planned as one where
//! that saves more than early work costs.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use jiff::civil::Date;

use super::NightlyError;
use super::batch::{Batch, WeeksJoined};
use super::capacity::{HoursOfWeeks, MovedEarly, TURNS, WorkOfWeeks, is_said};
use super::on_hand::on_hand_after;
use super::planned::Run;
use super::stage::Stage;
use super::week::{Week, add};
use crate::intake::digest;
use crate::job::{MOST_AT_ONCE, RackBoard};
use crate::measure::Money;
use crate::solve::{Options, Shares, side_by_side};

/// Plans every week by itself and each stretch of weeks that may be cut as early as its first, and keeps what is cheaper. The
/// weeks that are left apart are then joined with their neighbours one by one. Where the shop says what its saws can do in a
/// week, what does not fit beside the weeks that are released is cut earlier first. The rack serves the first batch; what is
/// left of it, and what batches leave, serves later ones, unless every week is planned by itself.
pub fn plan(
    run: &Run<'_>,
    weeks: Vec<Week>,
    released: &[Batch],
    stages: &(dyn Fn(Stage) + Sync),
) -> Result<(Vec<Batch>, Vec<MovedEarly>), NightlyError> {
    let hours = &run.base.shop().labour.hours;
    let taken = HoursOfWeeks::by(released);
    let may_join = weeks.len() > 1 && run.asked.early_weeks > 0;
    let share = |tenths: u32| run.options.time.map(|time| time * tenths / 10);
    // Weeks by themselves say what joining saves. Stretches of them take longer, and are what is cut most of the time.
    let most = share(if may_join { 3 } else { 8 });
    let (planned, moved) = if is_said(hours) && weeks.iter().all(|week| week.first.is_some()) {
        let mut work = WorkOfWeeks::of(&weeks);
        let parts = run.base.parts_of_products();
        let turn = most.map(|time| time / (TURNS as u32 + 1));
        let mut planned = plan_weeks(run, weeks, released, turn, stages)?;
        for _ in 0..TURNS {
            let asked = HoursOfWeeks::by(&planned);
            let strains = asked.weeks().filter_map(|week| Some((week?, asked.strain(week, hours, &taken))));
            if !work.thin(&strains.collect::<Vec<_>>(), run.asked.early_weeks) {
                break;
            }
            let weeks = work.weeks().into_iter().flat_map(|week| week.split(&parts, MOST_AT_ONCE));
            planned = plan_weeks(run, weeks.collect(), released, turn, stages)?;
        }
        (planned, work.moved())
    } else {
        (plan_weeks(run, weeks, released, most, stages)?, Vec::new())
    };
    let planned = if may_join { stretches(run, planned, released, share(5))? } else { planned };
    let searches = planned.len().saturating_sub(1) * 2;
    let rest = Shares::new(share(2), 1, searches);
    let mut batches: Vec<Batch> = Vec::new();
    for batch in planned {
        let with = with_leftovers(run, &batch, released, &batches, rest.next())?;
        let batch = with.unwrap_or(batch);
        let joined = match batches.split_last() {
            Some((last, before)) => join(run, (before, last), &batch, released, rest.next())?,
            None => None,
        };
        match joined {
            Some(joined) => {
                batches.pop();
                batches.push(joined);
            }
            None => batches.push(batch),
        }
    }
    Ok((batches, moved))
}

/// Stretches of weeks that may all be cut with their first one, each as one batch where that is cheaper than week by week.
fn stretches(
    run: &Run<'_>,
    planned: Vec<Batch>,
    released: &[Batch],
    time: Option<Duration>,
) -> Result<Vec<Batch>, NightlyError> {
    let mut stretches: Vec<Vec<Batch>> = Vec::new();
    for batch in planned {
        let fits = |stretch: &Vec<Batch>| {
            early_by(stretch.first().and_then(|first| first.week.first), &batch.week)
                .is_some_and(|weeks| weeks <= f64::from(run.asked.early_weeks))
        };
        match stretches.last_mut().filter(|stretch| fits(stretch)) {
            Some(stretch) => stretch.push(batch),
            None => stretches.push(vec![batch]),
        }
    }
    let as_one: Vec<Option<Together>> = stretches
        .iter()
        .enumerate()
        .map(|(number, stretch)| Together::of(run, stretch.iter().collect(), number == 0))
        .collect();
    let open: Vec<(usize, &Together)> = as_one
        .iter()
        .enumerate()
        .filter_map(|(number, together)| Some((number, together.as_ref()?)))
        .collect();
    let joined = side_by_side(&Options { time, ..run.options.clone() }, &open, |(number, together), own| {
        let others = stretches.iter().enumerate().filter(|(other, _)| other != number);
        let others = HoursOfWeeks::by(released.iter().chain(others.flat_map(|(_, stretch)| stretch)));
        Ok((*number, together.planned(run, own.time, &others, &|_| Ok(None))?))
    })?;
    let mut joined: BTreeMap<usize, Option<Batch>> =
        joined.into_iter().collect::<Result<_, NightlyError>>()?;
    let mut batches = Vec::new();
    for (number, stretch) in stretches.into_iter().enumerate() {
        match joined.remove(&number).flatten() {
            Some(batch) => batches.push(batch),
            None => batches.extend(stretch),
        }
    }
    Ok(batches)
}

/// Boards on hand for a week once some batches are cut; nothing where no batch is cut before it, or every week is
/// planned by itself.
fn on_hand_for(run: &Run<'_>, week: &Week, released: &[Batch], before: &[Batch]) -> Option<Vec<RackBoard>> {
    let monday = week.first.filter(|_| run.asked.early_weeks > 0)?;
    let earlier = released.iter().filter(|batch| batch.week.first < Some(monday)).chain(before);
    earlier.clone().next()?;
    let takes = released.iter().filter_map(Batch::planned).flat_map(|planned| &planned.takes);
    let promised: BTreeSet<String> = takes.cloned().collect();
    Some(on_hand_after(run.base.rack(), earlier, &promised))
}

/// A batch with what those before it leave, where that is cheaper.
fn with_leftovers(
    run: &Run<'_>,
    alone: &Batch,
    released: &[Batch],
    before: &[Batch],
    time: Option<Duration>,
) -> Result<Option<Batch>, NightlyError> {
    match on_hand_for(run, &alone.week, released, before) {
        Some(on_hand) => run.with_leftovers(alone, &on_hand, time),
        None => Ok(None),
    }
}

/// Plans weeks side by side, the first one with the rack.
fn plan_weeks(
    run: &Run<'_>,
    weeks: Vec<Week>,
    released: &[Batch],
    time: Option<Duration>,
    stages: &(dyn Fn(Stage) + Sync),
) -> Result<Vec<Batch>, NightlyError> {
    let numbered: Vec<(usize, &Week)> = weeks.iter().enumerate().collect();
    let planned =
        side_by_side(&Options { time, ..run.options.clone() }, &numbered, |(number, week), own| {
            let batch = match number {
                0 => plan_first(run, week, released, own.time),
                _ => run.plan(week, &[], own.time),
            };
            if let Ok(batch) = &batch {
                stages(batch.stage());
            }
            batch
        })?;
    planned.into_iter().collect()
}

/// The first week: with the rack, or as it was planned when weeks before it were not yet cut.
fn plan_first(
    run: &Run<'_>,
    week: &Week,
    released: &[Batch],
    time: Option<Duration>,
) -> Result<Batch, NightlyError> {
    let rack = run.base.rack();
    let before = match run.asked.early_weeks {
        0 => None,
        _ => {
            let on_hand = on_hand_for(run, week, released, &[]);
            run.taken_before(week, on_hand.as_deref().unwrap_or(rack))
        }
    };
    match before {
        Some(batch) => Ok(batch),
        None => run.plan(week, rack, time),
    }
}

/// Two neighbours as one batch, if that is worth more than the early work costs.
fn join(
    run: &Run<'_>,
    (before, earlier): (&[Batch], &Batch),
    later: &Batch,
    released: &[Batch],
    time: Option<Duration>,
) -> Result<Option<Batch>, NightlyError> {
    let Some(together) = Together::of(run, vec![earlier, later], before.is_empty()) else { return Ok(None) };
    let others = HoursOfWeeks::by(released.iter().chain(before));
    together.planned(run, time, &others, &|alone| with_leftovers(run, alone, released, before, time))
}

/// By how many weeks the work of a week is early where it is cut in the week of `from`.
fn early_by(from: Option<Date>, week: &Week) -> Option<f64> {
    let to = week.last.max(week.first)?;
    let days = from?.until(to).ok()?.get_days();
    Some(f64::from(days) / 7.0)
}

/// Neighbouring batches that may be planned as one.
struct Together<'b> {
    batches: Vec<&'b Batch>,
    /// The weeks of all of them.
    week: Week,
    /// What the wood that is cut early costs for that time.
    carrying: f64,
    /// Is it the first batch of the run, which has the rack?
    is_first: bool,
    /// Under which it is remembered whether they are one.
    mark: String,
}

impl<'b> Together<'b> {
    /// Nothing where one has no plan or no date, the last would be cut too early, or nothing can be saved by it.
    fn of(run: &Run<'_>, batches: Vec<&'b Batch>, is_first: bool) -> Option<Together<'b>> {
        let (first, others) = batches.split_first().filter(|(_, others)| !others.is_empty())?;
        let from = first.week.first?;
        let amount = |text: &str| Money::parse_signed(text).map_or(0.0, Money::to_f64);
        let one = first.planned()?;
        let mut week = first.week.clone();
        let (mut carrying, mut most_saved, mut hashes) =
            (0.0, one.one_of_each + one.spares, one.hash.clone());
        for batch in others {
            let planned = batch.planned()?;
            let weeks_early = early_by(Some(from), &batch.week)?;
            if weeks_early > f64::from(run.asked.early_weeks) {
                return None;
            }
            carrying += amount(&planned.cost.lumber) * run.asked.carry_percent / 100.0 * weeks_early / 52.0;
            // What joining can save is about a part of a board of each line that is bought, a delivery, and spare boards.
            most_saved += planned.one_of_each + planned.spares + amount(&planned.cost.delivery);
            week.last = batch.week.last;
            add(&mut week.products, &batch.week.products);
            hashes.push_str(&format!(" {}", planned.hash));
        }
        let mark = digest(format!("{hashes} {is_first} {carrying}").as_bytes());
        (most_saved > carrying).then_some(Together { batches, week, carrying, is_first, mark })
    }

    /// The batches as one, if that saves more than it costs to cut early and the saws have the hours for it beside the
    /// others. `with_leftovers` plans a batch with what is on hand by then, where that is cheaper.
    fn planned(
        &self,
        run: &Run<'_>,
        time: Option<Duration>,
        others: &HoursOfWeeks,
        with_leftovers: &dyn Fn(&Batch) -> Result<Option<Batch>, NightlyError>,
    ) -> Result<Option<Batch>, NightlyError> {
        // Decided once, it stays so while all weeks are what they were: what is printed and lies on the bench holds.
        let decided = if run.asked.improve { None } else { run.place.joined_before(&self.mark) };
        if decided == Some(false) {
            run.place.used(&self.mark);
            return Ok(None);
        }
        if time.is_some_and(|time| time.is_zero()) {
            run.place.decide(&self.mark, false)?;
            return Ok(None);
        }
        let together = run.plan(&self.week, if self.is_first { run.base.rack() } else { &[] }, time)?;
        let with = with_leftovers(&together)?;
        let together = with.unwrap_or(together);
        let apart = self.batches.iter().map(|batch| batch.total()).sum::<Option<Money>>();
        let saves = apart.zip(together.total()).map(|(apart, together)| apart - together);
        let hours = &run.base.shop().labour.hours;
        let fits = HoursOfWeeks::by([&together]).strain(self.week.first, hours, others) <= 1.0;
        let saves = saves.filter(|saves| saves.to_f64() > self.carrying && fits);
        if !run.is_asked_to_stop() {
            run.place.decide(&self.mark, saves.is_some())?;
        }
        let Some(saves) = saves else { return Ok(None) };
        let (first, later) = (self.batches[0], &self.batches[1..]);
        let weeks = later.iter().map(|batch| batch.week.first).collect();
        let mut joined = first.joined.clone();
        joined.extend(later.iter().flat_map(|batch| batch.joined.clone()));
        joined.push(WeeksJoined { weeks, saves, carrying: self.carrying });
        Ok(Some(Batch { joined, ..together }))
    }
}
