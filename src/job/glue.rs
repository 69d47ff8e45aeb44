//! Parts that are glued: panels of edge-glued strips, and thick parts of glued layers.
//!
//! A part that no board gives whole is planned as its strips or layers. How many of them is decided here,
//! before the search: the number whose boards cost least if each board were cut into nothing else, of those
//! that the shop's limits allow, where each joint must save its share of the wood. `planning` weighs the
//! other numbers against it, and parts that a board gives whole against their strips or layers.

use std::collections::BTreeSet;

use num_bigint::BigInt;
use num_rational::BigRational;

use super::blank::{Blank, Make};
use super::model::Job;
use super::stock::Offered;
use super::wanted::Part;
use super::yieldable::refused;
use crate::index::PartIndex;
use crate::measure::{Length, Money, Overflow, Unit};

/// A way to glue a part that a board gives whole is weighed if its boards by themselves cost no more than
/// this share of those of the whole part: cut together with other parts it may yet be cheaper.
const MOST_OF_WHOLE: (u32, u32) = (5, 4);

/// Strips or layers of one part above which it is no such part any more.
const MOST_STRIPS: u32 = 40;

/// Replaces the parts that no board gives whole by what they can be glued from.
pub fn glue_what_no_board_gives(job: &mut Job) {
    let missing: BTreeSet<(String, String)> =
        job.shortfalls().into_iter().map(|shortfall| (shortfall.product, shortfall.part)).collect();
    for place in job.parts.keys() {
        let part = &job.parts[place];
        if missing.contains(&(part.product.clone(), part.part.clone()))
            && let Some(glued) = cheapest(job, part)
        {
            job.parts[place] = glued;
        }
    }
}

/// Every way to make a part that may be glued. Made whole is one of them if a board is large enough. The
/// others are the ways to glue it whose pieces some board gives. Of two ways with layers of the same classes,
/// only the one with fewer layers is kept: the other needs as much of each layer and costs more. A part that
/// may not be glued has one way, whole.
pub fn ways_of(job: &Job, part: PartIndex) -> Vec<Part> {
    let whole = whole(job, &job.parts[part]);
    let of_board = match (job.parts[part].blank.make.is_glued(), job.shop.glue.where_cheaper) {
        (false, false) => return vec![whole],
        (true, false) => None,
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
    let glued = job.parts.iter().filter(|part| part.blank.make.is_glued());
    let each = glued.filter_map(|part| {
        let whole = estimate(job, &whole(job, part))?;
        Some(whole * (with_joints(job, part) - &one))
    });
    Money::round_half_up(&each.sum())
}

fn glued_ways(job: &Job, whole: Part) -> Vec<Part> {
    let quarters = job.quarters();
    let mut seen: BTreeSet<Vec<u32>> = BTreeSet::new();
    let needed = |way: &Part| {
        let layers = matches!(way.blank.make, Make::Lamination(_));
        let blanks = || {
            quarters
                .iter()
                .map(|quarter| job.shop.blanks(*quarter, way.blank.thickness, way.blank.cut_length))
                .collect()
        };
        estimate(job, way).is_some() && (!layers || seen.insert(blanks()))
    };
    all_ways(job, &whole).filter(needed).collect()
}

fn all_ways<'p>(job: &'p Job, part: &'p Part) -> impl Iterator<Item = Part> + 'p {
    let panels = (part.glue_up && job.shop.glue.panels).then_some(Make::Panel as fn(u32) -> Make);
    let layers =
        (job.shop.glue.laminate && part.sheet.is_none()).then_some(Make::Lamination as fn(u32) -> Make);
    let kinds = panels.into_iter().chain(layers);
    kinds.flat_map(move |kind| (2..=MOST_STRIPS).filter_map(move |count| glued(job, part, kind(count))))
}

/// The part as strips or layers, cheapest first, fewest first where they cost the same.
fn cheapest(job: &Job, part: &Part) -> Option<Part> {
    let priced =
        all_ways(job, part).filter_map(|way| Some((estimate(job, &way)? * with_joints(job, &way), way)));
    let best = priced.min_by(|one, other| {
        one.0.cmp(&other.0).then_with(|| one.1.blanks_wanted().cmp(&other.1.blanks_wanted()))
    });
    best.map(|(_, way)| way)
}

/// The cost of a way's wood is multiplied by this before it is compared. Every further joint is work and a
/// place to fail, so it must save its share of the wood.
fn with_joints(job: &Job, way: &Part) -> BigRational {
    let joints = way.blank.make.pieces() - 1;
    let percent = job.shop.glue.joint_percent.to_ratio() * BigRational::from_integer(BigInt::from(joints));
    BigRational::from_integer(BigInt::from(1)) + percent / BigRational::from_integer(BigInt::from(100))
}

/// The part in one piece.
fn whole(job: &Job, part: &Part) -> Part {
    let sizes = [part.length, part.width, part.thickness];
    Part { blank: Blank::new(&job.shop, Make::Whole, part.fit, part.sheet.as_ref(), sizes), ..part.clone() }
}

/// The part made of equal strips or layers; none where the shop's limits do not allow it.
fn glued(job: &Job, part: &Part, make: Make) -> Option<Part> {
    let glue = &job.shop.glue;
    let count = i64::from(make.pieces());
    let (width, thickness) = match make {
        Make::Whole => (part.width, part.thickness),
        Make::Panel(_) => (share(part.width, count, job.shop.unit), part.thickness),
        Make::Lamination(_) => (part.width, share(part.thickness, count, job.shop.unit)),
    };
    let too_narrow_or_wide = width < glue.narrowest_strip || width > glue.widest_strip;
    if matches!(make, Make::Panel(_)) && too_narrow_or_wide {
        return None;
    }
    let blank = Blank::new(&job.shop, make, part.fit, part.sheet.as_ref(), [part.length, width, thickness]);
    let glued = Part { blank, ..part.clone() };
    u32::try_from(glued.blanks_wanted()).is_ok().then_some(glued)
}

/// An equal share, rounded up to what a person can set: 1/64 in or a tenth of a millimetre.
fn share(whole: Length, count: i64, unit: Unit) -> Length {
    let step = match unit {
        Unit::Inch => Length::inch_128ths(2),
        Unit::Millimetre => Length::micrometres(100),
    };
    Length::from_base(num_integer::div_ceil(whole.base(), count * step.base()) * step.base())
}

/// What all blanks would cost if every board were cut into nothing else; `None` if no board gives one.
fn estimate(job: &Job, part: &Part) -> Option<BigRational> {
    let shop = &job.shop;
    if refused(part, shop).is_some() {
        return None;
    }
    let fit = |room: Length, size: Length, kerf: Length| (room + kerf).base() / (size + kerf).base();
    let gives = |board: Offered<'_>| {
        shop.serves(&board, part).ok()?;
        let (length, width) = shop.usable(&board)?;
        let along = fit(length, part.blank.cut_length, shop.saw.crosscut_kerf);
        Some(along * fit(width, part.blank.cut_width, shop.saw.rip_kerf))
    };
    let many = BigRational::from_integer(BigInt::from(part.blanks_wanted()));
    let share =
        |board: BigRational, pieces: i64| board / BigRational::from_integer(BigInt::from(pieces)) * &many;
    let lines = job.lines.iter().filter(|line| line.available != Some(0)).filter_map(|line| {
        // Whoever wants some of the boards of a lot buys all of them.
        let boards = line.all_offered();
        let cost = line.price_of(&job.suppliers[line.supplier], boards.len() as u64).ok()?;
        let pieces: i64 = boards.into_iter().filter_map(&gives).sum();
        (pieces > 0).then(|| share(cost, pieces))
    });
    let rack =
        job.rack.iter().filter_map(|board| Some(share(board.value.to_ratio(), gives(board.offered())?)));
    // The rack is soon used up: it counts where no dealer has such boards.
    lines.min().or_else(|| rack.min())
}
