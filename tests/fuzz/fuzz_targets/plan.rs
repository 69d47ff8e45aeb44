//! The plan checker and the rack's ledger, over any text that may stand in a plan.json.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use ripwright::intake::read_job;
use ripwright::job::Job;
use ripwright::measure::Unit;
use ripwright::check::check;
use ripwright::document::Document;

static JOB: LazyLock<Job> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    for (name, content) in ripwright::demo::files(ripwright::demo::Demo::Furniture, Unit::Inch) {
        ripwright::report::write_file(folder.path(), name, content.as_bytes()).unwrap();
    }
    read_job(folder.path()).unwrap()
});

fuzz_target!(|data: &[u8]| {
    if let Ok(document) = serde_json::from_slice::<Document>(data) {
        let _ = check(&document, &JOB);
    }
});
