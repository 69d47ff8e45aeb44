//! Short pieces are milled while they still hang together with wood enough to be held.

use super::model::{CutKind, Joined, PlacedPiece, SawCut};
use crate::index::PartIndex;
use crate::job::Shop;
use crate::measure::Length;

/// Parts with pieces on this board that are too short to be milled alone. For each: the cut before which they
/// are milled, and the length of the shortest wood that holds one of them at that time.
pub fn joined(shop: &Shop, length: Length, pieces: &[PlacedPiece], cuts: &[SawCut]) -> Vec<Joined> {
    let least = shop.safety.min_machined_length;
    let short = |piece: &&PlacedPiece| piece.length < least;
    let mut parts: Vec<PartIndex> = pieces.iter().filter(short).map(|piece| piece.part).collect();
    parts.sort_unstable();
    parts.dedup();
    parts.into_iter().map(|part| milled_before(least, length, part, pieces, cuts)).collect()
}

/// The first cut that leaves a piece of a part in wood too short, with the shortest wood before it.
fn milled_before(
    least: Length,
    length: Length,
    part: PartIndex,
    pieces: &[PlacedPiece],
    cuts: &[SawCut],
) -> Joined {
    // Left and right end of the wood that holds each piece.
    let own = pieces.iter().filter(|piece| piece.part == part);
    let mut wood: Vec<_> = own.map(|piece| (piece, Length::ZERO, length)).collect();
    let mut held = length;
    for cut in cuts.iter().filter(|cut| cut.kind != CutKind::Rip) {
        for (piece, left, right) in &mut wood {
            if cut.y0 >= piece.y + piece.width || cut.y1 <= piece.y {
                continue;
            }
            if cut.x1 <= piece.x {
                *left = cut.x1.max(*left);
            } else if cut.x0 >= piece.x + piece.length {
                *right = cut.x0.min(*right);
            }
        }
        let now = wood.iter().map(|(_, left, right)| *right - *left).min().unwrap_or(held);
        if now < least {
            return Joined { part, before_step: cut.step, length: held };
        }
        held = now;
    }
    Joined { part, before_step: cuts.len() as u32 + 1, length: held }
}
