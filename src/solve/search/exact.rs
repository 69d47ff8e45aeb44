//! The exact end of small problems: every pattern that can matter, then one integer program.
//!
//! A plan cheaper than the incumbent uses no column whose reduced cost is above the gap (at a dual
//! feasible point). If all columns within the gap can be listed, the best plan is among them.

use std::collections::BTreeMap;

use super::mip::{Backend, Covering, Effort, MipOutcome, solve};
use crate::pattern::{Enumeration, enumerate_patterns};
use crate::solve::problem::{Cut, Listed, Offer, Task, before_resawing, next_below, reaches_sides, worth};
use crate::solve::relax::{Generated, Pool, scaled};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// What the exact end found.
#[derive(Debug, Clone)]
pub enum Exactly {
    /// A plan, and the bound in ticks if it is proven to be the cheapest but for the rounding of rows.
    Plan(Vec<Cut>, Option<i64>),
    /// Nothing cheaper than the incumbent exists.
    NothingCheaper,
    /// Not all patterns could be listed, so that nothing is proven.
    NotListed,
    /// Too many nodes; a bound in ticks if one is proven.
    GaveUp(Option<i64>),
}

/// A column that may be used once one of some charges is paid.
#[derive(Debug, Clone)]
pub struct Charged {
    /// The column.
    pub column: Listed,
    /// The charges, by number, of which one must be paid; none where it is free to use.
    pub one_of: Vec<usize>,
}

/// Solves a task to the end with at most so many nodes, or says that it is too large. `incumbent` is the
/// cost (ticks) to beat.
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
    let Some(listed) = list(task, &offers, generated, pool, incumbent) else { return Exactly::NotListed };
    let program = Program::new(task, &listed, incumbent);
    let effort = Effort { nodes, stop: stop.clone() };
    let ticks = |value: f64| (value * tol::TICKS_PER_UNIT as f64 * (1.0 - tol::MIP_SLACK)).floor() as i64;
    // Patterns of two stages are listed: where a third may follow, nothing is proven by them.
    let clean = |offer: &Offer| task.instance.shapes[offer.shape].blocks.is_empty();
    let proves = task.instance.job.shop.saw.stages == 2 && offers.iter().all(clean);
    match solve(&program.covering, backend, &effort) {
        MipOutcome::Nothing | MipOutcome::Stopped(_) if !proves => Exactly::NotListed,
        MipOutcome::Optimal(values) => {
            let proven = proves.then(|| ticks(program.covering.cost(&values)));
            program.plan(task, &listed, &values, proven)
        }
        MipOutcome::Feasible(values, _) => program.plan(task, &listed, &values, None),
        MipOutcome::Nothing => Exactly::NothingCheaper,
        MipOutcome::Stopped(bound) => Exactly::GaveUp(bound.map(ticks)),
    }
}

/// All columns within the gap, or `None` if they are too many.
fn list(
    task: &Task<'_>,
    offers: &[Offer],
    generated: &Generated,
    pool: &mut Pool,
    incumbent: Option<i64>,
) -> Option<Vec<Listed>> {
    let instance = task.instance;
    let values: Vec<i64> =
        generated.duals.sizes.iter().map(|value| scaled(*value, generated.scale)).collect();
    // Each scaled value was rounded down by less than a tick, and what a limited board is short of up.
    let pieces: i64 = task.demand.iter().map(|pieces| i64::from(*pieces)).sum();
    let limited: i64 = offers.iter().map(|offer| offer.available.map_or(0, i64::from)).sum();
    let rounding = pieces + 2 * limited;
    // Before its rows are rounded, a cheaper plan costs no more than what rounding can take off as well.
    let gains: i64 = offers.iter().map(|offer| task.market.gains[offer.stock]).sum();
    let gap = incumbent
        .map(|cost| (next_below(task, offers, cost) + gains - generated.unrounded).max(0) + rounding);
    let mut budget = tol::ENUMERATION_STEPS;
    let mut listed = Vec::new();
    for offers in offers.chunk_by(|one, other| one.shape == other.shape) {
        let shape = &instance.shapes[offers[0].shape];
        if !shape.blocks.is_empty() {
            // Patterns around defects are not listed: those known serve, and nothing is proven.
            for number in 0..pool.patterns.len() {
                let entry = &pool.patterns[number];
                if entry.shape == offers[0].shape {
                    let counts = task.cut_down(&entry.counts);
                    listed.extend(offers.iter().map(|offer| Listed {
                        stock: offer.stock,
                        pattern: number,
                        cost: offer.cost,
                        counts: counts.clone(),
                    }));
                }
            }
            continue;
        }
        let most_worth = generated
            .prices
            .binary_search_by_key(&offers[0].shape, |price| price.shape)
            .map_or(0, |place| generated.prices[place].bound);
        // The value from which a column of this stock is within the gap.
        let threshold = |stock: usize, cost: i64, limited: bool| -> i64 {
            let side = scaled(generated.duals.sides[stock], generated.scale);
            let scarcity =
                if limited { (scaled(most_worth, generated.scale) + 1 + side - cost).max(0) } else { 0 };
            gap.map_or(0, |gap| cost + scarcity - side - gap - 2)
        };
        let thresholds: Vec<i64> = offers
            .iter()
            .map(|offer| threshold(offer.stock, offer.cost, offer.available.is_some()))
            .collect();
        let least = thresholds.iter().copied().min().unwrap_or(0);
        let wanted = task.wanted_of(offers[0].shape).into_iter();
        let pieces: Vec<_> = wanted.map(|size| (size, instance.sizes[size as usize].piece)).collect();
        let (piece_values, limits) = before_resawing(instance.blanks(offers[0].shape), &values, &task.demand);
        let patterns = enumerate_patterns(Enumeration {
            pieces: &pieces,
            limits: &limits,
            values: &piece_values,
            board: shape.rect,
            cutting: instance.cutting(),
            threshold: least,
            budget: &mut budget,
        })?;
        for pattern in patterns {
            let (number, _) = pool.take(offers[0].shape, pattern);
            let counts = pool.patterns[number].counts.clone();
            let worth = worth(&values, &counts);
            for (offer, threshold) in offers.iter().zip(&thresholds) {
                if worth >= *threshold {
                    listed.push(Listed {
                        stock: offer.stock,
                        pattern: number,
                        cost: offer.cost,
                        counts: counts.clone(),
                    });
                }
            }
        }
        if !task.market.sides.is_empty() {
            let (number, _) = pool.take(offers[0].shape, crate::pattern::Pattern::empty());
            listed.extend(offers.iter().map(|offer| Listed {
                stock: offer.stock,
                pattern: number,
                cost: offer.cost,
                counts: Vec::new(),
            }));
        }
        if listed.len() > tol::MIP_COLUMNS {
            return None;
        }
    }
    Some(without_covered(listed))
}

/// Drops a column where another of the same stock gives at least the same pieces.
fn without_covered(mut listed: Vec<Listed>) -> Vec<Listed> {
    let pieces = |counts: &[(u32, u32)]| counts.iter().map(|(_, n)| n).sum::<u32>();
    listed.sort_by_key(|column| {
        (column.stock, std::cmp::Reverse(pieces(&column.counts)), column.counts.clone())
    });
    let mut kept: Vec<Listed> = Vec::new();
    for column in listed {
        let covered = |by: &Listed| {
            by.stock == column.stock
                && !column.counts.is_empty()
                && column
                    .counts
                    .iter()
                    .all(|(size, n)| by.counts.iter().any(|(other, more)| other == size && more >= n))
        };
        if !kept.iter().rev().take_while(|by| by.stock == column.stock).any(covered) {
            kept.push(column);
        }
    }
    kept
}

/// The integer program over listed columns.
struct Program {
    covering: Covering,
}

impl Program {
    /// The program at the prices of single boards.
    fn plain(task: &Task<'_>, listed: &[Listed]) -> Covering {
        let unit = tol::TICKS_PER_UNIT as f64;
        let mut rhs: Vec<f64> = Vec::new();
        let mut row_of_size: BTreeMap<u32, u32> = BTreeMap::new();
        for (size, pieces) in task.demand.iter().enumerate().filter(|(_, pieces)| **pieces > 0) {
            row_of_size.insert(size as u32, rhs.len() as u32);
            rhs.push(f64::from(*pieces));
        }
        let mut row_of_stock: BTreeMap<usize, u32> = BTreeMap::new();
        for column in listed {
            if let Some(available) = task.available[column.stock] {
                row_of_stock.entry(column.stock).or_insert_with(|| {
                    rhs.push(-f64::from(available));
                    rhs.len() as u32 - 1
                });
            }
        }
        let first_side = rhs.len();
        rhs.extend(&task.side_least);
        let mut columns = Vec::new();
        let mut most = Vec::new();
        for column in listed {
            let mut entries: Vec<(u32, f64)> = column
                .counts
                .iter()
                .filter_map(|(size, n)| Some((*row_of_size.get(size)?, f64::from(*n))))
                .collect();
            entries.extend(row_of_stock.get(&column.stock).map(|row| (*row, -1.0)));
            for (place, side) in task.market.sides.iter().enumerate() {
                if side.amounts[column.stock] != 0.0 {
                    entries.push(((first_side + place) as u32, side.amounts[column.stock]));
                }
            }
            let needed = column.counts.iter().map(|(size, n)| task.demand[*size as usize].div_ceil(*n)).max();
            let needed = needed.unwrap_or(10_000);
            most.push(task.available[column.stock].map_or(needed, |available| available.min(needed)));
            columns.push((column.cost as f64 / unit, entries));
        }
        Covering { columns, most, rhs, cutoff: 0.0 }
    }

    fn new(task: &Task<'_>, listed: &[Listed], incumbent: Option<i64>) -> Program {
        let unit = tol::TICKS_PER_UNIT as f64;
        let mut covering = Program::plain(task, listed);
        let first_side = covering.rhs.len() - task.side_least.len();
        let mut rounded: Vec<usize> = listed.iter().map(|column| column.stock).collect();
        rounded.dedup();
        rounded.retain(|stock| task.market.gains[*stock] > 0 || task.market.lifts[*stock] > 0);
        let mut judged_as_rounded = true;
        for stock in rounded {
            let pieces: u32 = task.demand.iter().sum();
            let boards = match (incumbent, task.market.costs[stock]) {
                (Some(incumbent), Some(cost)) if cost > 0 => {
                    u32::try_from(incumbent / cost + 1).unwrap_or(u32::MAX)
                }
                _ if task.market.sides.is_empty() => pieces,
                _ => u32::MAX,
            };
            judged_as_rounded &= round_row(&mut covering, task, listed, stock, boards, first_side);
        }
        if judged_as_rounded {
            for (place, side) in task.market.sides.iter().enumerate() {
                if side.minimum.is_some() {
                    covering.rhs[first_side + place] = side.lacks(task.market, &task.elsewhere);
                }
            }
        }
        let Covering { columns, most, rhs, .. } = covering;
        // Half a cent below the incumbent: costs are paid in cents.
        let cutoff = incumbent.map_or(f64::MAX / 4.0, |cost| cost as f64 / unit - 0.005);
        let dearest: f64 = columns.iter().zip(&most).map(|(column, most)| column.0 * f64::from(*most)).sum();
        Program { covering: Covering { columns, most, rhs, cutoff: cutoff.min(dearest + 1.0) } }
    }

    /// The plan of a solution. Rows of many boards are not rounded in the program as the dealer does, so that
    /// a minimum order may be missed by a cent: then only its bound is of use.
    fn plan(&self, task: &Task<'_>, listed: &[Listed], values: &[u32], proven: Option<i64>) -> Exactly {
        let cuts = self.cuts(listed, values);
        match (reaches_sides(task, &cuts), proven) {
            (true, proven) => Exactly::Plan(cuts, proven),
            (false, Some(proven)) => Exactly::GaveUp(Some(proven)),
            (false, None) => Exactly::NotListed,
        }
    }

    fn cuts(&self, listed: &[Listed], values: &[u32]) -> Vec<Cut> {
        listed
            .iter()
            .zip(values)
            .filter(|(_, copies)| **copies > 0)
            .map(|(column, copies)| Cut { stock: column.stock, pattern: column.pattern, copies: *copies })
            .collect()
    }
}

/// The cheapest way to meet a task from a few columns and charges that are paid once, whatever the number
/// of boards; `None` if none below the cutoff is found. All amounts are in ticks.
pub fn charged(
    task: &Task<'_>,
    columns: Vec<Charged>,
    charges: &[i64],
    cutoff: i64,
    nodes: u64,
    backend: Backend,
    stop: &Stop,
) -> Option<Vec<Cut>> {
    let unit = tol::TICKS_PER_UNIT as f64;
    let (listed, one_of): (Vec<Listed>, Vec<Vec<usize>>) =
        columns.into_iter().map(|column| (column.column, column.one_of)).unzip();
    let mut covering = Program::plain(task, &listed);
    let first = covering.columns.len();
    covering.columns.extend(charges.iter().map(|charge| (*charge as f64 / unit, Vec::new())));
    covering.most.resize(covering.columns.len(), 1);
    for (place, one_of) in one_of.iter().enumerate().filter(|(_, one_of)| !one_of.is_empty()) {
        // A board is only cut where a charge is paid.
        let row = covering.rhs.len() as u32;
        covering.rhs.push(0.0);
        covering.columns[place].1.push((row, -1.0));
        let most = f64::from(covering.most[place]);
        one_of.iter().for_each(|charge| covering.columns[first + charge].1.push((row, most)));
    }
    covering.cutoff = cutoff as f64 / unit;
    let program = Program { covering };
    match solve(&program.covering, backend, &Effort { nodes, stop: stop.clone() }) {
        MipOutcome::Optimal(values) | MipOutcome::Feasible(values, _) => Some(program.cuts(&listed, &values)),
        MipOutcome::Nothing | MipOutcome::Stopped(_) => None,
    }
}

/// Lets the program pay a stock's row as the dealer rounds it: exactly, by one binary for each number
/// of boards, where they can be at most a few; else by what rounding can gain at most. Tells whether the row
/// is exact: then it also counts towards a minimum order as it is rounded.
fn round_row(
    covering: &mut Covering,
    task: &Task<'_>,
    listed: &[Listed],
    stock: usize,
    boards: u32,
    first_side: usize,
) -> bool {
    let unit = tol::TICKS_PER_UNIT as f64;
    let boards = task.available[stock].map_or(boards, |available| boards.min(available));
    let used = covering.rhs.len() as u32;
    covering.rhs.push(0.0);
    let exact = task.market.unit_prices[stock].filter(|_| boards <= tol::ROUNDED_BOARDS);
    let (at_most, one) = (used + 1, used + 2);
    if exact.is_some() {
        covering.rhs.extend([0.0, -1.0]);
    }
    let minimum =
        task.market.sides.iter().position(|side| side.minimum.is_some() && side.amounts[stock] != 0.0);
    let minimum_row = minimum.map(|place| (first_side + place) as u32);
    for (column, (cost, entries)) in listed.iter().zip(&mut covering.columns) {
        if column.stock == stock {
            entries.push((used, 1.0));
            if exact.is_some() {
                *cost = 0.0;
                entries.retain(|(row, _)| Some(*row) != minimum_row);
                entries.push((at_most, -1.0));
            }
        }
    }
    match exact {
        None => {
            covering.columns.push((-task.market.gains[stock] as f64 / unit, vec![(used, -1.0)]));
            covering.most.push(1);
        }
        Some(price) => {
            let elsewhere = task.elsewhere[stock];
            for count in 1..=boards {
                let many = f64::from(count);
                // A row is rounded once, with the boards of it that the rest of the plan has.
                let row = (price.row(elsewhere + count) - price.row(elsewhere)) as f64 / unit;
                let mut entries = vec![(used, -many), (at_most, many), (one, -1.0)];
                entries.extend(minimum_row.map(|minimum| (minimum, row)));
                covering.columns.push((row, entries));
                covering.most.push(1);
            }
        }
    }
    exact.is_some()
}

/// A restricted program over the columns the master knows, within the gap: for a better plan, not for
/// a proof.
pub fn restricted(
    task: &Task<'_>,
    generated: &Generated,
    pool: &Pool,
    incumbent: i64,
    backend: Backend,
    stop: &Stop,
) -> Option<Vec<Cut>> {
    let values: Vec<i64> =
        generated.duals.sizes.iter().map(|value| scaled(*value, generated.scale)).collect();
    let gap = (incumbent - generated.bound).max(0);
    let mut listed: Vec<(i64, Listed)> = Vec::new();
    for column in &generated.columns {
        let Some(cost) = task.market.costs[column.stock] else { continue };
        let counts = task.cut_down(&pool.patterns[column.pattern].counts);
        let worth = worth(&values, &counts);
        if cost - worth <= gap {
            let listed_column = Listed { stock: column.stock, pattern: column.pattern, cost, counts };
            listed.push((cost - worth, listed_column));
        }
    }
    listed.sort_by_key(|(reduced, column)| (*reduced, column.stock, column.pattern));
    listed.truncate(tol::RESTRICTED_COLUMNS);
    let listed = without_covered(listed.into_iter().map(|(_, column)| column).collect());
    let program = Program::new(task, &listed, Some(incumbent));
    let effort = Effort { nodes: tol::RESTRICTED_NODES, stop: stop.clone() };
    match solve(&program.covering, backend, &effort) {
        MipOutcome::Optimal(values) | MipOutcome::Feasible(values, _) => Some(program.cuts(&listed, &values)),
        MipOutcome::Nothing | MipOutcome::Stopped(_) => None,
    }
}
