//! What a plan says that it leaves open, where measured boards are not enough.

use super::fault::PlanFault;
use crate::document::Document;
use crate::job::Job;

/// The job without the parts that the plan leaves open. A job with dealers leaves nothing open: they sell what is
/// missing.
pub fn as_the_plan_leaves(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) -> Option<Job> {
    if document.still_needed.is_empty() {
        return None;
    }
    let mut fault = |text: String| faults.push(PlanFault::new("still_needed", text));
    if !job.lines.is_empty() {
        fault("leaves parts open, and the dealers of the job sell boards".to_string());
        return None;
    }
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
