//! The waste ledgers: where the wood of all boards goes, and where the area of all sheets.

use super::model::{Boards, CutKind, Waste};
use crate::index::{PartIndex, TiVec};
use crate::job::{Job, Part};
use crate::measure::{Area, Length, Overflow, Volume};

/// Adds up the ledger of the lumber, and that of the sheets as if each were an inch thick. Pieces beyond the demand, in the order of the boards, count as scrap.
///
/// # Errors
/// If a sum is too large to be held exactly.
pub fn ledger(job: &Job, boards: &Boards) -> Result<(Waste, Waste), Overflow> {
    let mut wanted: TiVec<PartIndex, u64> = job.parts.iter().map(|part| part.blanks_wanted()).collect();
    let (mut lumber, mut sheets) = (Waste::default(), Waste::default());
    let inch = Length::inches(1);
    for board in boards {
        let is_sheet = board.quarter.is_sheet();
        let waste = if is_sheet { &mut sheets } else { &mut lumber };
        let rough = if is_sheet { inch } else { board.quarter.rough() };
        let copies = i128::from(board.copies);
        let of = |area: Area| -> Result<Volume, Overflow> { area.times(rough).checked_times(copies) };
        let whole = Area::of(board.length, board.width);
        let sawing = job.shop.sawing_of(board.quarter, board.trimmed);
        let (usable_length, usable_width) = sawing.usable(board.length, board.width).unwrap_or_default();
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
            let finished = covered(part).times(rough);
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
        let area = Area::of(part.length, part.width);
        let (waste, thickness) =
            if part.sheet.is_some() { (&mut sheets, inch) } else { (&mut lumber, part.thickness) };
        waste.finished += area.times(thickness).checked_times(i128::from(part.required))?;
    }
    Ok((lumber, sheets))
}

/// What of a piece is in the finished part: of a sheet without what is glued on its edges.
fn covered(part: &Part) -> Area {
    let edges = part.sheet.as_ref().map(|sheet| sheet.edges).unwrap_or_default();
    Area::of(part.length.saturating_sub(edges.along()), part.blank.width.saturating_sub(edges.across()))
}
