//! Columns: boards of a stock cut by a pattern, and what they give.

/// Pieces of a pattern by size, with their number.
pub type Counts = Vec<(u32, u32)>;

/// What pieces are worth at values by size.
pub fn worth(values: &[i64], counts: &[(u32, u32)]) -> i64 {
    counts.iter().map(|(size, n)| values[*size as usize] * i64::from(*n)).sum()
}

/// A column: a stock cut by a pattern of the pool.
#[derive(Debug, Clone)]
pub struct Column {
    /// Index of the stock.
    pub stock: usize,
    /// Number of the pattern in the pool.
    pub pattern: usize,
}

/// A column of the integer program.
#[derive(Debug, Clone)]
pub struct Listed {
    /// Index of the stock.
    pub stock: usize,
    /// Number of the pattern in the pool.
    pub pattern: usize,
    /// Ticks for one board.
    pub cost: i64,
    /// What it gives.
    pub counts: Counts,
}

/// So many boards of a stock cut by a pattern of the pool.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cut {
    /// Index of the stock.
    pub stock: usize,
    /// Number of the pattern in the pool.
    pub pattern: usize,
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
