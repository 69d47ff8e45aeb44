//! Patterns found so far, each once, and the pricing of every shape.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::pattern::Pattern;
use crate::solve::problem::{Blanks, Counts, Instance, blanks_in};

/// A pattern of a shape.
#[derive(Debug, Clone)]
pub struct PoolPattern {
    /// Index of the shape.
    pub shape: usize,
    /// What it gives, resawn where it is.
    pub counts: Counts,
    /// How it is cut.
    pub pattern: Pattern,
}

/// All patterns found so far. They do not depend on prices, so every market shares them.
#[derive(Debug, Clone, Default)]
pub struct Pool {
    /// In the order they were found.
    pub patterns: Vec<PoolPattern>,
    /// Lots that a linear program had a use for: the next one starts with them.
    pub lots: BTreeSet<usize>,
    /// By shape, what is resawn.
    blanks: Arc<[Blanks]>,
    known: BTreeMap<(usize, Counts), usize>,
}

impl Pool {
    /// Knows no pattern of an instance yet.
    pub fn new(instance: &Instance<'_>) -> Pool {
        let blanks = (0..instance.shapes.len()).map(|shape| instance.blanks(shape).clone());
        Pool { blanks: blanks.collect(), ..Pool::default() }
    }

    /// Knows no pattern of the same instance yet.
    pub fn emptied(&self) -> Pool {
        Pool { blanks: self.blanks.clone(), lots: self.lots.clone(), ..Pool::default() }
    }

    /// What a pattern gives once its pieces are resawn.
    pub fn given(&self, shape: usize, pattern: &Pattern) -> Counts {
        let mut counts = pattern.counts();
        if !self.blanks[shape].is_empty() {
            counts.iter_mut().for_each(|(size, n)| *n *= blanks_in(&self.blanks[shape], *size));
        }
        counts
    }

    /// Takes a pattern, unless one of the same shape gives the same pieces; gives its number, and
    /// whether it is new.
    pub fn take(&mut self, shape: usize, pattern: Pattern) -> (usize, bool) {
        let counts = self.given(shape, &pattern);
        let patterns = &mut self.patterns;
        let mut new = false;
        let number = *self.known.entry((shape, counts)).or_insert_with_key(|(shape, counts)| {
            new = true;
            patterns.push(PoolPattern { shape: *shape, counts: counts.clone(), pattern });
            patterns.len() - 1
        });
        (number, new)
    }
}

impl Pool {
    /// Takes one pattern of another pool; gives its number here.
    pub fn adopt(&mut self, other: &Pool, number: usize) -> usize {
        let entry = &other.patterns[number];
        self.take(entry.shape, entry.pattern.clone()).0
    }

    /// Takes all of another pool; gives the number here of each of its patterns.
    pub fn absorb(&mut self, other: &Pool) -> Vec<usize> {
        self.lots.extend(&other.lots);
        (0..other.patterns.len()).map(|number| self.adopt(other, number)).collect()
    }
}
