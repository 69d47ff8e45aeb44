//! The job with glued parts made of as many strips or layers as the plan says.

use super::demand::{MOST_GLUED, entries_of};
use super::exact;
use crate::document::Document;
use crate::job::{Job, Make};

/// The job as the plan glues it, where that is not how the job was read. What the shop's limits do not
/// allow stays as it was read, so that the check that follows finds it.
pub fn as_the_plan_glues(document: &Document, job: &Job) -> Option<Job> {
    let (unit, limits) = (job.shop.unit, &job.shop.glue);
    let mut changed: Option<Job> = None;
    let entries = entries_of(document);
    for (place, part) in job.parts.iter_enumerated() {
        // A part that was read whole may be glued where that is cheaper.
        if !part.blank.make.is_glued() && !limits.where_cheaper {
            continue;
        }
        let entry = entries.get(&(part.product.as_str(), part.part.as_str()));
        let Some(entry) = entry.and_then(|entry| entry.glued.as_ref()) else { continue };
        let (width, thickness) = (exact(entry.piece_width, unit), exact(entry.piece_thickness, unit));
        let make = match entry.kind.as_str() {
            "panel" if limits.panels && part.glue_up && thickness == part.thickness => {
                let allowed = (limits.narrowest_strip..=limits.widest_strip).contains(&width);
                allowed.then_some(Make::Panel(entry.pieces))
            }
            "lamination" if limits.laminate && width == part.width => Some(Make::Lamination(entry.pieces)),
            _ => None,
        };
        let (Some(make), 2..=MOST_GLUED) = (make, entry.pieces) else { continue };
        if (make, width, thickness) == (part.blank.make, part.blank.width, part.blank.thickness) {
            continue;
        }
        let blank = &mut changed.get_or_insert_with(|| job.clone()).parts[place].blank;
        (blank.make, blank.width, blank.thickness) = (make, width, thickness);
        blank.cut_width = width + limits.joint_allowance * 2 + job.shop.milling.width_allowance;
    }
    changed
}
