//! Edging as it is sold: rolls of one length each.

use crate::measure::{Length, Money};

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
