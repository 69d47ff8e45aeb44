//! A bounded knapsack for every capacity at once.
//!
//! The best value as a function of the capacity is a staircase. While it has few steps only these are
//! kept: states that no other state dominates (dynamic programming with lists, Martello and Toth,
//! Knapsack Problems, 1990, section 2.6). Extents are exact base units, so there is no grid to choose
//! and none to round to. But where most multiples of the extents' common divisor have become steps, a
//! table over these multiples holds the same staircase and is extended several times faster.

/// No chunk was added to reach a state.
const START: u32 = 0;

/// The table takes over once it has no more than this many cells for each step of the list.
const CELLS_PER_STEP: usize = 100;

/// A state that nothing dominates.
#[derive(Debug, Clone, Copy)]
struct Step {
    size: i64,
    value: i64,
    /// How it was reached: an index into the trace.
    trace: u32,
}

/// Chunks of items, added one after the other.
#[derive(Debug, Clone)]
pub struct Knapsack {
    capacity: i64,
    /// A common divisor of all sizes.
    grid: i64,
    /// By rising size, and so by rising value.
    steps: Vec<Step>,
    spare: Vec<Step>,
    /// (trace before, item, copies).
    traces: Vec<(u32, u32, u32)>,
    /// The last of them is in use if the list has been left.
    tables: Vec<CellTable>,
    tabled: bool,
}

/// The same staircase by cells of the grid.
#[derive(Debug, Clone)]
struct CellTable {
    /// By cell: the best value of that size or less.
    values: Vec<i64>,
    /// By cell: how the list had reached it when the table took over.
    before: Vec<u32>,
    /// Chunks added since: item, copies, and size in cells.
    chunks: Vec<(u32, u32, usize)>,
    /// For each chunk a bit a cell: does its best value hold the chunk?
    holds: Vec<u64>,
}

/// The best value at one capacity.
#[derive(Debug, Clone, Copy)]
pub struct Best {
    /// The value.
    pub value: i64,
    trace: Trace,
}

/// Where a state's items are found.
#[derive(Debug, Clone, Copy)]
enum Trace {
    /// In the list.
    List(u32),
    /// In a table, from so many of its chunks and a cell on.
    Table { table: usize, chunks: usize, cell: usize },
}

impl Knapsack {
    /// An empty knapsack for items whose sizes are multiples of `grid`.
    pub fn new(capacity: i64, grid: i64) -> Knapsack {
        Knapsack {
            capacity,
            grid: grid.max(1),
            steps: vec![Step { size: 0, value: 0, trace: START }],
            spare: Vec::new(),
            traces: vec![(START, 0, 0)],
            tables: Vec::new(),
            tabled: false,
        }
    }

    /// Takes everything out; what was best before can still be traced.
    pub fn clear(&mut self) {
        self.steps.clear();
        self.steps.push(Step { size: 0, value: 0, trace: START });
        self.tabled = false;
    }

    fn table(&self) -> Option<&CellTable> {
        self.tables.last().filter(|_| self.tabled)
    }

    /// Lets up to `most` copies of an item be taken.
    pub fn add(&mut self, item: u32, size: i64, value: i64, most: u32) {
        if size <= 0 || size > self.capacity || value <= 0 {
            return;
        }
        debug_assert_eq!(size % self.grid, 0, "sizes are multiples of the grid");
        let fit = u32::try_from(self.capacity / size).unwrap_or(u32::MAX);
        for copies in binary_chunks(most.min(fit)) {
            let many = i64::from(copies);
            if let Some(table) = self.tables.last_mut().filter(|_| self.tabled) {
                table.add_chunk(item, copies, (size * many / self.grid) as usize, value * many);
                continue;
            }
            self.add_chunk(item, copies, size * many, value * many);
            let cells = usize::try_from(self.capacity / self.grid).unwrap_or(usize::MAX);
            if self.steps.len().saturating_mul(CELLS_PER_STEP) > cells {
                self.tables.push(CellTable::new(&self.steps, cells + 1, self.grid));
                self.tabled = true;
            }
        }
    }

    /// Merges the staircase with itself moved by one chunk.
    fn add_chunk(&mut self, item: u32, copies: u32, size: i64, value: i64) {
        let mut merged = std::mem::take(&mut self.spare);
        merged.clear();
        merged.reserve(self.steps.len() * 2);
        let movable = self.steps.partition_point(|step| step.size + size <= self.capacity);
        let mut kept = &self.steps[..];
        let mut top = -1;
        for moved in &self.steps[..movable] {
            let (moved_size, moved_value) = (moved.size + size, moved.value + value);
            while let Some((step, larger)) = kept.split_first()
                && (step.size < moved_size || (step.size == moved_size && step.value >= moved_value))
            {
                kept = larger;
                if step.value > top {
                    top = step.value;
                    merged.push(*step);
                }
            }
            if moved_value > top {
                top = moved_value;
                let trace = self.traces.len() as u32;
                self.traces.push((moved.trace, item, copies));
                merged.push(Step { size: moved_size, value: moved_value, trace });
            }
        }
        merged.extend(kept.iter().copied().filter(|step| {
            let higher = step.value > top;
            top = top.max(step.value);
            higher
        }));
        self.spare = std::mem::replace(&mut self.steps, merged);
    }

    /// The best value that fits into a capacity.
    pub fn best(&self, capacity: i64) -> Best {
        if capacity < 0 {
            return Best { value: 0, trace: Trace::List(START) };
        }
        if let Some(table) = self.table() {
            let cell = ((capacity / self.grid) as usize).min(table.values.len() - 1);
            let (number, chunks) = (self.tables.len() - 1, table.chunks.len());
            return Best { value: table.values[cell], trace: Trace::Table { table: number, chunks, cell } };
        }
        let place = self.steps.partition_point(|step| step.size <= capacity);
        let step = self.steps[place.max(1) - 1];
        Best { value: step.value, trace: Trace::List(step.trace) }
    }

    /// The items of a best solution, with their copies.
    pub fn items(&self, best: Best) -> Vec<(u32, u32)> {
        let mut items = Vec::new();
        let mut trace = match best.trace {
            Trace::Table { table, chunks, cell } => self.tables[table].unwind(chunks, cell, &mut items),
            Trace::List(trace) => trace,
        };
        while trace != START {
            let (before, item, copies) = self.traces[trace as usize];
            items.push((item, copies));
            trace = before;
        }
        items
    }

    /// The staircase: (size, value), rising.
    pub fn staircase(&self) -> Vec<(i64, i64)> {
        let Some(table) = self.table() else {
            return self.steps.iter().map(|step| (step.size, step.value)).collect();
        };
        let mut steps = vec![(0, 0)];
        for (cell, value) in table.values.iter().enumerate() {
            if *value > steps[steps.len() - 1].1 {
                steps.push((cell as i64 * self.grid, *value));
            }
        }
        steps
    }
}

impl CellTable {
    fn new(steps: &[Step], cells: usize, grid: i64) -> CellTable {
        let (mut values, mut before) = (Vec::with_capacity(cells), Vec::with_capacity(cells));
        for (step, next) in steps.iter().zip(steps.iter().skip(1).map(Some).chain([None])) {
            let end = next.map_or(cells, |next| (next.size / grid) as usize);
            values.resize(end, step.value);
            before.resize(end, step.trace);
        }
        CellTable { values, before, chunks: Vec::new(), holds: Vec::new() }
    }

    fn words(&self) -> usize {
        self.values.len().div_ceil(WORD)
    }

    /// Takes the better of every cell without the chunk and with it, from the largest down, so that no
    /// cell sees the chunk twice.
    fn add_chunk(&mut self, item: u32, copies: u32, size: usize, value: i64) {
        let cells = self.values.len();
        if size >= cells {
            return;
        }
        let first_word = self.holds.len();
        self.holds.resize(first_word + self.words(), 0);
        self.chunks.push((item, copies, size));
        let holds = &mut self.holds[first_word..];
        let values = &mut self.values[..];
        // Compiled for the widest vectors this machine has.
        pulp::Arch::new().dispatch(TakeBetter { values, holds, size, value });
    }

    /// The items of a cell's best value among the first `chunks`; gives the list's trace where it ends.
    fn unwind(&self, chunks: usize, mut cell: usize, items: &mut Vec<(u32, u32)>) -> u32 {
        let words = self.words();
        for (number, (item, copies, size)) in self.chunks[..chunks].iter().enumerate().rev() {
            if self.holds[number * words + cell / WORD] >> (cell % WORD) & 1 == 1 {
                items.push((*item, *copies));
                cell -= size;
            }
        }
        self.before[cell]
    }
}

/// Takes the better of every cell without a chunk and with it, and marks where it is held.
struct TakeBetter<'t> {
    values: &'t mut [i64],
    holds: &'t mut [u64],
    size: usize,
    value: i64,
}

impl pulp::NullaryFnOnce for TakeBetter<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let TakeBetter { values, holds, size, value } = self;
        let mut end = values.len();
        while end > size {
            // A word's worth at a time, no longer than the chunk: what is read is not yet written.
            let word = (end - 1) / WORD;
            let start = (word * WORD).max(size).max(end.saturating_sub(size));
            let (low, high) = values.split_at_mut(start);
            let (now, source) = (&mut high[..end - start], &low[start - size..end - size]);
            // The compiler leaves out what it need not ask about whole words.
            let bits = match (<&mut [i64; WORD]>::try_from(&mut *now), <&[i64; WORD]>::try_from(source)) {
                (Ok(now), Ok(source)) => take_better(now, source, value),
                _ => take_better(now, source, value),
            };
            holds[word] |= bits << (start - word * WORD);
            end = start;
        }
    }
}

/// Takes the better of each of the first cells and of the one that it is reached from with `value`: a bit each for those
/// that were worse.
#[inline(always)]
fn take_better(now: &mut [i64], source: &[i64], value: i64) -> u64 {
    let mut bits = 0;
    // Iterators in pairs are functions of their own, which are not compiled for the widest vectors.
    for (place, source) in source.iter().enumerate() {
        let with = source + value;
        bits |= u64::from(with > now[place]) << place;
        now[place] = with.max(now[place]);
    }
    bits
}

/// Bits of a word.
const WORD: usize = u64::BITS as usize;

/// Sizes of chunks whose sums give every number from 0 to `count`.
fn binary_chunks(count: u32) -> impl Iterator<Item = u32> {
    let mut left = count;
    let mut chunk = 1;
    std::iter::from_fn(move || {
        if left == 0 {
            return None;
        }
        let take = chunk.min(left);
        left -= take;
        chunk = chunk.saturating_mul(2);
        Some(take)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The textbook table over every whole capacity.
    fn table(items: &[(i64, i64, u32)], capacity: i64) -> Vec<i64> {
        let mut best = vec![0i64; capacity as usize + 1];
        for (size, value, most) in items {
            for _ in 0..*most {
                for room in (*size..=capacity).rev() {
                    best[room as usize] = best[room as usize].max(best[(room - size) as usize] + value);
                }
            }
        }
        best
    }

    proptest! {
        #[test]
        fn every_capacity_has_the_table_s_value_and_a_solution_of_it(
            items in prop::collection::vec((1i64..40, 1i64..60, 0u32..6), 1..7),
            capacity in 1i64..160,
        ) {
            let grid = items.iter().fold(0, |grid, item| num_integer::gcd(grid, item.0));
            let mut knapsack = Knapsack::new(capacity, grid);
            for (number, (size, value, most)) in items.iter().enumerate() {
                knapsack.add(number as u32, *size, *value, *most);
            }
            let table = table(&items, capacity);
            for room in 0..=capacity {
                let best = knapsack.best(room);
                prop_assert_eq!(best.value, table[room as usize]);
                let mut copies = vec![0; items.len()];
                knapsack.items(best).iter().for_each(|(item, n)| copies[*item as usize] += n);
                let sum = |of: fn(&(i64, i64, u32)) -> i64| -> i64 {
                    items.iter().zip(&copies).map(|(item, n)| of(item) * i64::from(*n)).sum()
                };
                prop_assert!(sum(|item| item.0) <= room);
                prop_assert_eq!(sum(|item| item.1), best.value);
                prop_assert!(items.iter().zip(&copies).all(|(item, n)| *n <= item.2));
            }
        }
    }
}
