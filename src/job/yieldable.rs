//! Which parts no board can yield, and the reason nearest to the truth.

use super::Shortfall;
use super::model::{BeyondReach, Fit, Job, Part, PriceLine, Shop};
use crate::measure::Length;
use crate::trade::same_species;
use crate::trade::{Grade, Quarter};

/// A board size on offer, of a dealer or of the rack.
struct Offer<'j> {
    species: &'j str,
    quarter: Quarter,
    grade: Grade,
    length: Length,
    width: Length,
}

/// The parts that cannot be cut from anything on offer.
pub fn shortfalls(job: &Job) -> Vec<Shortfall> {
    shortfalls_without(job, &[])
}

/// The parts that cannot be cut from anything on offer if nothing is bought from the dealers `closed`
/// (by index).
pub fn shortfalls_without(job: &Job, closed: &[usize]) -> Vec<Shortfall> {
    let open = |line: &&PriceLine| line.available != Some(0) && !closed.contains(&line.supplier);
    let lines = job.lines.iter().filter(open).map(|line| Offer {
        species: &line.species,
        quarter: line.quarter,
        grade: line.grade,
        length: line.length,
        width: line.width,
    });
    let rack = job.rack.iter().map(|board| Offer {
        species: &board.species,
        quarter: board.quarter,
        grade: board.grade,
        length: board.length,
        width: board.width,
    });
    let offers: Vec<Offer<'_>> = lines.chain(rack).collect();
    job.parts.iter().filter_map(|part| shortfall(part, &job.shop, &offers)).collect()
}

/// Why the shop refuses a part, whatever boards are on offer.
pub fn refused(part: &Part, shop: &Shop) -> Option<String> {
    let show = |length: Length| length.display(shop.unit).to_string();
    if shop.saw.beyond_reach != BeyondReach::Refuse {
        return None;
    }
    if shop.saw.rips_beyond_reach(part.cut_width) {
        let (width, reach) = (show(part.cut_width), show(shop.saw.max_rip_width));
        return Some(format!(
            "beyond the saw's reach: it is ripped at {width} and the fence goes to {reach}"
        ));
    }
    if part.fit != Fit::ToWork && shop.saw.crosscuts_beyond_reach(part.cut_length) {
        let (length, reach) = (show(part.cut_length), show(shop.saw.max_crosscut_length));
        return Some(format!(
            "beyond the saw's reach: it is crosscut at {length} and the stop goes to {reach}"
        ));
    }
    None
}

fn shortfall(part: &Part, shop: &Shop, offers: &[Offer<'_>]) -> Option<Shortfall> {
    let because =
        |reason: String| Some(Shortfall { product: part.product.clone(), part: part.part.clone(), reason });
    let show = |length: Length| length.display(shop.unit).to_string();
    if let Some(reason) = refused(part, shop) {
        return because(reason);
    }
    let mut left: Vec<&Offer<'_>> =
        offers.iter().filter(|offer| same_species(offer.species, &part.species)).collect();
    if left.is_empty() {
        return because(format!("nobody sells {} and none is on the rack", part.species));
    }
    left.retain(|offer| shop.milling.dressed.dressed(offer.quarter) >= part.thickness);
    if left.is_empty() {
        return because(format!(
            "too thick: no class of {} dresses to {}",
            part.species,
            show(part.thickness)
        ));
    }
    left.retain(|offer| offer.grade.serves(part.grade));
    if left.is_empty() {
        return because(format!("no {} thick enough is of grade {} or better", part.species, part.grade));
    }
    let usable: Vec<(Length, Length)> =
        left.iter().filter_map(|offer| shop.usable(offer.length, offer.width)).collect();
    let longest = usable.iter().map(|size| size.0).max().unwrap_or(Length::ZERO);
    if longest < part.cut_length {
        return because(format!(
            "too long: it is cut at {} and the longest usable board gives {}",
            show(part.cut_length),
            show(longest)
        ));
    }
    let long_enough = usable.iter().filter(|size| size.0 >= part.cut_length);
    let widest = long_enough.map(|size| size.1).max().unwrap_or(Length::ZERO);
    if widest < part.cut_width {
        return because(format!(
            "too wide: it is cut at {} and the widest usable board of its length gives {}",
            show(part.cut_width),
            show(widest)
        ));
    }
    None
}
