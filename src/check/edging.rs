//! Edging to be bought: all that the parts of sheets have on their edges.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_rational::BigRational;

use super::exact;
use super::fault::PlanFault;
use crate::document::{Document, EdgingEntry};
use crate::job::{Edges, EdgingRoll, Job, SheetPart};
use crate::measure::{Length, Money};
use crate::trade::same_species;

/// Every kind of edging is listed once, with what the job's parts come to.
pub fn check_edging(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    // By species, sheet and thickness: edges, and their length in base units.
    let mut left: BTreeMap<(&str, Length, Length), (u64, i128)> = BTreeMap::new();
    for part in job.parts.iter().filter(|part| part.required > 0) {
        let Some(SheetPart { edges: Edges([front, back, left_end, right_end]), lipping, .. }) = &part.sheet
        else {
            continue;
        };
        if !lipping.is_empty() {
            continue;
        }
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
        check_rolls(entry, job, faults);
    }
    if !left.is_empty() {
        faults.push(PlanFault::new("edging", "does not list all that the parts have on their edges"));
    }
}

/// Rolls that are sold, at what they cost, and together as long as the edges and what is cut off beside them.
fn check_rolls(entry: &EdgingEntry, job: &Job, faults: &mut Vec<PlanFault>) {
    let number = |value: f64| exact(value, job.shop.unit);
    let kind = (number(entry.sheet), number(entry.thickness));
    let is_such = |roll: &&EdgingRoll| {
        same_species(&roll.species, &entry.species) && (roll.sheet, roll.thickness) == kind
    };
    let such: Vec<&EdgingRoll> = job.rolls.iter().filter(is_such).collect();
    let mut reach: i128 = 0;
    for rolls in &entry.rolls {
        let length = number(rolls.length);
        reach += i128::from(length.base()) * i128::from(rolls.rolls);
        let cost = Money::parse(&rolls.cost).ok();
        let is_sold = |roll: &&EdgingRoll| {
            let due = Money::round_half_up(&(roll.price.to_ratio() * BigInt::from(rolls.rolls)));
            roll.length == length && due.is_ok_and(|due| cost == Some(due))
        };
        if rolls.rolls == 0 || !such.iter().any(is_sold) {
            faults.push(PlanFault::new("edging", "has rolls that nobody sells at that price"));
        }
    }
    let percent = job.shop.edging.roll_waste_percent.to_ratio();
    let needed = number(entry.length).base();
    let needed = (percent / BigInt::from(100) + BigInt::from(1)) * BigInt::from(needed);
    if !such.is_empty() && BigRational::from_integer(BigInt::from(reach)) < needed {
        faults.push(PlanFault::new("edging", "has too few rolls for the edges"));
    }
}

/// What all rolls cost, as the plan says it of each kind.
pub fn cost_of_rolls(document: &Document) -> Money {
    let rolls = document.edging.iter().flat_map(|edging| &edging.rolls);
    rolls.filter_map(|rolls| Money::parse(&rolls.cost).ok()).sum()
}
