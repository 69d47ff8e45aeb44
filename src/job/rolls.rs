//! Edging as it is sold: rolls of one length each.

use crate::measure::{Length, Money};
use crate::trade::same_species;

/// A roll that can be bought.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EdgingRoll {
    /// Species of its face.
    pub species: String,
    /// Thickness of the sheets that it is wide enough for, by their name.
    pub sheet: Length,
    /// Its own thickness.
    pub thickness: Length,
    /// Length of a roll.
    pub length: Length,
    /// Price of a roll.
    pub price: Money,
}

impl EdgingRoll {
    /// Does it cover edges of such sheets with edging so thick?
    pub fn covers(&self, species: &str, sheet: Length, thickness: Length) -> bool {
        same_species(&self.species, species) && (self.sheet, self.thickness) == (sheet, thickness)
    }
}
