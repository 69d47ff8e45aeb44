//! One independent set of sizes under one market: bound, plan, improvement, exact end.
use super::aim::Aim;
use super::backtrack::Backtrack;
use super::dive::{Style, dive, greedy};
use super::exact::{Exactly, exactly, restricted};
use super::exchange::Exchange;
use super::mip::Backend;
use crate::solve::problem::{Cut, Task, cost, least_sum_of_rows, paid_in_cents, step};
use crate::solve::relax::{Generated, Pool};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// A plan of one component with its bound in ticks, and the state of its improvement.
#[derive(Debug, Clone)]
pub struct Component {
    /// The plan.
    pub cuts: Vec<Cut>,
    /// No plan costs less.
    pub bound: i64,
    /// The patterns that the plan's numbers mean.
    pub pool: Pool,
    exchange: Exchange,
    backtrack: Backtrack,
    /// Slices until the search with backtracking has its next turn, and how many it will wait after that.
    waits: (u32, u32),
    /// Has the plan changed since the exact end was tried?
    changed: bool,
    exact: ExactTurns,
}

/// When the exact end is tried again, each time with twice as many nodes.
#[derive(Debug, Clone, Copy)]
struct ExactTurns {
    nodes: u64,
    /// Slices until its next turn.
    wait: u32,
    /// Could the patterns not all be listed?
    not_listed: bool,
}

impl ExactTurns {
    fn is_idle(&self) -> bool {
        self.not_listed || self.nodes >= tol::EXACT_NODES_MOST
    }
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

impl Component {
    /// Plans a component whose linear program is already solved, by the steps that are cheap.
    pub fn start(task: &Task<'_>, generated: &Generated, pool: Pool, aim: Aim, stop: &Stop) -> Planned {
        let mut pool = pool;
        let cuts = match first_plan(task, generated, &mut pool, aim, stop) {
            First::Plan(cuts) => cuts,
            First::Impossible => return Planned::Impossible,
            First::NotFound => return Planned::NotFound,
        };
        let bound = generated.bound;
        let exchange = Exchange::new(aim.seed);
        let mut component = Component {
            cuts,
            bound,
            pool,
            exchange,
            backtrack: Backtrack::new(aim.seed),
            waits: (tol::BACKTRACK_WAITS, tol::BACKTRACK_WAITS),
            changed: true,
            exact: ExactTurns { nodes: tol::EXACT_NODES_FIRST, wait: tol::EXACT_WAITS, not_listed: false },
        };
        component.raise(task, bound);
        component.try_exactly(task, generated, tol::EXACT_NODES_FIRST, aim.backend, stop);
        let now = component.cost(task);
        if !component.is_closed(task)
            && !stop.is_due()
            && let Some(better) = restricted(task, generated, &component.pool, now, aim.backend, stop)
            && cost(task.market, &better) < now
        {
            component.cuts = better;
            component.changed = true;
        }
        Planned::Found(component)
    }

    /// What the plan costs.
    pub fn cost(&self, task: &Task<'_>) -> i64 {
        cost(task.market, &self.cuts)
    }

    /// Is the plan proven to be the cheapest?
    pub fn is_closed(&self, task: &Task<'_>) -> bool {
        self.cost(task) <= self.bound + tol::HALF_A_CENT
    }

    /// Takes a better bound, up to what sums of rows can come to.
    fn raise(&mut self, task: &Task<'_>, bound: i64) {
        self.bound = self.bound.max(bound);
        let now = self.cost(task);
        if self.bound < now && now - self.bound <= tol::NEAR_A_PLAN {
            self.bound = least_sum_of_rows(task, &task.offers(), self.bound, now);
        }
    }

    /// Is there nothing more that the exchange could try?
    pub fn is_idle(&self, task: &Task<'_>) -> bool {
        let searched = self.exchange.is_idle() && self.backtrack.is_idle() && self.exact.is_idle();
        self.is_closed(task) || searched
    }

    /// A slice of the long search.
    pub fn improve(&mut self, task: &Task<'_>, generated: &Generated, aim: Aim, stop: &Stop) {
        let before = self.cost(task);
        if self.exact.wait == 0 && (self.changed || !self.exact.is_idle()) {
            self.exact.wait = tol::EXACT_WAITS;
            self.exact.nodes = self.exact.nodes.saturating_mul(2);
            self.try_exactly(task, generated, self.exact.nodes, aim.backend, stop);
            return;
        }
        self.exact.wait = self.exact.wait.saturating_sub(1);
        let one_step = before - self.bound <= step(&task.offers());
        let turn = one_step || self.waits.0 == 0 || self.exchange.is_idle();
        if turn && !self.backtrack.is_idle() {
            let found = self.backtrack.run(task, &mut self.pool, before, aim.backend, stop);
            // What gained nothing waits twice as long for its next turn.
            let next = if found.is_some() { 1 } else { self.waits.1.saturating_mul(2) };
            self.waits = (next, next);
            self.cuts = found.unwrap_or(std::mem::take(&mut self.cuts));
        } else {
            self.waits.0 = self.waits.0.saturating_sub(1);
            let cuts = std::mem::take(&mut self.cuts);
            self.cuts = self.exchange.run(task, generated, &mut self.pool, cuts, self.bound, aim, stop);
        }
        self.changed |= self.cost(task) < before;
    }

    /// The exact end, once more where the plan is better than when it was last tried.
    pub fn finish(&mut self, task: &Task<'_>, generated: &Generated, aim: Aim, stop: &Stop) {
        if self.changed {
            self.try_exactly(task, generated, tol::EXACT_NODES, aim.backend, stop);
        }
        self.bound = self.bound.min(self.cost(task));
    }

    fn try_exactly(
        &mut self,
        task: &Task<'_>,
        generated: &Generated,
        nodes: u64,
        backend: Backend,
        stop: &Stop,
    ) {
        self.changed = false;
        self.exact.not_listed = false;
        if self.is_closed(task) {
            return;
        }
        let now = self.cost(task);
        match exactly(task, generated, &mut self.pool, Some(now), nodes, backend, stop) {
            Exactly::NotListed => self.exact.not_listed = true,
            Exactly::Plan(cuts, proven) => {
                if cost(task.market, &cuts) < now {
                    self.cuts = cuts;
                }
                if let Some(proven) = proven {
                    self.raise(task, paid_in_cents(task, proven));
                }
            }
            Exactly::NothingCheaper => {
                self.raise(task, paid_in_cents(task, now - tol::HALF_A_CENT));
            }
            Exactly::GaveUp(better) => {
                let better = better.map_or(0, |better| paid_in_cents(task, better));
                self.raise(task, better.min(now));
            }
        }
    }
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
    match exactly(task, generated, pool, None, tol::EXACT_NODES, aim.backend, stop) {
        Exactly::Plan(cuts, _) => return First::Plan(cuts),
        Exactly::NothingCheaper => return First::Impossible,
        Exactly::NotListed | Exactly::GaveUp(_) => {}
    }
    match greedy(task, pool, &generated.duals.sizes) {
        Some(cuts) => First::Plan(cuts),
        None => First::NotFound,
    }
}
