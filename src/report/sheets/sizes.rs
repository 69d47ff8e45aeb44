//! Sizes as a page shows them, each with its unit.

use crate::measure::{Length, Unit};

/// What the scale of a machine can be set to.
const HALF_MILLIMETRE: Length = Length::micrometres(500);

/// Millimetres from which a size is one of wood or of a setting; smaller ones are bits, kerfs and edging.
const SMALL: Length = Length::micrometres(10_000);

/// A length up to a few feet.
pub fn shown(length: Length, unit: Unit) -> String {
    match unit {
        Unit::Inch => format!("{}\"", figure(length, unit)),
        Unit::Millimetre => format!("{} mm", figure(length, unit)),
    }
}

/// The same without its unit. Nobody sets a scale to less than half a millimetre.
pub fn figure(length: Length, unit: Unit) -> String {
    let half = HALF_MILLIMETRE.base();
    match unit {
        Unit::Millimetre if length >= SMALL => {
            let rounded = HALF_MILLIMETRE * num_integer::div_floor(length.base() + half / 2, half);
            rounded.display(unit).to_string()
        }
        _ => length.display(unit).to_string(),
    }
}

/// The length of a board.
pub fn long(length: Length, unit: Unit) -> String {
    match unit {
        Unit::Inch => length.display_feet(unit).to_string(),
        Unit::Millimetre => shown(length, unit),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn metric_sizes_are_shown_to_half_a_millimetre_and_bits_as_they_are() {
        let shown = |micrometres| figure(Length::micrometres(micrometres), Unit::Millimetre);
        assert_eq!(
            [412_700, 412_740, 412_750, 10_000, 3_100].map(shown),
            ["412.5", "412.5", "413", "10", "3.1"]
        );
        assert_eq!(figure(Length::inch_128ths(129), Unit::Inch), "1 1/128");
    }
}
