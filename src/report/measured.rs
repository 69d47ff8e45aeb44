//! Volumes and areas as people of a shop's unit read them: board and square feet, or cubic and square metres.

use crate::measure::Unit;

/// Cubic metres of a board foot: 144 cubic inches of 25.4 mm, exactly.
const CUBIC_METRES: f64 = 0.002_359_737_216;

/// Square metres of a square foot: 12 by 12 inches of 25.4 mm, exactly.
const SQUARE_METRES: f64 = 0.092_903_04;

/// What areas are counted in.
pub fn unit_of_area(unit: Unit) -> &'static str {
    match unit {
        Unit::Inch => "square feet",
        Unit::Millimetre => "m2",
    }
}

/// Square feet as a number of the shop's unit, of hundredths.
pub fn area(square_feet: f64, unit: Unit) -> String {
    match unit {
        Unit::Inch => format!("{square_feet:.2}"),
        Unit::Millimetre => format!("{:.2}", square_feet * SQUARE_METRES),
    }
}

/// What volumes are counted in.
pub fn unit_of_volume(unit: Unit) -> &'static str {
    match unit {
        Unit::Inch => "board feet",
        Unit::Millimetre => "m3",
    }
}

/// Board feet as a number of the shop's unit: of hundredths, or of cubic decimetres.
pub fn volume(board_feet: f64, unit: Unit) -> String {
    match unit {
        Unit::Inch => format!("{board_feet:.2}"),
        Unit::Millimetre => format!("{:.3}", board_feet * CUBIC_METRES),
    }
}

/// The same to be asked for: whole board feet, or hundredths of a cubic metre, rounded up.
pub fn volume_to_ask_for(board_feet: f64, unit: Unit) -> String {
    match unit {
        Unit::Inch => format!("{board_feet:.0}"),
        Unit::Millimetre => format!("{:.2}", (board_feet * CUBIC_METRES * 100.0).ceil() / 100.0),
    }
}
