//! Sets of matched pieces: how many come whole from one board.

use std::collections::BTreeMap;

use super::fault::PlanFault;
use crate::document::{Document, SetEntry};
use crate::job::{Job, MatchedSet};

/// Every set of the job is told once, with the sets that single boards give.
pub fn check_sets(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    if document.is_bare() {
        return;
    }
    let expected = job.sets().into_iter().map(|set| {
        let whole = whole_sets(document, job, &set);
        let pieces = set.members.iter().map(|(_, each)| each).sum();
        SetEntry {
            product: set.product,
            set: set.name,
            panel: set.is_panel,
            pieces,
            wanted: set.wanted,
            whole,
        }
    });
    if !expected.eq(document.sets.iter().cloned()) {
        faults.push(PlanFault::new("sets", "are not those of the job as its boards give them"));
    }
    let all: u64 = document.sets.iter().map(|set| set.whole).sum();
    if document.matching.as_ref().is_some_and(|matching| matching.paid && matching.whole != all) {
        faults.push(PlanFault::new("matching", "does not count the sets that come whole"));
    }
}

fn whole_sets(document: &Document, job: &Job, set: &MatchedSet) -> u64 {
    let mut whole = 0_u64;
    for board in &document.boards {
        let mut pieces: BTreeMap<(&str, &str), u64> = BTreeMap::new();
        for piece in &board.pieces {
            *pieces.entry((&piece.product, &piece.part)).or_insert(0) += u64::from(piece.blanks);
        }
        let mut from_each = u64::MAX;
        for (part, each) in &set.members {
            let part = &job.parts[*part];
            let cut = pieces.get(&(part.product.as_str(), part.part.as_str())).copied().unwrap_or(0);
            from_each = from_each.min(cut / each);
        }
        whole = whole.saturating_add(from_each.saturating_mul(u64::from(board.copies)));
    }
    whole.min(set.wanted)
}
