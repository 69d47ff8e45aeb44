//! Sizes as a page shows them, each with its unit.

use crate::measure::{Length, Unit};

/// A length up to a few feet.
pub fn shown(length: Length, unit: Unit) -> String {
    match unit {
        Unit::Inch => format!("{}\"", length.display(unit)),
        Unit::Millimetre => format!("{} mm", length.display(unit)),
    }
}

/// The length of a board.
pub fn long(length: Length, unit: Unit) -> String {
    match unit {
        Unit::Inch => length.display_feet(unit).to_string(),
        Unit::Millimetre => shown(length, unit),
    }
}
