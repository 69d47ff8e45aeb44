//! One independent set of sizes under one market: bound, plan, improvement, exact end.

use super::dealers::CENT;
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

/// Money is paid in whole cents: a bound this little below a cost proves it.
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

/// What became of a component.
#[derive(Debug, Clone)]
pub enum Planned {
    /// A plan.
    Found(Component),
    /// Proven: whole boards cannot do it.
    Impossible,
    /// Neither.
    NotFound,
}

/// Plans a component whose linear program is already solved. Cheap steps always run; the long
/// search stops once the gap aimed at is proven.
pub fn plan_component(
    task: &Task<'_>,
    generated: &Generated,
    pool: &mut Pool,
    aim: Aim,
    stop: &Stop,
) -> Planned {
    let mut best = match first_plan(task, generated, pool, aim, stop) {
        First::Plan(cuts) => cuts,
        First::Impossible => return Planned::Impossible,
        First::NotFound => return Planned::NotFound,
    };
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
    Planned::Found(Component { cuts: best, bound: bound.min(cost) })
}

/// Rows of dealers are whole cents; if the rack's values are as well, so is every cost.
fn paid_in_cents(task: &Task<'_>, bound: i64) -> i64 {
    let rack = task.market.unit_prices.iter().zip(&task.market.costs).filter(|(unit, _)| unit.is_none());
    let whole = rack.flat_map(|(_, cost)| cost).all(|cost| cost % CENT == 0);
    if whole { num_integer::div_ceil(bound, CENT) * CENT } else { bound }
}

/// Every cost is a multiple of the costs' common divisor, so the bound rounds up to one.
fn whole_steps(task: &Task<'_>, bound: i64) -> i64 {
    let offers = task.offers();
    if offers.iter().any(|offer| task.market.gains[offer.stock] > 0) {
        return paid_in_cents(task, bound);
    }
    let step = offers.iter().fold(0, |step, offer| num_integer::gcd(step, offer.cost)).max(1);
    num_integer::div_ceil(bound, step) * step
}

enum First {
    Plan(Vec<Cut>),
    Impossible,
    NotFound,
}

/// The best of a few dives, or else the exact end, or else one greedy sweep.
fn first_plan(task: &Task<'_>, generated: &Generated, pool: &mut Pool, aim: Aim, stop: &Stop) -> First {
    let mut best: Option<Vec<Cut>> = None;
    let sizes = task.demand.iter().filter(|pieces| **pieces > 0).count();
    // On a large problem one dive costs as much as a hundred exchanges, which gain more.
    let styles: &[f64] = if sizes <= tol::FEW_SIZES { &[0.6, 0.9, 2.0] } else { &[0.6] };
    for round_up_from in styles.iter().copied() {
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
    if let Some(best) = best {
        return First::Plan(best);
    }
    match exactly(task, generated, pool, None, aim.backend, stop) {
        Exactly::Plan(cuts, _) => return First::Plan(cuts),
        Exactly::NothingCheaper => return First::Impossible,
        Exactly::GaveUp(_) => {}
    }
    match greedy(task, pool, &generated.duals.sizes) {
        Some(cuts) => First::Plan(cuts),
        None => First::NotFound,
    }
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
            if let Some(proven) = proven {
                *bound = (*bound).max(paid_in_cents(task, proven));
            }
        }
        Exactly::NothingCheaper => *bound = (*bound).max(paid_in_cents(task, now - HALF_A_CENT)),
        Exactly::GaveUp(better_bound) => *bound = (*bound).max(better_bound.unwrap_or(0).min(now)),
    }
}
