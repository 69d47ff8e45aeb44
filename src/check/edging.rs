//! Edging to be bought: all that the parts of sheets have on their edges.

use std::collections::BTreeMap;

use super::exact;
use super::fault::PlanFault;
use crate::document::Document;
use crate::job::{Edges, Job, SheetPart};
use crate::measure::Length;

/// Every kind of edging is listed once, with what the job's parts come to.
pub fn check_edging(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    // By species, sheet and thickness: edges, and their length in base units.
    let mut left: BTreeMap<(&str, Length, Length), (u64, i128)> = BTreeMap::new();
    for part in job.parts.iter().filter(|part| part.required > 0) {
        let Some(SheetPart { edges: Edges([front, back, left_end, right_end]), .. }) = &part.sheet else {
            continue;
        };
        let sides =
            [(front, part.length), (back, part.length), (left_end, part.width), (right_end, part.width)];
        for (thickness, side) in sides.into_iter().filter(|(thickness, _)| **thickness > Length::ZERO) {
            let sum = left.entry((&part.species, part.thickness, *thickness)).or_default();
            sum.0 += part.required;
            sum.1 += i128::from(side.base()) * i128::from(part.required);
        }
    }
    let number = |value: f64| exact(value, job.shop.unit);
    for entry in &document.edging {
        let key = (entry.species.as_str(), number(entry.sheet), number(entry.thickness));
        let said = (entry.edges, i128::from(number(entry.length).base()));
        if left.remove(&key) != Some(said) {
            faults.push(PlanFault::new("edging", "is not what the parts have on their edges"));
        }
    }
    if !left.is_empty() {
        faults.push(PlanFault::new("edging", "does not list all that the parts have on their edges"));
    }
}
