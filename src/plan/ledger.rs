//! The waste ledger: where the wood of all boards goes.

use super::model::{Board, CutKind, Waste};
use crate::job::Job;
use crate::measure::{Area, Overflow, Volume};

/// Adds up the ledger. Pieces beyond the demand, in the order of the boards, count as scrap.
///
/// # Errors
/// If a sum is too large to be held exactly.
pub fn ledger(job: &Job, boards: &[Board]) -> Result<Waste, Overflow> {
    let mut wanted: Vec<u64> = job.parts.iter().map(|part| part.blanks_wanted()).collect();
    let mut waste = Waste::default();
    for board in boards {
        let rough = board.quarter.rough();
        let copies = i128::from(board.copies);
        let of = |area: Area| -> Result<Volume, Overflow> { area.times(rough).checked_times(copies) };
        let whole = Area::of(board.length, board.width);
        let (usable_length, usable_width) = job.shop.usable(board.length, board.width).unwrap_or_default();
        waste.stock += of(whole)?;
        waste.trim += of(whole - Area::of(usable_length, usable_width))?;
        let kerf: Area = board
            .cuts
            .iter()
            .filter(|cut| cut.kind != CutKind::Trim)
            .map(|cut| Area::of(cut.x1 - cut.x0, cut.y1 - cut.y0))
            .sum();
        waste.kerf += of(kerf)?;
        for offcut in &board.offcuts {
            let left = of(Area::of(offcut.length, offcut.width))?;
            if offcut.keep {
                waste.kept_offcuts += left;
            } else {
                waste.scrap += left;
            }
        }
        for piece in &board.pieces {
            let part = &job.parts[piece.part];
            let cut = Area::of(piece.length, piece.width).times(rough);
            let finished = Area::of(part.length, part.blank.width).times(rough);
            // A piece of which a single blank is wanted is needed whole.
            let blanks = u64::from(piece.blanks);
            let needed = wanted[piece.part].div_ceil(blanks).min(u64::from(board.copies));
            wanted[piece.part] = wanted[piece.part].saturating_sub(needed * blanks);
            let surplus = u64::from(board.copies) - needed;
            waste.parts += finished.checked_times(i128::from(needed))?;
            waste.trim += (cut - finished).checked_times(i128::from(needed))?;
            waste.scrap += cut.checked_times(i128::from(surplus))?;
        }
    }
    for part in &job.parts {
        let one = Area::of(part.length, part.width).times(part.thickness);
        waste.finished += one.checked_times(i128::from(part.required))?;
    }
    Ok(waste)
}
