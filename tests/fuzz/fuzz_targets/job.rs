//! Every reader of a job folder: the input is cut at NUL bytes into its files.
#![no_main]

use libfuzzer_sys::fuzz_target;
use ripwright::intake::{job_of_tally, read_job, read_job_despite_bad_prices, read_scenarios};

const FILES: [&str; 10] = [
    "parts.csv", "orders.csv", "prices/yard.csv", "shop.toml", "suppliers.csv", "breaks.csv", "rack.csv", "holes.csv",
    "finish.csv", "scenarios.csv",
];

fuzz_target!(|data: &[u8]| {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("prices")).unwrap();
    for (name, content) in FILES.iter().zip(data.split(|byte| *byte == 0)) {
        std::fs::write(folder.path().join(name), content).unwrap();
    }
    let _ = read_job(folder.path());
    if let Ok((job, _)) = read_job_despite_bad_prices(folder.path()) {
        let _ = read_scenarios(&folder.path().join("scenarios.csv"), &job);
        let _ = job_of_tally(&job, &folder.path().join("rack.csv"), None);
    }
});
