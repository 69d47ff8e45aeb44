//! A basis: what sits in each of its rows, and what becomes of it when a program gains or loses rows and columns.

/// What sits in a row of the basis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basic {
    /// A column by number.
    Column(usize),
    /// The surplus of a row.
    Surplus(usize),
    /// What a row still lacks, at the penalty's price.
    Missing(usize),
}

/// The basis that a program ended with, and its inverse.
#[derive(Debug, Clone, PartialEq)]
pub struct Basis {
    basics: Vec<Basic>,
    /// Row-major, of as many rows as there are basics.
    inverse: Vec<f64>,
    /// Pivots since it was inverted afresh.
    pivots: usize,
}

impl Basis {
    pub(super) fn of(basics: Vec<Basic>, inverse: Vec<f64>, pivots: usize) -> Basis {
        Basis { basics, inverse, pivots }
    }

    pub(super) fn basics(&self) -> &[Basic] {
        &self.basics
    }

    pub(super) fn pivots(&self) -> usize {
        self.pivots
    }

    /// Is it a basis of so many rows at most, and of no column or row that is not there?
    pub(super) fn is_within(&self, rows: usize, columns: usize) -> bool {
        let is_there = |basic: &Basic| match basic {
            Basic::Column(column) => *column < columns,
            Basic::Surplus(row) | Basic::Missing(row) => *row < self.basics.len(),
        };
        self.basics.len() <= rows && self.basics.iter().all(is_there)
    }

    /// The inverse once the program has more rows, up to so many, each with its surplus in the basis. `entry` gives the
    /// coefficient of a column in a row.
    pub(super) fn inverse_with_rows(&self, rows: usize, entry: impl Fn(usize, usize) -> f64) -> Vec<f64> {
        let own = self.basics.len();
        let mut inverse = vec![0.0; rows * rows];
        for (row, old) in self.inverse.chunks_exact(own.max(1)).enumerate() {
            inverse[row * rows..row * rows + own].copy_from_slice(old);
        }
        for row in own..rows {
            let (known, new) = inverse.split_at_mut(row * rows);
            for (place, basic) in self.basics.iter().enumerate() {
                let Basic::Column(column) = basic else { continue };
                let value = entry(row, *column);
                if value != 0.0 {
                    let old = &known[place * rows..place * rows + own];
                    new[..own].iter_mut().zip(old).for_each(|(sum, old)| *sum += value * old);
                }
            }
            new[row] = -1.0;
        }
        inverse
    }

    /// The same once rows and columns are gone: each has its new number, or none. Rows may only go with their surplus,
    /// which leaves the rest of the inverse as it is. `None` where more of the basis is gone.
    pub fn renumbered(&self, rows: &[Option<usize>], columns: &[Option<usize>]) -> Option<Basis> {
        let mut basics = Vec::with_capacity(self.basics.len());
        let mut places = Vec::with_capacity(self.basics.len());
        for (place, basic) in self.basics.iter().enumerate() {
            let kept = match basic {
                Basic::Column(column) => Some(Basic::Column(columns[*column]?)),
                Basic::Surplus(row) => rows[*row].map(Basic::Surplus),
                Basic::Missing(row) => Some(Basic::Missing(rows[*row]?)),
            };
            if let Some(kept) = kept {
                basics.push(kept);
                places.push(place);
            }
        }
        let own = self.basics.len();
        let left: Vec<usize> = (0..own).filter(|row| rows[*row].is_some()).collect();
        if left.len() != basics.len() {
            return None;
        }
        let mut inverse = Vec::with_capacity(left.len() * left.len());
        for place in places {
            inverse.extend(left.iter().map(|row| self.inverse[place * own + row]));
        }
        Some(Basis { basics, inverse, pivots: self.pivots })
    }
}
