//! The plan checker and the rack's ledger, over any text that may stand in a plan.json.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use ripwright::job::{Job, read_job};
use ripwright::measure::Unit;
use ripwright::plan::check::check;
use ripwright::plan::document::Document;

static JOB: LazyLock<Job> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    for (name, content) in ripwright::demo::files(Unit::Inch) {
        ripwright::report::write_file(folder.path(), name, content.as_bytes()).unwrap();
    }
    read_job(folder.path()).unwrap()
});

fuzz_target!(|data: &[u8]| {
    if let Ok(document) = serde_json::from_slice::<Document>(data) {
        let _ = check(&document, &JOB);
    }
});
