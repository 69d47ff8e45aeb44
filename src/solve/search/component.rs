//! One independent set of sizes under one market: a first plan, and the engines that take turns to improve it.

use super::aim::Aim;
use super::backtrack::Backtrack;
use super::dive::{Style, dive, greedy};
use super::engine::{AtHand, Engine, Slice};
use super::exact::{Exactly, exactly};
use super::exact_end::ExactEnd;
use super::exchange::Exchange;
use super::program::restricted;
use super::sequential::Sequential;
use crate::index::ShapeIndex;
use crate::solve::problem::{Cut, Task, cost, least_sum_of_rows, step};
use crate::solve::relax::{Generated, Pool};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// A plan of one component with its bound in ticks, and the engines that improve it.
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
    exact: ExactEnd,
    /// Boards filled one after the other, where they are sheets.
    sequential: Option<Sequential>,
    turns: TurnsToCome,
}

/// Whose turn is next.
#[derive(Debug, Clone)]
struct TurnsToCome {
    /// Slices until the search with backtracking has its next turn.
    to_backtrack: u32,
    /// Slices that it will wait after that.
    then: u32,
    /// Slices until the exact end has its next turn.
    to_exact: u32,
    /// Slices that it will wait after that.
    then_exact: u32,
    /// Has the plan changed since the exact end was tried?
    changed: bool,
}

/// An engine by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Turn {
    Exchange,
    Backtrack,
    Exact,
    Sequential,
}

/// A step that follows the first plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Opening {
    /// Sheets are filled one after the other.
    Sequential,
    /// Patterns that hold no more pieces than are wanted.
    Proper,
    /// The exact end.
    Exact,
    /// An integer program over the patterns known.
    Restricted,
}

impl Opening {
    /// All of them, in their order.
    pub const ALL: [Opening; 4] = [Opening::Sequential, Opening::Proper, Opening::Exact, Opening::Restricted];
}

/// What became of a component.
#[derive(Debug, Clone)]
pub enum Planned {
    /// A plan.
    Found(Box<Component>),
    /// Proven: whole boards cannot do it.
    Impossible,
    /// Neither.
    NotFound,
}

impl Component {
    /// Plans a component whose linear program is already solved, by the steps that are cheap.
    pub fn start(task: &Task<'_>, generated: &Generated, pool: Pool, aim: Aim, stop: &Stop) -> Planned {
        let mut planned = Component::first(task, generated, pool, aim, stop);
        if let Planned::Found(component) = &mut planned {
            for opening in Opening::ALL {
                component.open_with(opening, task, generated, aim, stop);
            }
        }
        planned
    }

    /// The first of these steps: a few dives.
    pub fn first(task: &Task<'_>, generated: &Generated, pool: Pool, aim: Aim, stop: &Stop) -> Planned {
        let mut pool = pool;
        let cuts = match first_plan(task, generated, &mut pool, aim, stop) {
            First::Plan(cuts) => cuts,
            First::Impossible => return Planned::Impossible,
            First::NotFound => return Planned::NotFound,
        };
        let mut component = Component {
            cuts,
            bound: generated.bound,
            pool,
            exchange: Exchange::new(task, aim.seed),
            backtrack: Backtrack::new(aim.seed),
            exact: ExactEnd::new(task),
            sequential: of_sheets(task).then(|| Sequential::new(task, &generated.values(), aim.seed)),
            turns: TurnsToCome {
                to_backtrack: tol::BACKTRACK_WAITS,
                then: tol::BACKTRACK_WAITS,
                to_exact: tol::EXACT_WAITS,
                then_exact: tol::EXACT_WAITS,
                changed: true,
            },
        };
        component.raise(task, generated.bound);
        Planned::Found(Box::new(component))
    }

    /// Has such a step anything to do?
    pub fn is_open_to(&self, opening: Opening, task: &Task<'_>) -> bool {
        match opening {
            Opening::Exact => true,
            Opening::Sequential => self.sequential.is_some() && !self.is_closed(task),
            Opening::Proper | Opening::Restricted => !self.is_closed(task),
        }
    }

    /// One of the steps that follow.
    pub fn open_with(
        &mut self,
        opening: Opening,
        task: &Task<'_>,
        generated: &Generated,
        aim: Aim,
        stop: &Stop,
    ) {
        if !self.is_open_to(opening, task) {
            return;
        }
        match opening {
            Opening::Exact => self.run(Turn::Exact, task, generated, aim, stop),
            Opening::Sequential => self.run(Turn::Sequential, task, generated, aim, stop),
            Opening::Proper => {
                let proven = self.exact.go_proper(task, generated, &mut self.pool, stop);
                self.raise(task, proven.unwrap_or(0));
            }
            Opening::Restricted => {
                let now = self.cost(task);
                if !stop.is_due()
                    && let Some(better) = restricted(task, generated, &self.pool, now, aim.backend, stop)
                    && cost(task.market, &better) < now
                {
                    self.cuts = better;
                    self.turns.changed = true;
                }
            }
        }
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
            // A cheaper plan may be of lots that this one does without.
            let all = task.with_all_lots();
            self.bound = least_sum_of_rows(&all, &all.offers(), self.bound, now);
        }
    }

    /// Is there nothing more that any engine could try?
    pub fn is_idle(&self, task: &Task<'_>) -> bool {
        let filled = self.sequential.as_ref().is_none_or(Sequential::is_idle);
        let searched = filled && self.exchange.is_idle() && self.backtrack.is_idle() && self.exact.is_idle();
        self.is_closed(task) || searched
    }

    /// A slice of the long search, by the engine whose turn it is.
    pub fn improve(&mut self, task: &Task<'_>, generated: &Generated, aim: Aim, stop: &Stop) {
        let before = self.cost(task);
        let turn = self.next_turn(task, before);
        self.run(turn, task, generated, aim, stop);
        if turn == Turn::Backtrack {
            // What gained nothing waits twice as long for its next turn.
            let gained = self.cost(task) < before;
            self.turns.then = if gained { 1 } else { self.turns.then.saturating_mul(2) };
            self.turns.to_backtrack = self.turns.then;
        }
        if turn == Turn::Exact {
            // A tree that cannot prove the plan waits twice as long for its next turn.
            let waits_longer = self.exact.is_of_few() && !self.exact.is_closing(task, self.cost(task));
            self.turns.then_exact = if waits_longer {
                (self.turns.then_exact * 2).min(tol::EXACT_WAITS_MOST)
            } else {
                tol::EXACT_WAITS
            };
            self.turns.to_exact = self.turns.then_exact;
        } else {
            self.turns.changed |= self.cost(task) < before;
        }
    }

    fn next_turn(&mut self, task: &Task<'_>, now: i64) -> Turn {
        if self.sequential.as_mut().is_some_and(Sequential::has_its_turn) {
            return Turn::Sequential;
        }
        // Boards that come in turn are cut better a few at a time: programs of all of them are large.
        let in_turn = !task.instance.lots.is_empty() && !self.exact.is_of_few() && !self.exchange.is_idle();
        if !in_turn && self.turns.to_exact == 0 && (self.turns.changed || !self.exact.is_idle()) {
            self.exact.go_deeper(self.exchange.is_idle() && self.backtrack.is_idle());
            return Turn::Exact;
        }
        self.turns.to_exact = self.turns.to_exact.saturating_sub(1);
        let one_step = now - self.bound <= step(&task.offers());
        let due = one_step || self.turns.to_backtrack == 0 || self.exchange.is_idle();
        if due && !self.backtrack.is_idle() {
            return Turn::Backtrack;
        }
        self.turns.to_backtrack = self.turns.to_backtrack.saturating_sub(1);
        Turn::Exchange
    }

    /// Runs one engine for a slice and takes what it gives.
    fn run(&mut self, turn: Turn, task: &Task<'_>, generated: &Generated, aim: Aim, stop: &Stop) {
        let on =
            AtHand { task, generated, pool: &mut self.pool, plan: &self.cuts, bound: self.bound, aim, stop };
        let engine: &mut dyn Engine = match (turn, &mut self.sequential) {
            (Turn::Sequential, Some(sequential)) => sequential,
            (Turn::Backtrack, _) => &mut self.backtrack,
            (Turn::Exact, _) => &mut self.exact,
            (Turn::Exchange | Turn::Sequential, _) => &mut self.exchange,
        };
        let Slice { plan, bound } = engine.slice(on);
        self.turns.changed &= turn != Turn::Exact;
        if let Some(plan) = plan {
            self.cuts = plan;
        }
        if let Some(bound) = bound {
            self.raise(task, bound);
        }
    }

    /// The exact end, once more where the plan is better than when it was last tried.
    pub fn finish(&mut self, task: &Task<'_>, generated: &Generated, aim: Aim, stop: &Stop) {
        if self.turns.changed {
            self.run(Turn::Exact, task, generated, aim, stop);
        }
    }
}

/// Are sheets on offer for it?
fn of_sheets(task: &Task<'_>) -> bool {
    let sheets = |shape: ShapeIndex| task.instance.kinds[task.instance.shapes[shape].kind].sheets;
    task.offers().iter().any(|offer| sheets(offer.shape))
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
        Exactly::Plan(cuts) => return First::Plan(cuts),
        Exactly::NothingCheaper => return First::Impossible,
        Exactly::NotListed | Exactly::GaveUp => {}
    }
    // Values of a linear program that was stopped early say nothing: then a piece is worth its area.
    let by_area = || task.instance.sizes.iter().map(|size| size.piece.area()).collect();
    let values = if generated.unmet { by_area() } else { generated.duals.sizes.clone() };
    match greedy(task, pool, &values) {
        Some(cuts) => First::Plan(cuts),
        None => First::NotFound,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::index::{LotIndex, ti_vec};
    use crate::job::{Draft, Job, Order, Per, PriceLine, ProductPart, Supplier};
    use crate::measure::{Length, Money};
    use crate::solve::problem::{Instance, Market, Terms};
    use crate::solve::relax::generate;
    use crate::solve::search::Backend;
    use crate::trade::{Grade, Quarter};

    /// Boards of 4 board feet each of two lines: 20.00, and 19.99 of the one that a plan does without. What sums of
    /// rows can come to is asked of all lots: 19.99 lies between the bound and the plan.
    #[test]
    fn a_bound_is_not_raised_past_what_an_idle_lot_costs() {
        let sizes = [Length::inches(96), Length::inches(6)];
        let line = |price: &str| {
            let price = (Money::parse(price).unwrap(), Per::Piece);
            PriceLine::new(0, "oak", Quarter::quarters(4), Grade::Fas, sizes, price)
        };
        let part = [Length::inches(20), Length::inches(2), Length::inch_128ths(96)];
        let job = Job::try_new(Draft {
            orders: vec![Order::new("1", "box", 1)],
            parts: vec![ProductPart::new("box", "side", 1, part, "oak")],
            suppliers: vec![Supplier::new("yard")],
            lines: vec![line("20.00"), line("19.99")],
            ..Draft::default()
        });
        let job = job.unwrap();
        let instance = Instance::new(job);
        let market = Market::new(&instance, &ti_vec![Terms::Undecided]).unwrap();
        let whole = Task::whole(&instance, &market, &[0.into()]);
        let mut pool = Pool::new(&instance);
        let generated = generate(&whole, &mut pool, &Stop::never());
        let without = whole.without_idle_lots(instance.lots[LotIndex::from(0)].iter().copied());
        assert!(!without.has_all_lots());
        let aim = Aim { gap: 0.0, seed: 1, backend: Backend::default() };
        let Planned::Found(mut component) = Component::start(&without, &generated, pool, aim, &Stop::never())
        else {
            panic!("there is a plan")
        };
        // Its plan may be of either line: that of the dearer one is what matters here.
        component.cuts[0].stock = instance.lots[LotIndex::from(0)][0];
        assert_eq!(component.cost(&without), 2_000 * tol::CENT);
        component.bound = 1_990 * tol::CENT;
        component.raise(&without, 0);
        assert_eq!(component.bound, 1_999 * tol::CENT);
    }
}
