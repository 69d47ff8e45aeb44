//! The restricted master, solved by a revised primal simplex that keeps its basis between calls.
//!
//! Dantzig's revised simplex with an explicit inverse (Dantzig and Orchard-Hays, Mathematical Tables
//! and Other Aids to Computation 8(46), 1954), right-hand sides perturbed against cycling
//! (Charnes, Econometrica 20(2), 1952). Adding a column keeps the basis feasible, so every call goes
//! on where the last one stopped. A program with a few rows or columns more or less, as branching makes them, starts
//! from the basis of the one before. Rows are `sum >= right-hand side`; a limit is written negated.

mod basis;
mod inverse;

pub use basis::Basis;

use std::mem;

use super::master::{Master, MasterSolution};
use crate::solve::tolerances as tol;
use basis::Basic;
use inverse::inverse_of;

/// A column of the master: its cost and its non-zero coefficients by row.
#[derive(Debug, Clone)]
struct SimplexColumn {
    cost: f64,
    entries: Vec<(u32, f64)>,
    scale: f64,
}

/// See the module's head.
#[derive(Debug, Clone)]
pub struct ColumnSimplex {
    rhs: Vec<f64>,
    perturbed: Vec<f64>,
    penalty: Vec<f64>,
    columns: Vec<SimplexColumn>,
    in_basis: Vec<bool>,
    surplus_in_basis: Vec<bool>,
    basis: Vec<Basic>,
    /// Row-major inverse of the basis.
    inverse: Vec<f64>,
    level: Vec<f64>,
    duals: Vec<f64>,
    pivots_since_refactoring: usize,
    pivots: usize,
}

impl ColumnSimplex {
    /// A master without columns. `penalty` is the cost of one unit that a row lacks.
    pub fn new(rhs: &[f64], penalty: &[f64]) -> ColumnSimplex {
        let rows = rhs.len();
        let perturbed: Vec<f64> = rhs
            .iter()
            .enumerate()
            .map(|(row, value)| {
                // A fixed pseudo-random spread; a limit (negative) is loosened, never tightened.
                let spread =
                    ((row as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 40) as f64 / 16_777_216.0;
                let change = tol::PERTURBATION * (1.0 + spread) * value.abs().max(1.0);
                if *value > 0.0 { value + change } else { value - change }
            })
            .collect();
        let basis: Vec<Basic> = (0..rows)
            .map(|row| if rhs[row] > 0.0 { Basic::Missing(row) } else { Basic::Surplus(row) })
            .collect();
        let mut master = ColumnSimplex {
            rhs: rhs.to_vec(),
            perturbed,
            penalty: penalty.to_vec(),
            columns: Vec::new(),
            in_basis: Vec::new(),
            surplus_in_basis: basis.iter().map(|basic| matches!(basic, Basic::Surplus(_))).collect(),
            basis,
            inverse: vec![0.0; rows * rows],
            level: vec![0.0; rows],
            duals: vec![0.0; rows],
            pivots_since_refactoring: 0,
            pivots: 0,
        };
        master.refactor();
        master
    }

    /// The rows of the inverse of the basis in which a column has a level that is not whole.
    pub fn fractional_rows(&self) -> Vec<Vec<f64>> {
        let rows = self.rows();
        let is_fraction = |level: f64| (level - level.round()).abs() > tol::WHOLE;
        let fractional = (0..rows).filter(|place| {
            matches!(self.basis[*place], Basic::Column(_)) && is_fraction(self.level[*place])
        });
        fractional.map(|place| self.inverse[place * rows..(place + 1) * rows].to_vec()).collect()
    }

    fn rows(&self) -> usize {
        self.rhs.len()
    }

    fn cost_of(&self, basic: Basic) -> f64 {
        match basic {
            Basic::Column(column) => self.columns[column].cost,
            Basic::Surplus(_) => 0.0,
            Basic::Missing(row) => self.penalty[row],
        }
    }

    fn reduced_cost(&self, column: usize) -> f64 {
        let column = &self.columns[column];
        column.entries.iter().fold(column.cost, |cost, (row, value)| cost - self.duals[*row as usize] * value)
    }

    /// Inverts the basis afresh and recomputes what follows. A basis that has no inverse is left as it was.
    fn refactor(&mut self) -> bool {
        let rows = self.rows();
        let mut matrix = vec![0.0; rows * rows];
        for (place, basic) in self.basis.iter().enumerate() {
            match basic {
                Basic::Column(column) => {
                    for (row, value) in &self.columns[*column].entries {
                        matrix[*row as usize * rows + place] = *value;
                    }
                }
                Basic::Surplus(row) => matrix[row * rows + place] = -1.0,
                Basic::Missing(row) => matrix[row * rows + place] = 1.0,
            }
        }
        self.pivots_since_refactoring = 0;
        let Some(inverse) = inverse_of(matrix, rows) else { return false };
        self.inverse = inverse;
        self.level = self.times_inverse(&self.perturbed);
        self.recompute_duals();
        true
    }

    /// The basis as it is, to start another program from that has rows or columns more or less.
    pub fn into_basis(self) -> Basis {
        Basis::of(self.basis, self.inverse, self.pivots_since_refactoring)
    }

    /// Starts from the basis of a program that is nearly the same: this one may have more rows. Returns false, and
    /// changes nothing, if the basis does not fit this one. A row that the basis does not meet starts as a row that
    /// lacks something.
    pub fn start_from(&mut self, basis: &Basis) -> bool {
        let rows = self.rows();
        if !basis.is_within(rows, self.columns.len()) {
            return false;
        }
        let entry = |row: usize, column: usize| {
            let entries = &self.columns[column].entries;
            entries.iter().find(|(at, _)| *at as usize == row).map_or(0.0, |(_, value)| *value)
        };
        let inverse = basis.inverse_with_rows(rows, entry);
        let own = basis.basics().iter().copied();
        let basics = own.chain((basis.basics().len()..rows).map(Basic::Surplus)).collect();
        let cold = (mem::replace(&mut self.basis, basics), mem::replace(&mut self.inverse, inverse));
        self.pivots_since_refactoring = basis.pivots();
        self.mark_basis();
        let level = self.times_inverse(&self.perturbed);
        let cold_level = mem::replace(&mut self.level, level);
        let feasible = self.make_feasible();
        if !feasible {
            (self.basis, self.inverse) = cold;
            self.level = cold_level;
            self.pivots_since_refactoring = 0;
            self.mark_basis();
            self.recompute_duals();
        }
        feasible
    }

    fn mark_basis(&mut self) {
        self.in_basis.fill(false);
        self.surplus_in_basis.fill(false);
        for basic in &self.basis {
            match basic {
                Basic::Column(column) => self.in_basis[*column] = true,
                Basic::Surplus(row) => self.surplus_in_basis[*row] = true,
                Basic::Missing(_) => {}
            }
        }
    }

    /// Lets rows that are not met lack something. False where a column has a level below nothing.
    fn make_feasible(&mut self) -> bool {
        let rows = self.rows();
        let below: Vec<usize> = (0..rows).filter(|place| self.level[*place] < 0.0).collect();
        for place in below {
            let turned = match self.basis[place] {
                Basic::Column(_) if self.level[place] < -tol::LEVEL => return false,
                // That is rounding.
                Basic::Column(_) => continue,
                Basic::Surplus(row) => Basic::Missing(row),
                Basic::Missing(row) => Basic::Surplus(row),
            };
            if let Basic::Surplus(row) | Basic::Missing(row) = turned {
                self.surplus_in_basis[row] = matches!(turned, Basic::Surplus(_));
            }
            self.basis[place] = turned;
            self.level[place] = -self.level[place];
            self.inverse[place * rows..(place + 1) * rows].iter_mut().for_each(|entry| *entry = -*entry);
        }
        self.recompute_duals();
        true
    }

    fn times_inverse(&self, vector: &[f64]) -> Vec<f64> {
        let rows = self.rows();
        let product = |row: &[f64]| row.iter().zip(vector).map(|(entry, value)| entry * value).sum();
        self.inverse.chunks_exact(rows.max(1)).map(product).collect()
    }

    fn recompute_duals(&mut self) {
        let rows = self.rows();
        let mut duals = vec![0.0; rows];
        for (place, basic) in self.basis.iter().enumerate() {
            let cost = self.cost_of(*basic);
            if cost != 0.0 {
                let row = &self.inverse[place * rows..(place + 1) * rows];
                duals.iter_mut().zip(row).for_each(|(dual, entry)| *dual += cost * entry);
            }
        }
        self.duals = duals;
    }

    /// The most promising columns, each with its scaled reduced cost, best first.
    fn candidates(&self) -> Vec<Entering> {
        let mut list: Vec<(f64, Entering)> = Vec::new();
        for column in 0..self.columns.len() {
            if self.in_basis[column] {
                continue;
            }
            let reduced = self.reduced_cost(column);
            if reduced < -tol::REDUCED_COST * self.columns[column].cost.abs().max(1.0) {
                list.push((reduced / self.columns[column].scale, Entering::Column(column)));
            }
        }
        for row in 0..self.rows() {
            if !self.surplus_in_basis[row] && self.duals[row] < -tol::REDUCED_COST {
                list.push((self.duals[row], Entering::Surplus(row)));
            }
        }
        if list.len() > tol::CANDIDATES {
            list.select_nth_unstable_by(tol::CANDIDATES, |one, other| {
                one.0.total_cmp(&other.0).then_with(|| one.1.cmp(&other.1))
            });
            list.truncate(tol::CANDIDATES);
        }
        list.sort_by(|one, other| one.0.total_cmp(&other.0).then_with(|| one.1.cmp(&other.1)));
        list.into_iter().map(|(_, entering)| entering).collect()
    }

    fn reduced(&self, entering: Entering) -> (f64, f64) {
        match entering {
            Entering::Column(column) => (self.reduced_cost(column), self.columns[column].scale),
            Entering::Surplus(row) => (self.duals[row], 1.0),
        }
    }

    fn direction(&self, entering: Entering) -> Vec<f64> {
        let rows = self.rows();
        match entering {
            Entering::Column(column) => {
                let entries = &self.columns[column].entries;
                (0..rows)
                    .map(|place| {
                        let row = &self.inverse[place * rows..(place + 1) * rows];
                        entries.iter().map(|(at, value)| row[*at as usize] * value).sum()
                    })
                    .collect()
            }
            Entering::Surplus(at) => (0..rows).map(|place| -self.inverse[place * rows + at]).collect(),
        }
    }

    /// The row that leaves: the least ratio, and among near ties the largest pivot.
    fn leaving(&self, direction: &[f64]) -> Option<usize> {
        let ratio = |place: usize| self.level[place].max(0.0) / direction[place];
        let usable = || (0..direction.len()).filter(|place| direction[*place] > tol::PIVOT);
        let least = usable().map(ratio).min_by(f64::total_cmp)?;
        let limit = least + tol::RATIO_TIE * (1.0 + least.abs());
        usable()
            .filter(|place| ratio(*place) <= limit)
            .max_by(|one, other| direction[*one].total_cmp(&direction[*other]))
    }

    fn pivot(&mut self, entering: Entering, direction: &[f64], place: usize, reduced: f64) {
        let rows = self.rows();
        let pivot = direction[place];
        let step = self.level[place].max(0.0) / pivot;
        let factor = reduced / pivot;
        let pivot_row: Vec<(usize, f64)> = self.inverse[place * rows..(place + 1) * rows]
            .iter()
            .enumerate()
            .filter(|(_, value)| **value != 0.0)
            .map(|(at, value)| (at, *value))
            .collect();
        for (at, value) in &pivot_row {
            self.duals[*at] += factor * value;
        }
        let dense = pivot_row.len() * 2 > rows;
        let whole: Vec<f64> = self.inverse[place * rows..(place + 1) * rows].to_vec();
        for (row, along) in direction.iter().enumerate() {
            let share = along / pivot;
            if row == place || *along == 0.0 {
                continue;
            }
            let target = &mut self.inverse[row * rows..(row + 1) * rows];
            if dense {
                target.iter_mut().zip(&whole).for_each(|(entry, value)| *entry -= share * value);
            } else {
                for (at, value) in &pivot_row {
                    target[*at] -= share * value;
                }
            }
            self.level[row] -= step * along;
        }
        for entry in &mut self.inverse[place * rows..(place + 1) * rows] {
            *entry /= pivot;
        }
        self.level[place] = step;
        match self.basis[place] {
            Basic::Column(column) => self.in_basis[column] = false,
            Basic::Surplus(row) => self.surplus_in_basis[row] = false,
            Basic::Missing(_) => {}
        }
        self.basis[place] = match entering {
            Entering::Column(column) => {
                self.in_basis[column] = true;
                Basic::Column(column)
            }
            Entering::Surplus(row) => {
                self.surplus_in_basis[row] = true;
                Basic::Surplus(row)
            }
        };
        self.pivots += 1;
        self.pivots_since_refactoring += 1;
        if self.pivots_since_refactoring >= tol::PIVOTS_BETWEEN_REFACTORINGS {
            self.refactor();
        }
    }

    fn optimise(&mut self) {
        // Far above what any master of this size takes; only a numerical failure reaches it.
        let most = self.pivots + 200 * (self.rows() + 50) + self.columns.len();
        loop {
            let mut list = self.candidates();
            if list.is_empty() || self.pivots > most {
                break;
            }
            loop {
                list.retain(|entering| !self.is_basic(*entering));
                let scored = list.iter().map(|entering| (self.reduced(*entering), *entering));
                let best = scored
                    .filter(|((reduced, _), _)| *reduced < -tol::REDUCED_COST)
                    .min_by(|one, other| (one.0.0 / one.0.1).total_cmp(&(other.0.0 / other.0.1)));
                let Some(((reduced, _), entering)) = best else { break };
                let direction = self.direction(entering);
                match self.leaving(&direction) {
                    Some(place) => self.pivot(entering, &direction, place, reduced),
                    // Costs are not negative, so the master is bounded: only rounding says otherwise.
                    None => list.retain(|other| *other != entering),
                }
                if self.pivots > most {
                    return;
                }
            }
            if self.pivots_since_refactoring > 0 {
                self.recompute_duals();
            }
        }
    }

    fn is_basic(&self, entering: Entering) -> bool {
        match entering {
            Entering::Column(column) => self.in_basis[column],
            Entering::Surplus(row) => self.surplus_in_basis[row],
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Entering {
    Column(usize),
    Surplus(usize),
}

impl Master for ColumnSimplex {
    fn add_column(&mut self, cost: f64, entries: &[(u32, f64)]) -> usize {
        let square: f64 = entries.iter().map(|(_, value)| value * value).sum();
        self.columns.push(SimplexColumn { cost, entries: entries.to_vec(), scale: (1.0 + square).sqrt() });
        self.in_basis.push(false);
        self.columns.len() - 1
    }

    fn solve(&mut self) -> MasterSolution {
        self.optimise();
        let exact = self.times_inverse(&self.rhs);
        let mut used = Vec::new();
        let mut missing = Vec::new();
        let mut value = 0.0;
        for (place, basic) in self.basis.iter().enumerate() {
            let level = exact[place];
            if level <= tol::LEVEL {
                continue;
            }
            value += level * self.cost_of(*basic);
            match basic {
                Basic::Column(column) => used.push((*column, level)),
                Basic::Missing(row) => missing.push(*row),
                Basic::Surplus(_) => {}
            }
        }
        used.sort_by_key(|(column, _)| *column);
        missing.sort_unstable();
        let duals = self.duals.iter().map(|dual| dual.max(0.0)).collect();
        MasterSolution { value, used, duals, missing }
    }
}

#[cfg(test)]
mod tests;
