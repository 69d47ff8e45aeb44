//! Cuts as weighted sums of rows, by which columns outside a program can be asked about as well.

/// Cuts by number, each a weighted sum of rows and of cuts before it.
#[derive(Debug, Clone)]
pub struct CutSet {
    /// Rows of the program without its cuts; cuts are called by the numbers from there on.
    rows: u32,
    cuts: Vec<Weights>,
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

/// What the cuts of a program are made of.
#[derive(Debug, Clone)]
pub struct Record {
    /// By row, what it is called: the rows that it began with by their number, then all its cuts.
    pub names: Vec<u32>,
    /// All its cuts, also those that went: others may be made of them.
    pub cuts: CutSet,
}

impl Record {
    /// Of a program with so many rows and no cut yet.
    pub fn of(rows: usize) -> Record {
        let rows = rows as u32;
        Record { names: (0..rows).collect(), cuts: CutSet { rows, cuts: Vec::new() } }
    }

    /// Takes a cut of the rows as they are now: it is the last row from now on.
    pub fn add(&mut self, cut: &Weights) {
        let of = cut.of.iter().map(|(row, weight)| (self.names[*row as usize], *weight)).collect();
        self.names.push(self.cuts.rows + self.cuts.cuts.len() as u32);
        self.cuts.cuts.push(Weights { over: cut.over, of });
    }

    /// The dual values of its rows as they are now.
    pub fn values(&self, bound: f64, duals: &[f64]) -> CutValues {
        let rows = self.cuts.rows as usize;
        let mut of_rows = vec![0.0; rows];
        let mut of_cuts = vec![0.0; self.cuts.cuts.len()];
        for (name, dual) in self.names.iter().zip(duals) {
            let name = *name as usize;
            *if name < rows { &mut of_rows[name] } else { &mut of_cuts[name - rows] } = dual.max(0.0);
        }
        CutValues { bound, of_rows, of_cuts, cuts: self.cuts.clone() }
    }
}

/// Dual values of a program with its cuts.
pub struct CutValues {
    /// No solution of its own columns costs less.
    pub bound: f64,
    of_rows: Vec<f64>,
    of_cuts: Vec<f64>,
    cuts: CutSet,
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
