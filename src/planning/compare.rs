//! Each dealer alone, every pair, and all together: what each way of buying costs.

use std::time::Instant;

use super::checked::Checked;
use super::confidence::{before_fresh_lots, raised};
use super::error::PlanningError;
use super::front::Request;
use crate::index::SupplierIndex;
use crate::job::{Job, Shortfall, shortfalls_without};
use crate::measure::Money;
use crate::plan::{Confidence, Plan, build_plan};
use crate::solve::{Options, Planner, Solution, SolveError, side_by_side};

/// One way of buying: from these dealers and no other.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Alternative {
    /// Indices of the dealers that may be bought from.
    pub dealers: Vec<SupplierIndex>,
    /// What comes of it.
    pub outcome: Outcome,
}

/// What comes of a way of buying.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum Outcome {
    /// A complete plan.
    Planned(Box<Checked>),
    /// These parts cannot be had.
    Missing(Vec<Shortfall>),
    /// No plan was found in the time, though none is ruled out.
    NotFound,
}

impl Alternative {
    /// Its plan, if there is one.
    pub fn plan(&self) -> Option<&Plan> {
        match &self.outcome {
            Outcome::Planned(plan) => Some(plan.plan()),
            Outcome::Missing(_) | Outcome::NotFound => None,
        }
    }

    /// Names of its dealers.
    pub fn names<'j>(&self, job: &'j Job) -> Vec<&'j str> {
        self.dealers.iter().map(|index| job.suppliers[*index].name.as_str()).collect()
    }
}

/// All ways of buying, each dealer alone first, then the pairs, then all dealers.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Comparison {
    /// The ways.
    pub alternatives: Vec<Alternative>,
    /// The cheapest with one dealer allowed.
    pub best_alone: Option<usize>,
    /// The cheapest with two dealers allowed.
    pub best_pair: Option<usize>,
    /// The cheapest of all.
    pub best: Option<usize>,
    /// Percent by which the best single dealer's prices may rise before another single dealer is as
    /// cheap, with that dealer's index.
    pub break_even: Option<(f64, SupplierIndex)>,
}

/// Plans every way of buying within the time and the gap that are asked for, side by side on the request's threads, each
/// with the spare boards that its own buy needs. `done` is called after each.
///
/// # Errors
/// If a number is too large to be held exactly, or the threads cannot be started.
pub fn compare(job: &Job, request: &Request, done: &(dyn Fn() + Sync)) -> Result<Comparison, PlanningError> {
    let options = &request.options;
    let start = Instant::now();
    let ways = ways(job.suppliers.len());
    let mut planner = Planner::new(job.clone());
    let searching = before_fresh_lots(job, request.confidence_percent, options);
    planner.find_patterns(&searching)?;
    let solved = side_by_side(&searching, &ways, |dealers, options| {
        let solved = solve_from(job, &planner, dealers, options);
        done();
        solved
    })?;
    let mut solved: Vec<Solved> = solved.into_iter().collect::<Result<_, _>>()?;
    share_what_is_known(&ways, &mut solved);
    let mut solved: Vec<Solved> =
        solved.into_iter().map(|solved| solved.made_sure(request)).collect::<Result<_, _>>()?;
    share_buys(&ways, &mut solved);
    let mut alternatives = Vec::new();
    for (dealers, solved) in ways.into_iter().zip(solved) {
        alternatives.push(Alternative { dealers, outcome: solved.built()? });
    }
    let mut comparison = Comparison::of(alternatives);
    let left = options.time.map(|time| time.saturating_sub(start.elapsed()));
    let left = Request { options: Options { time: left, ..options.clone() }, ..request.clone() };
    comparison.break_even = break_even(job, &planner, &comparison, &left)?;
    Ok(comparison)
}

/// Plans made of the best single dealer at rising prices, at most.
const MOST_RISES: usize = 20;

/// By how many percent the prices of the best single dealer may rise before another single dealer is as
/// cheap. Plans are made at the risen prices, because a rise first uses up what was bought to reach a least
/// order, and makes the rack worth cutting.
///
/// At the same prices a plan costs no more than the boards of any other plan. So the rise at which the boards
/// of the last plan would cost as much as the other dealer is never too large, and each new rise comes nearer
/// from below.
fn break_even(
    job: &Job,
    planner: &Planner,
    comparison: &Comparison,
    request: &Request,
) -> Result<Option<(f64, SupplierIndex)>, PlanningError> {
    let alone = |place: usize| comparison.alternatives[place].plan();
    let Some(best) = comparison.best_alone else { return Ok(None) };
    let others = (0..comparison.alternatives.len())
        .filter(|place| *place != best && comparison.alternatives[*place].dealers.len() == 1);
    let second = others.filter_map(|place| Some((alone(place)?.cost.total, place))).min();
    let (Some(plan), Some((goal, second))) = (alone(best), second) else { return Ok(None) };
    let dealer = comparison.alternatives[best].dealers[0];
    let stop = request.options.time.map(|time| Instant::now() + time);
    let (mut rise, mut cost) = (0.0f64, (plan.cost.total, plan.cost.lumber));
    for _ in 0..MOST_RISES {
        let (total, lumber) = cost;
        let short = (goal - total).to_f64();
        // Within a cent for each ten thousand there is nothing left to tell apart.
        if short <= 0.005 + goal.to_f64() * 1e-6 || lumber.is_zero() {
            break;
        }
        let left = stop.map(|stop| stop.saturating_duration_since(Instant::now()));
        if left.is_some_and(|left| left.is_zero()) {
            return Ok(None);
        }
        rise = (1.0 + rise) * (1.0 + short / lumber.to_f64()) - 1.0;
        let Ok(percent) = Money::parse(&format!("{:.4}", rise * 100.0)) else { return Ok(None) };
        let risen = job.with_prices_raised(percent, |line| line.supplier == dealer)?;
        let options = Options { time: left.map(|left| left / 2), ..request.options.clone() };
        let request = Request { options, ..request.clone() };
        let dealers = &comparison.alternatives[best].dealers;
        match plan_from(&risen, &Planner::like(risen.clone(), planner), dealers, &request)? {
            Outcome::Planned(plan) => cost = (plan.plan().cost.total, plan.plan().cost.lumber),
            Outcome::Missing(_) | Outcome::NotFound => return Ok(None),
        }
    }
    let percent = rise * 100.0;
    Ok(percent.is_finite().then_some((percent, comparison.alternatives[second].dealers[0])))
}

/// The ways of buying from so many dealers: each alone, each pair, and all if they are more than two.
pub fn ways(dealers: usize) -> Vec<Vec<SupplierIndex>> {
    if dealers == 0 {
        // The rack may be enough.
        return vec![Vec::new()];
    }
    let mut ways: Vec<Vec<SupplierIndex>> = (0..dealers).map(|one| vec![one.into()]).collect();
    for one in 0..dealers {
        ways.extend((one + 1..dealers).map(|other| vec![one.into(), other.into()]));
    }
    if dealers > 2 {
        ways.push((0..dealers).map(SupplierIndex::from).collect());
    }
    ways
}

/// Plans a job bought from these dealers and no other.
pub fn plan_from(
    job: &Job,
    planner: &Planner,
    dealers: &[SupplierIndex],
    request: &Request,
) -> Result<Outcome, PlanningError> {
    let searching = before_fresh_lots(job, request.confidence_percent, &request.options);
    solve_from(job, planner, dealers, &searching)?.made_sure(request)?.built()
}

pub(super) fn solve_from(
    job: &Job,
    planner: &Planner,
    dealers: &[SupplierIndex],
    options: &Options,
) -> Result<Solved, PlanningError> {
    let closed: Vec<SupplierIndex> = job.suppliers.keys().filter(|index| !dealers.contains(index)).collect();
    let missing = shortfalls_without(job, &closed);
    if !missing.is_empty() {
        return Ok(Solved::Missing(missing));
    }
    match planner.solve(&closed, options, &|_, _| ()) {
        Ok(solution) => Ok(Solved::Solution(Box::new(solution), None)),
        Err(SolveError::Short(missing)) => Ok(Solved::Missing(missing)),
        Err(SolveError::NotFound) => Ok(Solved::NotFound),
        Err(error) => Err(error.into()),
    }
}

/// What the search for one way of buying found.
#[derive(Debug, Clone)]
pub(super) enum Solved {
    /// A buy, with how sure it is to be enough.
    Solution(Box<Solution>, Option<Confidence>),
    Missing(Vec<Shortfall>),
    NotFound,
}

impl Solved {
    /// Takes what another search of the same found better.
    pub(super) fn improve(&mut self, again: Solved) {
        match (self, again) {
            (Solved::Solution(known, _), Solved::Solution(again, _)) => {
                if again.cost() < known.cost() {
                    known.incumbent = again.incumbent;
                }
                known.bound = known.bound.max(again.bound).min(known.cost());
            }
            (known @ Solved::NotFound, again @ Solved::Solution(..)) => *known = again,
            _ => {}
        }
    }

    /// The same with the spare boards without which too few lots would be enough.
    pub(super) fn made_sure(self, request: &Request) -> Result<Solved, PlanningError> {
        let Solved::Solution(solution, _) = self else { return Ok(self) };
        let (solution, confidence) = raised(*solution, request.confidence_percent, &request.options)?;
        Ok(Solved::Solution(Box::new(solution), confidence))
    }

    pub(super) fn built(self) -> Result<Outcome, PlanningError> {
        Ok(match self {
            Solved::Solution(solution, confidence) => {
                let (plan, job) = (Plan { confidence, ..build_plan(&solution)? }, solution.job());
                Outcome::Planned(Box::new(Checked::new(job, job.clone(), plan)?))
            }
            Solved::Missing(missing) => Outcome::Missing(missing),
            Solved::NotFound => Outcome::NotFound,
        })
    }
}

/// Shares what is known between ways of buying. Whoever may buy from more dealers may use the plan made with
/// fewer of them. A bound that holds with more dealers holds with fewer.
fn share_what_is_known(ways: &[Vec<SupplierIndex>], solved: &mut [Solved]) {
    for_each_within(ways, solved, |few, many| {
        let (Solved::Solution(few, _), Solved::Solution(many, _)) = (few, many) else { return };
        if few.cost() < many.cost() {
            many.incumbent = few.incumbent.clone();
        }
        many.bound = many.bound.min(many.cost());
        few.bound = few.bound.max(many.bound).min(few.cost());
    });
}

/// Once spare boards are added: whoever may buy from more dealers may use the whole buy made with fewer of them.
fn share_buys(ways: &[Vec<SupplierIndex>], solved: &mut [Solved]) {
    for_each_within(ways, solved, |few, many| {
        let (Solved::Solution(few, sure), Solved::Solution(many, own)) = (few, many) else { return };
        if few.cost() < many.cost() {
            many.incumbent = few.incumbent.clone();
            many.bound = many.bound.min(many.cost());
            own.clone_from(sure);
        }
    });
}

/// Calls it with each way of buying and each other one that allows all of its dealers.
fn for_each_within(
    ways: &[Vec<SupplierIndex>],
    solved: &mut [Solved],
    mut call: impl FnMut(&mut Solved, &mut Solved),
) {
    let within = |few: usize, many: usize| ways[few].iter().all(|dealer| ways[many].contains(dealer));
    for many in 0..ways.len() {
        for few in (0..ways.len()).filter(|few| *few != many && within(*few, many)) {
            if let Ok([few, many]) = solved.get_disjoint_mut([few, many]) {
                call(few, many);
            }
        }
    }
}

impl Comparison {
    fn of(alternatives: Vec<Alternative>) -> Comparison {
        let total = |place: usize| alternatives[place].plan().map(|plan| plan.cost.total);
        let cheapest = |places: Vec<usize>| {
            let priced = places.into_iter().filter_map(|place| Some((total(place)?, place)));
            // Equal cost: fewer dealers are less trouble.
            priced.min_by_key(|(total, place)| (*total, alternatives[*place].dealers.len(), *place))
        };
        let with = |dealers: usize| -> Vec<usize> {
            (0..alternatives.len()).filter(|place| alternatives[*place].dealers.len() == dealers).collect()
        };
        let best_alone = cheapest(with(1));
        let best_pair = cheapest(with(2)).map(|(_, place)| place);
        let best = cheapest((0..alternatives.len()).collect()).map(|(_, place)| place);
        let best_alone = best_alone.map(|(_, place)| place);
        Comparison { alternatives, best_alone, best_pair, best, break_even: None }
    }
}
