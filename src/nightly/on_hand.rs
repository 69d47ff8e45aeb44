//! Boards on hand before a batch is cut: what is left of the rack, and what the batches before it leave.
//!
//! A week is planned by itself first, side by side with the others. Then it is planned again with the boards on hand,
//! where these are worth more than the gap that is asked for, and the cheaper plan stays. That plan is kept under the
//! boards that it takes and no others: it holds as long as those are there, whatever else comes onto the rack.

use std::cmp::Reverse;
use std::collections::BTreeSet;
use std::time::Duration;

use num_traits::ToPrimitive;

use super::NightlyError;
use super::batch::{Batch, BatchTried};
use super::leaves::area;
use super::planned::Run;
use super::week::Week;
use crate::job::{Job, RackBoard};
use crate::measure::Area;
use crate::trade::same_species;

/// Boards that one batch is offered, the largest first: each is a stock of its own in its program.
const MOST_OFFERED: usize = 60;

/// What is on hand once some batches are cut, of the rack and of what they leave.
pub fn on_hand_after<'b>(
    rack: &[RackBoard],
    cut: impl Iterator<Item = &'b Batch> + Clone,
    promised: &BTreeSet<String>,
) -> Vec<RackBoard> {
    let planned = || cut.clone().filter_map(Batch::planned);
    let taken: BTreeSet<&str> =
        planned().flat_map(|planned| &planned.takes).chain(promised).map(String::as_str).collect();
    let mut named: BTreeSet<&str> = BTreeSet::new();
    // A batch may be cut already, and what it left may be on the rack under the same name.
    let all = rack.iter().chain(planned().flat_map(|planned| &planned.leaves));
    all.filter(|board| !taken.contains(board.board.as_str()) && named.insert(&board.board)).cloned().collect()
}

impl Run<'_> {
    /// The plan of a week with boards on hand as it was made on an earlier night, if those that it takes are there.
    pub fn taken_before(&self, week: &Week, on_hand: &[RackBoard]) -> Option<Batch> {
        if self.asked.improve {
            return None;
        }
        let mark = self.key(&self.job(week, &[]).ok()?);
        let batch = self.with_boards(week, &self.place.taken_before(&mark)?, on_hand)?;
        self.place.used(&mark);
        Some(batch)
    }

    /// The plan of a batch with boards on hand, where it is cheaper than the batch's own plan.
    pub fn with_leftovers(
        &self,
        alone: &Batch,
        on_hand: &[RackBoard],
        time: Option<Duration>,
    ) -> Result<Option<Batch>, NightlyError> {
        let week = &alone.week;
        // What a week takes is remembered beside its plan without any board on hand.
        let Ok(bare) = self.job(week, &[]) else { return Ok(None) };
        let mark = self.key(&bare);
        let saving = |batch: Batch| {
            let saved = alone.total().zip(batch.total()).map(|(alone, with)| alone - with);
            Batch { saved_by_leftovers: saved, ..batch }
        };
        let before = self.place.taken_before(&mark);
        let known = before.as_ref().and_then(|names| self.with_boards(week, names, on_hand)).map(saving);
        match (&before, &known) {
            // Decided once, it stays so: what is printed and lies on the bench holds.
            (Some(names), _) if names.is_empty() && !self.asked.improve => {
                self.place.used(&mark);
                return Ok(None);
            }
            (_, Some(_)) if !self.asked.improve => {
                self.place.used(&mark);
                return Ok(known);
            }
            _ => {}
        }
        // The week's own plan may be a better one by now.
        let known = known.filter(|known| alone.total().is_none_or(|alone| known.total() < Some(alone)));
        let found = self.planned_anew(alone, &bare, on_hand, time)?.map(saving);
        let cheaper = match (known, found) {
            (Some(known), Some(found)) if found.total() < known.total() => Some(found),
            (Some(known), _) => Some(known),
            (None, found) => found,
        };
        if !self.is_asked_to_stop() {
            let planned = cheaper.as_ref().and_then(Batch::planned);
            self.place.take(&mark, planned.map_or(&[], |planned| planned.takes.as_slice()))?;
        }
        Ok(cheaper)
    }

    /// Plans a batch with the boards on hand, if they are worth it; nothing if that is no cheaper. `bare` is its job without
    /// any.
    fn planned_anew(
        &self,
        alone: &Batch,
        bare: &Job,
        on_hand: &[RackBoard],
        time: Option<Duration>,
    ) -> Result<Option<Batch>, NightlyError> {
        let week = &alone.week;
        let mut offered = largest_first(on_hand.iter().filter(|board| serves_any(bare, board)));
        offered.truncate(MOST_OFFERED);
        let worth: f64 = offered.iter().map(|board| price_of_such(bare, board)).sum();
        // A plan within the gap may cost so much more or less than another one.
        let noise = alone.total().map(|total| total.to_f64() * self.options.gap_percent / 100.0);
        let pays = !offered.is_empty() && noise.is_none_or(|noise| worth > noise);
        if !pays || time.is_some_and(|time| time.is_zero()) {
            return Ok(None);
        }
        let Ok(job) = self.job(week, &offered) else { return Ok(None) };
        let Ok(checked) = self.searched(&job, time)? else { return Ok(None) };
        let taken: BTreeSet<&str> = checked.document().takes().collect();
        let dearer = alone.total().is_some_and(|total| checked.plan().cost.total >= total);
        if taken.is_empty() || dearer || self.is_asked_to_stop() {
            return Ok(None);
        }
        offered.retain(|board| taken.contains(board.board.as_str()));
        let Ok(job) = self.job(week, &offered) else { return Ok(None) };
        let key = self.key(&job);
        // A plan that cannot be told of the boards it takes alone is a bug; the one without them stands.
        let Ok(checked) = checked.on_rack_of(job) else { return Ok(None) };
        let planned = self.keep(&checked, &key)?;
        Ok(Some(Batch::of(week, BatchTried::Planned(Box::new(planned)), false)))
    }

    /// The plan that was kept for a week with certain boards, all of which are on hand.
    fn with_boards(&self, week: &Week, names: &[String], on_hand: &[RackBoard]) -> Option<Batch> {
        let boards = largest_first(on_hand.iter().filter(|board| names.contains(&board.board)));
        if names.is_empty() || boards.len() < names.len() {
            return None;
        }
        let job = self.job(week, &boards).ok()?;
        let key = self.key(&job);
        let planned = self.kept(&job, &key)?;
        self.place.used(&key);
        Some(Batch::of(week, BatchTried::Planned(Box::new(planned)), true))
    }
}

/// Boards in the order in which a job has them.
fn largest_first<'b>(boards: impl Iterator<Item = &'b RackBoard>) -> Vec<RackBoard> {
    let mut boards: Vec<RackBoard> = boards.cloned().collect();
    boards.sort_by_key(|board| (Reverse(area(board).base()), board.board.clone()));
    boards
}

/// Could any part be cut from a board?
fn serves_any(job: &Job, board: &RackBoard) -> bool {
    job.parts.iter().any(|part| job.shop.serves(&board.offered(), part).is_ok())
}

/// What so much of such wood costs where it is cheapest.
fn price_of_such(job: &Job, board: &RackBoard) -> f64 {
    let such = job
        .lines
        .iter()
        .filter(|line| line.quarter == board.quarter && same_species(&line.species, &board.species));
    let by_area = such.filter_map(|line| {
        let price = line.price_of_board(&job.suppliers[line.supplier]).ok()?.to_f64()?;
        Some(price / Area::of(line.length, line.width).base() as f64)
    });
    let cheapest = by_area.reduce(f64::min).unwrap_or(0.0);
    cheapest * area(board).base() as f64
}
