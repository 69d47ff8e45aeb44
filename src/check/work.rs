//! The leftovers set aside for the work after the saw: each lies in the plan's own scrap, and serves.

use std::collections::BTreeMap;

use super::exact;
use super::fault::PlanFault;
use crate::document::{BoardEntry, Document, MovesEntry, ReservedEntry};
use crate::job::Job;
use crate::trade::finish::{BACKER, TEST_PIECE};
use crate::trade::movement::change;
use crate::trade::{same_species, wood_facts};

/// Checks every leftover that is set aside.
pub fn check_work(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    let mut taken: BTreeMap<(&str, usize), u32> = BTreeMap::new();
    for reserved in &document.work.reserved {
        let purpose = &reserved.purpose;
        let place = format!("the {} on board {}", purpose.purpose, reserved.board);
        let Some(board) = document.boards.iter().find(|board| board.id == reserved.board) else {
            faults.push(PlanFault::new(place, "lies on a board that is not in the plan"));
            continue;
        };
        let same = |offcut: &crate::document::OffcutEntry| {
            (offcut.x, offcut.y, offcut.length, offcut.width)
                == (reserved.x, reserved.y, reserved.length, reserved.width)
        };
        let Some(number) = board.offcuts.iter().position(same) else {
            faults.push(PlanFault::new(place, "is no leftover of that board"));
            continue;
        };
        let times = taken.entry((board.id.as_str(), number)).or_insert(0);
        *times += 1;
        if *times > board.copies {
            faults.push(PlanFault::new(place.clone(), "is set aside more often than it is left over"));
        }
        check_serves(document, job, board, reserved, place, faults);
    }
    check_movement(document, job, faults);
}

/// Every wide part and every one held in a frame is told by how much it moves, with what the handbook says.
fn check_movement(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    let (wood, unit) = (&job.shop.wood, job.shop.unit);
    for part in &job.parts {
        let entry = document
            .work
            .movement
            .iter()
            .find(|entry| entry.product == part.product && entry.part == part.part);
        let place = format!("the movement of {} / {}", part.product, part.part);
        let told = part.required > 0
            && part.sheet.is_none()
            && (part.width > wood.movement_over || part.captured.is_some());
        let entry = match (entry, told) {
            (None, false) => continue,
            (Some(entry), true) => entry,
            _ => {
                faults.push(PlanFault::new(place, "is told of the wrong parts"));
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
            faults.push(PlanFault::new(place, "is not what the width and the moisture come to"));
        }
    }
}

fn check_serves(
    document: &Document,
    job: &Job,
    board: &BoardEntry,
    reserved: &ReservedEntry,
    place: String,
    faults: &mut Vec<PlanFault>,
) {
    let purpose = &reserved.purpose;
    let least = match purpose.purpose.as_str() {
        "test-piece" => TEST_PIECE,
        "backer" => BACKER,
        other => {
            faults.push(PlanFault::new(place, format!("is set aside as \"{other}\", which is no purpose")));
            return;
        }
    };
    let unit = job.shop.unit;
    if exact(reserved.length, unit) < least.0 || exact(reserved.width, unit) < least.1 {
        faults.push(PlanFault::new(place.clone(), "is smaller than such a piece must be"));
    }
    let Some(wanted) = &purpose.species else { return };
    let found = match board.source.split_once(':') {
        Some(("buy", row)) => {
            row.parse::<usize>().ok().and_then(|row| document.buy.get(row)).map(|row| row.species.as_str())
        }
        Some(("rack", name)) => {
            job.rack.iter().find(|rack| rack.board == name).map(|rack| rack.species.as_str())
        }
        _ => None,
    };
    if !found.is_some_and(|species| same_species(species, wanted)) {
        faults.push(PlanFault::new(place, format!("is not of {wanted}")));
    }
}
