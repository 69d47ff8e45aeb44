//! Short pieces are milled while they still hang together with wood enough to be held.

use super::model::{CutKind, Joined, PlacedPiece, SawCut};
use crate::job::Shop;
use crate::measure::Length;

/// For each part with pieces on this board that are too short to be milled alone: the cut before which
/// they are milled, and the length of the shortest wood that then still holds one of them.
pub fn joined(shop: &Shop, length: Length, pieces: &[PlacedPiece], cuts: &[SawCut]) -> Vec<Joined> {
    let least = shop.safety.min_machined_length;
    let short = |piece: &&PlacedPiece| piece.length < least;
    let mut parts: Vec<usize> = pieces.iter().filter(short).map(|piece| piece.part).collect();
    parts.sort_unstable();
    parts.dedup();
    let last = cuts.len() as u32 + 1;
    let of_part = |part: usize| {
        let own = || pieces.iter().filter(|piece| piece.part == part);
        let held = |before: u32| own().map(|piece| wood_around(length, piece, cuts, before)).min();
        // The first cut that leaves a piece in wood too short.
        let before_step =
            (1..last).find(|step| held(step + 1).is_some_and(|held| held < least)).unwrap_or(last);
        Joined { part, before_step, length: held(before_step).unwrap_or(length) }
    };
    parts.into_iter().map(of_part).collect()
}

/// Length of the wood that holds a piece before a cut.
fn wood_around(length: Length, piece: &PlacedPiece, cuts: &[SawCut], before: u32) -> Length {
    let (mut left, mut right) = (Length::ZERO, length);
    let beside = cuts
        .iter()
        .filter(|cut| cut.y0 < piece.y + piece.width && cut.y1 > piece.y && cut.kind != CutKind::Rip);
    for cut in beside.filter(|cut| cut.step < before) {
        if cut.x1 <= piece.x {
            left = left.max(cut.x1);
        } else if cut.x0 >= piece.x + piece.length {
            right = right.min(cut.x0);
        }
    }
    right - left
}
