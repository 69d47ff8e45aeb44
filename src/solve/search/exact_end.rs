//! The exact end in turns: a tree over the columns within the gap, planted anew with more of them.

use super::engine::{AtHand, Engine, Slice};
use super::exact::{gap_below, proves};
use super::listing::Reach;
use super::tree::{Grown, Tree};
use crate::solve::problem::{Task, paid_in_cents};
use crate::solve::relax::{Generated, Pool, generate_proper};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// The state of the exact end between two slices, each of which goes twice as deep as the one before.
#[derive(Debug, Clone)]
pub struct ExactEnd {
    reach: Reach,
    nodes: usize,
    tree: Option<Box<Tree>>,
    /// The linear program over proper patterns, where it proves more.
    proper: Option<Box<Generated>>,
    /// Few pieces: what is left of the gap is for a tree, and not for exchanges.
    few: bool,
    /// Does it prove nothing, because of boards or patterns that it does not list?
    proves_nothing: bool,
    /// Does no other engine gain anything more?
    alone: bool,
    /// The gap whose columns were enough for all others to be priced against their cuts, and what was left between plan and
    /// bound then.
    completed: Option<(i64, i64)>,
    /// Steps that pricing all columns against cuts has next time.
    steps_of_completing: usize,
}

impl ExactEnd {
    /// Nothing listed yet.
    pub fn new(task: &Task<'_>) -> ExactEnd {
        let few = task.has_few_pieces();
        let shapes = task.instance.shapes.len().max(1);
        let steps = if few { tol::LISTING_STEPS } else { tol::LISTING_STEPS_OF_MANY / shapes };
        let all = task.with_all_lots();
        ExactEnd {
            reach: Reach { steps, columns: tol::MIP_COLUMNS },
            nodes: tol::TREE_NODES_FIRST,
            tree: None,
            proper: None,
            few,
            proves_nothing: !proves(&all, &all.offers()),
            alone: false,
            completed: None,
            steps_of_completing: steps.saturating_mul(tol::COMPLETING_STEPS),
        }
    }

    /// Are there few pieces, so that a tree can close the gap?
    pub fn is_of_few(&self) -> bool {
        self.few
    }

    /// The next slice goes twice as deep. `alone` says that no other engine gains anything more.
    pub fn go_deeper(&mut self, alone: bool) {
        self.nodes = (self.nodes * 2).min(tol::TREE_NODES_MOST);
        self.alone = alone;
    }

    /// Solves the linear program over proper patterns, where the other one is met by patterns that nobody can use.
    /// Gives what it proves.
    pub fn go_proper(
        &mut self,
        task: &Task<'_>,
        generated: &Generated,
        pool: &mut Pool,
        stop: &Stop,
    ) -> Option<i64> {
        self.proper = generate_proper(&task.with_all_lots(), pool, generated, stop).map(Box::new);
        self.proper.as_ref().map(|proper| proper.bound)
    }

    /// Is its tree on the way to prove a plan of this cost?
    pub fn is_closing(&self, task: &Task<'_>, cost: i64) -> bool {
        self.tree.as_ref().is_some_and(|tree| !tree.is_done() && tree.reaches(task, cost))
    }

    /// Gaps within which columns could be listed next, the widest first: shares of the whole one, and later more
    /// than the last time.
    fn gaps(&self, whole: i64) -> Vec<i64> {
        let last = self.tree.as_ref().map_or(0, |tree| tree.gap());
        if 0 < last && last < whole && self.few {
            let mut gaps = [whole, last * 2, last / 2 * 3].map(|gap| gap.min(whole)).to_vec();
            // What is lacking can also be found by pricing.
            gaps.extend(self.completed.map(|(gap, _)| gap.min(whole)));
            return gaps;
        }
        // Of many pieces a tree over part of the gap would be large and prove little.
        let shares = if self.few { &tol::GAP_SHARES[..] } else { &tol::GAP_SHARES[..1] };
        shares.iter().map(|share| whole / share).collect()
    }

    /// A tree that is done without having reached everything is planted anew, with more columns.
    fn reach_further(&mut self) {
        // Of few pieces there are few columns beyond those that are too many at first, and a tree over all of them ends it.
        let further = if self.few { tol::FURTHER_OF_FEW } else { tol::FURTHER };
        self.reach.steps = self.reach.steps.saturating_mul(further);
        self.reach.columns = self.reach.columns.saturating_mul(further).min(tol::MIP_COLUMNS_MOST);
    }
}

impl Engine for ExactEnd {
    fn slice(&mut self, on: AtHand<'_>) -> Slice {
        let now = on.cost();
        let proven = on.bound;
        let AtHand { task, generated, pool, aim, stop, .. } = on;
        if now <= on.bound + tol::HALF_A_CENT || stop.is_due() {
            return Slice::default();
        }
        // What is proven holds for all lots, also those that the linear program does not use.
        let all = if self.few { task.with_all_lots() } else { task.clone() };
        let task = &all;
        let used_up = self.tree.as_ref().is_none_or(|tree| {
            // A cheaper plan leaves less to be listed, so that more of it can be.
            let left = (now - proven) as f64;
            let is_old = self.completed.is_some_and(|(_, before)| left < before as f64 * tol::LESS_LEFT);
            (tree.is_done() || is_old) && !tree.reaches(task, now)
        });
        if used_up {
            let generated = self.proper.as_deref().unwrap_or(generated);
            let gaps = self.gaps(gap_below(task, &task.offers(), generated, now));
            if let Some(mut tree) = Tree::plant(task, generated, pool, gaps, self.reach, stop) {
                if self.few && !tree.reaches(task, now) {
                    let gap = tree.gap();
                    let steps = self.steps_of_completing;
                    let reach = Reach { steps, columns: tol::COLUMNS_OF_COMPLETE };
                    if tree.complete(task, now, reach, stop) {
                        self.completed = Some((gap, now - proven));
                    } else {
                        self.steps_of_completing = self.steps_of_completing.saturating_mul(2);
                    }
                }
                self.tree = Some(Box::new(tree));
            }
            let reaches = self.tree.as_ref().is_some_and(|tree| tree.reaches(task, now));
            if !reaches && (self.few || self.alone) {
                self.reach_further();
            }
        }
        let Some(tree) = &mut self.tree else { return Slice::default() };
        let Grown { plan, bound } = tree.grow(task, pool, now, self.nodes, aim.backend, stop);
        Slice { plan, bound: Some(paid_in_cents(task, bound)) }
    }

    fn is_idle(&self) -> bool {
        let most = if self.proves_nothing { tol::LISTING_STEPS_HELPING } else { tol::LISTING_STEPS_MOST };
        self.reach.steps >= most
    }
}
