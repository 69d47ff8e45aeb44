//! The demo jobs, as shipped in `datasets/`: an invented shop with invented dealers.

use crate::measure::Unit;

/// A demo job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Demo {
    /// Nine products of solid wood.
    Furniture,
    /// Five cabinets of sheets, with frames of lumber.
    Cabinets,
}

macro_rules! files_of {
    ($folder:literal: $($name:literal),+ $(,)?) => {
        &[$(($name, include_str!(concat!("../datasets/", $folder, "/", $name)))),+]
    };
}

macro_rules! furniture {
    ($folder:literal) => {
        files_of!($folder: "shop.toml", "orders.csv", "parts.csv", "suppliers.csv", "breaks.csv", "holes.csv", "finish.csv", "rack.csv", "scenarios.csv", "prices/millrace.csv", "prices/northbank.csv", "prices/old-quay.csv")
    };
}

macro_rules! cabinets {
    ($folder:literal) => {
        files_of!($folder: "shop.toml", "orders.csv", "parts.csv", "suppliers.csv", "rack.csv", "scenarios.csv", "prices/northbank.csv", "prices/panel-wharf.csv")
    };
}

/// Names (relative to the job folder) and contents of a demo job.
pub fn files(demo: Demo, unit: Unit) -> &'static [(&'static str, &'static str)] {
    match (demo, unit) {
        (Demo::Furniture, Unit::Inch) => furniture!("furniture-inch"),
        (Demo::Furniture, Unit::Millimetre) => furniture!("furniture-metric"),
        (Demo::Cabinets, Unit::Inch) => cabinets!("cabinets-inch"),
        (Demo::Cabinets, Unit::Millimetre) => cabinets!("cabinets-metric"),
    }
}
