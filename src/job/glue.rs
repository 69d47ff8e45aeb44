//! Parts that are glued: panels of edge-glued strips, and thick parts of glued layers.
//!
//! A part that no board gives whole is planned as its strips or layers. How many of them is decided here,
//! before the search: the number whose boards cost least if each board were cut into nothing else, of those
//! that the shop's limits allow, where each joint must save its share of the wood. `buying` weighs the other
//! numbers against it, and parts that a board gives whole against their strips or layers.

use std::collections::BTreeSet;

use num_bigint::BigInt;
use num_rational::BigRational;

use super::model::{Glued, GluedKind, Job, Part};
use super::yieldable::{refused, shortfalls};
use crate::measure::{Length, Money, Overflow, Unit};
use crate::trade::same_species;

/// A way to glue a part that a board gives whole is weighed if its boards by themselves cost no more than
/// this share of those of the whole part: cut together with other parts it may yet be cheaper.
const MOST_OF_WHOLE: (u32, u32) = (5, 4);

/// Strips or layers of one part above which it is no such part any more.
const MOST_STRIPS: i64 = 40;

/// Replaces the parts that no board gives whole by what they can be glued from.
pub fn glue_what_no_board_gives(job: &mut Job) {
    let missing: BTreeSet<(String, String)> =
        shortfalls(job).into_iter().map(|shortfall| (shortfall.product, shortfall.part)).collect();
    for place in 0..job.parts.len() {
        let part = &job.parts[place];
        if missing.contains(&(part.product.clone(), part.part.clone()))
            && let Some(glued) = cheapest(job, part)
        {
            job.parts[place] = glued;
        }
    }
}

/// Every way to make a part that may be glued: whole, if a board gives it so, and those to glue it that
/// some board gives the pieces of. More layers than the same classes need are left out, since they are as large
/// and cost as much each. A part that is only made whole has that way alone.
pub fn ways_of(job: &Job, part: usize) -> Vec<Part> {
    let whole = job.parts[part].whole(&job.shop.milling);
    let of_board = match (&job.parts[part].glued, job.shop.glue.where_cheaper) {
        (None, false) => return vec![whole],
        (Some(_), false) => None,
        (_, true) => estimate(job, &whole),
    };
    let Some(cost) = of_board else { return glued_ways(job, whole) };
    let (most, of) = MOST_OF_WHOLE;
    let most = cost * BigRational::new(BigInt::from(most), BigInt::from(of));
    let mut ways = glued_ways(job, whole.clone());
    ways.retain(|way| estimate(job, way).is_some_and(|cost| cost * with_joints(job, way) <= most));
    ways.insert(0, whole);
    ways
}

/// What the joints of parts that a board would give whole must save together.
///
/// # Errors
/// If the sum is too large to be held exactly.
pub fn joints_must_save(job: &Job) -> Result<Money, Overflow> {
    let one = BigRational::from_integer(BigInt::from(1));
    let glued = job.parts.iter().filter(|part| part.glued.is_some());
    let each = glued.filter_map(|part| {
        let whole = estimate(job, &part.whole(&job.shop.milling))?;
        Some(whole * (with_joints(job, part) - &one))
    });
    Money::round_half_up(&each.sum())
}

fn glued_ways(job: &Job, whole: Part) -> Vec<Part> {
    let quarters = job.quarters();
    let mut seen: BTreeSet<Vec<u32>> = BTreeSet::new();
    let needed = |way: &Part| {
        let layers = way.glued.as_ref().is_some_and(|glued| glued.kind == GluedKind::Lamination);
        let blanks = || quarters.iter().map(|quarter| job.shop.blanks(*quarter, way.thickness)).collect();
        estimate(job, way).is_some() && (!layers || seen.insert(blanks()))
    };
    all_ways(job, &whole).filter(needed).collect()
}

fn all_ways<'p>(job: &'p Job, part: &'p Part) -> impl Iterator<Item = Part> + 'p {
    let panels = (part.glue_up && job.shop.glue.panels).then_some(GluedKind::Panel);
    let layers = job.shop.glue.laminate.then_some(GluedKind::Lamination);
    let kinds = panels.into_iter().chain(layers);
    kinds.flat_map(move |kind| (2..=MOST_STRIPS).filter_map(move |count| pieces_of(job, part, kind, count)))
}

/// The part as strips or layers, cheapest first, fewest first where they cost the same.
fn cheapest(job: &Job, part: &Part) -> Option<Part> {
    let priced =
        all_ways(job, part).filter_map(|way| Some((estimate(job, &way)? * with_joints(job, &way), way)));
    let best =
        priced.min_by(|one, other| one.0.cmp(&other.0).then_with(|| one.1.required.cmp(&other.1.required)));
    best.map(|(_, way)| way)
}

/// What wood counts for with its joints. Every further joint is work and a place to fail: it must save its
/// share of the wood.
fn with_joints(job: &Job, way: &Part) -> BigRational {
    let joints = way.glued.as_ref().map_or(0, |glued| glued.pieces - 1);
    let percent = job.shop.glue.joint_percent.to_ratio() * BigRational::from_integer(BigInt::from(joints));
    BigRational::from_integer(BigInt::from(1)) + percent / BigRational::from_integer(BigInt::from(100))
}

fn pieces_of(job: &Job, part: &Part, kind: GluedKind, count: i64) -> Option<Part> {
    let glue = &job.shop.glue;
    let mut piece = part.clone();
    match kind {
        GluedKind::Panel => {
            piece.width = share(part.width, count, job.shop.unit);
            if piece.width < glue.narrowest_strip || piece.width > glue.widest_strip {
                return None;
            }
        }
        GluedKind::Lamination => piece.thickness = share(part.thickness, count, job.shop.unit),
    }
    // A panel's edges are jointed; a lamination's edges are cleaned of glue.
    piece.cut_width = piece.width + glue.joint_allowance * 2 + job.shop.milling.width_allowance;
    piece.required = part.required.checked_mul(count as u64)?;
    piece.glued = Some(Glued {
        kind,
        pieces: count as u32,
        parts: part.required,
        width: part.width,
        thickness: part.thickness,
        of_all_ways: false,
    });
    u32::try_from(piece.required).is_ok().then_some(piece)
}

/// An equal share, rounded up to what a person can set: 1/64 in or a tenth of a millimetre.
fn share(whole: Length, count: i64, unit: Unit) -> Length {
    let step = match unit {
        Unit::Inch => Length::inch_128ths(2),
        Unit::Millimetre => Length::micrometres(100),
    };
    Length::from_base(num_integer::div_ceil(whole.base(), count * step.base()) * step.base())
}

/// What all pieces would cost if every board were cut into nothing else; `None` if no board gives one.
fn estimate(job: &Job, piece: &Part) -> Option<BigRational> {
    let shop = &job.shop;
    if refused(piece, shop).is_some() {
        return None;
    }
    let fit = |room: Length, size: Length, kerf: Length| (room + kerf).base() / (size + kerf).base();
    let gives = |species: &str, quarter, grade: crate::trade::Grade, length, width| {
        let serves = same_species(species, &piece.species)
            && shop.milling.dressed.dressed(quarter) >= piece.thickness
            && grade.serves(piece.grade);
        let (length, width) = shop.usable(length, width).filter(|_| serves)?;
        let along = fit(length, piece.cut_length, shop.saw.crosscut_kerf);
        let across = fit(width, piece.cut_width, shop.saw.rip_kerf);
        (along * across > 0).then_some(along * across)
    };
    let many = BigRational::from_integer(BigInt::from(piece.required));
    let lines = job.lines.iter().filter(|line| line.available != Some(0)).filter_map(|line| {
        let pieces = gives(&line.species, line.quarter, line.grade, line.length, line.width)?;
        let board = line.price_of_board(&job.suppliers[line.supplier]).ok()?;
        Some(board / BigRational::from_integer(BigInt::from(pieces)) * &many)
    });
    let rack = job.rack.iter().filter_map(|board| {
        let pieces = gives(&board.species, board.quarter, board.grade, board.length, board.width)?;
        Some(board.value.to_ratio() / BigRational::from_integer(BigInt::from(pieces)) * &many)
    });
    // The rack is soon used up: it counts where no dealer has such boards.
    lines.min().or_else(|| rack.min())
}
