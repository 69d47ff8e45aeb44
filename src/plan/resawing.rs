//! What is sawn through its thickness after it has left the table saw.

use std::collections::BTreeMap;

use super::model::Plan;
use crate::index::PartIndex;
use crate::job::Job;
use crate::measure::Length;
use crate::trade::Quarter;

/// Pieces of one part and class that are resawn alike.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Resawing {
    /// Index of the job's part.
    pub part: PartIndex,
    /// Class of the boards.
    pub quarter: Quarter,
    /// Pieces that are resawn.
    pub pieces: u64,
    /// Blanks that each of them gives.
    pub blanks: u32,
    /// Between fence and blade: a blank with what is planed off its sawn face.
    pub setting: Length,
}

/// What a plan resaws, by part and class.
pub fn resawing(plan: &Plan, job: &Job) -> Vec<Resawing> {
    let mut alike: BTreeMap<(PartIndex, Quarter, u32), u64> = BTreeMap::new();
    for board in &plan.boards {
        for piece in board.pieces.iter().filter(|piece| piece.blanks > 1) {
            *alike.entry((piece.part, board.quarter, piece.blanks)).or_insert(0) += u64::from(board.copies);
        }
    }
    let resawing = alike.into_iter().map(|((part, quarter, blanks), pieces)| Resawing {
        part,
        quarter,
        pieces,
        blanks,
        setting: job.parts[part].blank.thickness + job.shop.resaw.cleaning,
    });
    resawing.collect()
}
