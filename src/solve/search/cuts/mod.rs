//! Cuts for a program whose columns are all listed: rank-one Chvatal and Gomory cuts, round after round.
//!
//! Any weighted sum of the rows holds for every plan. Columns are used whole times, so it still holds with
//! every coefficient rounded up, and then its right-hand side rounds up as well (Chvatal, Discrete
//! Mathematics 4(4), 1973). Weights are looked for in two ways: those that Gomory's fractional cuts give (the
//! rows of the inverse of the basis without their whole parts), and small fractions of the rows of a few
//! pieces by local search, as subset-row cuts have them (Jepsen, Petersen, Spoorendonk and Pisinger, Operations
//! Research 56(2), 2008). Weights are held as whole numbers over a common denominator, so that rounding is exact.

mod set;

pub use self::set::{CutValues, LinearWorth, SingleUnits};

use std::collections::BTreeSet;

use self::set::{Record, Weights};
use super::mip::Covering;
use crate::solve::relax::{Basis, ColumnSimplex, Master, MasterSolution};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// A program with its cuts, without the columns that its bound rules out.
#[derive(Debug, Clone)]
pub struct Tight {
    /// The program.
    pub covering: Covering,
    /// Of each of its columns, the number in the program that it began as.
    pub columns: Vec<usize>,
    /// No solution costs less.
    pub bound: f64,
    /// Columns that the linear program uses, with their levels.
    pub used: Vec<(usize, f64)>,
    /// Reduced costs of the columns in it.
    reduced: Vec<f64>,
    /// By row, is it a cut? Cuts that have become slack go.
    is_cut: Vec<bool>,
    /// What its cuts are made of, where columns that it does not have are asked about. No column is then dropped.
    record: Option<Record>,
    /// Where its linear program goes on from; none before it was solved.
    basis: Option<Basis>,
}

/// The program as whole numbers.
struct Whole {
    /// By column, the entries of rows that are whole; cuts are added as rows.
    columns: Vec<Vec<(u32, i64)>>,
    /// Right-hand side of each row; none where the row is not whole.
    rhs: Vec<Option<i64>>,
}

/// What the linear program with its cuts says.
struct Relaxed {
    solution: MasterSolution,
    /// The simplex as it ended.
    simplex: ColumnSimplex,
    /// No solution costs less.
    bound: f64,
    /// By column.
    reduced: Vec<f64>,
}

impl Tight {
    /// A program as it stands.
    pub fn new(covering: Covering) -> Tight {
        Tight {
            columns: (0..covering.columns.len()).collect(),
            bound: f64::NEG_INFINITY,
            used: Vec::new(),
            reduced: vec![0.0; covering.columns.len()],
            is_cut: vec![false; covering.rhs.len()],
            record: None,
            basis: None,
            covering,
        }
    }

    /// A program that can be asked about columns that it does not have.
    pub fn recording(covering: Covering) -> Tight {
        let record = Record::of(covering.rhs.len());
        Tight { record: Some(record), ..Tight::new(covering) }
    }

    /// The same over more columns: with its cuts, but for those that do nothing any more.
    pub fn over(&self, mut covering: Covering) -> Tight {
        let rows = covering.rhs.len();
        let Some(record) = &self.record else { return Tight::new(covering) };
        let whole = Whole::new(&covering);
        let rhs: Vec<(u32, i64)> =
            whole.rhs.iter().enumerate().filter_map(|(row, rhs)| Some((row as u32, (*rhs)?))).collect();
        let rhs = record.cuts.coefficients(&rhs);
        let kept: Vec<u32> = record.names[rows..].to_vec();
        for (column, entries) in whole.columns.iter().zip(&mut covering.columns) {
            let coefficients = record.cuts.coefficients(column);
            for (place, name) in kept.iter().enumerate() {
                let coefficient = coefficients[*name as usize - rows];
                if coefficient != 0 {
                    entries.1.push(((rows + place) as u32, coefficient as f64));
                }
            }
        }
        covering.rhs.extend(kept.iter().map(|name| rhs[*name as usize - rows] as f64));
        let mut tight = Tight::new(covering);
        tight.is_cut[rows..].fill(true);
        tight.record = Some(record.clone());
        tight
    }

    /// It has all columns that matter: from now on those go that no solution below the cutoff can use.
    pub fn ends_recording(&mut self) {
        self.record = None;
    }

    /// What its linear program says of every column, also of those that it does not have; nothing where it records
    /// nothing.
    pub fn values(&self) -> Option<CutValues> {
        let record = self.record.as_ref()?;
        let relaxed = self.relax();
        Some(record.values(relaxed.bound, &relaxed.solution.duals))
    }

    /// The same with one more row: a sum of columns (by place) of at least `least`, or of at most `-least`
    /// where the sign is a minus.
    pub fn with_row(&self, columns: &[usize], sign: f64, least: f64) -> Tight {
        let mut with = self.clone();
        let row = with.covering.rhs.len() as u32;
        with.covering.rhs.push(least);
        with.is_cut.push(false);
        // Nobody asks a branch about other columns.
        with.record = None;
        columns.iter().for_each(|column| with.covering.columns[*column].1.push((row, sign)));
        with
    }

    /// The columns of least reduced cost, by place.
    pub fn liked(&self, most: usize) -> Vec<usize> {
        let mut places: Vec<usize> = (0..self.columns.len()).collect();
        places.sort_by(|one, other| self.reduced[*one].total_cmp(&self.reduced[*other]).then(one.cmp(other)));
        places.truncate(most);
        places.sort_unstable();
        places
    }

    /// The program of some of its columns, by place.
    pub fn of_columns(&self, places: &[usize]) -> Covering {
        Covering {
            columns: places.iter().map(|place| self.covering.columns[*place].clone()).collect(),
            most: places.iter().map(|place| self.covering.most[*place]).collect(),
            rhs: self.covering.rhs.clone(),
            cutoff: self.covering.cutoff,
        }
    }

    /// Adds cuts until they gain too little, and drops columns that no solution below the cutoff can use.
    pub fn tighten(&mut self, rounds: usize, stop: &Stop) {
        let mut idle = 0;
        for round in 0..=rounds {
            let relaxed = self.relax();
            let gained = relaxed.bound - self.bound;
            self.bound = self.bound.max(relaxed.bound);
            let room = self.covering.cutoff - self.bound;
            if room <= 0.0 {
                return;
            }
            // What gains less than a share of what is left to gain is not worth many rounds.
            idle = if round > 0 && gained < room * tol::CUT_GAIN { idle + 1 } else { 0 };
            let ends = round == rounds
                || idle >= tol::IDLE_CUT_ROUNDS
                || stop.is_due()
                || !relaxed.solution.missing.is_empty();
            let before = self.is_cut.len();
            if !ends {
                let whole = Whole::new(&self.covering);
                for cut in separate(&whole, &relaxed, &self.is_cut) {
                    add(&mut self.covering, &whole, &cut);
                    self.is_cut.push(true);
                    self.record.iter_mut().for_each(|record| record.add(&cut));
                }
            }
            let added = self.is_cut.len() > before;
            let rows = self.drop_slack_cuts(&relaxed, before);
            let columns = self.drop_columns(&relaxed);
            // New cuts are the last rows, and are kept.
            let solved = &rows[..before];
            self.basis = relaxed.simplex.into_basis().renumbered(solved, &columns);
            if !added {
                return;
            }
        }
    }

    /// The bound of its linear program with the rows that it has now.
    pub fn bound_now(&self) -> f64 {
        self.relax().bound
    }

    fn relax(&self) -> Relaxed {
        relax(&self.covering, self.basis.as_ref())
    }

    /// A solution below the cutoff uses no column whose reduced cost is above what is left to it. Gives the new
    /// place of each column.
    fn drop_columns(&mut self, relaxed: &Relaxed) -> Vec<Option<usize>> {
        let room = self.covering.cutoff - relaxed.bound + (self.covering.cutoff.abs() + 1.0) * tol::CUT_SLACK;
        let keeps: Vec<bool> =
            relaxed.reduced.iter().map(|cost| self.record.is_some() || *cost <= room).collect();
        let kept = renumbered(&keeps);
        let used = relaxed.solution.used.iter();
        self.used = used.filter_map(|(column, level)| Some((kept[*column]?, *level))).collect();
        self.reduced = relaxed.reduced.clone();
        keep(&mut self.reduced, &keeps);
        keep(&mut self.covering.columns, &keeps);
        keep(&mut self.covering.most, &keeps);
        keep(&mut self.columns, &keeps);
        kept
    }

    /// Of the rows before `solved`, cuts without a dual value do nothing any more. Gives the new place of each row.
    fn drop_slack_cuts(&mut self, relaxed: &Relaxed, solved: usize) -> Vec<Option<usize>> {
        let is_cut = &self.is_cut;
        let keeps = |row: usize| !is_cut[row] || row >= solved || relaxed.solution.duals[row] > tol::CUT_DUAL;
        let keeps: Vec<bool> = (0..is_cut.len()).map(keeps).collect();
        let rows = renumbered(&keeps);
        keep(&mut self.covering.rhs, &keeps);
        keep(&mut self.is_cut, &keeps);
        self.record.iter_mut().for_each(|record| keep(&mut record.names, &keeps));
        for (_, entries) in &mut self.covering.columns {
            let kept = entries.iter().filter_map(|(row, value)| Some((rows[*row as usize]? as u32, *value)));
            *entries = kept.collect();
        }
        rows
    }
}

/// Drops what is not kept, by place.
fn keep<T>(of: &mut Vec<T>, keeps: &[bool]) {
    let mut keeps = keeps.iter();
    of.retain(|_| *keeps.next().unwrap_or(&true));
}

/// The new place of each that is kept.
fn renumbered(keeps: &[bool]) -> Vec<Option<usize>> {
    let mut next = 0;
    let place = |keeps: &bool| {
        let place = keeps.then_some(next);
        next += usize::from(*keeps);
        place
    };
    keeps.iter().map(place).collect()
}

/// Solves the linear program, from the basis of one that is nearly the same where there is one. Its bound holds for the
/// values as they are, whatever the simplex made of them.
fn relax(program: &Covering, basis: Option<&Basis>) -> Relaxed {
    let dearest = program.columns.iter().map(|(cost, _)| cost.abs()).fold(1.0, f64::max);
    let penalties = vec![dearest * tol::PENALTY_BOARDS * 10.0; program.rhs.len()];
    let mut simplex = ColumnSimplex::new(&program.rhs, &penalties);
    for (cost, entries) in &program.columns {
        simplex.add_column(*cost, entries);
    }
    if let Some(basis) = basis {
        simplex.start_from(basis);
    }
    let solution = simplex.solve();
    let duals: Vec<f64> = solution.duals.iter().map(|dual| dual.max(0.0)).collect();
    let reduced: Vec<f64> = program
        .columns
        .iter()
        .map(|(cost, entries)| {
            entries.iter().fold(*cost, |cost, (row, value)| cost - duals[*row as usize] * value)
        })
        .collect();
    let gross: f64 = duals.iter().zip(&program.rhs).map(|(dual, rhs)| dual * rhs).sum();
    let lost: f64 =
        reduced.iter().zip(&program.most).map(|(cost, most)| cost.min(0.0) * f64::from(*most)).sum();
    let bound = (gross + lost) - (gross.abs() + 1.0) * tol::CUT_SLACK;
    Relaxed { solution, simplex, bound, reduced }
}

fn add(program: &mut Covering, whole: &Whole, cut: &Weights) {
    let row = program.rhs.len() as u32;
    program.rhs.push(whole.rhs_of(cut) as f64);
    for (column, entries) in whole.columns.iter().zip(&mut program.columns) {
        let coefficient = cut.coefficient(column);
        if coefficient != 0 {
            entries.1.push((row, coefficient as f64));
        }
    }
}

impl Whole {
    fn new(program: &Covering) -> Whole {
        let is_whole = |value: f64| value == value.round() && value.abs() < 1e9;
        let mut rows: Vec<bool> = program.rhs.iter().map(|value| is_whole(*value)).collect();
        for (row, value) in program.columns.iter().flat_map(|(_, entries)| entries) {
            rows[*row as usize] &= is_whole(*value);
        }
        let columns = program.columns.iter().map(|(_, entries)| {
            let whole = entries.iter().filter(|(row, _)| rows[*row as usize]);
            let mut whole: Vec<(u32, i64)> = whole.map(|(row, value)| (*row, *value as i64)).collect();
            whole.sort_unstable();
            whole
        });
        let rhs = program.rhs.iter().zip(&rows).map(|(value, whole)| whole.then_some(*value as i64));
        Whole { columns: columns.collect(), rhs: rhs.collect() }
    }

    /// The weighted sum of the right-hand sides, before it is divided.
    fn sum_of(&self, cut: &Weights) -> i64 {
        cut.of.iter().map(|(row, weight)| self.rhs[*row as usize].unwrap_or(0) * weight).sum()
    }

    fn rhs_of(&self, cut: &Weights) -> i64 {
        num_integer::div_ceil(self.sum_of(cut), cut.over)
    }

    /// By how much the linear program's solution misses a cut.
    fn violation(&self, cut: &Weights, used: &[(usize, f64)]) -> f64 {
        let sum: f64 =
            used.iter().map(|(column, level)| cut.coefficient(&self.columns[*column]) as f64 * level).sum();
        self.rhs_of(cut) as f64 - sum
    }
}

/// The cuts that the solution misses most, none twice.
fn separate(whole: &Whole, relaxed: &Relaxed, is_cut: &[bool]) -> Vec<Weights> {
    let used = &relaxed.solution.used;
    let mut found: BTreeSet<Weights> = BTreeSet::new();
    found.extend(relaxed.simplex.fractional_rows().iter().filter_map(|row| of_inverse(whole, row)));
    for over in tol::CUT_DENOMINATORS {
        local_search(whole, used, is_cut, over, &mut found);
    }
    let mut missed: Vec<(f64, Weights)> =
        found.into_iter().map(|cut| (whole.violation(&cut, used), cut)).collect();
    missed.retain(|(violation, _)| *violation > tol::CUT_VIOLATION);
    missed.sort_by(|one, other| other.0.total_cmp(&one.0).then_with(|| one.1.cmp(&other.1)));
    missed.truncate(tol::CUTS_A_ROUND);
    missed.into_iter().map(|(_, cut)| cut).collect()
}

/// A row of the inverse without its whole parts, as fractions of one denominator.
fn of_inverse(whole: &Whole, row: &[f64]) -> Option<Weights> {
    // The surplus of a row enters with a minus: what is left of the weight below a whole is the fraction.
    for sign in [1.0, -1.0] {
        let fractions: Vec<f64> = row.iter().map(|weight| (sign * weight).rem_euclid(1.0)).collect();
        for over in 2..=tol::CUT_DENOMINATOR_MOST {
            let scaled = fractions.iter().map(|fraction| fraction * over as f64);
            let near = |value: f64| (value - value.round()).abs() < 1e-6;
            if !scaled.clone().all(near) {
                continue;
            }
            let of: Vec<(u32, i64)> = scaled
                .enumerate()
                .map(|(row, value)| (row as u32, (value.round() as i64).rem_euclid(over)))
                .filter(|(_, weight)| *weight > 0)
                .collect();
            let all_whole = of.iter().all(|(row, _)| whole.rhs[*row as usize].is_some());
            if all_whole && !of.is_empty() {
                let cut = Weights { over, of };
                if whole.sum_of(&cut).rem_euclid(over) != 0 {
                    return Some(cut);
                }
            }
            break;
        }
    }
    None
}

/// From each row and weight on, the change of one weight that makes the cut most missed, as long as there is
/// one.
fn local_search(
    whole: &Whole,
    used: &[(usize, f64)],
    is_cut: &[bool],
    over: i64,
    found: &mut BTreeSet<Weights>,
) {
    // Rows of pieces: whole, wanted, and of no column with a minus.
    let rows: Vec<u32> = (0..is_cut.len() as u32)
        .filter(|row| !is_cut[*row as usize] && whole.rhs[*row as usize].is_some_and(|rhs| rhs > 0))
        .collect();
    let dense: Vec<(Vec<i64>, f64)> = used
        .iter()
        .map(|(column, level)| {
            let mut entries = vec![0; rows.len()];
            for (row, value) in &whole.columns[*column] {
                if let Ok(place) = rows.binary_search(row) {
                    entries[place] = *value;
                }
            }
            (entries, *level)
        })
        .collect();
    let rhs: Vec<i64> = rows.iter().map(|row| whole.rhs[*row as usize].unwrap_or(0)).collect();
    let missed = |weights: &[i64], sums: &[i64], place: usize, change: i64| -> f64 {
        let total: i64 = weights.iter().zip(&rhs).map(|(weight, rhs)| weight * rhs).sum();
        let total = num_integer::div_ceil(total + change * rhs[place], over) as f64;
        let given = dense.iter().zip(sums).map(|((entries, level), sum)| {
            num_integer::div_ceil(sum + change * entries[place], over) as f64 * level
        });
        total - given.sum::<f64>()
    };
    for first in 0..rows.len() {
        for weight in 1..over {
            let mut weights = vec![0; rows.len()];
            let mut sums = vec![0; dense.len()];
            let mut best = f64::NEG_INFINITY;
            let mut next = Some((first, weight));
            while let Some((place, change)) = next.take() {
                weights[place] += change;
                for (sum, (entries, _)) in sums.iter_mut().zip(&dense) {
                    *sum += change * entries[place];
                }
                let now = missed(&weights, &sums, place, 0);
                if now <= best + 1e-9 {
                    break;
                }
                best = now;
                let changes = (0..rows.len()).flat_map(|place| (0..over).map(move |weight| (place, weight)));
                next = changes
                    .map(|(place, weight)| (place, weight - weights[place]))
                    .filter(|(_, change)| *change != 0)
                    .map(|(place, change)| (missed(&weights, &sums, place, change), place, change))
                    .filter(|(value, _, _)| *value > best + 1e-9)
                    .max_by(|one, other| one.0.total_cmp(&other.0).then(other.1.cmp(&one.1)))
                    .map(|(_, place, change)| (place, change));
                if best > tol::CUT_VIOLATION {
                    let of = rows.iter().zip(&weights).filter(|(_, weight)| **weight > 0);
                    found.insert(Weights { over, of: of.map(|(row, weight)| (*row, *weight)).collect() });
                }
            }
        }
    }
}

#[cfg(test)]
mod tests;
