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
            let sum = self.sum(cut, column, &coefficients);
            coefficients.push(num_integer::div_ceil(sum, cut.over));
        }
        coefficients
    }

    /// What a column has in a cut before it is divided and rounded up, given its coefficients in the cuts before it.
    fn sum(&self, cut: &Weights, column: &[(u32, i64)], before: &[i64]) -> i64 {
        let value = |name: u32| match name.checked_sub(self.rows) {
            Some(cut) => before.get(cut as usize).copied().unwrap_or(0),
            None => value_in(column, name),
        };
        cut.of.iter().map(|(name, weight)| weight * value(*name)).sum()
    }
}

/// What a column has in a row.
fn value_in(column: &[(u32, i64)], row: u32) -> i64 {
    column.iter().find(|(other, _)| *other == row).map_or(0, |(_, value)| *value)
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

    /// How many cuts there are, also those that do nothing any more.
    pub fn cuts(&self) -> usize {
        self.of_cuts.len()
    }

    /// The coefficient in every cut of one unit in each row by itself.
    pub fn of_single_units(&self) -> SingleUnits {
        let rows = self.of_rows.len() as u32;
        let mut by_cut = vec![Vec::new(); self.cuts()];
        for row in 0..rows {
            let coefficients = self.cuts.coefficients(&[(row, 1)]);
            for (of_cut, coefficient) in by_cut.iter_mut().zip(coefficients).filter(|(_, of)| *of != 0) {
                of_cut.push((row, coefficient));
            }
        }
        SingleUnits { by_cut }
    }

    /// A linear function that no column's worth is above. A coefficient is rounded up, so it is at most what its units
    /// have one by one, and at most its sum and almost one more. Of each cut the second holds to the share given, the
    /// first to the rest.
    pub fn above(&self, units: &SingleUnits, shares: &[f64]) -> LinearWorth {
        let mut above = LinearWorth { constant: 0.0, of_rows: self.of_rows.clone() };
        let rows = self.cuts.rows;
        // A cut may be made of cuts before it: what they then are worth is known once all after them are done.
        let mut duals = self.of_cuts.clone();
        for (place, cut) in self.cuts.cuts.iter().enumerate().rev() {
            let dual = duals[place];
            if dual <= 0.0 {
                continue;
            }
            let summed = dual * shares[place] / cut.over as f64;
            above.constant += summed * (cut.over - 1) as f64;
            for (name, weight) in &cut.of {
                let part = match name.checked_sub(rows) {
                    Some(before) => &mut duals[before as usize],
                    None => &mut above.of_rows[*name as usize],
                };
                *part += summed * *weight as f64;
            }
            for (row, coefficient) in &units.by_cut[place] {
                above.of_rows[*row as usize] += dual * (1.0 - shares[place]) * *coefficient as f64;
            }
        }
        above
    }

    /// By cut, what a column would be worth more by its sum than by its units one by one.
    pub fn by_sum_not_by_units(&self, units: &SingleUnits, entries: &[(u32, i64)]) -> Vec<f64> {
        let exact = self.cuts.coefficients(entries);
        let each = self.cuts.cuts.iter().zip(&self.of_cuts).zip(&units.by_cut);
        each.map(|((cut, dual), units)| {
            let sum = self.cuts.sum(cut, entries, &exact);
            let by_sum = (sum + cut.over - 1) as f64 / cut.over as f64;
            let by_units: i64 =
                units.iter().map(|(row, coefficient)| coefficient * value_in(entries, *row)).sum();
            dual * (by_sum - by_units as f64)
        })
        .collect()
    }
}

/// By cut, the rows of which one unit by itself has a coefficient, and that.
pub struct SingleUnits {
    by_cut: Vec<Vec<(u32, i64)>>,
}

/// A linear function of a column's entries.
pub struct LinearWorth {
    pub constant: f64,
    pub of_rows: Vec<f64>,
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
