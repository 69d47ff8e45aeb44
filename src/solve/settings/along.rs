//! Layouts that are sawn along with others, because they need no setting that those do not.

use std::collections::{BTreeMap, BTreeSet};

/// For each layout, the layout that it is sawn along with, if there is one: a layout of the same kind of
/// boards that is sawn at all of its settings. A layout without settings needs no other.
pub fn sawn_along<K: Ord, S: Ord>(layouts: &[(&K, &BTreeSet<S>)]) -> Vec<Option<usize>> {
    let mut kinds: BTreeMap<&K, Vec<usize>> = BTreeMap::new();
    for (layout, (kind, _)) in layouts.iter().enumerate().filter(|(_, (_, settings))| !settings.is_empty()) {
        kinds.entry(kind).or_default().push(layout);
    }
    let settings = |layout: usize| layouts[layout].1;
    let mut along = vec![None; layouts.len()];
    for mut alike in kinds.into_values() {
        // Those that need most lead the others, and the first of those that need the same.
        alike.sort_by_key(|layout| (std::cmp::Reverse(settings(*layout).len()), *layout));
        let mut leaders: Vec<usize> = Vec::new();
        for layout in alike {
            let leads = |leader: &usize| settings(layout).is_subset(settings(*leader));
            along[layout] = leaders.iter().copied().find(leads);
            if along[layout].is_none() {
                leaders.push(layout);
            }
        }
    }
    along
}
