//! Which dealers to buy from, and at which of their breaks: branch and bound over dealers.
//!
//! A node decides some dealers. Its bound is that of the linear program in which the undecided sell
//! at their best terms; its children decide one more. Patterns do not depend on prices, so every node
//! starts from all patterns found so far.

use rayon::prelude::*;

use super::incumbent::{Incumbent, Shared};
use super::problem::{Cut, Instance, Market, Side, Task, Terms, needs_decision};
use super::relax::{Generated, Pool, generate};
use super::search::{Aim, Component, Opening, Planned};
use super::stop::Stop;
use super::tolerances as tol;
use crate::index::{SizeIndex, StockIndex, SupplierIndex, TiVec, ti_vec};
use crate::measure::Overflow;
use crate::pattern::Values;

/// Everything the search over dealers needs.
pub struct DealerSearch<'a> {
    /// The job.
    pub instance: &'a Instance,
    /// How hard to try.
    pub aim: Aim,
    /// A plan of this cost (ticks) is good enough.
    pub target: Option<i64>,
    /// When to stop.
    pub stop: &'a Stop,
    /// The best plan and bound so far.
    pub shared: &'a Shared<'a>,
}

/// One set of assumptions, with its linear program solved.
struct TermsNode {
    terms: TiVec<SupplierIndex, Terms>,
    market: Market,
    /// Breaks and minimum orders that the linear program clears without being told.
    left_out: Vec<Side>,
    parts: Vec<(Vec<SizeIndex>, Generated)>,
    bound: i64,
    /// Already planned: `bound` is then as good as it gets.
    planned: bool,
}

/// What became of a node whose dealers are all decided.
enum Leaf {
    /// Planned, with its final bound.
    Planned(i64),
    /// Whole boards cannot meet its terms.
    Impossible,
    /// Its plan misses a break or a minimum order that was left out as easily cleared.
    MissesTerms,
    /// The time ended before it had a plan, and another one is known.
    CutOff,
}

/// The sizes of a part of the job with their plan.
type PartPlanned<'n> = (Task<'n>, &'n Generated, Component);

/// Whether a node's breaks and minimum orders may be left out where they are easily cleared.
#[derive(Clone, Copy, PartialEq, Eq)]
enum TermsJoined {
    IfNeeded,
    Always,
}

impl TermsNode {
    /// Is something wanted that its dealers do not have?
    fn is_short(&self) -> bool {
        self.parts.iter().any(|(_, generated)| generated.unmet && generated.complete)
    }
}

/// How the search over dealers ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ended {
    /// With a bound in ticks; a plan is in the incumbent.
    Bound(i64),
    /// No assumption about the dealers lets these sizes be cut.
    Short(Vec<SizeIndex>),
}

impl DealerSearch<'_> {
    /// Runs, without the dealers `closed`, until the gap aimed at is proven, nothing is left, or it is time to stop.
    ///
    /// # Errors
    /// If a price or a sum is too large to be held exactly.
    pub fn run(&self, closed: &[SupplierIndex], pool: &mut Pool) -> Result<Ended, Overflow> {
        let first = self.first_terms(closed);
        let root = self.node(first, TermsJoined::IfNeeded, pool)?;
        if self.stop.is_due() {
            self.stop.keeps_what_is_torn();
        }
        // A run that was stopped early has proven nothing.
        let ended = root.parts.iter().filter(|(_, generated)| generated.complete);
        let missing: Vec<SizeIndex> =
            ended.flat_map(|(_, generated)| generated.missing.iter().copied()).collect();
        if !missing.is_empty() {
            // Boards with measured defects are priced by good patterns, not by all: a plan that is known stands.
            return Ok(match self.shared.cost_ticks() {
                Some(cost) => Ended::Bound(root.bound.min(cost)),
                None => Ended::Short(missing),
            });
        }
        self.shared.raise_bound(root.bound);
        if self.target.is_some_and(|target| root.bound > target) {
            return Ok(Ended::Bound(root.bound));
        }
        let mut open = vec![root];
        while let Some(bound) = open.iter().map(|node| node.bound).min() {
            self.shared.raise_bound(bound);
            let cost = self.shared.cost_ticks();
            if cost.is_some_and(|cost| self.stop.begins_no_turn() || self.reaches(bound, cost)) {
                break;
            }
            // A node that cannot beat the plan by more than the gap is not worth the work; its bound counts.
            let worth_it =
                |node: &TermsNode| !node.planned && cost.is_none_or(|cost| !self.reaches(node.bound, cost));
            let next = (0..open.len()).filter(|place| worth_it(&open[*place]));
            let Some(place) = next.min_by_key(|place| open[*place].bound) else { break };
            let node = open.swap_remove(place);
            if node.terms.contains(&Terms::Undecided) {
                let children = self.children(&node, pool)?;
                if !self.keeps_turn() {
                    open.push(node);
                    break;
                }
                open.extend(children);
                continue;
            }
            match self.plan(&node, pool)? {
                Leaf::Impossible => {}
                Leaf::CutOff => {
                    open.push(node);
                    break;
                }
                Leaf::MissesTerms => {
                    let ends = self.stop.begins_no_turn() && self.shared.cost_ticks().is_some();
                    let joined = || self.node(node.terms.clone(), TermsJoined::Always, pool);
                    let again = (!ends).then(joined).transpose()?;
                    let Some(again) = again.filter(|_| self.keeps_turn()) else {
                        open.push(node);
                        break;
                    };
                    if !again.is_short() {
                        open.push(TermsNode { bound: again.bound.max(node.bound), ..again });
                    }
                }
                Leaf::Planned(bound) => {
                    open.push(TermsNode { bound: bound.max(node.bound), planned: true, ..node });
                }
            }
        }
        let least = open.iter().map(|node| node.bound).min();
        let cost = self.shared.cost_ticks();
        Ok(match (least, cost) {
            (Some(bound), Some(cost)) => Ended::Bound(bound.min(cost)),
            (Some(bound), None) => Ended::Bound(bound),
            (None, Some(cost)) => Ended::Bound(cost),
            (None, None) => Ended::Short(self.instance.sizes.keys().collect()),
        })
    }

    /// Solves the first linear program alone, for its patterns.
    ///
    /// # Errors
    /// If a price or a sum is too large to be held exactly.
    pub fn find_patterns(&self, pool: &mut Pool) -> Result<(), Overflow> {
        self.node(self.first_terms(&[]), TermsJoined::IfNeeded, pool).map(|_| ())
    }

    /// What pieces are worth, by size, where dealers sell at their best terms: values that prove the bound.
    ///
    /// # Errors
    /// If a price or a sum is too large to be held exactly.
    pub fn values(&self, pool: &mut Pool) -> Result<TiVec<SizeIndex, i64>, Overflow> {
        let root = self.node(self.first_terms(&[]), TermsJoined::IfNeeded, pool)?;
        let proven: Vec<TiVec<SizeIndex, i64>> =
            root.parts.iter().map(|(_, generated)| generated.values()).collect();
        Ok(largest(proven.iter().map(TiVec::as_slice)))
    }

    /// Ends a turn; may what it gave be kept? What a first plan takes is no turn, and is kept also where it was cut off.
    fn keeps_turn(&self) -> bool {
        if self.shared.cost_ticks().is_some() {
            return self.stop.ends_turn();
        }
        if self.stop.is_due() {
            self.stop.keeps_what_is_torn();
        }
        true
    }

    fn first_terms(&self, closed: &[SupplierIndex]) -> TiVec<SupplierIndex, Terms> {
        let suppliers = self.instance.job.suppliers.iter_enumerated();
        let first = suppliers.map(|(index, supplier)| match needs_decision(supplier) {
            _ if closed.contains(&index) => Terms::Closed,
            true => Terms::Undecided,
            false => Terms::Open(0),
        });
        first.collect()
    }

    fn reaches(&self, bound: i64, cost: i64) -> bool {
        // Totals are in whole cents, so the bound counts rounded up to one.
        let whole = num_integer::div_ceil(bound, tol::CENT) * tol::CENT;
        if self.target.is_some_and(|target| cost <= target) {
            return true;
        }
        cost as f64 <= whole as f64 * (1.0 + self.aim.gap)
    }

    /// The dealer whose decision matters most is the one with the largest delivery left undecided.
    fn children(&self, node: &TermsNode, pool: &mut Pool) -> Result<Vec<TermsNode>, Overflow> {
        let suppliers = &self.instance.job.suppliers;
        let undecided = suppliers.keys().filter(|index| node.terms[*index] == Terms::Undecided);
        let Some(index) =
            undecided.max_by_key(|index| (suppliers[*index].delivery, std::cmp::Reverse(*index)))
        else {
            return Ok(Vec::new());
        };
        let mut choices = vec![Terms::Closed];
        choices.extend((0..=suppliers[index].breaks.len()).map(Terms::Open));
        let mut children = Vec::new();
        for choice in choices {
            let mut terms = node.terms.clone();
            terms[index] = choice;
            let child = self.node(terms, TermsJoined::IfNeeded, pool)?;
            let hopeless = self.shared.cost_ticks().is_some_and(|cost| child.bound >= cost);
            if !child.is_short() && !hopeless {
                children.push(TermsNode { bound: child.bound.max(node.bound), ..child });
            }
        }
        Ok(children)
    }

    /// Solves the linear programs of a set of assumptions. Breaks and minimum orders tie all sizes
    /// together; where the plan without them clears them easily, they are left out and the sets of
    /// sizes that share no board are solved apart. What is left out is only a relaxation, and a plan's
    /// real cost is reckoned with the terms as they are.
    fn node(
        &self,
        terms: TiVec<SupplierIndex, Terms>,
        joined: TermsJoined,
        pool: &mut Pool,
    ) -> Result<TermsNode, Overflow> {
        let market = Market::new(self.instance, &terms)?;
        let turns = market.turns;
        let free = market.without_terms();
        let parts = self.solve_sets(&free, self.instance.sets.clone(), pool);
        let terms_of_dealers = &market.sides[turns..];
        let cleared = terms_of_dealers.iter().zip(turns..).all(|(side, place)| {
            let amount = |stock: StockIndex| market.amount(stock, place);
            let bought = parts.iter().flat_map(|(_, generated)| {
                let used = generated.used.iter();
                used.map(|(column, level)| amount(generated.columns[*column].stock) * level)
            });
            let factor = if side.least > 0.0 { tol::CLEARED_BY } else { 1.0 / tol::CLEARED_BY };
            bought.sum::<f64>() >= side.least * factor
        });
        let (market, left_out, parts) = if cleared && joined == TermsJoined::IfNeeded {
            (free, market.sides[turns..].to_vec(), parts)
        } else {
            let all = vec![self.instance.sizes.keys().collect()];
            let parts = self.solve_sets(&market, all, pool);
            (market, Vec::new(), parts)
        };
        let bound = market.fixed + parts.iter().map(|(_, generated)| generated.bound).sum::<i64>();
        Ok(TermsNode { terms, market, left_out, parts, bound, planned: false })
    }

    /// Solves the linear program of each set of sizes, in parallel.
    fn solve_sets(
        &self,
        market: &Market,
        sets: Vec<Vec<SizeIndex>>,
        pool: &mut Pool,
    ) -> Vec<(Vec<SizeIndex>, Generated)> {
        let known: &Pool = pool;
        let solved: Vec<(Vec<SizeIndex>, Generated, Pool)> = sets
            .into_par_iter()
            .map(|sizes| {
                let mut local = known.clone();
                let task = Task::whole(self.instance, market, &sizes);
                let generated = generate(&task, &mut local, self.stop);
                (sizes, generated, local)
            })
            .collect();
        let mut parts = Vec::new();
        for (sizes, mut generated, local) in solved {
            let numbers = pool.absorb(&local);
            generated.renumber(&numbers);
            parts.push((sizes, generated));
        }
        parts
    }

    /// Plans a node whose dealers are all decided: its final bound, or that it has no plan.
    fn plan(&self, node: &TermsNode, pool: &mut Pool) -> Result<Leaf, Overflow> {
        let known: &Pool = pool;
        let started: Vec<(Task<'_>, &Generated, Planned)> = node
            .parts
            .par_iter()
            .map(|(sizes, generated)| {
                let whole = Task::whole(self.instance, &node.market, sizes);
                let used = generated.used.iter().map(|(column, _)| generated.columns[*column].stock);
                // A linear program that was stopped early may not have come to the lots that are needed.
                let task = if generated.unmet { whole } else { whole.without_idle_lots(used) };
                let planned = Component::first(&task, generated, known.clone(), self.aim, self.stop);
                (task, generated, planned)
            })
            .collect();
        if !self.keeps_turn() {
            return Ok(Leaf::CutOff);
        }
        let mut components: Vec<PartPlanned<'_>> = Vec::new();
        let mut unplanned = 0;
        for (task, generated, planned) in started {
            match planned {
                Planned::Impossible => return Ok(Leaf::Impossible),
                Planned::NotFound => unplanned += generated.bound,
                Planned::Found(component) => components.push((task, generated, *component)),
            }
        }
        let complete = components.len() == node.parts.len();
        if complete {
            self.show(&components, pool)?;
        }
        for opening in Opening::ALL {
            if !components.iter().any(|(task, _, component)| component.is_open_to(opening, task)) {
                continue;
            }
            self.turn(&mut components, |task, generated, component| {
                component.open_with(opening, task, generated, self.aim, self.stop);
            });
        }
        if complete {
            self.improve(node.market.fixed, &mut components, pool)?;
        }
        self.turn(&mut components, |task, generated, component| {
            component.finish(task, generated, self.aim, self.stop);
        });
        for (task, _, component) in &mut components {
            component.bound = component.bound.min(component.cost(task));
        }
        let bound = node.market.fixed
            + unplanned
            + components.iter().map(|(_, _, component)| component.bound).sum::<i64>();
        let cuts = if complete { self.show(&components, pool)? } else { joined(&components, pool) };
        let mut boards: TiVec<StockIndex, u32> = ti_vec![0; self.instance.stocks.len()];
        cuts.iter().for_each(|cut| boards[cut.stock] += cut.copies);
        let misses = node.left_out.iter().any(|side| side.lacks(&node.market, &boards) > 0.0);
        Ok(if complete && misses { Leaf::MissesTerms } else { Leaf::Planned(bound) })
    }

    /// Shows the plans of all parts as one plan of the job, with what dealers ask, and gives its cuts.
    fn show(&self, components: &[PartPlanned<'_>], pool: &mut Pool) -> Result<Vec<Cut>, Overflow> {
        let cuts = joined(components, pool);
        if let Some(plan) = Incumbent::new(self.instance, &cuts, pool)? {
            self.shared.offer(Incumbent { values: values(components), ..plan });
        }
        Ok(cuts)
    }

    /// A turn for every part, side by side. Where it is cut off, plans and bounds are what they were before it.
    fn turn(
        &self,
        components: &mut [PartPlanned<'_>],
        of_part: impl Fn(&Task<'_>, &Generated, &mut Component) + Sync,
    ) {
        if self.stop.begins_no_turn() {
            return;
        }
        let before: Vec<(Vec<Cut>, i64)> =
            components.iter().map(|(_, _, component)| (component.cuts.clone(), component.bound)).collect();
        components
            .par_iter_mut()
            .for_each(|(task, generated, component)| of_part(task, generated, component));
        if !self.stop.ends_turn() {
            for ((_, _, component), (cuts, bound)) in components.iter_mut().zip(before) {
                (component.cuts, component.bound) = (cuts, bound);
            }
        }
    }

    /// Slices of the long search, where the gap is largest, until the gap of the whole is small enough.
    /// What is gained on the way is shown at once.
    fn improve(
        &self,
        fixed: i64,
        components: &mut [PartPlanned<'_>],
        pool: &mut Pool,
    ) -> Result<(), Overflow> {
        let mut shown = i64::MAX;
        let mut slices = 0;
        loop {
            slices += 1;
            if self.target.is_some() && slices > tol::SLICES_FOR_A_TARGET {
                break;
            }
            let gap =
                |(task, _, component): &PartPlanned<'_>| (component.cost(task) - component.bound).max(0);
            let bound: i64 = fixed + components.iter().map(|(_, _, one)| one.bound).sum::<i64>();
            let gaps: i64 = components.iter().map(gap).sum();
            if self.reaches(bound, bound + gaps) || self.stop.begins_no_turn() {
                break;
            }
            if gaps < shown {
                shown = gaps;
                self.show(components, pool)?;
            }
            let open = |one: &PartPlanned<'_>| !one.2.is_idle(&one.0);
            let largest = components.iter().filter(|one| open(one)).map(gap).max();
            let Some(largest) = largest else { break };
            let least = largest as f64 * tol::GAP_SHARE;
            self.turn(components, |task, generated, component| {
                let gap = (component.cost(task) - component.bound).max(0);
                if !component.is_idle(task) && gap as f64 >= least {
                    component.improve(task, generated, self.aim, self.stop);
                }
            });
        }
        Ok(())
    }
}

/// What pieces are worth, by size, over all components.
fn values(components: &[PartPlanned<'_>]) -> TiVec<SizeIndex, i64> {
    largest(components.iter().map(|(_, generated, _)| generated.duals.sizes.as_slice()))
}

/// The largest value of each size: a component has values for its own sizes only.
fn largest<'v>(of_parts: impl Iterator<Item = &'v Values>) -> TiVec<SizeIndex, i64> {
    let mut values: TiVec<SizeIndex, i64> = TiVec::new();
    for own in of_parts {
        values.resize(own.len().max(values.len()), 0);
        values.iter_mut().zip(own).for_each(|(value, own)| *value = (*value).max(*own));
    }
    values
}

/// The plans of all components as one, in the pool's numbers.
fn joined(components: &[PartPlanned<'_>], pool: &mut Pool) -> Vec<Cut> {
    let mut cuts = Vec::new();
    for (_, _, component) in components {
        let adopted = component
            .cuts
            .iter()
            .map(|cut| Cut { pattern: pool.adopt(&component.pool, cut.pattern), ..*cut });
        cuts.extend(adopted);
    }
    cuts
}
