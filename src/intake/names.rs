//! Names that one file describes and others use: found as they stand, or as people write them.

use std::collections::{BTreeMap, BTreeSet};

use super::cells::{key, nearest};

/// Names that are described.
#[derive(Debug, Clone, Default)]
pub struct Names<'n> {
    exact: BTreeSet<&'n str>,
    by_key: BTreeMap<String, &'n str>,
}

/// What was found for a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found<'n> {
    /// It stands there.
    Exact(&'n str),
    /// This one differs from it by capitals or spaces only.
    Alike(&'n str),
    /// Nothing, but perhaps this was meant.
    Unknown(Option<&'n str>),
}

impl<'n> Names<'n> {
    /// Gathers names.
    pub fn of(names: impl Iterator<Item = &'n str>) -> Names<'n> {
        let exact: BTreeSet<&str> = names.collect();
        let by_key = exact.iter().rev().map(|name| (key(name), *name)).collect();
        Names { exact, by_key }
    }

    /// Is nothing described?
    pub fn is_empty(&self) -> bool {
        self.exact.is_empty()
    }

    /// Looks a name up.
    pub fn find(&self, name: &str) -> Found<'n> {
        if let Some(known) = self.exact.get(name) {
            return Found::Exact(known);
        }
        match self.by_key.get(&key(name)) {
            Some(alike) => Found::Alike(alike),
            None => Found::Unknown(nearest(name, self.exact.iter().copied())),
        }
    }
}
