//! Which boards give whole sets of matched pieces.

use super::model::{Board, Boards};
use super::set_count::SetCount;
use crate::index::PartIndex;
use crate::job::{Job, MatchedSet};

/// Pieces of a part on one board; one that is resawn counts as its blanks.
fn pieces_of(board: &Board, part: PartIndex) -> u64 {
    board.pieces.iter().filter(|piece| piece.part == part).map(|piece| u64::from(piece.blanks)).sum()
}

/// Counts the whole sets of a plan's boards.
pub fn sets_of(job: &Job, boards: &Boards) -> Vec<SetCount> {
    let count = |set: MatchedSet| {
        let mut from = Vec::new();
        let mut left = set.wanted;
        for (index, board) in boards.iter_enumerated() {
            let each = set.whole_in(|part| pieces_of(board, part));
            let whole = each.saturating_mul(u64::from(board.copies)).min(left);
            if whole > 0 {
                left -= whole;
                from.push((index, whole));
            }
        }
        SetCount { whole: set.wanted - left, set, from }
    };
    job.sets().into_iter().map(count).collect()
}
