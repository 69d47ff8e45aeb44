//! Weeks that ask more of a saw than the shop can do in them, and what of them is cut earlier.
//!
//! What a product takes at the saws is not known before it is planned with others, so a week is thinned by the share by
//! which it is too much, then planned again; a few turns bring it close.

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::Date;

use super::batch::Batch;
use super::week::{Week, add};
use crate::job::SawHours;
use crate::plan::Saws;

/// Turns of thinning and planning again.
pub const TURNS: usize = 3;

/// Products of a week that are cut earlier.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MovedEarly {
    /// The Monday of the week they are due in.
    pub due: Date,
    /// The Monday of the week they are cut in.
    pub cut: Date,
    /// How many of them.
    pub products: u64,
}

/// What the weeks ask for, by the week in which it is cut and the week in which it is due.
#[derive(Debug, Clone, Default)]
pub struct WorkOfWeeks {
    weeks: BTreeMap<Date, BTreeMap<Date, BTreeMap<String, u64>>>,
}

/// Hours of each saw that batches ask for, by the week in which they are cut.
#[derive(Debug, Clone, Default)]
pub struct HoursOfWeeks {
    weeks: BTreeMap<Option<Date>, BTreeMap<Saws, f64>>,
}

impl HoursOfWeeks {
    /// What some batches ask for. A week of very many parts is several batches.
    pub fn by<'b>(batches: impl IntoIterator<Item = &'b Batch>) -> HoursOfWeeks {
        let mut asked = HoursOfWeeks::default();
        for batch in batches {
            let saws = asked.weeks.entry(batch.week.first).or_default();
            batch.loads().iter().for_each(|load| *saws.entry(load.saw).or_default() += load.hours);
        }
        asked
    }

    /// The weeks, the earliest first.
    pub fn weeks(&self) -> impl Iterator<Item = Option<Date>> {
        self.weeks.keys().copied()
    }

    /// Hours of a saw in a week.
    pub fn of(&self, week: Option<Date>, saw: Saws) -> f64 {
        self.weeks.get(&week).and_then(|saws| saws.get(&saw)).copied().unwrap_or(0.0)
    }

    /// By how much a saw is asked for more than others leave of a week; at most 1 where all fits or nothing is said.
    pub fn strain(&self, week: Option<Date>, hours: &SawHours, others: &HoursOfWeeks) -> f64 {
        let share = |saw: &Saws| {
            let asked = self.of(week, *saw);
            let Some(most) = saw.hours(hours).filter(|_| asked > 0.0) else { return 0.0 };
            let left = most - others.of(week, *saw);
            if left > 0.0 { asked / left } else { f64::INFINITY }
        };
        Saws::ALL.iter().map(share).fold(0.0, f64::max)
    }
}

/// Does the shop say what any saw can do?
pub fn is_said(hours: &SawHours) -> bool {
    Saws::ALL.iter().any(|saw| saw.hours(hours).is_some())
}

impl WorkOfWeeks {
    /// Every week by itself.
    pub fn of(weeks: &[Week]) -> WorkOfWeeks {
        let mut work = WorkOfWeeks::default();
        // A week of very many parts is several.
        for (monday, week) in weeks.iter().filter_map(|week| Some((week.first?, week))) {
            add(work.weeks.entry(monday).or_default().entry(monday).or_default(), &week.products);
        }
        work
    }

    /// The weeks as they are planned now.
    pub fn weeks(&self) -> Vec<Week> {
        let filled = self.weeks.iter().filter(|(_, by_due)| !by_due.is_empty());
        let week = |(monday, by_due): (&Date, &BTreeMap<Date, BTreeMap<String, u64>>)| {
            let mut products = BTreeMap::new();
            by_due.values().for_each(|more| add(&mut products, more));
            Week { first: Some(*monday), last: by_due.keys().next_back().copied(), products }
        };
        filled.map(week).collect()
    }

    /// Takes off each week whose saws are strained the share that does not fit, and puts it into the week before, no more
    /// than so many weeks early and not before the first week of all. False if nothing could be moved.
    pub fn thin(&mut self, strains: &[(Date, f64)], early_weeks: u32) -> bool {
        let Some(earliest) = self.weeks.keys().next().copied() else { return false };
        let mut moved = false;
        for (monday, strain) in strains.iter().rev() {
            let before = monday.saturating_sub(7.days());
            if *strain <= 1.0 || before < earliest {
                continue;
            }
            let Some(by_due) = self.weeks.get_mut(monday) else { continue };
            let share = 1.0 - 1.0 / strain;
            let mut taken: BTreeMap<Date, BTreeMap<String, u64>> = BTreeMap::new();
            for (due, products) in by_due.iter_mut() {
                let early =
                    before.until(*due).map_or(u32::MAX, |span| span.get_days().unsigned_abs().div_ceil(7));
                if early > early_weeks {
                    continue;
                }
                for (product, count) in products.iter_mut() {
                    let more = ((*count as f64 * share).ceil() as u64).min(*count);
                    *count -= more;
                    if more > 0 {
                        taken.entry(*due).or_default().insert(product.clone(), more);
                    }
                }
                products.retain(|_, count| *count > 0);
            }
            by_due.retain(|_, products| !products.is_empty());
            moved |= !taken.is_empty();
            let earlier = self.weeks.entry(before).or_default();
            for (due, products) in taken {
                add(earlier.entry(due).or_default(), &products);
            }
        }
        moved
    }

    /// What is cut earlier than in the week in which it is due.
    pub fn moved(&self) -> Vec<MovedEarly> {
        let early = self.weeks.iter().flat_map(|(cut, by_due)| {
            let later = by_due.iter().filter(move |(due, _)| *due > cut);
            later.map(|(due, products)| MovedEarly {
                due: *due,
                cut: *cut,
                products: products.values().sum(),
            })
        });
        early.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::CostEntry;
    use crate::measure::Money;
    use crate::nightly::batch::{BatchTried, WeeksPlanned};
    use crate::plan::SawLoad;

    fn batch(monday: Date, hours: f64) -> Batch {
        let week = Week { first: Some(monday), last: Some(monday), products: BTreeMap::new() };
        let nothing = "0.00".to_string();
        let cost = CostEntry {
            lumber: nothing.clone(),
            delivery: nothing.clone(),
            rack: nothing.clone(),
            setup: nothing.clone(),
            offcut_credit: nothing.clone(),
            edging: None,
            total: nothing.clone(),
            lower_bound: nothing,
            gap_percent: 0.0,
        };
        let planned = WeeksPlanned {
            cost,
            status: "optimal".to_string(),
            turns: None,
            key: String::new(),
            hash: String::new(),
            one_of_each: 0.0,
            spares: 0.0,
            boards: 0,
            loads: vec![SawLoad { saw: Saws::Table, settings: 0, cuts: 0, hours }],
            takes: Vec::new(),
            leaves: Vec::new(),
        };
        Batch::of(&week, BatchTried::Planned(Box::new(planned)), false)
    }

    /// Three hours and four of one week are too much for six, though neither is by itself; two released hours of it are
    /// taken off first.
    #[test]
    fn batches_of_one_week_share_its_hours() {
        let [first, second] = ["2027-03-01", "2027-03-08"].map(|day| day.parse::<Date>().unwrap());
        let six = SawHours { table_saw: Some(Money::cents(600)), ..SawHours::default() };
        let asked = HoursOfWeeks::by(&[batch(first, 3.0), batch(first, 4.0), batch(second, 6.0)]);
        let none = HoursOfWeeks::default();
        assert!((asked.strain(Some(first), &six, &none) - 7.0 / 6.0).abs() < 1e-9);
        assert!((asked.strain(Some(second), &six, &none) - 1.0).abs() < 1e-9);
        let released = HoursOfWeeks::by(&[batch(first, 2.0)]);
        assert!((asked.strain(Some(first), &six, &released) - 7.0 / 4.0).abs() < 1e-9);
    }
}
