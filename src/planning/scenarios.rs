//! What if: the job under other prices, kerfs and demands, each planned and ranked by cost.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::ToPrimitive;

use super::checked::Checked;
use super::compare::{Outcome, Solved, solve_from};
use super::confidence::before_fresh_lots;
use super::error::PlanningError;
use super::front::Request;
use crate::index::{LineIndex, SupplierIndex};
use crate::intake::{Change, ScenarioRows};
use crate::job::{Job, JobError};
use crate::measure::Money;
use crate::plan::build_plan;
use crate::solve::{Options, Planner, side_by_side};
use crate::trade::same_species;

/// The name of the job without any change.
pub const AS_IT_IS: &str = "as it is";

/// A scenario with what comes of it.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Scenario {
    /// Its name.
    pub name: String,
    /// What comes of it.
    pub outcome: Outcome,
}

/// All scenarios, the cheapest first, those without a plan last.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Ranked {
    /// The scenarios; the job as it is has the name [`AS_IT_IS`].
    pub scenarios: Vec<Scenario>,
    /// Dealers by index, each with the number of scenarios in which it is bought from.
    pub dealers: Vec<(SupplierIndex, usize)>,
    /// Price lines by index, each with the number of scenarios in which it is bought.
    pub lines: Vec<(LineIndex, usize)>,
}

/// Plans every scenario side by side on the threads of the request, each within its share of the time and with the spare
/// boards that its own buy needs.
/// `done` is called after each.
///
/// # Errors
/// If a number is too large to be held exactly, or the threads cannot be started.
pub fn rank(
    job: &Job,
    scenarios: &[ScenarioRows],
    request: &Request,
    done: &(dyn Fn() + Sync),
) -> Result<Ranked, PlanningError> {
    let mut jobs: Vec<(String, Job)> = vec![(AS_IT_IS.to_string(), job.clone())];
    for scenario in scenarios {
        jobs.push((scenario.name.clone(), changed(job, &scenario.changes)?));
    }
    let mut first = Planner::new(job.clone());
    let start = Instant::now();
    let searching = before_fresh_lots(job, request.confidence_percent, &request.options);
    first.find_patterns(&searching)?;
    let everyone: Vec<SupplierIndex> = job.suppliers.keys().collect();
    let solve = |job: &Job, options: &Options| {
        solve_from(job, &Planner::like(job.clone(), &first), &everyone, options)
    };
    let solved = side_by_side(&searching, &jobs, |(_, job), options| {
        let solved = solve(job, options);
        done();
        solved
    })?;
    let mut solved: Vec<Solved> = solved.into_iter().collect::<Result<_, _>>()?;
    carry_over(&mut solved)?;
    // Where the gaps hide whether a scenario is dearer or cheaper, the search goes on for the time that is left.
    let hidden = hidden_by_gaps(&solved);
    let left = searching.time.map_or(Duration::ZERO, |time| time.saturating_sub(start.elapsed()));
    if !hidden.is_empty() && !left.is_zero() {
        let further = Options { time: Some(left), gap_percent: 0.0, ..searching.clone() };
        let again = side_by_side(&further, &hidden, |place, options| solve(&jobs[*place].1, options))?;
        for (place, again) in hidden.into_iter().zip(again) {
            solved[place].improve(again?);
        }
        carry_over(&mut solved)?;
    }
    let outcomes = side_by_side(&request.options, &solved, |solved, options| {
        let own = Request { options: options.clone(), ..request.clone() };
        solved.clone().made_sure(&own)?.built()
    })?;
    let mut ranked = Vec::new();
    for ((name, _), outcome) in jobs.into_iter().zip(outcomes) {
        ranked.push(Scenario { name, outcome: outcome? });
    }
    let total = |one: &Scenario| match &one.outcome {
        Outcome::Planned(plan) => (0, plan.plan().cost.total),
        Outcome::Missing(_) | Outcome::NotFound => (1, Money::ZERO),
    };
    ranked.sort_by_key(total);
    let mut dealers: BTreeMap<SupplierIndex, usize> = BTreeMap::new();
    let mut lines: BTreeMap<LineIndex, usize> = BTreeMap::new();
    for scenario in &ranked {
        let Outcome::Planned(checked) = &scenario.outcome else { continue };
        let plan = checked.plan();
        let mut used: Vec<SupplierIndex> = plan.buy.iter().map(|row| job.lines[row.line].supplier).collect();
        used.dedup();
        used.into_iter().for_each(|dealer| *dealers.entry(dealer).or_insert(0) += 1);
        plan.buy.iter().for_each(|row| *lines.entry(row.line).or_insert(0) += 1);
    }
    Ok(Ranked {
        scenarios: ranked,
        dealers: dealers.into_iter().collect(),
        lines: lines.into_iter().collect(),
    })
}

/// By how much the second of two plans costs more than the first, once both are planned as cheaply as can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Difference {
    /// At least.
    pub least: Money,
    /// At most.
    pub most: Money,
}

impl Difference {
    /// Of two plans, each by its cost and what is proven of it.
    pub fn between(one: (Money, Money), other: (Money, Money)) -> Difference {
        Difference { least: other.1 - one.0, most: other.0 - one.1 }
    }

    /// May either of the two be the cheaper one?
    pub fn is_hidden(self) -> bool {
        self.least < Money::ZERO && self.most > Money::ZERO
    }
}

/// The scenarios, and the job as it is, of which nobody can say which costs more.
fn hidden_by_gaps(solved: &[Solved]) -> Vec<usize> {
    let known = |place: usize| match &solved[place] {
        Solved::Solution(solution, _) => Some((solution.cost(), solution.bound)),
        Solved::Missing(_) | Solved::NotFound => None,
    };
    let Some(as_it_is) = known(0) else { return Vec::new() };
    let is_hidden =
        |place: &usize| known(*place).is_some_and(|own| Difference::between(as_it_is, own).is_hidden());
    let mut hidden: Vec<usize> = (1..solved.len()).filter(is_hidden).collect();
    if !hidden.is_empty() && as_it_is.0 > as_it_is.1 {
        hidden.insert(0, 0);
    }
    hidden
}

/// Takes another scenario's boards where they are right for a scenario and cost less than its own: so a thinner blade or a
/// lower price never looks dearer.
fn carry_over(solved: &mut [Solved]) -> Result<(), PlanningError> {
    for to in 0..solved.len() {
        for from in (0..solved.len()).filter(|from| *from != to) {
            let Ok([to, from]) = solved.get_disjoint_mut([to, from]) else { continue };
            let (Solved::Solution(to, _), Solved::Solution(from, _)) = (to, from) else { continue };
            let Some(carried) = to.carrying(from)?.filter(|carried| carried.cost() < to.cost()) else {
                continue;
            };
            let is_right = Checked::new(to.job(), to.job().clone(), build_plan(&carried)?).is_ok();
            if is_right {
                **to = carried;
            }
        }
    }
    Ok(())
}

/// The job after all changes of a scenario, in the order they are written.
fn changed(job: &Job, changes: &[Change]) -> Result<Job, PlanningError> {
    let mut job = job.clone();
    for change in changes {
        match change {
            Change::Price { dealer, species, quarter, percent } => {
                job = job.with_prices_raised(*percent, |line| {
                    dealer.is_none_or(|dealer| dealer == line.supplier)
                        && species.as_ref().is_none_or(|species| same_species(species, &line.species))
                        && quarter.is_none_or(|quarter| quarter == line.quarter)
                })?;
            }
            Change::Kerf(kerf) => {
                job.shop.saw.rip_kerf = *kerf;
                job.shop.saw.crosscut_kerf = *kerf;
            }
            Change::SheetKerf(kerf) => job.shop.sheet_saw.kerf = *kerf,
            // More pieces for more products, and rounded up: half a chair is not sold.
            Change::Demand(percent) => {
                job = with_demand(&job, &(hundred() + percent.to_ratio()), &hundred())?;
            }
            // Of so many pieces that share is lost and cut again.
            Change::YieldLoss(percent) => {
                job = with_demand(&job, &hundred(), &(hundred() - percent.to_ratio()))?;
            }
            Change::Closed(dealer) => {
                let his = job.lines.iter_mut().filter(|line| line.supplier == *dealer);
                his.for_each(|line| line.available = Some(0));
            }
            Change::Replaced { species, by } => {
                let meant = job.parts.iter_mut().filter(|part| same_species(&part.species, species));
                meant.for_each(|part| part.species = by.clone());
            }
        }
    }
    Ok(job)
}

fn hundred() -> BigRational {
    BigRational::from_integer(BigInt::from(100))
}

/// Finished parts in proportion, each rounded up; what they are glued from follows.
fn with_demand(job: &Job, by: &BigRational, over: &BigRational) -> Result<Job, JobError> {
    job.with_demand(|part| {
        let parts = BigRational::from_integer(BigInt::from(part.required)) * by / over;
        parts.ceil().to_integer().to_u64().unwrap_or(u64::MAX)
    })
}
