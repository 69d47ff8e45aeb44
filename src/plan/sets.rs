//! Which boards give whole sets of matched pieces, and how the others are put together from few boards.

use std::cmp::Reverse;

use super::model::{Board, Boards};
use super::set_count::{OfSeveral, SetCount};
use crate::index::{BoardIndex, PartIndex};
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
        SetCount { whole: set.wanted - left, of_several: of_several(boards, &set, left), set, from }
    };
    job.sets().into_iter().map(count).collect()
}

/// Boards with pieces that no whole set took.
struct Spare {
    board: BoardIndex,
    /// Pieces of each member of the set.
    pieces: Vec<u64>,
    /// Boards that are left so.
    boards: u64,
}

/// Boards with the pieces of each member that one set takes from them, by place; a place that stands twice gives two.
type Taken = Vec<(usize, Vec<u64>)>;

/// How many boards of a place one set takes.
fn uses_of(taken: &Taken, place: usize) -> u64 {
    taken.iter().filter(|(other, _)| *other == place).count() as u64
}

/// Puts so many sets together from what no whole set took. Each takes the board that gives most of what it lacks, and of
/// those the one with least left over, so that a set comes from few boards.
fn of_several(boards: &Boards, set: &MatchedSet, wanted: u64) -> Vec<OfSeveral> {
    let mut left = wanted;
    let mut spare: Vec<Spare> =
        boards.iter_enumerated().filter_map(|(index, board)| rest_of(index, board, set)).collect();
    let mut found = Vec::new();
    while left > 0 {
        let Some(taken) = taken_for_one(&spare, set) else { break };
        let boards = taken.iter().map(|(place, _)| spare[*place].board).collect();
        let times = taken.iter().map(|(place, _)| spare[*place].boards / uses_of(&taken, *place));
        let alike = times.min().unwrap_or(1).min(left);
        for (place, pieces) in &taken {
            let from = &mut spare[*place];
            from.boards -= alike;
            let rest: Vec<u64> = from.pieces.iter().zip(pieces).map(|(all, taken)| all - taken).collect();
            let board = from.board;
            if rest.iter().any(|pieces| *pieces > 0) {
                spare.push(Spare { board, pieces: rest, boards: alike });
            }
        }
        left -= alike;
        found.push(OfSeveral { boards, sets: alike });
    }
    found
}

/// What whole sets leave of a layout's boards.
fn rest_of(index: BoardIndex, board: &Board, set: &MatchedSet) -> Option<Spare> {
    let whole = set.whole_in(|part| pieces_of(board, part));
    let rest = |(part, each): &(PartIndex, u64)| pieces_of(board, *part) - whole * each;
    let pieces: Vec<u64> = set.members.iter().map(rest).collect();
    let has_any = pieces.iter().any(|pieces| *pieces > 0);
    has_any.then(|| Spare { board: index, pieces, boards: u64::from(board.copies) })
}

/// What one set takes; `None` if there are too few pieces.
fn taken_for_one(spare: &[Spare], set: &MatchedSet) -> Option<Taken> {
    let mut lacking: Vec<u64> = set.members.iter().map(|(_, each)| *each).collect();
    let mut taken = Taken::new();
    while lacking.iter().any(|pieces| *pieces > 0) {
        let useful = |place: usize| -> Vec<u64> {
            spare[place].pieces.iter().zip(&lacking).map(|(pieces, lacking)| *pieces.min(lacking)).collect()
        };
        let is_open = |place: &usize| uses_of(&taken, *place) < spare[*place].boards;
        let key = |place: &usize| {
            let gives: u64 = useful(*place).iter().sum();
            let over = spare[*place].pieces.iter().sum::<u64>() - gives;
            (gives, Reverse(over), Reverse(*place))
        };
        let best = (0..spare.len()).filter(is_open).max_by_key(key)?;
        let pieces = useful(best);
        if pieces.iter().all(|pieces| *pieces == 0) {
            return None;
        }
        lacking.iter_mut().zip(&pieces).for_each(|(lacking, pieces)| *lacking -= pieces);
        taken.push((best, pieces));
    }
    Some(taken)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Panels of three strips, of boards that give 2, 2, 1 and 1 of them: each panel is of two boards, not of three.
    #[test]
    fn a_set_that_no_board_gives_whole_comes_from_few() {
        let part = PartIndex::from(0);
        let set = MatchedSet {
            product: "box".to_string(),
            name: "lid".to_string(),
            is_panel: true,
            members: vec![(part, 3)],
            wanted: 2,
        };
        let spare = |board: usize, pieces: u64, boards: u64| Spare {
            board: board.into(),
            pieces: vec![pieces],
            boards,
        };
        let some = [spare(0, 1, 2), spare(1, 2, 2)];
        assert_eq!(taken_for_one(&some, &set), Some(vec![(1, vec![2]), (0, vec![1])]));
        // One board that has all that is lacking, and then the one with least left over.
        let some = [spare(0, 2, 1), spare(1, 2, 1), spare(2, 1, 1)];
        assert_eq!(taken_for_one(&some, &set), Some(vec![(0, vec![2]), (2, vec![1])]));
        assert_eq!(taken_for_one(&[spare(0, 1, 2)], &set), None);
    }
}
