//! The streamed reader of an order book, over the demo's products.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use ripwright::intake::{Base, BookRow, SpokenFor, read_base, read_book};
use ripwright::measure::Unit;

static BASE: LazyLock<Base> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    for (name, content) in ripwright::demo::files(ripwright::demo::Demo::Furniture, Unit::Inch) {
        ripwright::report::write_file(folder.path(), name, content.as_bytes()).unwrap();
    }
    read_base(folder.path()).unwrap()
});

fuzz_target!(|data: &[u8]| {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    std::io::Write::write_all(&mut file, data).unwrap();
    let mut rejected = 0u64;
    if let Ok(book) = read_book(file.path(), &BASE, None, &mut SpokenFor::default(), &mut |row| {
        rejected += u64::from(matches!(row, BookRow::Rejected(_)));
    }) {
        assert!(book.planned + rejected <= book.rows, "rows are planned or rejected once");
    }
});
