//! The one rule for which boards may serve a part.

use super::shop::Shop;
use super::stock::Offered;
use super::wanted::Part;
use crate::trade::same_species;

/// Why a board does not serve a part, in the order in which a person would look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unfit {
    /// It is of another species.
    Species,
    /// Its class dresses to less than the blank's thickness.
    TooThin,
    /// Its grade is below the lowest acceptable one.
    Grade,
    /// Its usable length is shorter than the blank.
    TooShort,
    /// It is long enough, and its usable width is narrower than the blank.
    TooNarrow,
}

impl Shop {
    /// May blanks of `part` be cut from this board?
    ///
    /// # Errors
    /// The first reason why not.
    pub fn serves(&self, board: &Offered<'_>, part: &Part) -> Result<(), Unfit> {
        let blank = &part.blank;
        let (length, width) = self.usable(board.length, board.width).unwrap_or_default();
        if !same_species(board.species, &part.species) {
            Err(Unfit::Species)
        } else if self.dressed(board.quarter, blank.cut_length) < blank.thickness {
            Err(Unfit::TooThin)
        } else if !board.grade.serves(part.grade) {
            Err(Unfit::Grade)
        } else if length < blank.cut_length {
            Err(Unfit::TooShort)
        } else if width < blank.cut_width {
            Err(Unfit::TooNarrow)
        } else {
            Ok(())
        }
    }
}
