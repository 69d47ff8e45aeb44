//! Which piece of a size becomes which part: whole sets of matched pieces first, then the neediest part.

use std::collections::BTreeMap;

use crate::index::{PartIndex, SizeIndex, TiVec};
use crate::job::{Job, MatchedSet};
use crate::pattern::{Laid, Pattern};
use crate::solve::Instance;

/// For each piece of a pattern its part and the blanks it is resawn into.
pub type PiecesDealt = Vec<(PartIndex, u32)>;

/// Hands the pieces of a size out to the parts that are cut to it.
pub struct Dealt {
    left: Wanting,
    /// Sets, each with how many of them are still to be had.
    sets: Vec<(MatchedSet, u64)>,
}

/// By size: parts with the pieces they still want.
#[derive(Clone)]
struct Wanting(TiVec<SizeIndex, Vec<(PartIndex, u32)>>);

impl Wanting {
    /// Pieces of a size that a part still wants.
    fn of(&self, size: SizeIndex, part: PartIndex) -> u32 {
        self.0[size].iter().find(|(other, _)| *other == part).map_or(0, |(_, left)| *left)
    }

    /// A part gets so many pieces of a size.
    fn give(&mut self, size: SizeIndex, part: PartIndex, pieces: u32) {
        let wanting = self.0[size].iter_mut().filter(|(other, _)| *other == part);
        wanting.for_each(|(_, left)| *left = left.saturating_sub(pieces));
    }

    /// The part that wants most pieces of a size.
    fn neediest(&self, size: SizeIndex) -> (PartIndex, u32) {
        let wanting = &self.0[size];
        let neediest = (0..wanting.len()).max_by_key(|place| (wanting[*place].1, usize::MAX - place));
        wanting[neediest.unwrap_or(0)]
    }
}

/// What is dealt of one board.
struct OneBoard {
    pieces: Vec<Option<(PartIndex, u32)>>,
    /// By set, how many of it the board gives.
    sets: Vec<u64>,
}

impl Dealt {
    pub fn new(job: &Job, instance: &Instance) -> Dealt {
        let left = instance.sizes.iter().map(|size| size.parts.clone()).collect();
        let with_wanted = |set: MatchedSet| {
            let wanted = set.wanted;
            (set, wanted)
        };
        Dealt { left: Wanting(left), sets: job.sets().into_iter().map(with_wanted).collect() }
    }

    /// Deals the pieces of a pattern to parts. The result holds runs of boards that are alike: for each piece in the
    /// pattern's order its part and the blanks it is resawn into, and how many boards the run has. `blanks` tells what a
    /// piece of a part can be resawn into.
    pub fn deal(
        &mut self,
        pattern: &Pattern,
        copies: u32,
        blanks: impl Fn(PartIndex) -> u32,
    ) -> Vec<(PiecesDealt, u32)> {
        let sizes: Vec<SizeIndex> = pattern.pieces().map(Laid::index).collect();
        let mut dealt = Vec::new();
        let mut open = copies;
        while open > 0 {
            let board = self.one_board(&sizes, &blanks);
            let pieces: PiecesDealt = board.pieces.into_iter().flatten().collect();
            let mut per_part: BTreeMap<(SizeIndex, PartIndex), u32> = BTreeMap::new();
            for (size, (part, many)) in sizes.iter().zip(&pieces) {
                *per_part.entry((*size, *part)).or_insert(0) += many;
            }
            // As many boards as can be alike.
            let of_parts = per_part.iter().map(|((size, part), pieces)| self.left.of(*size, *part) / pieces);
            let of_sets = self.sets.iter().zip(&board.sets).filter(|(_, here)| **here > 0);
            let of_sets = of_sets.map(|((_, left), here)| u32::try_from(left / here).unwrap_or(u32::MAX));
            let alike = of_parts.chain(of_sets).min().unwrap_or(open).clamp(1, open);
            for ((size, part), pieces) in per_part {
                self.left.give(size, part, pieces * alike);
            }
            for ((_, left), here) in self.sets.iter_mut().zip(&board.sets) {
                *left = left.saturating_sub(here * u64::from(alike));
            }
            dealt.push((pieces, alike));
            open -= alike;
        }
        dealt
    }

    /// Deals the pieces of one board.
    fn one_board(&self, sizes: &[SizeIndex], blanks: &impl Fn(PartIndex) -> u32) -> OneBoard {
        let mut left = self.left.clone();
        let mut board = OneBoard { pieces: vec![None; sizes.len()], sets: vec![0; self.sets.len()] };
        for (number, (set, wanted)) in self.sets.iter().enumerate() {
            while board.sets[number] < *wanted && !set.members.iter().any(|(part, _)| blanks(*part) > 1) {
                let Some(places) = places_of(set, sizes, &board.pieces, &left) else { break };
                for (place, part) in places {
                    board.pieces[place] = Some((part, 1));
                    left.give(sizes[place], part, 1);
                }
                board.sets[number] += 1;
            }
        }
        for (size, piece) in sizes.iter().zip(&mut board.pieces).filter(|(_, piece)| piece.is_none()) {
            let (part, wanted) = left.neediest(*size);
            let many = blanks(part).min(wanted).max(1);
            left.give(*size, part, many);
            *piece = Some((part, many));
        }
        board
    }
}

/// The first open pieces of a board, in its order, that make a whole set.
fn places_of(
    set: &MatchedSet,
    sizes: &[SizeIndex],
    pieces: &[Option<(PartIndex, u32)>],
    left: &Wanting,
) -> Option<Vec<(usize, PartIndex)>> {
    let mut places: Vec<(usize, PartIndex)> = Vec::new();
    for (part, each) in &set.members {
        let is_open = |place: &usize| {
            pieces[*place].is_none()
                && u64::from(left.of(sizes[*place], *part)) >= *each
                && places.iter().all(|(taken, _)| taken != place)
        };
        let own: Vec<usize> =
            (0..sizes.len()).filter(is_open).take(usize::try_from(*each).unwrap_or(usize::MAX)).collect();
        if (own.len() as u64) < *each {
            return None;
        }
        places.extend(own.into_iter().map(|place| (place, *part)));
    }
    Some(places)
}
