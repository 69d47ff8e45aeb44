//! Leftovers set aside for test pieces and backers: each lies in the plan's own scrap and serves, and whatever the job
//! needs is set aside or said to be lacking.

use std::collections::{BTreeMap, BTreeSet};

use super::exact;
use super::fault::PlanFault;
use crate::document::{BoardEntry, Document, OffcutEntry, PurposeEntry};
use crate::job::Job;
use crate::trade::finish::{BACKER, TEST_PIECE};
use crate::trade::{same_species, species_key};

/// What a leftover is for, whichever way its species is written.
#[derive(PartialEq, Eq, PartialOrd, Ord, Clone)]
enum For {
    TestPiece(String),
    Backer(String, String),
}

impl For {
    fn of(entry: &PurposeEntry) -> Option<For> {
        match (entry.purpose.as_str(), &entry.species, &entry.product, &entry.part) {
            ("test-piece", Some(species), None, None) => Some(For::TestPiece(species_key(species))),
            ("backer", None, Some(product), Some(part)) => Some(For::Backer(product.clone(), part.clone())),
            _ => None,
        }
    }
}

/// How often each leftover is set aside: by board and number of the leftover.
type Taken<'d> = BTreeMap<(&'d str, usize), u32>;

/// Checks every leftover that is set aside, and what is said to be lacking.
pub fn check_set_aside(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) {
    let mut taken = Taken::new();
    for reserved in &document.work.reserved {
        let purpose = &reserved.purpose;
        let place = format!("the {} on board {}", purpose.purpose, reserved.board);
        let Some(board) = document.boards.iter().find(|board| board.id == reserved.board) else {
            faults.push(PlanFault::new(place, "lies on a board that is not in the plan"));
            continue;
        };
        let same = |offcut: &OffcutEntry| {
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
        if !is_large_enough(&board.offcuts[number], purpose, job) {
            faults.push(PlanFault::new(place.clone(), "is smaller than such a piece must be"));
        }
        if let Some(wanted) =
            purpose.species.as_deref().filter(|_| !is_of_species(document, job, board, purpose))
        {
            faults.push(PlanFault::new(place, format!("is not of {wanted}")));
        }
    }
    check_purposes(document, job, &taken, faults);
}

/// A test piece for every species and a backer for every part that is drilled through, each once.
fn check_purposes(document: &Document, job: &Job, taken: &Taken<'_>, faults: &mut Vec<PlanFault>) {
    let species = job.parts.iter().map(|part| For::TestPiece(species_key(&part.species)));
    let wanted = |product: &str, part: &str| {
        job.parts.iter().any(|other| (other.product.as_str(), other.part.as_str()) == (product, part))
    };
    let through = job.work.holes.iter().filter(|hole| hole.depth.is_none());
    let through = through.filter(|hole| wanted(&hole.product, &hole.part));
    let mut left: BTreeSet<For> =
        species.chain(through.map(|hole| For::Backer(hole.product.clone(), hole.part.clone()))).collect();
    let reserved = document.work.reserved.iter().map(|reserved| &reserved.purpose);
    for entry in reserved.chain(&document.work.lacking) {
        let text = match For::of(entry) {
            None => format!("sets something aside as \"{}\", which is no purpose", entry.purpose),
            Some(purpose) if !left.remove(&purpose) => {
                format!("has a {} that nothing asks for", entry.purpose)
            }
            Some(_) => continue,
        };
        faults.push(PlanFault::new("work", text));
    }
    if !left.is_empty() {
        faults.push(PlanFault::new("work", "does not tell of every test piece and backer"));
    }
    let free = |board: &BoardEntry, number: usize| {
        taken.get(&(board.id.as_str(), number)).copied().unwrap_or(0) < board.copies
    };
    for entry in &document.work.lacking {
        let given = document.boards.iter().any(|board| {
            let mut offcuts = board.offcuts.iter().enumerate();
            offcuts.any(|(number, offcut)| free(board, number) && serves(document, job, board, offcut, entry))
        });
        if given {
            let text = format!("lacks a {} that a leftover would give", entry.purpose);
            faults.push(PlanFault::new("work.lacking", text));
        }
    }
}

/// Is a leftover large enough for a purpose, and of its species?
fn serves(
    document: &Document,
    job: &Job,
    board: &BoardEntry,
    offcut: &OffcutEntry,
    purpose: &PurposeEntry,
) -> bool {
    is_large_enough(offcut, purpose, job) && is_of_species(document, job, board, purpose)
}

fn is_large_enough(offcut: &OffcutEntry, purpose: &PurposeEntry, job: &Job) -> bool {
    let unit = job.shop.unit;
    let least = match purpose.purpose.as_str() {
        "test-piece" => TEST_PIECE,
        "backer" => BACKER,
        _ => return false,
    };
    exact(offcut.length, unit) >= least.0 && exact(offcut.width, unit) >= least.1
}

/// Is a board of the species that a purpose asks for, if it asks for one?
fn is_of_species(document: &Document, job: &Job, board: &BoardEntry, purpose: &PurposeEntry) -> bool {
    let Some(wanted) = &purpose.species else { return true };
    let found = match board.source.split_once(':') {
        Some(("buy", row)) => {
            row.parse::<usize>().ok().and_then(|row| document.buy.get(row)).map(|row| row.species.as_str())
        }
        Some(("rack", name)) => {
            job.rack.iter().find(|rack| rack.board == name).map(|rack| rack.species.as_str())
        }
        _ => None,
    };
    found.is_some_and(|species| same_species(species, wanted))
}
