//! The restricted master, solved by a revised primal simplex that keeps its basis between calls.
//!
//! Dantzig's revised simplex with an explicit inverse (Dantzig and Orchard-Hays, Mathematical Tables
//! and Other Aids to Computation 8(46), 1954), right-hand sides perturbed against cycling
//! (Charnes, Econometrica 20(2), 1952). Adding a column keeps the basis feasible, so every call goes
//! on where the last one stopped. Rows are `sum >= right-hand side`; a limit is written negated.
use super::master::{Master, MasterSolution};
use crate::solve::tolerances as tol;

/// A column of the master: its cost and its non-zero coefficients by row.
#[derive(Debug, Clone)]
struct Column {
    cost: f64,
    entries: Vec<(u32, f64)>,
    scale: f64,
}

/// What sits in a row of the basis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Basic {
    /// A column by number.
    Column(usize),
    /// The surplus of a row.
    Surplus(usize),
    /// What a row still lacks, at the penalty's price.
    Missing(usize),
}

/// See the module's head.
#[derive(Debug, Clone)]
pub struct ColumnSimplex {
    rhs: Vec<f64>,
    perturbed: Vec<f64>,
    penalty: Vec<f64>,
    columns: Vec<Column>,
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

    /// Inverts the basis afresh (Gauss and Jordan with row pivoting) and recomputes what follows.
    fn refactor(&mut self) {
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
        let mut inverse = vec![0.0; rows * rows];
        for row in 0..rows {
            inverse[row * rows + row] = 1.0;
        }
        for place in 0..rows {
            let pivot_row = (place..rows)
                .max_by(|one, other| {
                    let size = |row: usize| matrix[row * rows + place].abs();
                    size(*one).total_cmp(&size(*other))
                })
                .unwrap_or(place);
            if pivot_row != place {
                swap_rows(&mut matrix, rows, pivot_row, place);
                swap_rows(&mut inverse, rows, pivot_row, place);
            }
            let pivot = matrix[place * rows + place];
            scale_row(&mut matrix, rows, place, 1.0 / pivot);
            scale_row(&mut inverse, rows, place, 1.0 / pivot);
            for row in 0..rows {
                let factor = matrix[row * rows + place];
                if row != place && factor != 0.0 {
                    subtract_row(&mut matrix, rows, row, place, factor);
                    subtract_row(&mut inverse, rows, row, place, factor);
                }
            }
        }
        self.inverse = inverse;
        self.level = self.times_inverse(&self.perturbed);
        self.recompute_duals();
        self.pivots_since_refactoring = 0;
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
        self.columns.push(Column { cost, entries: entries.to_vec(), scale: (1.0 + square).sqrt() });
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

fn swap_rows(matrix: &mut [f64], rows: usize, one: usize, other: usize) {
    for at in 0..rows {
        matrix.swap(one * rows + at, other * rows + at);
    }
}

fn scale_row(matrix: &mut [f64], rows: usize, row: usize, factor: f64) {
    matrix[row * rows..(row + 1) * rows].iter_mut().for_each(|entry| *entry *= factor);
}

fn subtract_row(matrix: &mut [f64], rows: usize, row: usize, pivot_row: usize, factor: f64) {
    let (low, high) = (row.min(pivot_row), row.max(pivot_row));
    let (head, tail) = matrix.split_at_mut(high * rows);
    let (low_row, high_row) = (&mut head[low * rows..(low + 1) * rows], &mut tail[..rows]);
    let (target, source) = if row < pivot_row { (low_row, high_row) } else { (high_row, low_row) };
    target.iter_mut().zip(source.iter()).for_each(|(entry, value)| *entry -= factor * value);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A covering program: right-hand sides, and columns of a cost with an entry for each row.
    #[derive(Debug, Clone)]
    struct Program {
        rhs: Vec<f64>,
        columns: Vec<(f64, Vec<f64>)>,
    }

    /// Far above any column; the perturbation of a row that lacks something counts as often.
    const PENALTY: f64 = 1e3;

    fn solved(program: &Program) -> MasterSolution {
        let mut master = ColumnSimplex::new(&program.rhs, &vec![PENALTY; program.rhs.len()]);
        for (cost, entries) in &program.columns {
            let entries = entries.iter().enumerate().filter(|(_, value)| **value != 0.0);
            let entries: Vec<(u32, f64)> = entries.map(|(row, value)| (row as u32, *value)).collect();
            master.add_column(*cost, &entries);
        }
        master.solve()
    }

    /// The same by microlp: its value, and what rows of wanted pieces lack. A row that limits something lacks
    /// nothing.
    fn reference(program: &Program) -> (f64, f64) {
        use microlp::{ComparisonOp, OptimizationDirection, Problem};
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let columns: Vec<_> =
            program.columns.iter().map(|(cost, _)| problem.add_var(*cost, (0.0, f64::INFINITY))).collect();
        let mut lacks = Vec::new();
        for (row, least) in program.rhs.iter().enumerate() {
            let entries = columns.iter().zip(&program.columns);
            let mut sum: Vec<_> = entries.map(|(column, (_, entries))| (*column, entries[row])).collect();
            if *least > 0.0 {
                lacks.push(problem.add_var(PENALTY, (0.0, f64::INFINITY)));
                sum.extend(lacks.last().map(|lack| (*lack, 1.0)));
            }
            problem.add_constraint(&sum[..], ComparisonOp::Ge, *least);
        }
        let solution = problem.solve().unwrap().into_solution().unwrap();
        (solution.objective(), lacks.iter().map(|lack| solution[*lack]).sum())
    }

    /// Rows of wanted pieces, and rows that limit how often columns are used.
    fn program(entry: std::ops::Range<i32>, cost: std::ops::Range<i32>) -> impl Strategy<Value = Program> {
        (2usize..7, 0usize..3, 1usize..12).prop_flat_map(move |(wanted, limits, columns)| {
            let entries =
                (prop::collection::vec(entry.clone(), wanted), prop::collection::vec(-1i32..1, limits));
            let column = (cost.clone(), entries.prop_map(|(gives, takes)| [gives, takes].concat()));
            let rhs = (prop::collection::vec(1i32..12, wanted), prop::collection::vec(-9i32..0, limits));
            (rhs, prop::collection::vec(column, columns)).prop_map(|((wanted, limits), columns)| Program {
                rhs: [wanted, limits].concat().into_iter().map(f64::from).collect(),
                columns: columns
                    .into_iter()
                    .map(|(cost, entries)| (f64::from(cost), entries.into_iter().map(f64::from).collect()))
                    .collect(),
            })
        })
    }

    /// The value, and that the duals prove it. Where rows must lack something the values may differ, since
    /// what a row lacks never comes back into the basis; that they lack it is then all that is asked.
    fn agrees(program: &Program) -> Result<(), TestCaseError> {
        let solution = solved(program);
        let (truth, lacking) = reference(program);
        prop_assert_eq!(solution.missing.is_empty(), lacking < 1e-6);
        if !solution.missing.is_empty() {
            return Ok(());
        }
        let close = |value: f64| (value - truth).abs() <= 1e-4 + truth.abs() * 1e-5;
        prop_assert!(close(solution.value), "{} {truth}", solution.value);
        // Duals that price no column below zero prove the value (weak duality).
        for (cost, entries) in &program.columns {
            let worth: f64 = entries.iter().zip(&solution.duals).map(|(value, dual)| value * dual).sum();
            prop_assert!(worth <= cost + 1e-5, "a column of {cost} is worth {worth}");
        }
        let proven: f64 = program.rhs.iter().zip(&solution.duals).map(|(rhs, dual)| rhs * dual).sum();
        prop_assert!(close(proven), "{proven} {truth}");
        Ok(())
    }

    proptest! {
        #[test]
        fn random_programs_have_microlp_s_value(program in program(0..6, 1..40)) {
            agrees(&program)?;
        }

        /// Few different numbers: many ties between ratios, and bases that differ in nothing but their rows.
        #[test]
        fn degenerate_programs_come_to_an_end(program in program(0..2, 1..3)) {
            agrees(&program)?;
        }

        /// Columns may come one by one: the basis before is gone on from.
        #[test]
        fn columns_that_come_later_are_taken_in(program in program(0..5, 1..40)) {
            let mut master = ColumnSimplex::new(&program.rhs, &vec![PENALTY; program.rhs.len()]);
            let mut value = f64::INFINITY;
            for (cost, entries) in &program.columns {
                let entries = entries.iter().enumerate().map(|(row, value)| (row as u32, *value));
                master.add_column(*cost, &entries.collect::<Vec<_>>());
                let now = master.solve().value;
                prop_assert!(now <= value + 1e-6 + value.abs() * 1e-9);
                value = now;
            }
            let (truth, lacking) = reference(&program);
            prop_assert!(lacking > 1e-6 || (value - truth).abs() <= 1e-4 + value.abs() * 1e-5);
        }
    }

    #[test]
    fn a_row_that_no_column_fills_is_named() {
        let program = Program { rhs: vec![2.0, 3.0], columns: vec![(5.0, vec![1.0, 0.0])] };
        let solution = solved(&program);
        assert_eq!(solution.missing, [1]);
        assert!((solution.value - (10.0 + 3.0 * PENALTY)).abs() < 1.0);
    }
}
