//! One independent set of sizes under one market: bound, plan, improvement, exact end.

use super::dive::{Cut, Style, dive, greedy};
use super::exact::{Exactly, exactly, restricted};
use super::exchange::{cost, exchange};
use super::generate::{Generated, Task};
use super::mip::Backend;
use super::pool::Pool;
use super::stop::Stop;
use super::tolerances as tol;

/// A plan of one component with its bound in ticks.
#[derive(Debug, Clone)]
pub struct Component {
    /// The plan.
    pub cuts: Vec<Cut>,
    /// No plan costs less.
    pub bound: i64,
}

/// The exact end looks for plans at least this much cheaper: money is paid in whole cents, so the
/// total, rounded up to a cent, is the same.
const HALF_A_CENT: i64 = tol::TICKS_PER_UNIT / 200;

/// How hard to try.
#[derive(Debug, Clone, Copy)]
pub struct Aim {
    /// Relative gap at which the long search stops.
    pub gap: f64,
    /// Seed of the exchange.
    pub seed: u64,
    /// What solves the small integer programs.
    pub backend: Backend,
}

/// Plans a component whose linear program is already solved. Cheap steps always run; the long
/// search stops once the gap aimed at is proven.
pub fn plan_component(
    task: &Task<'_>,
    generated: &Generated,
    pool: &mut Pool,
    aim: Aim,
    stop: &Stop,
) -> Option<Component> {
    let mut best = first_plan(task, generated, pool, aim, stop)?;
    let mut bound = whole_steps(task, generated.bound);
    let closed = |best: &[Cut], bound: i64| {
        let allowed = (bound + HALF_A_CENT) as f64 * (1.0 + aim.gap);
        cost(task.market, best) as f64 <= allowed || stop.is_due()
    };
    if cost(task.market, &best) > bound {
        try_exactly(task, generated, pool, &mut best, &mut bound, aim.backend, stop);
    }
    if !closed(&best, bound) {
        let now = cost(task.market, &best);
        if let Some(better) = restricted(task, generated, pool, now, aim.backend, stop)
            && cost(task.market, &better) < now
        {
            best = better;
        }
    }
    if !closed(&best, bound) {
        let before = cost(task.market, &best);
        let enough = (bound as f64 * (1.0 + aim.gap)) as i64;
        best = exchange(task, generated, pool, best, enough, aim, stop);
        if cost(task.market, &best) < before && cost(task.market, &best) > bound + HALF_A_CENT {
            try_exactly(task, generated, pool, &mut best, &mut bound, aim.backend, stop);
        }
    }
    let cost = cost(task.market, &best);
    Some(Component { cuts: best, bound: bound.min(cost) })
}

/// Every cost is a multiple of the costs' common divisor, so the bound rounds up to one.
fn whole_steps(task: &Task<'_>, bound: i64) -> i64 {
    let step = task.offers().iter().fold(0, |step, offer| num_integer::gcd(step, offer.cost)).max(1);
    num_integer::div_ceil(bound, step) * step
}

/// The best of a few dives.
fn first_plan(
    task: &Task<'_>,
    generated: &Generated,
    pool: &mut Pool,
    aim: Aim,
    stop: &Stop,
) -> Option<Vec<Cut>> {
    let mut best: Option<Vec<Cut>> = None;
    for round_up_from in [0.9, 0.6, 2.0] {
        let style = Style { round_up_from, backend: aim.backend, ..Style::default() };
        if let Some(cuts) = dive(task, pool, style, stop)
            && best.as_ref().is_none_or(|best| cost(task.market, &cuts) < cost(task.market, best))
        {
            best = Some(cuts);
        }
        let good = best.as_ref().is_some_and(|best| cost(task.market, best) <= generated.bound);
        if good || (best.is_some() && stop.is_due()) {
            break;
        }
    }
    best.or_else(|| greedy(task, pool, &generated.duals.sizes)).or_else(|| {
        match exactly(task, generated, pool, None, aim.backend, stop) {
            Exactly::Plan(cuts, _) => Some(cuts),
            Exactly::NothingCheaper | Exactly::GaveUp(_) => None,
        }
    })
}

fn try_exactly(
    task: &Task<'_>,
    generated: &Generated,
    pool: &mut Pool,
    best: &mut Vec<Cut>,
    bound: &mut i64,
    backend: Backend,
    stop: &Stop,
) {
    let now = cost(task.market, best);
    match exactly(task, generated, pool, Some(now), backend, stop) {
        Exactly::Plan(cuts, proven) => {
            if cost(task.market, &cuts) < now {
                *best = cuts;
            }
            if proven {
                *bound = (*bound).max(cost(task.market, best) - HALF_A_CENT);
            }
        }
        Exactly::NothingCheaper => *bound = (*bound).max(now - HALF_A_CENT),
        Exactly::GaveUp(better_bound) => *bound = (*bound).max(better_bound.unwrap_or(0).min(now)),
    }
}
