//! The linear program over proper patterns: none holds a piece more often than it is wanted.
//!
//! The tables of the pricing limit a piece within a strip only, so with few pieces of each size the linear
//! program is met by patterns that nobody can use, and its bound is low. Here such columns are left out, and
//! where the tables find nothing more, each shape's most valuable proper pattern is searched for. That is
//! what a relaxation of the pricing gives away in general (Desaulniers, Desrosiers and Solomon, Column
//! Generation, 2005, chapter 1).

use rayon::prelude::*;

use super::bound::{Duals, Proven, lagrangian};
use super::generate::{Generated, Generation};
use super::master::Master;
use super::pool::Pool;
use super::prices::ShapePrice;
use super::pricing::Pricer;
use crate::index::{ShapeIndex, TiSlice};
use crate::pattern::{MostValuable, Proper, most_valuable};
use crate::solve::problem::{Task, before_resawing};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// Is the linear program met by patterns that hold a piece more often than it is wanted? Only then can
/// proper patterns raise its bound.
fn uses_improper(task: &Task<'_>, generated: &Generated, pool: &Pool) -> bool {
    generated.used.iter().any(|(column, _)| {
        let column = &generated.columns[*column];
        !task.takes_whole(&pool.patterns[column.pattern].counts)
    })
}

/// Solves the linear program over proper patterns, as far as their search goes: what it gives holds anyway.
/// `None` where it proves no more than `relaxed`, as where that uses proper patterns alone.
pub fn generate_proper(
    task: &Task<'_>,
    pool: &mut Pool,
    relaxed: &Generated,
    stop: &Stop,
) -> Option<Generated> {
    if !uses_improper(task, relaxed, pool) {
        return None;
    }
    let offers = task.offers();
    if offers.iter().any(|offer| task.instance.cutting(offer.shape).stages > 2) {
        return None;
    }
    let mut run = Generation::new(task, &offers, pool, None, |_| true);
    let pricer = Pricer::new(task, &offers);
    let mut best: Option<Proven> = None;
    for _ in 0..tol::MAX_ITERATIONS {
        let solution = run.master.solve();
        let duals = run.duals(&solution);
        let least = run.least_worth(&solution);
        let mut prices = pricer.price(&duals.sizes, &task.demand, &least);
        for price in &mut prices {
            price.patterns.retain(|(pattern, _)| task.needs_whole(price.shape, pattern));
        }
        let mut added = run.add_columns(&solution, &duals, &prices, pool);
        if added == 0 {
            search(task, &duals, &least, &mut prices, stop);
            added = run.add_columns(&solution, &duals, &prices, pool);
            let bound = lagrangian(&duals, &task.demand, &run.offers, &run.idle, &prices);
            if best.as_ref().is_none_or(|best| bound.value > best.bound.value) {
                best = Some(Proven { bound, duals, prices, idle: run.idle.clone() });
            }
        }
        let proven = best.as_ref().map_or(0, |best| best.bound.value);
        let closed = proven as f64 >= solution.value * tol::TICKS_PER_UNIT as f64 * (1.0 - tol::CLOSED);
        if added == 0 || closed || stop.is_due() {
            let best = best.filter(|best| best.bound.value > relaxed.unrounded)?;
            return Some(run.ends(solution, &offers, best));
        }
    }
    None
}

/// Replaces what a table only bounds by what the most valuable proper pattern is really worth, or by what is known of it
/// where the search gave up.
fn search(
    task: &Task<'_>,
    duals: &Duals,
    least: &TiSlice<ShapeIndex, i64>,
    prices: &mut [ShapePrice],
    stop: &Stop,
) {
    let instance = task.instance;
    // A measured board with defects gives no more than it would without them. Drawn boards are cut between their
    // defects, and are bounded by that.
    let searched = |price: &&mut ShapePrice| {
        let shape = &instance.shapes[price.shape];
        price.bound > least[price.shape] && (!shape.drawn || shape.blocks.is_empty())
    };
    prices.par_iter_mut().filter(searched).for_each(|price| {
        let pieces = task.pieces_of(price.shape);
        let blanks = instance.blanks(price.shape);
        let (values, limits) = before_resawing(blanks, &duals.sizes, &task.demand);
        let MostValuable { best, bound } = most_valuable(Proper {
            pieces: &pieces,
            limits: &limits,
            values: &values,
            board: instance.shapes[price.shape].rect,
            cutting: instance.cutting(price.shape),
            threshold: least[price.shape] + 1,
            budget: &mut tol::PRICING_STEPS.clone(),
            most: usize::MAX,
            is_late: &|| stop.is_due(),
        });
        price.bound = bound.min(price.bound);
        if let Some(best) = best.filter(|_| instance.shapes[price.shape].blocks.is_empty()) {
            price.patterns = vec![best];
        }
    });
}
