//! The exact end of what is small: every pattern that can matter, then one integer program.
//!
//! A plan cheaper than the incumbent uses no column whose reduced cost is above the gap (at a dual
//! feasible point). If all columns within the gap can be listed, the best plan is among them.

use super::listing::{Reach, is_listed_whole, list};
use super::mip::{Backend, Effort, MipOutcome, solve};
use super::program::{cuts_of, plain, rounded};
use crate::solve::problem::{Cut, Offer, Task, merged, most_gained, next_below, reaches_sides};
use crate::solve::relax::{Generated, Pool};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// What the exact end found.
#[derive(Debug, Clone)]
pub enum Exactly {
    /// A plan that is cheaper.
    Plan(Vec<Cut>),
    /// Nothing cheaper than the incumbent exists.
    NothingCheaper,
    /// Not all patterns could be listed, so that nothing is proven.
    NotListed,
    /// Too many nodes.
    GaveUp,
}

/// Solves a task to the end with at most so many nodes, or says that it is too large. `incumbent` is the cost
/// (ticks) to beat.
pub fn exactly(
    task: &Task<'_>,
    generated: &Generated,
    pool: &mut Pool,
    incumbent: Option<i64>,
    nodes: u64,
    backend: Backend,
    stop: &Stop,
) -> Exactly {
    let offers = task.offers();
    let gap = incumbent.map(|cost| gap_below(task, &offers, generated, cost));
    // Patterns of the list are not those of the pool: few of them are ever used.
    let mut local = pool.emptied();
    let reach = Reach { steps: tol::LISTING_STEPS, columns: tol::MIP_COLUMNS };
    let Some(listed) = list(task, &offers, generated, (pool, &mut local), gap, reach, stop) else {
        return Exactly::NotListed;
    };
    let columns: Vec<_> = listed.iter().collect();
    let covering = rounded(plain(task, &columns), task, &columns, incumbent);
    let outcome = solve(&covering, backend, &Effort { nodes, stop: stop.clone() });
    let proves = proves(task, &offers);
    match outcome {
        MipOutcome::Optimal(values) | MipOutcome::Feasible(values, _) => {
            let cuts = cuts_of(&columns, &values);
            // Rows of many boards are not rounded in the program as the dealer does, so that a minimum order
            // may be missed by a cent.
            if !reaches_sides(task, &cuts) {
                return Exactly::GaveUp;
            }
            let adopted = |cut: Cut| Cut { pattern: pool.adopt(&local, cut.pattern), ..cut };
            Exactly::Plan(merged(cuts.into_iter().map(adopted).collect()))
        }
        MipOutcome::Nothing if proves => Exactly::NothingCheaper,
        MipOutcome::Stopped(_) if proves => Exactly::GaveUp,
        MipOutcome::Nothing | MipOutcome::Stopped(_) => Exactly::NotListed,
    }
}

/// What a plan cheaper than one of `cost` can cost at most beyond the bound of the linear program, before its
/// rows are rounded.
pub fn gap_below(task: &Task<'_>, offers: &[Offer], generated: &Generated, cost: i64) -> i64 {
    (next_below(task, offers, cost) + most_gained(task, offers) - generated.unrounded).max(0)
}

/// Is a list of patterns complete? Patterns of two stages are all listed. Nothing is proven where a third stage may
/// follow, where a measured board's defects take too long to search around, or where lots were left out of the task.
pub fn proves(task: &Task<'_>, offers: &[Offer]) -> bool {
    let listed = |offer: &Offer| {
        let shape = &task.instance.shapes[offer.shape];
        let two_stages = task.instance.cutting(offer.shape).stages == 2;
        two_stages && is_listed_whole(shape)
    };
    task.has_all_lots() && offers.iter().all(listed)
}
