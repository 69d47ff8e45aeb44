//! The demo jobs, as shipped in `datasets/`: an invented shop with invented dealers.

use crate::measure::Unit;

macro_rules! job_files {
    ($folder:literal) => {
        &[
            ("shop.toml", include_str!(concat!("../datasets/", $folder, "/shop.toml"))),
            ("orders.csv", include_str!(concat!("../datasets/", $folder, "/orders.csv"))),
            ("parts.csv", include_str!(concat!("../datasets/", $folder, "/parts.csv"))),
            ("suppliers.csv", include_str!(concat!("../datasets/", $folder, "/suppliers.csv"))),
            ("breaks.csv", include_str!(concat!("../datasets/", $folder, "/breaks.csv"))),
            ("holes.csv", include_str!(concat!("../datasets/", $folder, "/holes.csv"))),
            ("finish.csv", include_str!(concat!("../datasets/", $folder, "/finish.csv"))),
            ("rack.csv", include_str!(concat!("../datasets/", $folder, "/rack.csv"))),
            ("scenarios.csv", include_str!(concat!("../datasets/", $folder, "/scenarios.csv"))),
            ("prices/millrace.csv", include_str!(concat!("../datasets/", $folder, "/prices/millrace.csv"))),
            ("prices/northbank.csv", include_str!(concat!("../datasets/", $folder, "/prices/northbank.csv"))),
            ("prices/old-quay.csv", include_str!(concat!("../datasets/", $folder, "/prices/old-quay.csv"))),
        ]
    };
}

/// Names (relative to the job folder) and contents of a demo job.
pub fn files(unit: Unit) -> &'static [(&'static str, &'static str)] {
    match unit {
        Unit::Inch => job_files!("furniture-inch"),
        Unit::Millimetre => job_files!("furniture-metric"),
    }
}
