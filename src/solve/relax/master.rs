//! What the method asks of a solver of the restricted master.

/// A linear program over the columns found so far: least cost, every row `sum >= right-hand side`,
/// columns not negative.
pub trait Master {
    /// Takes a column; gives its number.
    fn add_column(&mut self, cost: f64, entries: &[(u32, f64)]) -> usize;

    /// Solves to optimality over the columns taken so far.
    fn solve(&mut self) -> MasterSolution;
}

/// An optimal solution of the restricted master.
#[derive(Debug, Clone)]
pub struct MasterSolution {
    /// Its cost, penalties for missing pieces included.
    pub value: f64,
    /// Columns above zero, with their levels.
    pub used: Vec<(usize, f64)>,
    /// Dual value of each row, not negative.
    pub duals: Vec<f64>,
    /// Rows that the columns cannot fill.
    pub missing: Vec<usize>,
}
