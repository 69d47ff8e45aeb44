//! Weeks planned side by side, then one after the other with what is on hand by then, and neighbours planned as one where
//! that saves more than early work costs.

use std::collections::BTreeSet;
use std::time::Duration;

use super::NightlyError;
use super::batch::{Batch, WeeksJoined};
use super::capacity::{HoursTaken, MovedEarly, TURNS, WorkOfWeeks, is_said, strain};
use super::on_hand::on_hand_after;
use super::planned::Run;
use super::stage::Stage;
use super::week::{Week, add};
use crate::intake::digest;
use crate::job::RackBoard;
use crate::measure::Money;
use crate::solve::{Options, Shares, side_by_side};

/// Plans every week, then joins neighbours while that saves more than early work costs. Where the shop says what its saws
/// can do in a week, what does not fit beside the weeks that are released is cut earlier first. The rack serves the first
/// batch; what is left of it, and what batches leave, serves later ones, unless every week is planned by itself.
pub fn plan(
    run: &Run<'_>,
    weeks: Vec<Week>,
    released: &[Batch],
    stages: &(dyn Fn(Stage) + Sync),
) -> Result<(Vec<Batch>, Vec<MovedEarly>), NightlyError> {
    let hours = &run.base.shop().labour.hours;
    let taken = HoursTaken::by(released.iter().map(|batch| (batch.week.first, batch.loads())));
    // Some of the time is kept for leftovers and for joining weeks.
    let most = run.options.time.map(|time| time * 4 / 5);
    let (planned, moved) = if is_said(hours) && weeks.iter().all(|week| week.first.is_some()) {
        let mut work = WorkOfWeeks::of(&weeks);
        let turn = most.map(|time| time / (TURNS as u32 + 1));
        let mut planned = plan_weeks(run, weeks, released, turn, stages)?;
        for _ in 0..TURNS {
            let strains = planned.iter().filter_map(|batch| {
                Some((batch.week.first?, strain(batch.loads(), batch.week.first, hours, &taken)))
            });
            if !work.thin(&strains.collect::<Vec<_>>(), run.asked.early_weeks) {
                break;
            }
            planned = plan_weeks(run, work.weeks(), released, turn, stages)?;
        }
        (planned, work.moved())
    } else {
        (plan_weeks(run, weeks, released, most, stages)?, Vec::new())
    };
    let searches = planned.len().saturating_sub(1) * 2;
    let rest = Shares::new(run.options.time.map(|time| time / 5), 1, searches);
    let mut batches: Vec<Batch> = Vec::new();
    for batch in planned {
        let with = with_leftovers(run, &batch, released, &batches, rest.next())?;
        let batch = with.unwrap_or(batch);
        let joined = match batches.split_last() {
            Some((last, before)) => join(run, (before, last), &batch, released, &rest, &taken)?,
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
    shares: &Shares,
    taken: &HoursTaken,
) -> Result<Option<Batch>, NightlyError> {
    let asked = run.asked;
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
    let is_first = before.is_empty();
    // Decided once, it stays so while both weeks are what they were: what is printed and lies on the bench holds.
    let pair = digest(format!("{} {} {is_first} {carrying}", one.hash, other.hash).as_bytes());
    let decided = if asked.improve { None } else { run.place.joined_before(&pair) };
    if decided == Some(false) {
        run.place.used(&pair);
        return Ok(None);
    }
    if time.is_some_and(|time| time.is_zero()) {
        run.place.decide(&pair, false)?;
        return Ok(None);
    }
    let mut week = earlier.week.clone();
    week.last = later.week.last;
    add(&mut week.products, &later.week.products);
    let together = run.plan(&week, if is_first { run.base.rack() } else { &[] }, time)?;
    let with = with_leftovers(run, &together, released, before, time)?;
    let together = with.unwrap_or(together);
    let saves = together.total().map(|cost| one_cost + other_cost - cost);
    let fits = strain(together.loads(), week.first, &run.base.shop().labour.hours, taken) <= 1.0;
    let saves = saves.filter(|saves| saves.to_f64() > carrying && fits);
    if !run.is_asked_to_stop() {
        run.place.decide(&pair, saves.is_some())?;
    }
    let Some(saves) = saves else { return Ok(None) };
    let mut joined = earlier.joined.clone();
    joined.push(WeeksJoined { week: later.week.first, saves, carrying });
    Ok(Some(Batch { joined, ..together }))
}
