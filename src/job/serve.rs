//! The one rule for which boards may serve a part, and how a part may lie on one.

use super::shop::Shop;
use super::stock::Offered;
use super::wanted::Part;
use crate::measure::{Area, Length};
use crate::trade::{Turns, same_species};

/// Why a board does not serve a part, in the order in which a person would look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unfit {
    /// One is a sheet and the other is not.
    Material,
    /// It is of another species.
    Species,
    /// Its class dresses to less than the blank's thickness; a sheet is of another thickness.
    TooThin,
    /// It is a sheet on another core.
    Core,
    /// Its grade is below the lowest acceptable one.
    Grade,
    /// Its usable length is shorter than the blank.
    TooShort,
    /// It is long enough, and its usable width is narrower than the blank.
    TooNarrow,
    /// It is large enough, and every strip with the blank in it is heavier than one person lifts.
    TooHeavy,
}

impl Shop {
    /// May blanks of `part` be cut from this board?
    ///
    /// # Errors
    /// The first reason why not.
    pub fn serves(&self, board: &Offered<'_>, part: &Part) -> Result<(), Unfit> {
        if board.quarter.is_sheet() != part.sheet.is_some() {
            Err(Unfit::Material)
        } else if !same_species(board.species, &part.species) {
            Err(Unfit::Species)
        } else if !self.is_thick_enough(board, part) {
            Err(Unfit::TooThin)
        } else if !has_core(board, part) {
            Err(Unfit::Core)
        } else if !board.grade.serves(part.grade) {
            Err(Unfit::Grade)
        } else {
            self.is_large_enough(board, part)
        }
    }

    /// Lumber may be planed; a sheet is of the part's thickness, by its name or as it measures.
    fn is_thick_enough(&self, board: &Offered<'_>, part: &Part) -> bool {
        let thickness = part.blank.thickness;
        if part.sheet.is_some() {
            return board.quarter.rough() == thickness || board.real_thickness() == thickness;
        }
        self.dressed(board.quarter, part.blank.cut_length) >= thickness
    }

    fn is_large_enough(&self, board: &Offered<'_>, part: &Part) -> Result<(), Unfit> {
        let blank = &part.blank;
        let (length, width) = self.usable(board).unwrap_or_default();
        let turns = turns(board, part);
        let is_large = |along, across| length >= along && width >= across;
        // A strip of the whole length, or a section of the whole width.
        let is_light = |along: Length, across: Length| {
            let least = Area::of(length, across).min(Area::of(along, width));
            self.largest_strip(board.quarter).is_none_or(|most| least <= most)
        };
        let fits = |along, across| is_large(along, across) && is_light(along, across);
        let straight = turns.allows_straight() && fits(blank.cut_length, blank.cut_width);
        let turned = turns.allows_turned() && fits(blank.cut_width, blank.cut_length);
        let (along, _) = if turns.allows_straight() { (length, width) } else { (width, length) };
        let heavy = (turns.allows_straight() && is_large(blank.cut_length, blank.cut_width))
            || (turns.allows_turned() && is_large(blank.cut_width, blank.cut_length));
        match straight || turned {
            true => Ok(()),
            false if heavy => Err(Unfit::TooHeavy),
            false if along < blank.cut_length => Err(Unfit::TooShort),
            false => Err(Unfit::TooNarrow),
        }
    }
}

/// How a part may lie on a board.
pub fn turns(board: &Offered<'_>, part: &Part) -> Turns {
    part.sheet.as_ref().map_or(Turns::Never, |sheet| sheet.grain.on(board.sheet.grain))
}

/// A part that names a core takes no other.
fn has_core(board: &Offered<'_>, part: &Part) -> bool {
    let asked = part.sheet.as_ref().map_or("", |sheet| sheet.core.as_str());
    asked.is_empty() || same_species(asked, &board.sheet.core)
}
