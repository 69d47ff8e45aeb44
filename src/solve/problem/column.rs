//! Columns: boards of a stock cut by a pattern, and what they give.

use crate::index::{PatternIndex, SizeIndex, StockIndex};
pub use crate::pattern::Counts;
use crate::pattern::Values;

/// What pieces are worth at values by size.
pub fn worth(values: &Values, counts: &[(SizeIndex, u32)]) -> i64 {
    counts.iter().map(|(size, n)| values[*size] * i64::from(*n)).sum()
}

/// A column: a stock cut by a pattern of the pool.
#[derive(Debug, Clone)]
pub struct Column {
    /// Index of the stock.
    pub stock: StockIndex,
    /// Number of the pattern in the pool.
    pub pattern: PatternIndex,
}

/// A column of the integer program.
#[derive(Debug, Clone)]
pub struct Listed {
    /// Index of the stock.
    pub stock: StockIndex,
    /// Number of the pattern in the pool.
    pub pattern: PatternIndex,
    /// Ticks for one board.
    pub cost: i64,
    /// What it gives.
    pub counts: Counts,
}

/// So many boards of a stock cut by a pattern of the pool.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cut {
    /// Index of the stock.
    pub stock: StockIndex,
    /// Number of the pattern in the pool.
    pub pattern: PatternIndex,
    /// Boards.
    pub copies: u32,
}

impl Cut {
    /// Is it of the same stock and pattern?
    pub fn same_column(&self, other: &Cut) -> bool {
        (self.stock, self.pattern) == (other.stock, other.pattern)
    }
}

/// Equal cuts added up, in a fixed order.
pub fn merged(mut cuts: Vec<Cut>) -> Vec<Cut> {
    cuts.sort_unstable();
    let mut sums: Vec<Cut> = Vec::new();
    for cut in cuts {
        match sums.last_mut() {
            Some(last) if last.same_column(&cut) => last.copies += cut.copies,
            _ => sums.push(cut),
        }
    }
    sums
}
