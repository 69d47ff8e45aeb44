//! What a plan says that it leaves open: what measured boards are not enough for, and parts that no board gives.

use super::fault::PlanFault;
use crate::document::Document;
use crate::job::{BeyondReach, Fit, Job, Part};
use crate::measure::Length;
use crate::trade::same_species;

/// The job without the parts that the plan leaves open. A job with dealers leaves open only parts that nobody's board
/// gives, and those whole: the dealers sell what else is missing.
pub fn as_the_plan_leaves(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) -> Option<Job> {
    if document.still_needed.is_empty() {
        return None;
    }
    let mut fault = |text: String| faults.push(PlanFault::new("still_needed", text));
    let mut left = job.clone();
    for (place, entry) in document.still_needed.iter().enumerate() {
        let name = format!("{} / {}", entry.product, entry.part);
        let is_same = |product: &str, part: &str| product == entry.product && part == entry.part;
        if document.still_needed[..place].iter().any(|other| is_same(&other.product, &other.part)) {
            fault(format!("names {name} twice"));
            continue;
        }
        match left.parts.iter_mut().find(|part| is_same(&part.product, &part.part)) {
            Some(part) if (1..=part.required).contains(&entry.parts) => {
                if !job.lines.is_empty() && (entry.parts < part.required || something_gives(job, part)) {
                    fault(format!("leaves {name} open, and there are boards that give it"));
                }
                part.required -= entry.parts;
                if entry.blanks != entry.parts.saturating_mul(u64::from(part.blank.make.pieces())) {
                    fault(format!("does not count what is sawn for {name}"));
                }
            }
            _ => fault(format!("leaves more of {name} open than are wanted")),
        }
    }
    Some(left)
}

/// Is there a board that gives a blank of the part, or of one that may be glued the narrowest strip?
fn something_gives(job: &Job, part: &Part) -> bool {
    let (shop, blank) = (&job.shop, &part.blank);
    let refused = shop.saw.beyond_reach == BeyondReach::Refuse
        && (blank.cut_width > shop.saw.max_rip_width
            || (part.fit != Fit::ToWork && blank.cut_length > shop.saw.longest_crosscut()));
    let width = if part.glue_up && shop.glue.panels {
        let strip = shop.glue.narrowest_strip + shop.milling.width_allowance + shop.glue.joint_allowance * 2;
        strip.min(blank.cut_width)
    } else {
        blank.cut_width
    };
    let (end, edge) = (shop.milling.end_trim * 2, shop.milling.edge_trim * 2);
    let lines = job.lines.iter().filter(|line| line.available != Some(0));
    let offered =
        lines.flat_map(|line| line.all_offered()).chain(job.rack.iter().map(|board| board.offered()));
    let gives = |length: Length, wide: Length| length - end >= blank.cut_length && wide - edge >= width;
    let mut offered = offered.filter(|board| {
        same_species(board.species, &part.species)
            && board.grade <= part.grade
            && shop.dressed(board.quarter, blank.cut_length) >= blank.thickness
    });
    !refused && offered.any(|board| gives(board.length, board.width))
}
