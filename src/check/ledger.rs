//! Where the wood goes, re-added: the lumber by volume, the sheets by area.

use super::board::{Replay, trims};
use super::exact;
use super::fault::PlanFault;
use crate::document::{BoardEntry, Document};
use crate::index::{PartIndex, TiSlice};
use crate::job::{Edges, Job, SheetPart};
use crate::measure::{Area, Length, Volume};
use crate::trade::Quarter;

/// Largest difference between a printed board-foot number and the true one.
const LEDGER_SLACK: f64 = 2e-6;

/// The ledger of the lumber, or of the sheets, re-added.
#[derive(Debug, Default)]
pub struct LedgerSums {
    stock: Volume,
    parts: Volume,
    kerf: Volume,
    trim: Volume,
    kept: Volume,
    scrap: Volume,
}

impl LedgerSums {
    /// Adds a board; `cut` counts the pieces of each part so far.
    pub fn add(
        &mut self,
        job: &Job,
        board: &BoardEntry,
        (quarter, trimmed): (Quarter, bool),
        replayed: &Replay,
        parts: &[(PartIndex, u64)],
        cut: &mut TiSlice<PartIndex, u64>,
    ) {
        let unit = job.shop.unit;
        let is_sheet = quarter.is_sheet();
        // Of sheets the area counts.
        let rough = if is_sheet { Length::inches(1) } else { quarter.rough() };
        let times = |area: Area, copies: u64| {
            area.times(rough).checked_times(i128::from(copies)).unwrap_or(Volume::ZERO)
        };
        let copies = u64::from(board.copies);
        let (length, width) = (exact(board.length, unit), exact(board.width, unit));
        let whole = Area::of(length, width);
        let (end, edge) = trims(&job.shop, is_sheet, trimmed);
        let usable = Area::of(length.saturating_sub(end * 2), width.saturating_sub(edge * 2));
        self.stock += times(whole, copies);
        self.trim += times(whole - usable, copies);
        for kerf in &replayed.kerf {
            self.kerf += times(Area::of(kerf.x1 - kerf.x0, kerf.y1 - kerf.y0), copies);
        }
        for offcut in &board.offcuts {
            let area = Area::of(exact(offcut.length, unit), exact(offcut.width, unit));
            let sum = if offcut.keep { &mut self.kept } else { &mut self.scrap };
            *sum += times(area, copies);
        }
        for (index, blanks) in parts {
            let part = &job.parts[*index];
            let entry =
                board.pieces.iter().find(|piece| piece.product == part.product && piece.part == part.part);
            let Some(entry) = entry else { continue };
            let size = Area::of(exact(entry.length, unit), exact(entry.width, unit));
            let finished = match &part.sheet {
                None => Area::of(part.length, part.blank.width),
                Some(SheetPart { edges: Edges([front, back, left, right]), .. }) => {
                    Area::of(part.length - *left - *right, part.width - *front - *back)
                }
            };
            let lacking = part.blanks_wanted().saturating_sub(cut[*index]);
            let needed = lacking.div_ceil((*blanks).max(1)).min(copies);
            cut[*index] = cut[*index].saturating_add(copies * blanks);
            self.parts += times(finished, needed);
            self.trim += times(size - finished, needed);
            self.scrap += times(size, copies - needed);
        }
    }

    pub fn compare(&self, document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
        let waste = &document.waste;
        let lumber = job.parts.iter().filter(|part| part.sheet.is_none());
        let finished = lumber.fold(Volume::ZERO, |sum, part| {
            let one = Area::of(part.length, part.width).times(part.thickness);
            // More than can be held is no volume of a plan: the comparison then fails.
            sum + one.checked_times(i128::from(part.required)).unwrap_or(Volume::ZERO)
        });
        let printed = [
            waste.stock_bf,
            waste.parts_bf,
            waste.kerf_bf,
            waste.trim_bf,
            waste.kept_offcuts_bf,
            waste.scrap_bf,
        ];
        self.compare_with(("waste", "bf"), printed, faults);
        // Plans of older versions do not tell it.
        let told = waste.finished_bf.unwrap_or(finished.board_feet_f64());
        differs("waste.finished_bf", told, finished, faults);
    }

    /// Where there are no sheets, the plan says nothing of them.
    pub fn compare_sheets(&self, document: &Document, faults: &mut Vec<PlanFault>) {
        let Some(waste) = &document.sheet_waste else {
            if self.stock != Volume::ZERO {
                faults.push(PlanFault::new("sheet_waste", "is missing, and there are sheets"));
            }
            return;
        };
        let printed = [
            waste.stock_ft2,
            waste.parts_ft2,
            waste.kerf_ft2,
            waste.trim_ft2,
            waste.kept_offcuts_ft2,
            waste.scrap_ft2,
        ];
        self.compare_with(("sheet_waste", "ft2"), printed, faults);
    }

    fn compare_with(&self, (place, unit): (&str, &str), printed: [f64; 6], faults: &mut Vec<PlanFault>) {
        let sums = [
            ("stock", self.stock),
            ("parts", self.parts),
            ("kerf", self.kerf),
            ("trim", self.trim),
            ("kept_offcuts", self.kept),
            ("scrap", self.scrap),
        ];
        for (printed, (name, sum)) in printed.into_iter().zip(sums) {
            differs(&format!("{place}.{name}_{unit}"), printed, sum, faults);
        }
        if (printed[1..].iter().sum::<f64>() - printed[0]).abs() > LEDGER_SLACK {
            faults.push(PlanFault::new(place, "has parts that do not add up to the stock"));
        }
    }
}

fn differs(name: &str, printed: f64, sum: Volume, faults: &mut Vec<PlanFault>) {
    let difference = (printed - sum.board_feet_f64()).abs();
    if difference.is_nan() || difference > LEDGER_SLACK * 5.0 {
        let text = format!("is {printed}, and the boards add up to {}", sum.board_feet_f64());
        faults.push(PlanFault::new(name, text));
    }
}
