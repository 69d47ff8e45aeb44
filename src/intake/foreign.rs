//! A table with headings of its own: the first row that holds more than one cell, and what stands below it.

use std::io::{BufRead, Error, Read};
use std::path::Path;

use super::records::{Next, Records};
use super::source::{LARGEST_FILE, decoded};

/// A table as it stands.
#[derive(Debug, Clone)]
pub struct Foreign {
    /// Headings, as written.
    pub headings: Vec<String>,
    /// Rows below them that hold anything.
    pub rows: Vec<Vec<String>>,
}

/// Reads a CSV file or the sheet of parts of a workbook; without one of that name, its first sheet with a table.
///
/// # Errors
/// If it cannot be read, or has no headings.
pub fn read_foreign(file: &Path) -> std::io::Result<Foreign> {
    #[cfg(feature = "workbooks")]
    if super::sheet::is_workbook(file) {
        use super::source::Source;
        let workbook = super::workbook::Workbook::open(file)?;
        let table = workbook.first_table("parts.csv").map(str::to_string);
        let table = table.ok_or_else(|| Error::other("it has no sheet with a table"))?;
        return read(workbook.open(&table)?);
    }
    read(decoded(std::fs::File::open(file)?)?)
}

fn read(mut source: impl BufRead) -> std::io::Result<Foreign> {
    let mut text = Vec::new();
    source.by_ref().take(LARGEST_FILE).read_to_end(&mut text)?;
    // A title above the table holds nothing that parts cells, and would not tell what does.
    let mut table = &text[..];
    while let Some(end) = table.iter().position(|byte| *byte == b'\n')
        && !table[..end].iter().any(|byte| matches!(byte, b',' | b';'))
    {
        table = &table[end + 1..];
    }
    let mut records = Records::new(table)?;
    let mut headings: Vec<String> = Vec::new();
    let mut rows = Vec::new();
    loop {
        match records.next()? {
            Next::Row(_) => {
                let cells: Vec<String> = records.cells().iter().map(str::to_string).collect();
                let filled = cells.iter().filter(|cell| !cell.is_empty()).count();
                if !headings.is_empty() {
                    rows.push(cells);
                } else if filled > 1 {
                    headings = cells;
                }
            }
            Next::Bad(line, why) => return Err(Error::other(format!("row {line}: {}", why.text()))),
            Next::End => break,
        }
    }
    if headings.is_empty() { Err(Error::other("it has no headings")) } else { Ok(Foreign { headings, rows }) }
}
