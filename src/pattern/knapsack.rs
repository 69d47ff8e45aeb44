//! A bounded knapsack for every capacity at once, as the list of its steps.
//!
//! The best value as a function of the capacity is a staircase. Only its steps are kept: states that
//! no other state dominates (dynamic programming with lists, Martello and Toth, Knapsack Problems,
//! 1990, section 2.6). Extents are exact base units, so there is no grid to choose and none to round
//! to; the number of steps depends on the pieces and not on the unit they are measured in.

/// No chunk was added to reach a state.
const START: u32 = 0;

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
    /// By rising size, and so by rising value.
    steps: Vec<Step>,
    spare: Vec<Step>,
    /// (trace before, item, copies).
    traces: Vec<(u32, u32, u32)>,
}

/// The best value at one capacity.
#[derive(Debug, Clone, Copy)]
pub struct Best {
    /// The value.
    pub value: i64,
    trace: u32,
}

impl Knapsack {
    /// An empty knapsack.
    pub fn new(capacity: i64) -> Knapsack {
        Knapsack {
            capacity,
            steps: vec![Step { size: 0, value: 0, trace: START }],
            spare: Vec::new(),
            traces: vec![(START, 0, 0)],
        }
    }

    /// Takes everything out; what was best before can still be traced.
    pub fn clear(&mut self) {
        self.steps.clear();
        self.steps.push(Step { size: 0, value: 0, trace: START });
    }

    /// Lets up to `most` copies of an item be taken.
    pub fn add(&mut self, item: u32, size: i64, value: i64, most: u32) {
        if size <= 0 || size > self.capacity || value <= 0 {
            return;
        }
        let fit = u32::try_from(self.capacity / size).unwrap_or(u32::MAX);
        for copies in binary_chunks(most.min(fit)) {
            let many = i64::from(copies);
            self.add_chunk(item, copies, size * many, value * many);
        }
    }

    /// Merges the staircase with itself moved by one chunk.
    fn add_chunk(&mut self, item: u32, copies: u32, size: i64, value: i64) {
        let mut merged = std::mem::take(&mut self.spare);
        merged.clear();
        merged.reserve(self.steps.len() * 2);
        let movable = self.steps.partition_point(|step| step.size + size <= self.capacity);
        let mut kept = self.steps.iter().copied().peekable();
        let mut top = -1;
        for moved in &self.steps[..movable] {
            let (moved_size, moved_value) = (moved.size + size, moved.value + value);
            while let Some(step) = kept.next_if(|step| {
                step.size < moved_size || (step.size == moved_size && step.value >= moved_value)
            }) {
                if step.value > top {
                    top = step.value;
                    merged.push(step);
                }
            }
            if moved_value > top {
                top = moved_value;
                let trace = self.traces.len() as u32;
                self.traces.push((moved.trace, item, copies));
                merged.push(Step { size: moved_size, value: moved_value, trace });
            }
        }
        merged.extend(kept.filter(|step| {
            let higher = step.value > top;
            top = top.max(step.value);
            higher
        }));
        self.spare = std::mem::replace(&mut self.steps, merged);
    }

    /// The best value that fits into a capacity.
    pub fn best(&self, capacity: i64) -> Best {
        let place = self.steps.partition_point(|step| step.size <= capacity);
        let step = self.steps[place.max(1) - 1];
        if place == 0 {
            Best { value: 0, trace: START }
        } else {
            Best { value: step.value, trace: step.trace }
        }
    }

    /// The items of a best solution, with their copies.
    pub fn items(&self, best: Best) -> Vec<(u32, u32)> {
        let mut items = Vec::new();
        let mut trace = best.trace;
        while trace != START {
            let (before, item, copies) = self.traces[trace as usize];
            items.push((item, copies));
            trace = before;
        }
        items
    }

    /// The staircase: (size, value), rising.
    pub fn staircase(&self) -> impl Iterator<Item = (i64, i64)> {
        self.steps.iter().map(|step| (step.size, step.value))
    }
}

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
            let mut knapsack = Knapsack::new(capacity);
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
