//! One independent set of sizes under one market: bound, plan, improvement, exact end.
use super::aim::Aim;
use super::backtrack::Backtrack;
use super::dive::{Style, dive, greedy};
use super::exact::{Exactly, exactly, proves};
use super::exchange::Exchange;
use super::listing::Reach;
use super::mip::Backend;
use super::program::restricted;
use super::sequential::Sequential;
use super::tree::{Grown, Tree};
use crate::index::ShapeIndex;
use crate::solve::problem::{Cut, Task, cost, least_sum_of_rows, paid_in_cents, step};
use crate::solve::relax::{Generated, Pool, generate_proper, uses_improper};
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
    /// Boards filled one after the other, where they are sheets.
    sequential: Option<Sequential>,
    /// The linear program over proper patterns, where it proves more.
    proper: Option<Box<Generated>>,
}

/// When the exact end has its turns, each time twice as far.
#[derive(Debug, Clone)]
struct ExactTurns {
    reach: Reach,
    nodes: usize,
    /// Slices until its next turn.
    wait: u32,
    tree: Option<Box<Tree>>,
    /// Few pieces: what is left of the gap is for a tree, and not for exchanges.
    few: bool,
    /// Does it prove nothing, because of boards or patterns that it does not list?
    proves_nothing: bool,
}

impl ExactTurns {
    fn new(task: &Task<'_>) -> ExactTurns {
        let few = task.demand.iter().sum::<u32>() <= tol::FEW_PIECES;
        let shapes = task.instance.shapes.len().max(1);
        let steps = if few { tol::LISTING_STEPS } else { tol::LISTING_STEPS_OF_MANY / shapes };
        ExactTurns {
            few,
            reach: Reach { steps, columns: tol::MIP_COLUMNS },
            nodes: tol::TREE_NODES_FIRST,
            wait: tol::EXACT_WAITS,
            tree: None,
            proves_nothing: {
                let all = task.with_all_lots();
                !proves(&all, &all.offers())
            },
        }
    }

    fn goes_deeper(&mut self) {
        self.wait = tol::EXACT_WAITS;
        self.nodes = (self.nodes * 2).min(tol::TREE_NODES_MOST);
    }

    /// A tree that is done without having reached everything is planted anew, with more columns.
    fn reaches_further(&mut self) {
        self.reach.steps = self.reach.steps.saturating_mul(2);
        self.reach.columns = (self.reach.columns * 3 / 2).min(tol::MIP_COLUMNS_MOST);
    }

    fn is_idle(&self) -> bool {
        let most = if self.proves_nothing { tol::LISTING_STEPS_HELPING } else { tol::LISTING_STEPS_MOST };
        self.reach.steps >= most
    }
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
            exact: ExactTurns::new(task),
            sequential: of_sheets(task).then(|| Sequential::new(task, &generated.values(), aim.seed)),
            proper: None,
        };
        component.raise(task, bound);
        component.fill_in_turn(task, stop);
        component.go_proper(task, generated, stop);
        component.try_exactly(task, generated, aim.backend, stop);
        let now = component.cost(task);
        if !component.is_closed(task)
            && !stop.is_due()
            && let Some(better) = restricted(task, generated, &component.pool, now, aim.backend, stop)
            && cost(task.market, &better) < now
        {
            component.cuts = better;
            component.changed = true;
        }
        Planned::Found(Box::new(component))
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

    /// Is there nothing more that the exchange could try?
    pub fn is_idle(&self, task: &Task<'_>) -> bool {
        let filled = self.sequential.as_ref().is_none_or(Sequential::is_idle);
        let searched = filled && self.exchange.is_idle() && self.backtrack.is_idle() && self.exact.is_idle();
        self.is_closed(task) || searched
    }

    /// A slice of the long search.
    pub fn improve(&mut self, task: &Task<'_>, generated: &Generated, aim: Aim, stop: &Stop) {
        let before = self.cost(task);
        if self.sequential.as_mut().is_some_and(Sequential::has_its_turn) {
            self.fill_in_turn(task, stop);
            return;
        }
        // Boards that come in turn are cut better a few at a time: programs of all of them are large.
        let in_turn = !task.instance.lots.is_empty() && !self.exact.few && !self.exchange.is_idle();
        if !in_turn && self.exact.wait == 0 && (self.changed || !self.exact.is_idle()) {
            self.exact.goes_deeper();
            self.try_exactly(task, generated, aim.backend, stop);
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

    /// One turn of filling sheets one after the other.
    fn fill_in_turn(&mut self, task: &Task<'_>, stop: &Stop) {
        let now = self.cost(task);
        if self.is_closed(task) {
            return;
        }
        let Some(sequential) = &mut self.sequential else { return };
        if let Some(better) = sequential.run(task, &mut self.pool, now, stop) {
            self.cuts = better;
            self.changed = true;
        }
    }

    /// The exact end, once more where the plan is better than when it was last tried.
    pub fn finish(&mut self, task: &Task<'_>, generated: &Generated, aim: Aim, stop: &Stop) {
        if self.changed {
            self.try_exactly(task, generated, aim.backend, stop);
        }
        self.bound = self.bound.min(self.cost(task));
    }

    /// The linear program over proper patterns, where the other one is met by patterns that nobody can use.
    fn go_proper(&mut self, task: &Task<'_>, generated: &Generated, stop: &Stop) {
        if !self.is_closed(task) && uses_improper(task, generated, &self.pool) {
            let all = task.with_all_lots();
            self.proper = generate_proper(&all, &mut self.pool, generated, stop).map(Box::new);
            let bound = self.proper.as_ref().map_or(0, |proper| proper.bound);
            self.raise(task, bound);
        }
    }

    /// One turn of the exact end.
    fn try_exactly(&mut self, task: &Task<'_>, generated: &Generated, backend: Backend, stop: &Stop) {
        self.changed = false;
        let now = self.cost(task);
        if self.is_closed(task) || stop.is_due() {
            return;
        }
        let generated = self.proper.as_deref().unwrap_or(generated);
        // What is proven holds for all lots, also those that the linear program does not use.
        let all = if self.exact.few { task.with_all_lots() } else { task.clone() };
        let task = &all;
        let used_up = self.exact.tree.as_ref().is_none_or(|tree| tree.is_done() && !tree.reaches(task, now));
        if used_up {
            // Of many pieces a tree over part of the gap would be large and prove little.
            let shares = if self.exact.few { &tol::GAP_SHARES[..] } else { &tol::GAP_SHARES[..1] };
            let planted = Tree::plant(task, generated, &self.pool, now, shares, self.exact.reach, stop);
            self.exact.tree = planted.map(Box::new);
            let reaches = self.exact.tree.as_ref().is_some_and(|tree| tree.reaches(task, now));
            let others_idle = self.exchange.is_idle() && self.backtrack.is_idle();
            if !reaches && (self.exact.few || others_idle) {
                self.exact.reaches_further();
            }
        }
        let Some(tree) = &mut self.exact.tree else { return };
        let Grown { plan, bound } = tree.grow(task, &mut self.pool, now, self.exact.nodes, backend, stop);
        self.cuts = plan.unwrap_or(std::mem::take(&mut self.cuts));
        self.raise(task, paid_in_cents(task, bound));
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
    match greedy(task, pool, &generated.duals.sizes) {
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
        let instance = Instance::new(&job);
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
