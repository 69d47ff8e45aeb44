//! Which parts no board can yield, and the reason nearest to the truth.

use std::collections::BTreeSet;

use super::fault::Shortfall;
use super::fit::Fit;
use super::model::Job;
use super::saw::BeyondReach;
use super::serve::{Unfit, turns};
use super::shop::Shop;
use super::stock::{Offered, PriceLine};
use super::wanted::Part;
use crate::index::{PartIndex, SupplierIndex};
use crate::measure::Length;
use crate::trade::same_species;

impl Job {
    /// The parts that cannot be cut from anything on offer.
    pub fn shortfalls(&self) -> Vec<Shortfall> {
        shortfalls_without(self, &[])
    }
}

/// The parts that cannot be cut from anything on offer if nothing is bought from the dealers `closed`
/// (by index).
pub fn shortfalls_without(job: &Job, closed: &[SupplierIndex]) -> Vec<Shortfall> {
    shortfalls_by_part(job, closed).into_iter().map(|(_, shortfall)| shortfall).collect()
}

/// The same, each with the part's index.
pub fn shortfalls_by_part(job: &Job, closed: &[SupplierIndex]) -> Vec<(PartIndex, Shortfall)> {
    let open = |line: &&PriceLine| line.available != Some(0) && !closed.contains(&line.supplier);
    let lines = job.lines.iter().filter(open).flat_map(PriceLine::all_offered);
    let offers: Vec<Offered<'_>> = lines.chain(job.rack.iter().map(|board| board.offered())).collect();
    let parts = job.parts.iter_enumerated();
    parts.filter_map(|(index, part)| Some((index, shortfall(part, &job.shop, &offers)?))).collect()
}

/// Why the shop refuses a part, whatever boards are on offer.
pub fn refused(part: &Part, shop: &Shop) -> Option<String> {
    let show = |length: Length| length.display(shop.unit).to_string();
    if shop.saw.beyond_reach != BeyondReach::Refuse {
        return None;
    }
    if part.sheet.is_some() {
        return None;
    }
    if shop.saw.rips_beyond_reach(part.blank.cut_width) {
        let (width, reach) = (show(part.blank.cut_width), show(shop.saw.max_rip_width));
        return Some(format!(
            "beyond the saw's reach: it is ripped at {width} and the fence goes to {reach}"
        ));
    }
    if part.fit != Fit::ToWork && shop.saw.crosscuts_beyond_reach(part.blank.cut_length) {
        let (length, reach) = (show(part.blank.cut_length), show(shop.saw.longest_crosscut()));
        return Some(format!(
            "beyond the saw's reach: it is crosscut at {length} and the stop goes to {reach}"
        ));
    }
    None
}

/// Who forgets the material finds no board of the wood where a sheet of it is sold, or the reverse.
fn other_material(part: &Part, offers: &[Offered<'_>]) -> &'static str {
    let sheets = part.sheet.is_some();
    let mut of_it = offers.iter().filter(|offer| same_species(offer.species, &part.species));
    match (of_it.any(|offer| offer.quarter.is_sheet() != sheets), sheets) {
        (true, false) => "; sheets of it are sold: material = sheet in parts.csv makes it one",
        (true, true) => "; lumber of it is sold: material = lumber in parts.csv makes it of that",
        (false, _) => "",
    }
}

fn no_such_thickness(part: &Part, shop: &Shop, offers: &[Offered<'_>]) -> String {
    let show = |length: Length| length.display(shop.unit).to_string();
    let of_it =
        offers.iter().filter(|offer| offer.quarter.is_sheet() && same_species(offer.species, &part.species));
    let sold: BTreeSet<String> =
        of_it.map(|offer| format!("{} (really {})", offer.quarter, show(offer.real_thickness()))).collect();
    let sold: Vec<String> = sold.into_iter().collect();
    format!("no sheet is {} thick: there is {}", show(part.blank.thickness), sold.join(", "))
}

fn too_thick(part: &Part, shop: &Shop, offers: &[Offered<'_>]) -> String {
    let layers = if shop.glue.laminate || part.blank.make.is_glued() {
        ""
    } else {
        "; with [glue] laminate = true in shop.toml it may be glued from layers"
    };
    let show = |length: Length| length.display(shop.unit).to_string();
    // A shorter piece of the same class may dress to more.
    let short = offers.iter().any(|offer| {
        same_species(offer.species, &part.species)
            && shop.dressed(offer.quarter, Length::ZERO) >= part.blank.thickness
    });
    let at = if short { format!(" at a length of {}", show(part.blank.cut_length)) } else { String::new() };
    let thickness = show(part.blank.thickness);
    format!("too thick: no class of {} dresses to {thickness}{at}{layers}", part.species)
}

fn shortfall(part: &Part, shop: &Shop, offers: &[Offered<'_>]) -> Option<Shortfall> {
    let because =
        |reason: String| Some(Shortfall { product: part.product.clone(), part: part.part.clone(), reason });
    let show = |length: Length| length.display(shop.unit).to_string();
    if let Some(reason) = refused(part, shop) {
        return because(reason);
    }
    // The board that comes nearest to serving tells the reason.
    let unfit: Vec<(&Offered<'_>, Option<Unfit>)> =
        offers.iter().map(|offer| (offer, shop.serves(offer, part).err())).collect();
    if unfit.iter().any(|(_, why)| why.is_none()) {
        return None;
    }
    let nearest = unfit.iter().filter_map(|(_, why)| *why).max().unwrap_or(Unfit::Species);
    let usable = |at_least: Unfit| {
        let those = unfit.iter().filter(move |(_, why)| why.is_some_and(|why| why >= at_least));
        those.filter_map(|(offer, _)| {
            let (length, width) = shop.usable(offer)?;
            // Of a sheet that a part lies across the width gives its length.
            let straight = turns(offer, part).allows_straight();
            Some(if straight { (length, width) } else { (width, length) })
        })
    };
    let sheets = part.sheet.is_some();
    let hint = other_material(part, offers);
    because(match nearest {
        Unfit::Material if sheets => {
            format!("nobody sells sheets and none is on the rack: {} is one{hint}", part.part)
        }
        Unfit::Material => {
            format!("nobody sells lumber and none is on the rack: {} is of it{hint}", part.part)
        }
        Unfit::Species if sheets => {
            format!("nobody sells sheets of {} and none is on the rack{hint}", part.species)
        }
        Unfit::Species => format!("nobody sells {} and none is on the rack{hint}", part.species),
        Unfit::TooThin if sheets => no_such_thickness(part, shop, offers),
        Unfit::Core => {
            let core = part.sheet.as_ref().map_or("", |sheet| sheet.core.as_str());
            format!("no sheet of that thickness has a core of {core}: leave the core empty to take any")
        }
        Unfit::Grade if sheets => "no sheet of that thickness has two good faces".to_string(),
        Unfit::TooThin => too_thick(part, shop, offers),
        Unfit::Grade => format!("no {} thick enough is of grade {} or better", part.species, part.grade),
        Unfit::TooShort => {
            let longest = usable(Unfit::TooShort).map(|size| size.0).max().unwrap_or(Length::ZERO);
            let (what, length) = (if sheets { "sheet" } else { "board" }, show(part.blank.cut_length));
            format!("too long: it is cut at {length} and the longest usable {what} gives {}", show(longest))
        }
        Unfit::TooHeavy => format!(
            "too heavy: every strip that it can be cut from weighs more than [sheet_saw] max_strip_weight, {}",
            shop.sheet_saw.max_strip_weight.price()
        ),
        Unfit::TooNarrow => {
            let widest = usable(Unfit::TooNarrow).map(|size| size.1).max().unwrap_or(Length::ZERO);
            let strips = if part.glue_up || sheets || !shop.glue.panels {
                ""
            } else {
                "; with glue_up = yes in parts.csv it may be glued from strips"
            };
            format!(
                "too wide: it is cut at {} and the widest usable {} of its length gives {}{strips}",
                show(part.blank.cut_width),
                if sheets { "sheet" } else { "board" },
                show(widest)
            )
        }
    })
}
