//! Cuts as weighted sums of rows, by which columns outside a program can be asked about as well.

/// What a row that a branch added is called: no column outside the program is asked about it.
pub const OF_A_BRANCH: u32 = u32::MAX;

/// Cuts by number, each a weighted sum of rows and of cuts before it.
#[derive(Debug, Clone)]
pub struct CutSet {
    /// Rows of the program without its cuts; cuts are called by the numbers from there on.
    pub rows: u32,
    pub cuts: Vec<Weights>,
}

impl CutSet {
    /// The coefficient of a column in every cut, from its entries in the rows.
    pub fn coefficients(&self, column: &[(u32, i64)]) -> Vec<i64> {
        let mut coefficients: Vec<i64> = Vec::with_capacity(self.cuts.len());
        for cut in &self.cuts {
            let value = |name: u32| match name.checked_sub(self.rows) {
                Some(cut) => coefficients.get(cut as usize).copied().unwrap_or(0),
                None => column.iter().find(|(row, _)| *row == name).map_or(0, |(_, value)| *value),
            };
            let sum: i64 = cut.of.iter().map(|(name, weight)| weight * value(*name)).sum();
            coefficients.push(num_integer::div_ceil(sum, cut.over));
        }
        coefficients
    }
}

/// Dual values of a program with its cuts.
pub struct CutValues {
    /// No solution of its own columns costs less.
    pub bound: f64,
    pub of_rows: Vec<f64>,
    pub of_cuts: Vec<f64>,
    pub cuts: CutSet,
}

impl CutValues {
    /// What a column with these entries in the rows is worth.
    pub fn worth(&self, entries: &[(u32, i64)]) -> f64 {
        let of_rows: f64 =
            entries.iter().map(|(row, value)| self.of_rows[*row as usize] * *value as f64).sum();
        let coefficients = self.cuts.coefficients(entries);
        of_rows + self.of_cuts.iter().zip(coefficients).map(|(dual, of)| dual * of as f64).sum::<f64>()
    }

    /// What one unit in a row is worth by itself. A column is worth no more than its units together: the coefficient of a
    /// sum is at most the sum of the coefficients, since rounding up never gains by putting together.
    pub fn worth_of_one(&self, row: u32) -> f64 {
        self.worth(&[(row, 1)])
    }
}

/// Weights of rows, over a denominator.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Weights {
    pub over: i64,
    /// (row, weight), by rising row.
    pub of: Vec<(u32, i64)>,
}

impl Weights {
    /// The sum of a column's entries, rounded up.
    pub fn coefficient(&self, column: &[(u32, i64)]) -> i64 {
        let mut weights = self.of.iter().peekable();
        let mut sum = 0;
        for (row, value) in column {
            while weights.next_if(|(other, _)| other < row).is_some() {}
            if let Some((_, weight)) = weights.peek().filter(|(other, _)| other == row) {
                sum += weight * value;
            }
        }
        num_integer::div_ceil(sum, self.over)
    }
}
