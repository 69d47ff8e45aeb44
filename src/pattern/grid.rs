//! The positions along one axis that matter: sums of extents (normal patterns, Herz 1972;
//! Christofides and Whitlock, Operations Research 25(1), 1977).

use num_integer::gcd;

/// Bits that a reachability set may take before extents are rounded down to a coarser step.
const MAX_BITS: i64 = 1 << 26;

/// Sorted reachable positions in steps of the extents' common divisor.
#[derive(Debug, Clone)]
pub struct Grid {
    step: i64,
    positions: Vec<i64>,
}

/// An extent that may be used so many times.
#[derive(Debug, Clone, Copy)]
pub struct Extent {
    /// Base units, kerf included.
    pub size: i64,
    /// Copies that matter.
    pub most: u32,
}

impl Grid {
    /// All sums of `extents` up to `capacity` (base units, kerf included).
    ///
    /// Where the common divisor is so small that the set would not fit in memory, the step is made
    /// coarser and extents are rounded down: values found are then upper bounds, and whoever builds
    /// a pattern from them must check that it fits.
    pub fn new(extents: &[Extent], capacity: i64) -> Grid {
        if extents.is_empty() {
            return Grid { step: 1, positions: vec![0] };
        }
        let common = extents.iter().fold(0, |common, extent| gcd(common, extent.size)).max(1);
        let step = common.max(capacity / MAX_BITS);
        let top = capacity.max(0) / step;
        let mut reached = Bits::new(top as usize + 1);
        reached.set(0);
        for extent in extents {
            let size = extent.size / step;
            if size == 0 {
                continue;
            }
            let fit = u32::try_from(top / size).unwrap_or(u32::MAX);
            for copies in binary_chunks(extent.most.min(fit)) {
                reached.or_shifted((size * i64::from(copies)) as usize);
            }
        }
        Grid { step, positions: reached.ones() }
    }

    /// An extent in steps, rounded down.
    pub fn steps(&self, size: i64) -> i64 {
        size / self.step
    }

    /// Base units in one step.
    pub fn step(&self) -> i64 {
        self.step
    }

    /// True where extents were not rounded.
    pub fn is_exact_for(&self, size: i64) -> bool {
        size % self.step == 0
    }

    /// Reachable positions in steps, rising from 0.
    pub fn positions(&self) -> &[i64] {
        &self.positions
    }

    /// The place of the last position that fits into `capacity` base units.
    pub fn place_of(&self, capacity: i64) -> usize {
        let capacity = capacity / self.step;
        self.positions.partition_point(|position| *position <= capacity).saturating_sub(1)
    }
}

/// Sizes of chunks whose sums give every number from 0 to `count`.
pub fn binary_chunks(count: u32) -> impl Iterator<Item = u32> {
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

/// A plain bit set.
#[derive(Debug, Clone)]
pub struct Bits {
    words: Vec<u64>,
    length: usize,
}

impl Bits {
    /// All clear.
    pub fn new(length: usize) -> Bits {
        Bits { words: vec![0; length.div_ceil(64)], length }
    }

    /// Sets one bit.
    pub fn set(&mut self, place: usize) {
        self.words[place / 64] |= 1 << (place % 64);
    }

    /// Reads one bit.
    pub fn get(&self, place: usize) -> bool {
        self.words[place / 64] >> (place % 64) & 1 == 1
    }

    /// `self |= self << shift`, with each bit moved once.
    fn or_shifted(&mut self, shift: usize) {
        let (words, bits) = (shift / 64, shift % 64);
        for place in (words..self.words.len()).rev() {
            let mut moved = self.words[place - words] << bits;
            if bits > 0 && place > words {
                moved |= self.words[place - words - 1] >> (64 - bits);
            }
            self.words[place] |= moved;
        }
        let spare = self.words.len() * 64 - self.length;
        if spare > 0
            && let Some(last) = self.words.last_mut()
        {
            *last &= u64::MAX >> spare;
        }
    }

    fn ones(&self) -> Vec<i64> {
        let mut ones = Vec::new();
        for (place, word) in self.words.iter().enumerate() {
            let mut word = *word;
            while word != 0 {
                ones.push((place * 64) as i64 + i64::from(word.trailing_zeros()));
                word &= word - 1;
            }
        }
        ones
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    proptest! {
        #[test]
        fn positions_are_all_bounded_sums(
            sizes in prop::collection::vec((1i64..60, 1u32..4), 1..5),
            capacity in 1i64..300,
        ) {
            let extents: Vec<Extent> =
                sizes.iter().map(|(size, most)| Extent { size: size * 50, most: *most }).collect();
            let grid = Grid::new(&extents, capacity * 50);
            let mut sums = BTreeSet::from([0]);
            for (size, most) in &sizes {
                let before: Vec<i64> = sums.iter().copied().collect();
                for sum in before {
                    for copies in 1..=i64::from(*most) {
                        sums.insert(sum + copies * size);
                    }
                }
            }
            let expected: Vec<i64> = sums.into_iter().filter(|sum| *sum <= capacity).map(|s| s * 50).collect();
            let found: Vec<i64> = grid.positions().iter().map(|place| place * grid.step).collect();
            prop_assert_eq!(found, expected);
        }
    }
}
