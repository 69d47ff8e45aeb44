//! The work after the saw: holes by bit, sanding and finishing by product, and the scrap set aside for it.
//!
//! Figures come from [`crate::trade`]; what is set aside lies in the plan's own scrap, so that nobody
//! has to cut a new board for a test piece.

use std::collections::BTreeMap;

use super::model::{Board, Boards};
use super::work::{Drilling, Finishing, Movement, Moves, Purpose, Reserved, Work};
use crate::index::{BoardIndex, PartIndex};
use crate::job::{HoleKind, Job, Part};
use crate::measure::{Area, Length, Unit};
use crate::trade::abrasives::{ladder, last_grit};
use crate::trade::drilling::{clearance_bit, lead_bit, lead_hole};
use crate::trade::finish::{BACKER, TEST_PIECE};
use crate::trade::movement::change;
use crate::trade::{same_species, species_key, wood_facts};

/// The work after the saw on the pieces of these boards.
pub fn work_after(job: &Job, boards: &Boards) -> Work {
    let drilling = drilling(job);
    let (reserved, lacking) = reserve(job, boards, &drilling);
    Work { drilling, finishing: finishing(job), reserved, lacking, movement: movement(job) }
}

fn drilling(job: &Job) -> Vec<Drilling> {
    let mut drilling = Vec::new();
    for hole in &job.work.holes {
        let wanted = job.parts.iter().find(|part| (&part.product, &part.part) == (&hole.product, &hole.part));
        let Some(part) = wanted else { continue };
        let unit = job.shop.unit;
        let bit = match hole.kind {
            HoleKind::Plain(diameter) => Some(diameter),
            HoleKind::Clearance(screw) => Some(clearance_bit(screw.shank(), unit)),
            HoleKind::Lead(screw) => {
                let gravity = job.shop.wood.gravity(&part.species);
                gravity.map(|gravity| lead_bit(lead_hole(screw, gravity), unit))
            }
        };
        drilling.push(Drilling {
            bit,
            kind: hole.kind,
            product: hole.product.clone(),
            part: hole.part.clone(),
            pieces: part.required,
            holes: hole.holes,
            depth: hole.depth,
            countersink: hole.countersink,
            plug: hole.plug,
        });
    }
    drilling.sort_by(|one, other| {
        (one.bit, one.depth, &one.product, &one.part).cmp(&(
            other.bit,
            other.depth,
            &other.product,
            &other.part,
        ))
    });
    drilling
}

/// How much wide parts and those held in a frame move.
fn movement(job: &Job) -> Vec<Movement> {
    let (wood, unit) = (&job.shop.wood, job.shop.unit);
    let of = |(index, part): (PartIndex, &Part)| {
        let by_cut =
            wood_facts(&part.species).and_then(|facts| facts.movement).map(|[radial, tangential]| {
                let moves = |coefficient: u16| {
                    let to = |percent| change(part.width, coefficient, wood.moisture_now, percent, unit);
                    // Wood that is wetter in the shop than it will ever be in the room does not swell there.
                    let swells = wood.moisture_high > wood.moisture_now;
                    let shrinks = wood.moisture_low < wood.moisture_now;
                    Moves {
                        swells: if swells { to(wood.moisture_high) } else { Length::ZERO },
                        shrinks: if shrinks { to(wood.moisture_low) } else { Length::ZERO },
                    }
                };
                [moves(tangential), moves(radial)]
            });
        let most = by_cut.map_or(Length::ZERO, |[flat_sawn, _]| flat_sawn.swells);
        Movement { part: index, by_cut, is_tight: part.captured.is_some_and(|room| room < most) }
    };
    // Sheets hardly move.
    let told = |part: &Part| {
        let is_wide = part.width > wood.movement_over || part.captured.is_some();
        part.required > 0 && part.sheet.is_none() && is_wide
    };
    job.parts.iter_enumerated().filter(|(_, part)| told(part)).map(of).collect()
}

fn finishing(job: &Job) -> Vec<Finishing> {
    let mut finishing = Vec::new();
    for finish in &job.work.finishes {
        let parts = job.parts.iter().filter(|part| part.product == finish.product);
        let faces: i128 = parts
            .map(|part| {
                let one = finish.faces.area(part.length, part.width, part.thickness).base();
                one * i128::from(part.required)
            })
            .sum();
        if faces == 0 {
            continue;
        }
        let side = match job.shop.unit {
            Unit::Inch => Length::inches(12),
            Unit::Millimetre => Length::micrometres(1_000_000),
        };
        let area = faces as f64 / Area::of(side, side).base() as f64;
        let quantity = finish.coverage.map(|coverage| {
            let measures = area * f64::from(finish.coats) / coverage.to_f64();
            (measures * 10.0 - 1e-9).ceil() / 10.0
        });
        finishing.push(Finishing {
            product: finish.product.clone(),
            grits: ladder(finish.surface.first_grit(), last_grit(finish.film)),
            film: finish.film,
            coats: finish.coats,
            faces: finish.faces,
            area,
            quantity,
        });
    }
    finishing
}

/// Sets scrap aside, the smallest piece that serves; a kept offcut only where no scrap does.
fn reserve(job: &Job, boards: &Boards, drilling: &[Drilling]) -> (Vec<Reserved>, Vec<Purpose>) {
    let mut species: BTreeMap<String, String> = BTreeMap::new();
    for part in &job.parts {
        species.entry(species_key(&part.species)).or_insert_with(|| part.species.clone());
    }
    let tests = species.into_values().map(|species| (Purpose::TestPiece { species }, TEST_PIECE));
    let through = drilling.iter().filter(|drilling| drilling.depth.is_none());
    let backers = through.map(|drilling| {
        let (product, part) = (drilling.product.clone(), drilling.part.clone());
        (Purpose::Backer { product, part }, BACKER)
    });
    let mut left: BTreeMap<(BoardIndex, usize), u32> = BTreeMap::new();
    let (mut reserved, mut lacking) = (Vec::new(), Vec::new());
    let mut seen: Vec<Purpose> = Vec::new();
    for (purpose, (length, width)) in tests.chain(backers) {
        if seen.contains(&purpose) {
            continue;
        }
        seen.push(purpose.clone());
        let serves = |board: &Board| match &purpose {
            Purpose::TestPiece { species } => same_species(species, &board.species),
            Purpose::Backer { .. } => true,
        };
        let leftovers =
            boards.iter_enumerated().filter(|(_, board)| serves(board)).flat_map(|(place, board)| {
                board.offcuts.iter().enumerate().map(move |(number, offcut)| (place, number, offcut))
            });
        let best = leftovers
            .filter(|(place, number, offcut)| {
                let used = left.get(&(*place, *number)).copied().unwrap_or(0);
                used < boards[*place].copies && offcut.length >= length && offcut.width >= width
            })
            .min_by_key(|(place, number, offcut)| {
                (offcut.keep, Area::of(offcut.length, offcut.width).base(), *place, *number)
            });
        match best {
            Some((place, number, _)) => {
                *left.entry((place, number)).or_insert(0) += 1;
                reserved.push(Reserved { purpose, board: place, offcut: number });
            }
            None => lacking.push(purpose),
        }
    }
    (reserved, lacking)
}
