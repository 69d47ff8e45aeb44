//! Branch and cut over all columns within the gap.
//!
//! The columns are listed once ([`super::listing`]); every node is a program of those that its bound leaves
//! over, with its cuts ([`super::cuts`]). It branches on how many boards are bought in all, of a class or of a
//! stock, then on how many of them give a piece or a pair of pieces (Ryan and Foster, in: Computer Scheduling
//! of Public Transport, 1981), at last on a column; the candidates that raise the bound of both children most
//! are taken (strong branching, Applegate, Bixby, Chvatal and Cook 1995). A node of few columns is solved to its
//! end by the back end, with every row rounded as the dealer does. The tree is kept between turns, so each goes
//! on where the last one stopped. Nodes are worked on in batches of one size, so that the tree does not depend
//! on the number of threads.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::complete::{can_be_completed, complete};
use super::cuts::Tight;
use super::exact::proves;
use super::listing::{Reach, list};
use super::mip::{Backend, Effort, MipOutcome, solve};
use super::program::{plain, rounded};
use crate::index::{SizeIndex, StockIndex};
use crate::solve::problem::{
    Cut, Listed, Supply, Task, cost, merged, most_gained, next_below, reaches_sides,
};
use crate::solve::relax::{Generated, Pool};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// The state of the search.
#[derive(Debug, Clone)]
pub struct Tree {
    listed: Vec<Listed>,
    /// The patterns that the columns' numbers mean.
    pool: Pool,
    /// A plan with other columns costs at least so many ticks.
    outside: i64,
    /// The columns listed are those within it.
    gap: i64,
    /// Does a list of all patterns prove anything?
    proves: bool,
    open: Vec<Node>,
    /// The least bound, in ticks, of a node that could not be taken apart further.
    stuck: Option<i64>,
    /// Work that is left where only plans can be gained, since those with other columns may be as cheap.
    helping: usize,
}

#[derive(Debug, Clone)]
struct Node {
    tight: Tight,
    depth: u32,
    /// The most ticks that rounding can take off a plan of its columns.
    gains: i64,
}

impl Node {
    /// No plan of its columns costs less, in ticks.
    fn bound(&self) -> i64 {
        let unit = tol::TICKS_PER_UNIT as f64;
        // A node that was never solved proves nothing.
        let proven = (self.tight.bound * unit * (1.0 - tol::MIP_SLACK)).floor().max(0.0) as i64;
        (proven - self.gains).max(0)
    }

    /// Can it still give a plan cheaper than `best`?
    fn is_open(&self, best: i64) -> bool {
        self.tight.bound < cutoff(best, self.gains)
    }
}

/// What a turn gave.
#[derive(Debug, Clone, Default)]
pub struct Grown {
    /// The cheapest plan found that is cheaper than the incumbent.
    pub plan: Option<Vec<Cut>>,
    /// No plan costs less, in ticks.
    pub bound: i64,
}

/// What became of a node.
#[derive(Default)]
struct NodeOutcome {
    children: Vec<Node>,
    /// By column listed.
    plan: Option<Vec<(usize, u32)>>,
    stuck: Option<i64>,
}

impl Tree {
    /// Lists the columns within the first of some gaps that can be reached. `None` if none can.
    pub fn plant(
        task: &Task<'_>,
        generated: &Generated,
        known: &Pool,
        gaps: impl IntoIterator<Item = i64>,
        reach: Reach,
        stop: &Stop,
    ) -> Option<Tree> {
        let offers = task.offers();
        let gains = most_gained(task, &offers);
        for gap in gaps {
            let mut pool = known.emptied();
            if let Some(listed) = list(task, &offers, generated, (known, &mut pool), Some(gap), reach, stop) {
                let columns: Vec<&Listed> = listed.iter().collect();
                let root = Node { tight: Tight::new(plain(task, &columns)), depth: 0, gains };
                // The reduced cost of other columns is above the gap.
                let outside = generated.unrounded.saturating_add(gap + 1) - gains;
                let proves = proves(task, &offers);
                let open = vec![root];
                return Some(Tree { listed, pool, outside, gap, proves, open, stuck: None, helping: 0 });
            }
            if stop.is_due() {
                return None;
            }
        }
        None
    }

    /// Raises what is proven of plans with other columns by pricing them against the cuts of the columns listed, and takes
    /// those that a plan cheaper than `cost` can need. Nothing changes where that is too much work, or gains nothing.
    pub fn complete(&mut self, task: &Task<'_>, cost: i64, reach: Reach, stop: &Stop) -> bool {
        let offers = task.offers();
        if self.listed.len() > reach.columns || !can_be_completed(task, &offers) {
            return false;
        }
        let gains = most_gained(task, &offers);
        let cutoff = cutoff(cost, gains);
        let mut pool = self.pool.clone();
        let listed = self.listed.clone();
        let Some(found) = complete(task, listed, &mut pool, cutoff, reach, stop) else {
            return false;
        };
        let ticks = |bound: f64| (bound * tol::TICKS_PER_UNIT as f64 * (1.0 - tol::MIP_SLACK)).floor() as i64;
        let outside = ticks(found.outside) - gains;
        if outside <= self.outside {
            return false;
        }
        self.outside = outside;
        if found.outside <= found.bound {
            return true;
        }
        (self.pool, self.listed) = (pool, found.listed);
        let mut tight = found.tight;
        tight.bound = found.bound;
        self.open = vec![Node { tight, depth: 0, gains }];
        self.stuck = None;
        true
    }

    /// Is every plan cheaper than `cost` made of the columns listed?
    pub fn reaches(&self, task: &Task<'_>, cost: i64) -> bool {
        self.outside > next_below(task, &task.offers(), cost)
    }

    /// The same tree, which goes on with so much work where it can prove nothing more.
    pub fn helping(self, work: usize) -> Tree {
        Tree { helping: work, ..self }
    }

    /// Within which gap were columns listed?
    pub fn gap(&self) -> i64 {
        self.gap
    }

    /// Is there nothing more to take apart?
    pub fn is_done(&self) -> bool {
        self.open.is_empty()
    }

    /// Works on so many nodes of usual size.
    pub fn grow(
        &mut self,
        task: &Task<'_>,
        pool: &mut Pool,
        incumbent: i64,
        nodes: usize,
        backend: Backend,
        stop: &Stop,
    ) -> Grown {
        let mut best = incumbent;
        let mut plan = None;
        let mut worked = 0;
        while !self.open.is_empty() && worked < nodes && !stop.is_due() {
            let least = self.open.iter().map(Node::bound).min().unwrap_or(i64::MAX);
            // Then plans with other columns may be as cheap: more of them must be listed.
            let only_helps = worked > 0 && least >= self.outside && !self.reaches(task, best);
            if only_helps && self.helping == 0 {
                self.open.clear();
                break;
            }
            // Where many large programs wait, the deepest come next, so that they do not fill the memory; and where
            // only plans can be gained.
            let waiting: usize = self.open.iter().map(|node| node.tight.columns.len()).sum();
            let dives = only_helps || waiting > tol::COLUMNS_WAITING;
            let deepest = |node: &Node| if dives { node.depth } else { 0 };
            self.open.sort_by(|one, other| {
                let by_bound = one.tight.bound.total_cmp(&other.tight.bound);
                deepest(other).cmp(&deepest(one)).then(by_bound).then(other.depth.cmp(&one.depth))
            });
            let batch: Vec<Node> = self.open.drain(..self.open.len().min(tol::NODES_AT_ONCE)).collect();
            // A large program is the work of many small ones.
            let size: usize =
                batch.iter().map(|node| 1 + node.tight.columns.len() / tol::COLUMNS_A_NODE).sum();
            worked += size;
            if only_helps {
                self.helping = self.helping.saturating_sub(size);
            }
            let work = NodeWork { task, listed: &self.listed, best, backend, stop };
            let outcomes: Vec<NodeOutcome> = batch.into_par_iter().map(|node| work.on(node)).collect();
            for outcome in outcomes {
                self.open.extend(outcome.children);
                self.stuck = match (self.stuck, outcome.stuck) {
                    (Some(one), Some(other)) => Some(one.min(other)),
                    (one, other) => one.or(other),
                };
                let Some(columns) = outcome.plan else { continue };
                let cuts = cuts_of_plan(&self.listed, &columns);
                let spent = cost(task.market, &cuts);
                if spent < best && reaches_sides(task, &cuts) {
                    best = spent;
                    let adopted = |cut: Cut| Cut { pattern: pool.adopt(&self.pool, cut.pattern), ..cut };
                    plan = Some(merged(cuts.into_iter().map(adopted).collect()));
                }
            }
            self.open.retain(|node| node.is_open(best));
        }
        Grown { plan, bound: self.bound(task, best) }
    }

    /// What is proven beside a plan of `best` ticks.
    fn bound(&self, task: &Task<'_>, best: i64) -> i64 {
        if !self.proves {
            return 0;
        }
        let open = self.open.iter().map(Node::bound).chain(self.stuck);
        let outside = if self.reaches(task, best) { best } else { self.outside };
        open.min().unwrap_or(best).min(outside).min(best)
    }
}

/// What a plan cheaper than `best` costs at most before its rows are rounded.
fn cutoff(best: i64, gains: i64) -> f64 {
    (best - tol::HALF_A_CENT + gains) as f64 / tol::TICKS_PER_UNIT as f64
}

/// The boards of a plan by column listed.
fn cuts_of_plan(listed: &[Listed], plan: &[(usize, u32)]) -> Vec<Cut> {
    let cuts = plan.iter().map(|(column, copies)| {
        let Listed { stock, pattern, .. } = listed[*column];
        Cut { stock, pattern, copies: *copies }
    });
    merged(cuts.collect())
}

/// What was found of a node without taking it apart.
#[derive(Default)]
struct NodeFound {
    /// A plan by column listed, with its cost.
    plan: Option<(Vec<(usize, u32)>, i64)>,
    /// Is nothing left of the node?
    closed: bool,
}

struct NodeWork<'a> {
    task: &'a Task<'a>,
    listed: &'a [Listed],
    best: i64,
    backend: Backend,
    stop: &'a Stop,
}

impl NodeWork<'_> {
    fn on(&self, mut node: Node) -> NodeOutcome {
        let mut outcome = NodeOutcome::default();
        let mut best = self.best;
        let mut rounds = if node.depth == 0 { tol::CUT_ROUNDS } else { tol::CUT_ROUNDS_IN_NODE };
        let mut proven = i64::MIN;
        loop {
            node.tight.covering.cutoff = cutoff(best, node.gains);
            node.tight.tighten(rounds, self.stop);
            rounds = 0;
            if !node.is_open(best) || node.tight.columns.is_empty() {
                return outcome;
            }
            // Fewer rows can gain less by rounding, and a lower cutoff leaves fewer columns.
            let gains = self.gains(&node.tight);
            if gains < node.gains {
                node.gains = gains;
                continue;
            }
            let found = self.solutions(&node, best, &mut proven);
            let Some((plan, spent)) = found.plan.filter(|(_, spent)| *spent < best) else {
                if found.closed {
                    return outcome;
                }
                break;
            };
            (best, outcome.plan) = (spent, Some(plan));
            if found.closed {
                return outcome;
            }
        }
        match self.branch(&node) {
            Some(children) => outcome.children = children,
            None => outcome.stuck = Some(node.bound().max(proven)),
        }
        outcome
    }

    /// Plans of a node as it is. `proven` rises to what its program is shown to cost at least.
    fn solutions(&self, node: &Node, best: i64, proven: &mut i64) -> NodeFound {
        let tight = &node.tight;
        let is_whole = |level: f64| (level - level.round()).abs() < tol::WHOLE;
        let whole = tight.used.iter().all(|(_, level)| is_whole(*level));
        if whole {
            let used = tight.used.iter().filter(|(_, level)| *level > 0.5);
            let plan: Vec<(usize, u32)> =
                used.map(|(place, level)| (tight.columns[*place], level.round() as u32)).collect();
            let spent = self.paid(&plan);
            if spent.is_some_and(|spent| spent < best) {
                return NodeFound { plan: spent.map(|spent| (plan, spent)), closed: false };
            }
        }
        let few = tight.columns.len() <= tol::LEAF_COLUMNS;
        if few || whole {
            return self.leaf(tight, (0..tight.columns.len()).collect(), best, tol::LEAF_NODES, proven);
        }
        // The columns that the linear program likes best may give a better plan, now and then.
        if node.depth.is_multiple_of(tol::DEPTH_OF_PLANS) {
            let liked = tight.liked(tol::RESTRICTED_COLUMNS);
            let nodes = if node.depth == 0 { tol::ROOT_NODES } else { tol::RESTRICTED_NODES };
            let found = self.leaf(tight, liked, best, nodes, &mut i64::MIN.clone());
            return NodeFound { closed: false, ..found };
        }
        NodeFound::default()
    }

    /// What a plan costs as its dealers round it; none if it misses a break or a minimum order.
    fn paid(&self, plan: &[(usize, u32)]) -> Option<i64> {
        let cuts = cuts_of_plan(self.listed, plan);
        reaches_sides(self.task, &cuts).then(|| cost(self.task.market, &cuts))
    }

    /// The most ticks that rounding can take off a plan of these columns. A plan below the best one has only so many
    /// boards, and no more rows than boards: the rows that can gain most are counted.
    fn gains(&self, tight: &Tight) -> i64 {
        let market = self.task.market;
        let mut cheapest: BTreeMap<usize, i64> = BTreeMap::new();
        for stock in tight.columns.iter().map(|column| self.listed[*column].stock) {
            if let (Some(bill), Some(cost)) = (market.bill_of(stock), market.costs[stock]) {
                let least = cheapest.entry(bill).or_insert(cost);
                *least = cost.min(*least);
            }
        }
        let boards = |cost: i64| u32::try_from(self.best / cost.max(1) + 1).unwrap_or(u32::MAX);
        let mut gains: Vec<i64> =
            cheapest.iter().map(|(bill, cost)| market.most_gained_of(*bill, boards(*cost))).collect();
        gains.sort_unstable_by(|one, other| other.cmp(one));
        let rows = cheapest.values().map(|cost| boards(*cost) as usize).max().unwrap_or(0);
        gains.iter().take(rows).sum()
    }

    /// Solves a node's program over some of its columns (by place), every row rounded where they are few.
    fn leaf(&self, tight: &Tight, places: Vec<usize>, best: i64, nodes: u64, proven: &mut i64) -> NodeFound {
        let columns: Vec<&Listed> = places.iter().map(|place| &self.listed[tight.columns[*place]]).collect();
        let covering = rounded(tight.of_columns(&places), self.task, &columns, Some(best));
        let outcome = solve(&covering, self.backend, &Effort { nodes, stop: self.stop.clone() });
        let (values, optimal) = match outcome {
            MipOutcome::Nothing => return NodeFound { plan: None, closed: true },
            MipOutcome::Stopped(_) => return NodeFound::default(),
            MipOutcome::Optimal(values) => (values, true),
            MipOutcome::Feasible(values, _) => (values, false),
        };
        let program = (covering.cost(&values) * tol::TICKS_PER_UNIT as f64 * (1.0 - tol::MIP_SLACK)).floor();
        if optimal {
            *proven = (*proven).max(program as i64);
        }
        let used = places.iter().zip(values).filter(|(_, copies)| *copies > 0);
        let plan: Vec<(usize, u32)> = used.map(|(place, copies)| (tight.columns[*place], copies)).collect();
        // Where a row is of too many boards to be rounded in the program, its optimum is not quite the plan's.
        let spent = self.paid(&plan);
        let exact = spent.is_some_and(|spent| spent <= program as i64 + tol::HALF_A_CENT / 2);
        NodeFound { plan: spent.map(|spent| (plan, spent)), closed: optimal && exact }
    }

    /// The two children of the sum that raises their bounds most.
    fn branch(&self, node: &Node) -> Option<Vec<Node>> {
        let tight = &node.tight;
        let mut candidates = self.candidates(tight);
        candidates.truncate(tol::STRONG_BRANCHES);
        let cutoff = tight.covering.cutoff;
        let mut best: Option<(f64, Vec<Node>)> = None;
        for (_, columns, sum) in candidates {
            if self.stop.is_due() {
                return None;
            }
            let mut children = Vec::new();
            let mut score = 1.0;
            for (sign, least) in [(1.0, sum.ceil()), (-1.0, -sum.floor())] {
                let mut child = tight.with_row(&columns, sign, least);
                child.bound = child.bound.max(child.bound_now());
                score *= (child.bound.min(cutoff) - tight.bound).max(1e-6);
                if child.bound < cutoff {
                    children.push(Node { tight: child, depth: node.depth + 1, gains: node.gains });
                }
            }
            if best.as_ref().is_none_or(|(most, _)| score > *most) {
                let closed = children.is_empty();
                best = Some((score, children));
                if closed {
                    break;
                }
            }
        }
        best.map(|(_, children)| children)
    }

    /// Sums of columns whose value is not whole, the most promising first: (score, columns, value).
    fn candidates(&self, tight: &Tight) -> Vec<(f64, Vec<usize>, f64)> {
        let column = |place: usize| &self.listed[tight.columns[place]];
        let places = || 0..tight.columns.len();
        let instance = self.task.instance;
        let quarter = |place: usize| instance.stocks[column(place).stock].source.quarter(&instance.job);
        let is_bought =
            |place: usize| !matches!(instance.stocks[column(place).stock].source, Supply::Rack(_));
        let mut sets: Vec<(f64, Vec<usize>)> = vec![(1.4, places().collect())];
        let used: Vec<usize> = tight.used.iter().map(|(place, _)| *place).collect();
        let mut quarters: Vec<_> = used.iter().map(|place| quarter(*place)).collect();
        quarters.sort_unstable();
        quarters.dedup();
        for class in quarters {
            sets.push((1.3, places().filter(|place| quarter(*place) == class).collect()));
        }
        let mut stocks: Vec<StockIndex> = used.iter().map(|place| column(*place).stock).collect();
        stocks.sort_unstable();
        stocks.dedup();
        for stock in stocks {
            sets.push((1.2, places().filter(|place| column(*place).stock == stock).collect()));
        }
        sets.push((1.0, places().filter(|place| is_bought(*place)).collect()));
        let mut sizes: Vec<SizeIndex> =
            used.iter().flat_map(|place| &column(*place).counts).map(|(size, _)| *size).collect();
        sizes.sort_unstable();
        sizes.dedup();
        let gives =
            |place: usize, size: SizeIndex| column(place).counts.iter().any(|(other, _)| *other == size);
        for (number, size) in sizes.iter().enumerate() {
            sets.push((0.9, places().filter(|place| gives(*place, *size)).collect()));
            for other in &sizes[number + 1..] {
                let both = |place: &usize| gives(*place, *size) && gives(*place, *other);
                sets.push((0.8, places().filter(both).collect()));
            }
        }
        sets.extend(used.iter().map(|place| (0.4, vec![*place])));
        let value = |set: &[usize]| -> f64 {
            let inside = tight.used.iter().filter(|(place, _)| set.binary_search(place).is_ok());
            inside.map(|(_, level)| level).sum()
        };
        let mut candidates: Vec<(f64, Vec<usize>, f64)> = sets
            .into_iter()
            .filter_map(|(weight, set)| {
                let value = value(&set);
                let fraction = (value - value.floor()).min(value.ceil() - value);
                (fraction > tol::WHOLE).then_some((weight * fraction, set, value))
            })
            .collect();
        candidates.sort_by(|one, other| other.0.total_cmp(&one.0).then_with(|| one.1.cmp(&other.1)));
        candidates
    }
}
