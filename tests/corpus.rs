//! Cells and settings that mean nothing: every one is refused where it stands, and none brings the reader down.
//!
//! The texts are those that people, spreadsheets and broken exports leave behind, and those that programs are attacked
//! with. A corpus of over a thousand bad inputs comes of them, one at a time in a job that is right otherwise.

mod support;

use ripwright::intake::{SETTINGS, read_job};
use ripwright::job::{Fault, JobError};
use ripwright::measure::Unit;
use support::{Folder, SMALL};

/// What no column of numbers means anything by.
const NO_NUMBERS: &[&str] = &[
    "-1",
    "-0.5",
    "abc",
    "NaN",
    "inf",
    "-inf",
    "1e309",
    "1e-400",
    "0x10",
    "1/0",
    "0/0",
    "1//2",
    "3/4/5",
    "1 2 3",
    "..",
    "1..",
    "..2",
    "--",
    "+",
    "'",
    "=1+1",
    "#REF!",
    "#DIV/0!",
    "TRUE",
    "null",
    "1;2",
    "1\u{0}2",
    "\u{661}\u{662}",
    "\u{1f600}",
    "\u{202e}12",
    "1_000",
    "1,2,3",
    "12 parsecs",
    "99999999999999999999999999999999999999",
    "1e99",
];

/// What a length may not be, besides.
const NO_LENGTHS: &[&str] =
    &["0", "0 in", "0/5", "8' 13\"", "8\"'", "7 1/", "1/3mm/2", "5..3", "9..4'", "1e9", "12mmm"];

/// What a count may not be, besides.
const NO_COUNTS: &[&str] = &["0", "1.5", "1/2", "18446744073709551616", "-9223372036854775809"];

/// What money may not be, besides.
const NO_MONEY: &[&str] = &["1.23456", "4..5", "$", "USD", "1.2.3", "4 to 5"];

/// What none of a few words is.
const NO_WORDS: &[&str] =
    &["?", "0", "1/0", "=A1", "#N/A", "\u{0}", "yes no", "\u{1f600}", "--help", "../../etc/passwd"];

/// What no list of boxes is.
const NO_BOXES: &[&str] =
    &["1..2", "1..2@", "@1..2", "2..1@0..1", "1..2@3..x", "0..9999@0..1", "1..2@0..1;;x"];

/// Columns of the small job, by what they hold.
const COLUMNS: &[(&str, &str, &[&[&str]])] = &[
    ("orders.csv", "quantity", &[NO_NUMBERS, NO_COUNTS, &["", "2-3", "1000000000000000000"]]),
    ("parts.csv", "pieces", &[NO_NUMBERS, NO_COUNTS, &["", "1000000000000000000"]]),
    ("parts.csv", "length", &[NO_NUMBERS, NO_LENGTHS, &["", "1..2", "100000'"]]),
    ("parts.csv", "width", &[NO_NUMBERS, NO_LENGTHS, &["", "1..2", "100000'"]]),
    ("parts.csv", "thickness", &[NO_NUMBERS, NO_LENGTHS, &["", "1..2", "100000'"]]),
    ("parts.csv", "grade", &[NO_WORDS, &["9C", "FASS"]]),
    ("parts.csv", "fit", &[NO_WORDS, &["loose", "stopp"]]),
    ("prices/yard.csv", "quarter", &[NO_NUMBERS, NO_LENGTHS, &["", "4/5", "4/4/4", "999/4"]]),
    ("prices/yard.csv", "grade", &[NO_WORDS, &["", "9C"]]),
    ("prices/yard.csv", "width", &[NO_NUMBERS, NO_LENGTHS, &["", "100000'"]]),
    ("prices/yard.csv", "length", &[NO_NUMBERS, NO_LENGTHS, &["", "100000'"]]),
    ("prices/yard.csv", "price", &[NO_NUMBERS, NO_MONEY, &[""]]),
    ("prices/yard.csv", "per", &[NO_WORDS, &["foot lamp", "bff"]]),
    ("prices/yard.csv", "available", &[NO_NUMBERS, &["1.5", "18446744073709551616"]]),
    ("rack.csv", "quarter", &[NO_NUMBERS, NO_LENGTHS, &[""]]),
    ("rack.csv", "grade", &[NO_WORDS, &[""]]),
    ("rack.csv", "width", &[NO_NUMBERS, NO_LENGTHS, &["", "4..5"]]),
    ("rack.csv", "length", &[NO_NUMBERS, NO_LENGTHS, &["", "4..5"]]),
    ("rack.csv", "value", &[NO_NUMBERS, NO_MONEY]),
    ("rack.csv", "defects", &[NO_BOXES, &["knot"]]),
];

/// A file with the first row's cell of a column changed.
fn with_cell(text: &str, column: &str, cell: &str) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_string).collect();
    let place = lines[0].split(',').position(|head| head == column).unwrap();
    let mut cells: Vec<String> = lines[1].split(',').map(str::to_string).collect();
    cells[place] = format!("\"{}\"", cell.replace('"', "\"\""));
    lines[1] = cells.join(",");
    lines.join("\n") + "\n"
}

#[test]
fn a_cell_that_means_nothing_is_refused_where_it_stands() {
    let (mut tried, mut wrong) = (0, Vec::new());
    for (file, column, texts) in COLUMNS {
        let whole = SMALL.iter().find(|(name, _)| name == file).unwrap().1;
        let folder = Folder::new(SMALL);
        for cell in texts.iter().copied().flatten() {
            folder.write(file, &with_cell(whole, column, cell));
            tried += 1;
            match read_job(folder.path()) {
                Err(JobError::Faults { faults, .. }) => {
                    let is_named = faults.iter().any(|fault| {
                        fault.file == *file
                            && fault.row == Some(2)
                            && fault.column.as_deref() == Some(*column)
                    });
                    if !is_named {
                        wrong.push(format!("{file} {column} {cell:?}: {faults:?}"));
                    }
                }
                Ok(_) => wrong.push(format!("{file} {column} {cell:?} is read")),
                Err(other) => wrong.push(format!("{file} {column} {cell:?}: {other}")),
            }
        }
    }
    assert!(wrong.is_empty(), "{} of {tried}:\n{}", wrong.len(), wrong.join("\n"));
    assert!(tried > 600, "{tried}");
}

/// Every key of `shop.toml` with a value of a kind that it is not.
#[test]
fn a_setting_that_means_nothing_is_refused_by_its_key() {
    let values = [
        "[]",
        "{}",
        "\"\"",
        "\"a b c\\u0007\"",
        "[1, 2]",
        "-1",
        "\"-1\"",
        "1979-05-27",
        "[[1]]",
        "\"1e309\"",
    ];
    let (mut tried, mut wrong) = (0, Vec::new());
    let folder = Folder::new(SMALL);
    // A shop may be called anything.
    for setting in SETTINGS.iter().filter(|setting| setting.key != "name") {
        let section =
            if setting.section.is_empty() { String::new() } else { format!("[{}]\n", setting.section) };
        for value in values {
            let is_default = value == setting.default_in(Unit::Inch);
            folder.write("shop.toml", &format!("{section}{} = {value}\n", setting.key));
            tried += 1;
            let is_named = |fault: &Fault| {
                fault.file == "shop.toml"
                    && fault.column.as_deref().is_none_or(|column| column.contains(setting.key))
            };
            match read_job(folder.path()) {
                Err(JobError::Faults { faults, .. }) if faults.iter().any(is_named) => {}
                Ok(_) if is_default => {}
                Ok(_) => wrong.push(format!("[{}] {} = {value} is read", setting.section, setting.key)),
                Err(other) => wrong.push(format!("[{}] {} = {value}: {other}", setting.section, setting.key)),
            }
        }
    }
    assert!(wrong.is_empty(), "{} of {tried}:\n{}", wrong.len(), wrong.join("\n"));
    assert!(tried > 600, "{tried}");
}
