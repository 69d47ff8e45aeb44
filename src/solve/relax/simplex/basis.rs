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

/// The basis that a program ended with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Basis(Vec<Basic>);

impl Basis {
    pub(super) fn of(basics: Vec<Basic>) -> Basis {
        Basis(basics)
    }

    pub(super) fn basics(&self) -> &[Basic] {
        &self.0
    }

    /// Is it a basis of so many rows, and of no column or row that is not there?
    pub(super) fn is_of(&self, rows: usize, columns: usize) -> bool {
        let is_there = |basic: &Basic| match basic {
            Basic::Column(column) => *column < columns,
            Basic::Surplus(row) | Basic::Missing(row) => *row < rows,
        };
        self.0.len() == rows && self.0.iter().all(is_there)
    }

    /// The same once its program has more rows, up to so many.
    pub fn with_rows(mut self, rows: usize) -> Basis {
        self.0.extend((self.0.len()..rows).map(Basic::Surplus));
        self
    }

    /// The same once rows and columns are gone: each has its new number, or none. `None` where what is gone was
    /// part of the basis.
    pub fn renumbered(&self, rows: &[Option<usize>], columns: &[Option<usize>]) -> Option<Basis> {
        let mut kept = Vec::with_capacity(self.0.len());
        for basic in &self.0 {
            match basic {
                Basic::Column(column) => kept.push(Basic::Column(columns[*column]?)),
                Basic::Surplus(row) => kept.extend(rows[*row].map(Basic::Surplus)),
                Basic::Missing(row) => kept.push(Basic::Missing(rows[*row]?)),
            }
        }
        (kept.len() == rows.iter().flatten().count()).then_some(Basis(kept))
    }
}
