//! Patterns found so far, each once, and the pricing of every shape.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::index::{LotIndex, PatternIndex, ShapeIndex, TiVec};
use crate::pattern::Pattern;
use crate::solve::problem::{Blanks, Counts, Instance, after_resawing};

/// A pattern of a shape.
#[derive(Debug, Clone)]
pub struct PoolPattern {
    /// Index of the shape.
    pub shape: ShapeIndex,
    /// What it gives, resawn where it is.
    pub counts: Counts,
    /// How it is cut.
    pub pattern: Pattern,
}

/// All patterns found so far. They do not depend on prices, so every market shares them.
#[derive(Debug, Clone, Default)]
pub struct Pool {
    /// In the order they were found.
    pub patterns: TiVec<PatternIndex, PoolPattern>,
    /// Lots that a linear program had a use for: the next one starts with them.
    pub lots: BTreeSet<LotIndex>,
    /// By shape, what is resawn.
    blanks: Arc<TiVec<ShapeIndex, Blanks>>,
    known: BTreeMap<(ShapeIndex, Counts), PatternIndex>,
}

impl Pool {
    /// Knows no pattern of an instance yet.
    pub fn new(instance: &Instance) -> Pool {
        let blanks = instance.shapes.keys().map(|shape| instance.blanks(shape).clone());
        Pool { blanks: Arc::new(blanks.collect()), ..Pool::default() }
    }

    /// Knows no pattern of the same instance yet.
    pub fn emptied(&self) -> Pool {
        Pool { blanks: self.blanks.clone(), lots: self.lots.clone(), ..Pool::default() }
    }

    /// What a pattern gives once its pieces are resawn.
    pub fn given(&self, shape: ShapeIndex, pattern: &Pattern) -> Counts {
        after_resawing(&self.blanks[shape], pattern.counts())
    }

    /// Takes a pattern, unless one of the same shape gives the same pieces; gives its number, and
    /// whether it is new.
    pub fn take(&mut self, shape: ShapeIndex, pattern: Pattern) -> (PatternIndex, bool) {
        let counts = self.given(shape, &pattern);
        let patterns = &mut self.patterns;
        let mut new = false;
        let number = *self.known.entry((shape, counts)).or_insert_with_key(|(shape, counts)| {
            new = true;
            patterns.push_and_get_key(PoolPattern { shape: *shape, counts: counts.clone(), pattern })
        });
        (number, new)
    }
}

impl Pool {
    /// Takes one pattern of another pool; gives its number here.
    pub fn adopt(&mut self, other: &Pool, number: PatternIndex) -> PatternIndex {
        let entry = &other.patterns[number];
        self.take(entry.shape, entry.pattern.clone()).0
    }

    /// Takes all of another pool; gives the number here of each of its patterns.
    pub fn absorb(&mut self, other: &Pool) -> TiVec<PatternIndex, PatternIndex> {
        self.lots.extend(&other.lots);
        other.patterns.keys().map(|number| self.adopt(other, number)).collect()
    }
}
