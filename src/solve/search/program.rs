//! The integer program over columns that are listed.

use std::collections::{BTreeMap, BTreeSet};

use super::listing::without_covered;
use super::mip::{Backend, Covering, Effort, MipOutcome, solve};
use crate::index::{SizeIndex, StockIndex, TiVec, ti_vec};
use crate::solve::problem::{Cut, Listed, Task, merged, worth};
use crate::solve::relax::{Generated, Pool};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// A column that may be used once one of some charges is paid.
#[derive(Debug, Clone)]
pub struct Charged {
    /// The column.
    pub column: Listed,
    /// The charges, by number, of which one must be paid; none where it is free to use.
    pub one_of: Vec<usize>,
}

/// The rows of a program's pieces: they come first, by rising size, and a size that is not wanted has none.
pub fn rows_of_sizes(task: &Task<'_>) -> TiVec<SizeIndex, Option<u32>> {
    let mut rows = ti_vec![None; task.demand.len()];
    let wanted = task.demand.iter_enumerated().filter(|(_, pieces)| **pieces > 0);
    (0..).zip(wanted).for_each(|(row, (size, _))| rows[size] = Some(row));
    rows
}

/// The program over listed columns at the prices of single boards, as if no row were rounded.
pub fn plain(task: &Task<'_>, listed: &[&Listed]) -> Covering {
    let mut limited = Vec::new();
    let mut seen = BTreeSet::new();
    for column in listed {
        if task.available[column.stock].is_some() && seen.insert(column.stock) {
            limited.push(column.stock);
        }
    }
    plain_with(task, listed, &limited)
}

/// The same with a row for each of some stock that is limited, in their order; those of the columns are among them.
pub fn plain_with(task: &Task<'_>, listed: &[&Listed], limited: &[StockIndex]) -> Covering {
    let unit = tol::TICKS_PER_UNIT as f64;
    let row_of_size = rows_of_sizes(task);
    let wanted = task.demand.iter().filter(|pieces| **pieces > 0);
    let mut rhs: Vec<f64> = wanted.map(|pieces| f64::from(*pieces)).collect();
    let first_side = rhs.len();
    rhs.extend(&task.side_least);
    let mut row_of_stock: BTreeMap<StockIndex, u32> = BTreeMap::new();
    for stock in limited {
        row_of_stock.insert(*stock, rhs.len() as u32);
        rhs.push(-f64::from(task.available[*stock].unwrap_or(u32::MAX)));
    }
    let mut columns = Vec::new();
    let mut most = Vec::new();
    for column in listed {
        let mut entries: Vec<(u32, f64)> =
            column.counts.iter().filter_map(|(size, n)| Some((row_of_size[*size]?, f64::from(*n)))).collect();
        let sides = task.market.sides_of(column.stock).iter();
        entries.extend(sides.map(|(place, amount)| ((first_side + place) as u32, *amount)));
        entries.extend(row_of_stock.get(&column.stock).map(|row| (*row, -1.0)));
        let needed = column.counts.iter().map(|(size, n)| task.demand[*size].div_ceil(*n)).max();
        let needed = needed.unwrap_or(10_000);
        most.push(task.available[column.stock].map_or(needed, |available| available.min(needed)));
        columns.push((column.cost as f64 / unit, entries));
    }
    Covering { columns, most, rhs, cutoff: f64::MAX / 4.0 }
}

/// Row of the first break or minimum order.
fn first_side(task: &Task<'_>) -> usize {
    task.demand.iter().filter(|pieces| **pieces > 0).count()
}

/// A program of these columns with its rows rounded to the cent as the dealers do, as far as rows are of few
/// boards, so that it can beat a plan of `incumbent` ticks.
pub fn rounded(
    mut covering: Covering,
    task: &Task<'_>,
    listed: &[&Listed],
    incumbent: Option<i64>,
) -> Covering {
    let unit = tol::TICKS_PER_UNIT as f64;
    let mut bills = task.market.bills(listed.iter().map(|column| column.stock));
    bills.retain(|bill| task.market.is_rounded(*bill));
    let most_of = |bill: usize| -> u32 {
        let own = listed.iter().zip(&covering.most);
        let own = own.filter(|(column, _)| task.market.bill_of(column.stock) == Some(bill));
        let cheapest = own.clone().filter_map(|(column, _)| task.market.costs[column.stock]).min();
        let used = own.fold(0u32, |sum, (_, most)| sum.saturating_add(*most));
        let paid = match (incumbent, cheapest) {
            (Some(incumbent), Some(cost)) if cost > 0 => {
                u32::try_from(incumbent / cost + 1).unwrap_or(u32::MAX)
            }
            _ => u32::MAX,
        };
        used.min(paid).min(task.market.most_boards(bill, &task.available).unwrap_or(u32::MAX))
    };
    let boards: Vec<(usize, u32)> = bills.into_iter().map(|bill| (bill, most_of(bill))).collect();
    // With few boards in all, each row may be of many.
    let all = boards.iter().fold(0u32, |sum, (_, boards)| sum.saturating_add(*boards));
    let most = if all <= tol::ROUNDED_IN_ALL { u32::MAX } else { tol::ROUNDED_BOARDS };
    let mut judged_as_rounded = true;
    for (bill, boards) in boards {
        judged_as_rounded &= round_row(&mut covering, task, listed, bill, (boards, most));
    }
    if judged_as_rounded {
        for (place, side) in task.market.sides.iter().enumerate() {
            if side.minimum.is_some() {
                covering.rhs[first_side(task) + place] = side.lacks(task.market, &task.elsewhere);
            }
        }
    }
    // Half a cent below the incumbent: costs are paid in cents.
    let cutoff = incumbent.map_or(f64::MAX / 4.0, |cost| cost as f64 / unit - 0.005);
    let dearest: f64 =
        covering.columns.iter().zip(&covering.most).map(|(column, most)| column.0 * f64::from(*most)).sum();
    covering.cutoff = cutoff.min(dearest + 1.0);
    covering
}

/// The boards of a solution.
pub fn cuts_of(listed: &[&Listed], values: &[u32]) -> Vec<Cut> {
    let used = listed.iter().zip(values).filter(|(_, copies)| **copies > 0);
    let cut = |(column, copies): (&&Listed, &u32)| Cut {
        stock: column.stock,
        pattern: column.pattern,
        copies: *copies,
    };
    merged(used.map(cut).collect())
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
    let listed: Vec<&Listed> = listed.iter().collect();
    let mut covering = plain(task, &listed);
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
    match solve(&covering, backend, &Effort { nodes, stop: stop.clone() }) {
        MipOutcome::Optimal(values) | MipOutcome::Feasible(values, _) => Some(cuts_of(&listed, &values)),
        MipOutcome::Nothing | MipOutcome::Stopped(_) => None,
    }
}

/// Adds a row of the bill to the program. Where at most a few boards can be on it, the program pays it as the dealer
/// rounds it, by one binary variable for each number of boards (`boards` of `most`). Else the most that rounding can
/// gain is taken off. Drawn boards come in turn, so their number tells which they are, if those elsewhere are the
/// first ones as well. Returns whether the row is exact: only then it counts towards a minimum order as it is
/// rounded.
fn round_row(
    covering: &mut Covering,
    task: &Task<'_>,
    listed: &[&Listed],
    bill: usize,
    (boards, most): (u32, u32),
) -> bool {
    let unit = tol::TICKS_PER_UNIT as f64;
    let is_on = |column: &Listed| task.market.bill_of(column.stock) == Some(bill);
    let used = covering.rhs.len() as u32;
    covering.rhs.push(0.0);
    let elsewhere = task.market.first_boards(bill, &task.elsewhere).filter(|_| boards <= most);
    let (at_most, one) = (used + 1, used + 2);
    if elsewhere.is_some() {
        covering.rhs.extend([0.0, -1.0]);
    }
    let is_minimum = |place: usize| task.market.sides[place].minimum.is_some();
    let mut sides =
        listed.iter().filter(|column| is_on(column)).flat_map(|column| task.market.sides_of(column.stock));
    let minimum = sides.find(|(place, _)| is_minimum(*place));
    let minimum_row = minimum.map(|(place, _)| (first_side(task) + place) as u32);
    for (column, (cost, entries)) in listed.iter().zip(&mut covering.columns) {
        if is_on(column) {
            entries.push((used, 1.0));
            if elsewhere.is_some() {
                *cost = 0.0;
                entries.retain(|(row, _)| Some(*row) != minimum_row);
                entries.push((at_most, -1.0));
            }
        }
    }
    match elsewhere {
        None => {
            covering.columns.push((-task.market.gain_of(bill) as f64 / unit, vec![(used, -1.0)]));
            covering.most.push(1);
        }
        Some(elsewhere) => {
            let row = |boards: u32| task.market.row(bill, boards);
            for count in 1..=boards {
                let many = f64::from(count);
                // A row is rounded once, with the boards of it that the rest of the plan has.
                let row = (row(elsewhere + count) - row(elsewhere)) as f64 / unit;
                let mut entries = vec![(used, -many), (at_most, many), (one, -1.0)];
                entries.extend(minimum_row.map(|minimum| (minimum, row)));
                covering.columns.push((row, entries));
                covering.most.push(1);
            }
        }
    }
    elsewhere.is_some()
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
    let values = generated.values();
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
    let listed = without_covered(task, listed.into_iter().map(|(_, column)| column).collect());
    let columns: Vec<&Listed> = listed.iter().collect();
    let covering = rounded(plain(task, &columns), task, &columns, Some(incumbent));
    let effort = Effort { nodes: tol::RESTRICTED_NODES, stop: stop.clone() };
    match solve(&covering, backend, &effort) {
        MipOutcome::Optimal(values) | MipOutcome::Feasible(values, _) => Some(cuts_of(&columns, &values)),
        MipOutcome::Nothing | MipOutcome::Stopped(_) => None,
    }
}
