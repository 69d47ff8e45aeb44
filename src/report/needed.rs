//! What a plan leaves open, as lists and pages say it.

use serde::Serialize;

use super::measured::{area, unit_of_area, volume};
use crate::job::{Job, LeastBoard, Make, StillNeeded};
use crate::plan::Plan;

/// Parts of one name that a plan leaves open, and the least board that gives one blank of them.
#[derive(Debug, Clone, Serialize)]
pub struct Needed {
    pub species: String,
    /// The thinnest class that is thick enough.
    pub class: String,
    /// The lowest acceptable grade.
    pub grade: String,
    /// The least width.
    pub width: String,
    /// The least length.
    pub length: String,
    /// Board feet of so many of the least boards.
    pub feet: f64,
    /// The same in the shop's unit.
    pub measured: String,
    /// What they are for.
    pub what: String,
}

impl Needed {
    /// Everything that a plan leaves open, by species and class.
    pub fn of(plan: &Plan, job: &Job) -> Vec<Needed> {
        let one = |open: &StillNeeded| {
            let part = &job.parts[open.part];
            let least = LeastBoard::of(&job.shop, part);
            let glued = match part.blank.make {
                Make::Whole => String::new(),
                make => format!(", {} {}", open.blanks(job), make.words().1),
            };
            Needed {
                species: part.species.clone(),
                class: least.quarter.map_or("thicker".to_string(), |quarter| quarter.to_string()),
                grade: part.grade.to_string(),
                width: least.width.display(plan.unit).to_string(),
                length: least.length.display_feet(plan.unit).to_string(),
                feet: open.board_feet(job),
                measured: match open.square_feet(job) {
                    Some(feet) => format!("{} {}", area(feet, plan.unit), unit_of_area(plan.unit)),
                    None => volume(open.board_feet(job), plan.unit),
                },
                what: format!("{} {} of {}{glued}", open.parts, part.part, part.product),
            }
        };
        let mut all: Vec<Needed> = plan.still_needed.iter().map(one).collect();
        all.sort_by(|one, other| (&one.species, &one.class).cmp(&(&other.species, &other.class)));
        all
    }
}
