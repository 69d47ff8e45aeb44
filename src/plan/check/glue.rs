//! The job with glued parts made of as many strips or layers as the plan says.

use super::boards::{MOST_GLUED, entry_of};
use super::exact;
use crate::job::{Glued, GluedKind, Job, Part};
use crate::plan::document::Document;

/// The job as the plan glues it, where that is not how the job was read. What the shop's limits do not
/// allow stays as it was read, so that the check that follows finds it.
pub fn as_the_plan_glues(document: &Document, job: &Job) -> Option<Job> {
    let (unit, limits) = (job.shop.unit, &job.shop.glue);
    let mut changed: Option<Job> = None;
    for (place, part) in job.parts.iter().enumerate() {
        // A part that was read whole may be glued where that is cheaper.
        let Some(glued) = part.glued.clone().or_else(|| limits.where_cheaper.then(|| whole(part))) else {
            continue;
        };
        let Some(entry) = entry_of(document, part).and_then(|entry| entry.glued.as_ref()) else { continue };
        let (width, thickness) = (exact(entry.piece_width, unit), exact(entry.piece_thickness, unit));
        let kind = match entry.kind.as_str() {
            "panel" if limits.panels && part.glue_up && thickness == glued.thickness => {
                (limits.narrowest_strip..=limits.widest_strip).contains(&width).then_some(GluedKind::Panel)
            }
            "lamination" if limits.laminate && width == glued.width => Some(GluedKind::Lamination),
            _ => None,
        };
        let (Some(kind), 2..=MOST_GLUED) = (kind, entry.pieces) else { continue };
        let as_read = (glued.kind, glued.pieces, part.width, part.thickness);
        if part.glued.is_some() && (kind, entry.pieces, width, thickness) == as_read {
            continue;
        }
        let part = &mut changed.get_or_insert_with(|| job.clone()).parts[place];
        (part.width, part.thickness) = (width, thickness);
        part.required = glued.parts.saturating_mul(u64::from(entry.pieces));
        part.cut_width = width + limits.joint_allowance * 2 + job.shop.milling.width_allowance;
        part.glued = Some(Glued { kind, pieces: entry.pieces, ..glued });
    }
    changed
}

/// A whole part as if it were glued of one piece.
fn whole(part: &Part) -> Glued {
    Glued {
        kind: GluedKind::Panel,
        pieces: 1,
        parts: part.required,
        width: part.width,
        thickness: part.thickness,
        of_all_ways: false,
    }
}
