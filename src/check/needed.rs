//! What a plan says that it leaves open: what measured boards are not enough for, and parts that no board gives.

use super::board::{is_light, trims};
use super::exact;
use super::fault::PlanFault;
use crate::document::{Document, StillNeededEntry};
use crate::job::{BeyondReach, Fit, Job, Offered, Part, Shop};
use crate::measure::{Area, Length};
use crate::trade::{Grade, PartGrain, Quarter, SheetGrain, same_species};

/// The job without the parts that the plan leaves open. A job with dealers leaves open only parts that nobody's board
/// gives, and those whole: the dealers sell what else is missing.
pub fn as_the_plan_leaves(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) -> Option<Job> {
    if document.still_needed.is_empty() {
        return None;
    }
    let mut fault = |text: String| faults.push(PlanFault::new("still_needed", text));
    let mut left = job.clone();
    // At a yard there may be dealers of sheets alone.
    let sold = |is_sheet: bool| job.lines.iter().any(|line| line.quarter.is_sheet() == is_sheet);
    for (place, entry) in document.still_needed.iter().enumerate() {
        let name = format!("{} / {}", entry.product, entry.part);
        let is_same = |product: &str, part: &str| product == entry.product && part == entry.part;
        if document.still_needed[..place].iter().any(|other| is_same(&other.product, &other.part)) {
            fault(format!("names {name} twice"));
            continue;
        }
        match left.parts.iter_mut().find(|part| is_same(&part.product, &part.part)) {
            Some(part) if (1..=part.required).contains(&entry.parts) => {
                if sold(part.sheet.is_some()) && (entry.parts < part.required || something_gives(job, part)) {
                    fault(format!("leaves {name} open, and there are boards that give it"));
                }
                if !tells_least_board(entry, part, &job.shop) {
                    fault(format!("does not tell the least board for {name}"));
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

/// Is what is said of the least board so: one blank with its trims, in a class that gives the thickness?
fn tells_least_board(entry: &StillNeededEntry, part: &Part, shop: &Shop) -> bool {
    let (blank, is_sheet) = (&part.blank, part.sheet.is_some());
    let (end, edge) = trims(shop, is_sheet, false);
    let (length, width) = (exact(entry.least_length, shop.unit), exact(entry.least_width, shop.unit));
    let quarter = entry.quarter.as_deref().map(Quarter::parse);
    let thick_enough = |class: Quarter| match is_sheet {
        true => class.is_sheet() && class.rough() == blank.thickness,
        false => shop.dressed(class, blank.cut_length) >= blank.thickness,
    };
    let tallied = quarter.flatten().map_or(blank.thickness, Quarter::tallied);
    let feet = Area::of(length, width).times(tallied).board_feet_f64() * entry.blanks as f64;
    let feet = if is_sheet { 0.0 } else { feet };
    length == blank.cut_length + end * 2
        && width == blank.cut_width + edge * 2
        && quarter.is_none_or(|class| class.is_some_and(thick_enough))
        && (entry.board_feet - feet).abs() <= 1e-6 * feet.max(1.0)
        && entry.species == part.species
        && Grade::parse(&entry.grade) == Some(part.grade)
}

/// Is there a board that gives a blank of the part, or of one that may be glued the narrowest strip?
fn something_gives(job: &Job, part: &Part) -> bool {
    let (shop, blank) = (&job.shop, &part.blank);
    if part.sheet.is_some() {
        return some_sheet_gives(job, part);
    }
    let refused = shop.saw.beyond_reach == BeyondReach::Refuse
        && (blank.cut_width > shop.saw.max_rip_width
            || (part.fit != Fit::ToWork && blank.cut_length > shop.saw.longest_crosscut()));
    let width = if part.glue_up && shop.glue.panels {
        let strip = shop.glue.narrowest_strip + shop.milling.width_allowance + shop.glue.joint_allowance * 2;
        strip.min(blank.cut_width)
    } else {
        blank.cut_width
    };
    let lines = job.lines.iter().filter(|line| line.available != Some(0));
    let offered =
        lines.flat_map(|line| line.all_offered()).chain(job.rack.iter().map(|board| board.offered()));
    let gives = |board: &Offered<'_>| {
        let (end, edge) = trims(shop, false, board.trimmed);
        board.length - end * 2 >= blank.cut_length && board.width - edge * 2 >= width
    };
    let mut offered = offered.filter(|board| {
        same_species(board.species, &part.species)
            && !board.quarter.is_sheet()
            && board.grade <= part.grade
            && shop.dressed(board.quarter, blank.cut_length) >= blank.thickness
    });
    !refused && offered.any(|board| gives(&board))
}

/// Is there a sheet that gives the part, whichever way it may lie?
fn some_sheet_gives(job: &Job, part: &Part) -> bool {
    let Some(asked) = &part.sheet else { return false };
    let blank = &part.blank;
    let lines = job.lines.iter().filter(|line| line.available != Some(0)).map(|line| line.offered());
    let mut offered = lines.chain(job.rack.iter().map(|board| board.offered()));
    offered.any(|sheet| {
        let (end, edge) = trims(&job.shop, true, sheet.trimmed);
        let (long, wide) = (sheet.length - end * 2, sheet.width - edge * 2);
        // A strip of the whole length or a section of the whole width is lifted to be cut up.
        let is_lifted = |area: Area| is_light(&job.shop, sheet.quarter, area);
        let lies = |along: Length, across: Length| {
            let fits = long >= along && wide >= across;
            fits && (is_lifted(Area::of(long, across)) || is_lifted(Area::of(along, wide)))
        };
        let straight = lies(blank.cut_length, blank.cut_width);
        let turned = lies(blank.cut_width, blank.cut_length);
        let lies = match (asked.grain, sheet.sheet.grain) {
            (PartGrain::Any, _) | (_, SheetGrain::None) => straight || turned,
            (PartGrain::Along, SheetGrain::Along) | (PartGrain::Across, SheetGrain::Across) => straight,
            (PartGrain::Along, SheetGrain::Across) | (PartGrain::Across, SheetGrain::Along) => turned,
        };
        sheet.quarter.is_sheet()
            && same_species(sheet.species, &part.species)
            && (asked.core.is_empty() || same_species(&asked.core, &sheet.sheet.core))
            && sheet.grade <= part.grade
            && [sheet.quarter.rough(), sheet.real_thickness()].contains(&part.thickness)
            && lies
    })
}
