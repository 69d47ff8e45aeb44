//! Small words of numbers, said alike in every report.

use crate::measure::{Length, Unit};
use crate::plan::SawLoad;

/// The end of a word for several.
pub fn plural(count: u64) -> &'static str {
    if count == 1 { "" } else { "s" }
}

/// A decimal number without the zeros at its end.
pub fn trimmed(number: &str) -> &str {
    if number.contains('.') { number.trim_end_matches('0').trim_end_matches('.') } else { number }
}

/// How often settings are made, and were in the plan that was changed for fewer of them.
pub fn times((now, before): (usize, Option<usize>)) -> String {
    match before {
        Some(before) => format!("{now} times ({before} in the cheapest plan found)"),
        None => format!("{now} times"),
    }
}

/// What the saws take, settings and cuts together; empty where nothing is cut.
pub fn hours_at_saws(loads: &[SawLoad]) -> String {
    let one = |load: &SawLoad| format!("{} {:.1} h ({} cuts)", load.saw.words(), load.hours, load.cuts);
    loads.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// A long length as it is bought: whole feet, or tenths of a metre, rounded up.
pub fn running(length: Length, unit: Unit) -> String {
    match unit {
        Unit::Inch => format!("{:.0} ft", (length.to_f64(Unit::Inch) / 12.0).ceil()),
        Unit::Millimetre => format!("{:.1} m", (length.to_f64(Unit::Millimetre) / 100.0).ceil() / 10.0),
    }
}
