//! The independent check of a finished plan.
//!
//! It starts from the numbers in `plan.json` and the job's files, replays every cut and re-adds every
//! sum. It shares no code with `pattern` and `solve`, nor with the rest of `plan`: only the measures,
//! the trade's tables and the job's types, so that one mistake cannot hide in both.

mod board;
mod boards;
mod demand;
mod edging;
mod fault;
mod glue;
mod joined;
mod ledger;
mod lines;
mod money;
mod needed;
mod set_aside;
mod sets;
mod settings;
mod work;

use super::document::{Document, FORMAT};
use crate::job::Job;
use crate::measure::{Length, Unit};

pub use fault::PlanFault;

/// Everything wrong with a plan; empty for a sound one.
pub fn check(document: &Document, job: &Job) -> Vec<PlanFault> {
    let mut faults = Vec::new();
    if document.format != FORMAT {
        faults.push(PlanFault::new("format", format!("is \"{}\", expected \"{FORMAT}\"", document.format)));
        return faults;
    }
    if document.unit != job.shop.unit.name() {
        let text = format!("is \"{}\", the job's is \"{}\"", document.unit, job.shop.unit.name());
        faults.push(PlanFault::new("unit", text));
        return faults;
    }
    if document.currency != job.shop.currency {
        let text = format!("is \"{}\", the job's is \"{}\"", document.currency, job.shop.currency);
        faults.push(PlanFault::new("currency", text));
    }
    let left_out: Vec<String> = job.left_out.iter().map(ToString::to_string).collect();
    if document.left_out != left_out {
        let text = format!(
            "names {} rows, {} rows of the job cannot be read",
            document.left_out.len(),
            left_out.len()
        );
        faults.push(PlanFault::new("left_out", text));
    }
    let glued = glue::as_the_plan_glues(document, job);
    let job = glued.as_ref().unwrap_or(job);
    let left = needed::as_the_plan_leaves(document, job, &mut faults);
    let job = left.as_ref().unwrap_or(job);
    let replayed = boards::check_boards(document, job, &mut faults);
    work::check_work(document, job, &mut faults);
    edging::check_edging(document, job, &mut faults);
    sets::check_sets(document, job, &mut faults);
    money::check_money(document, job, &replayed, &mut faults);
    faults
}

/// A number of the file as an exact length.
fn exact(value: f64, unit: Unit) -> Length {
    // A number that is no length fails every comparison that follows.
    Length::from_f64(value, unit).unwrap_or(Length::from_base(i64::MIN / 4096))
}
