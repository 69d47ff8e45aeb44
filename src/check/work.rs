//! The work after the saw: holes and finishes are those that the job asks for, and each leftover set aside lies in the
//! plan's own scrap, and serves.

use std::collections::BTreeMap;

use super::exact;
use super::fault::PlanFault;
use super::set_aside::check_set_aside;
use crate::document::{Document, DrillingEntry, FinishingEntry, MovementEntry, MovesEntry};
use crate::job::{HoleKind, Job, Part};
use crate::measure::{Length, Unit};
use crate::trade::abrasives::{ladder, last_grit};
use crate::trade::drilling::{Screw, clearance_bit, lead_bit, lead_hole};
use crate::trade::movement::change;
use crate::trade::wood_facts;

/// Checks all that is done beside the sawing.
pub fn check_work(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    if document.is_bare() {
        return;
    }
    check_set_aside(document, job, faults);
    check_movement(document, job, faults);
    check_drilling(document, job, faults);
    check_finishing(document, job, faults);
}

/// Every hole of a wanted part is drilled once, with the bit that the trade's tables give.
fn check_drilling(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    let unit = job.shop.unit;
    let mut left: Vec<&DrillingEntry> = document.work.drilling.iter().collect();
    for hole in &job.work.holes {
        let is_of = |part: &&Part| (&part.product, &part.part) == (&hole.product, &hole.part);
        let Some(part) = job.parts.iter().find(is_of) else { continue };
        let bit = match hole.kind {
            HoleKind::Plain(diameter) => Some(diameter),
            HoleKind::Clearance(screw) => Some(clearance_bit(screw.shank(), unit)),
            HoleKind::Lead(screw) => {
                job.shop.wood.gravity(&part.species).map(|gravity| lead_bit(lead_hole(screw, gravity), unit))
            }
        };
        let size = |size: Option<f64>| size.map(|size| exact(size, unit));
        let screw = hole.kind.screw();
        let same = |entry: &&DrillingEntry| {
            (&entry.product, &entry.part) == (&hole.product, &hole.part)
                && entry.kind == hole.kind.name()
                && (entry.gauge, size(entry.screw))
                    == (screw.and_then(Screw::gauge), screw.and_then(Screw::diameter))
                && (size(entry.bit), size(entry.depth)) == (bit, hole.depth)
                && size(entry.plug) == hole.plug.map(|plug| plug.diameter)
                && size(entry.plug_depth) == hole.plug.map(|plug| plug.depth)
                && (entry.pieces, entry.holes, entry.countersink)
                    == (part.required, hole.holes, hole.countersink)
        };
        match left.iter().position(same) {
            Some(place) => drop(left.swap_remove(place)),
            None => {
                let place = format!("the drilling of {} / {}", hole.product, hole.part);
                faults.push(PlanFault::new(place, "is not what the job's holes ask for"));
            }
        }
    }
    if !left.is_empty() {
        faults.push(PlanFault::new("work.drilling", "has holes that the job does not ask for"));
    }
}

/// Every finish of a wanted product is told once, with its grits, its area and what to buy.
fn check_finishing(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    let side = match job.shop.unit {
        Unit::Inch => Length::inches(12),
        Unit::Millimetre => Length::millimetres(1_000),
    };
    let mut told = 0;
    for finish in &job.work.finishes {
        let parts = job.parts.iter().filter(|part| part.product == finish.product);
        let faces: i128 = parts
            .map(|part| {
                finish.faces.area(part.length, part.width, part.thickness).base() * i128::from(part.required)
            })
            .sum();
        if faces == 0 {
            continue;
        }
        told += 1;
        let area = faces as f64 / (side.base() as f64 * side.base() as f64);
        // Rounded up to a tenth of a measure.
        let measures =
            finish.coverage.map(|coverage| area * f64::from(finish.coats) / coverage.to_f64() * 10.0);
        let right = |entry: &FinishingEntry| {
            let quantity = match (entry.quantity, measures) {
                (Some(quantity), Some(measures)) => (quantity * 10.0 - (measures - 1e-9).ceil()).abs() < 1e-6,
                (None, None) => true,
                _ => false,
            };
            entry.grits == ladder(finish.surface.first_grit(), last_grit(finish.film))
                && (entry.finish.as_str(), entry.coats) == (finish.film.name(), finish.coats)
                && entry.finish_faces.as_deref().is_none_or(|faces| faces == finish.faces.name())
                && (entry.area - area).abs() < 0.006
                && quantity
        };
        let mut own = document.work.finishing.iter().filter(|entry| entry.product == finish.product);
        if !own.next().is_some_and(right) || own.next().is_some() {
            let place = format!("the finishing of {}", finish.product);
            faults.push(PlanFault::new(place, "is not what the job asks for"));
        }
    }
    if document.work.finishing.len() != told {
        faults.push(PlanFault::new("work.finishing", "is told of the wrong products"));
    }
}

/// Every wide part and every one held in a frame is told by how much it moves, with what the handbook says.
fn check_movement(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    let (wood, unit) = (&job.shop.wood, job.shop.unit);
    let mut told_of = 0;
    let mut entries: BTreeMap<(&str, &str), &MovementEntry> = BTreeMap::new();
    for entry in &document.work.movement {
        entries.entry((&entry.product, &entry.part)).or_insert(entry);
    }
    for part in &job.parts {
        let entry = entries.get(&(part.product.as_str(), part.part.as_str())).copied();
        let place = || format!("the movement of {} / {}", part.product, part.part);
        let told = part.required > 0
            && part.sheet.is_none()
            && (part.width > wood.movement_over || part.captured.is_some());
        let entry = match (entry, told) {
            (None, false) => continue,
            (Some(entry), true) => {
                told_of += 1;
                entry
            }
            _ => {
                faults.push(PlanFault::new(place(), "is told of the wrong parts"));
                continue;
            }
        };
        let known = wood_facts(&part.species).and_then(|facts| facts.movement);
        let expected = |place: usize| {
            let coefficient = known?[place];
            let to = |percent| change(part.width, coefficient, wood.moisture_now, percent, unit);
            let wetter = wood.moisture_now.max(wood.moisture_high);
            let drier = wood.moisture_now.min(wood.moisture_low);
            Some((to(wetter), to(drier)))
        };
        let said = |moves: Option<MovesEntry>| {
            moves.map(|moves| (exact(moves.swells, unit), exact(moves.shrinks, unit)))
        };
        let tight = match (part.captured, expected(1)) {
            (Some(room), Some((swells, _))) => room < swells,
            _ => false,
        };
        let right = exact(entry.width, unit) == part.width
            && entry.room.map(|room| exact(room, unit)) == part.captured
            && (said(entry.quarter_sawn), said(entry.flat_sawn)) == (expected(0), expected(1))
            && entry.is_tight == tight;
        if !right {
            faults.push(PlanFault::new(place(), "is not what the width and the moisture come to"));
        }
    }
    if document.work.movement.len() > told_of {
        faults.push(PlanFault::new("work.movement", "tells of a part twice, or of one that nobody wants"));
    }
}
