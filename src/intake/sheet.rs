//! Sheets of workbooks by name: which file is one, and how a person finds a sheet and its columns.

#[cfg(feature = "workbooks")]
use std::path::Path;

/// What stands between the name of a sheet and that of its workbook.
const SHEET_OF: &str = " (sheet of ";

/// A sheet of a workbook as a person finds it.
#[cfg(feature = "workbooks")]
pub fn sheet_of(sheet: &str, workbook: &str) -> String {
    format!("{sheet}{SHEET_OF}{workbook})")
}

/// Is a table, by its name, a sheet of a workbook? Its columns have letters then.
pub fn is_sheet(file: &str) -> bool {
    file.contains(SHEET_OF)
}

/// A column of a sheet as a spreadsheet names it: A, B, ... Z, AA, AB, ...
pub fn letters(place: usize) -> String {
    let letter = char::from(b'A' + (place % 26) as u8);
    match place / 26 {
        0 => letter.to_string(),
        more => format!("{}{letter}", letters(more - 1)),
    }
}

/// Endings of workbooks.
#[cfg(feature = "workbooks")]
const WORKBOOKS: [&str; 4] = ["xlsx", "ods", "xlsm", "xls"];

/// Is it a workbook, by its ending?
#[cfg(feature = "workbooks")]
pub fn is_workbook(path: &Path) -> bool {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    WORKBOOKS.iter().any(|one| one.eq_ignore_ascii_case(ending))
}
