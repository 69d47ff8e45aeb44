//! Are all parts cut, and are glued ones made as they may be?

use std::collections::BTreeMap;

use super::exact;
use super::fault::PlanFault;
use crate::document::{Document, PartEntry};
use crate::index::{PartIndex, TiSlice};
use crate::job::{Edges, Job, Make, Part};
use crate::measure::Length;

/// What the plan says of each part, by product and part.
pub fn entries_of(document: &Document) -> BTreeMap<(&str, &str), &PartEntry> {
    let mut entries = BTreeMap::new();
    for entry in &document.parts {
        entries.entry((entry.product.as_str(), entry.part.as_str())).or_insert(entry);
    }
    entries
}

pub fn check_demand(
    document: &Document,
    job: &Job,
    cut: &TiSlice<PartIndex, u64>,
    faults: &mut Vec<PlanFault>,
) {
    let entries = entries_of(document);
    for (part, cut) in job.parts.iter().zip(cut) {
        let name = format!("{} / {}", part.product, part.part);
        let wanted = part.blanks_wanted();
        if *cut < wanted {
            let text = match part.blank.make {
                Make::Whole => format!("are {cut} of {name}, and {wanted} are wanted"),
                make => format!(
                    "are {cut} {} for {name}, and {} parts of {} are wanted",
                    make.words().1,
                    part.required,
                    make.pieces()
                ),
            };
            faults.push(PlanFault::new("boards", text));
        }
        let entry = entries.get(&(part.product.as_str(), part.part.as_str())).copied();
        if let Some(entry) = entry {
            check_glued(entry, part, job, faults);
        }
        let edges = part.sheet.as_ref().map(|sheet| sheet.edges).unwrap_or_default();
        let said = entry.and_then(|entry| entry.edges).unwrap_or_default();
        if Edges(said.map(|edge| exact(edge, job.shop.unit))) != edges {
            faults.push(PlanFault::new("parts", format!("does not edge {name} as the job says")));
        }
        match entry {
            Some(entry) if entry.required == wanted && entry.cut == *cut => {}
            _ => faults.push(PlanFault::new("parts", format!("does not count {name} as it is cut"))),
        }
    }
    if document.parts.len() != job.parts.len() {
        faults.push(PlanFault::new("parts", "does not list each wanted part once"));
    }
}

/// Strips or layers of one part that a plan may name.
pub const MOST_GLUED: u32 = 1_000;

/// Enough strips or layers, and large enough, for every glued part.
fn check_glued(entry: &PartEntry, part: &Part, job: &Job, faults: &mut Vec<PlanFault>) {
    let place = format!("the glue-up {} / {}", part.product, part.part);
    let entry = match (&entry.glued, part.blank.make.is_glued()) {
        (None, false) => return,
        (Some(entry), true) => entry,
        _ => {
            faults.push(PlanFault::new(place, "is not told from a part that is cut whole"));
            return;
        }
    };
    if entry.pieces > MOST_GLUED {
        faults.push(PlanFault::new(place, "has more pieces in each part than can be glued"));
        return;
    }
    let pieces = i64::from(entry.pieces);
    let number = |value: f64| exact(value, job.shop.unit);
    let sum = match entry.kind.as_str() {
        "panel" => (number(entry.piece_width) * pieces, number(entry.piece_thickness)),
        "lamination" => (number(entry.piece_width), number(entry.piece_thickness) * pieces),
        _ => (Length::ZERO, Length::ZERO),
    };
    let wanted = (number(entry.width), number(entry.thickness));
    if wanted != (part.width, part.thickness) || sum.0 < wanted.0 || sum.1 < wanted.1 {
        faults.push(PlanFault::new(place.clone(), "does not come to the part's finished size"));
    }
    // A joint takes nothing off the other way.
    let other_way = match entry.kind.as_str() {
        "panel" => sum.1 == wanted.1,
        _ => sum.0 == wanted.0,
    };
    if !other_way {
        faults.push(PlanFault::new(place.clone(), "is of pieces that do not have the part's own size"));
    }
    if entry.parts != part.required || entry.pieces != part.blank.make.pieces() {
        faults.push(PlanFault::new(place, "does not have the pieces of all parts wanted"));
    }
}
