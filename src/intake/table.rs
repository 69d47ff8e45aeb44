//! One CSV file as rows of named cells, whole or as a stream, with the reading of single cells.
//!
//! Every reader of a cell records what is wrong and gives `None`; nothing stops at the first fault.

use std::io::BufRead;

use super::cells::Manner;
use super::log::Log;
use super::records::{Cells, Next, Records};
use super::row::Row;
use crate::job::FaultKind;

/// Rows that a file read whole may have, so that a wrong file fails early instead of filling the memory.
const MAX_ROWS: usize = 2_000_000;

/// Columns that a file may have.
const MAX_COLUMNS: usize = 1_000;

/// The columns a file may have.
pub struct Columns {
    pub required: &'static [&'static str],
    pub optional: &'static [&'static str],
}

/// A file whose rows come one by one.
pub struct Stream<R> {
    file: String,
    header: Vec<String>,
    records: Records<R>,
    manner: Manner,
    /// Was a row told that is no UTF-8 text?
    told_encoding: bool,
}

/// A file read whole.
pub struct Table {
    pub file: String,
    header: Vec<String>,
    records: Vec<(u64, Cells)>,
    manner: Manner,
}

impl<R: BufRead> Stream<R> {
    /// Reads the header; `None` (with the fault recorded) if the file cannot be used at all.
    pub fn open(source: R, file: &str, columns: &Columns, log: &mut Log) -> Option<Stream<R>> {
        let first = Records::new(source).and_then(|mut records| Ok((records.next()?, records)));
        let (first, records) = match first {
            Ok(read) => read,
            Err(error) => {
                log.fault(file, None, None, FaultKind::Unreadable(error.to_string()));
                return None;
            }
        };
        match first {
            Next::Row(line) => {
                let header = records.header();
                if header.len() > MAX_COLUMNS {
                    let why = format!("it has {} columns, more than any list of a shop", header.len());
                    log.fault(file, Some(line), None, FaultKind::NotATable(why));
                    return None;
                }
                let manner = Manner { comma_is_decimal: records.delimiter() == b';' };
                check_header(&header, line, file, columns, log).then(|| Stream {
                    file: file.to_string(),
                    header,
                    records,
                    manner,
                    told_encoding: false,
                })
            }
            Next::Bad(line, why) => {
                log.fault(file, Some(line), None, FaultKind::NotATable(why.text().to_string()));
                None
            }
            Next::End => {
                log.fault(file, None, None, FaultKind::Empty("it is empty".to_string()));
                None
            }
        }
    }

    /// The next row that is one; what is no row is recorded and passed over. `None` at the end.
    pub fn next(&mut self, log: &mut Log) -> Option<Row<'_>> {
        loop {
            match self.records.next() {
                Ok(Next::Row(line)) => {
                    if let Some(what) = wrong_cells(self.records.cells(), self.header.len()) {
                        log.fault(&self.file, Some(line), None, FaultKind::NotATable(what));
                        continue;
                    }
                    if self.records.is_windows_1252() && !self.told_encoding {
                        self.told_encoding = true;
                        let text = format!("row {line} is no UTF-8 text; it is read as Windows-1252");
                        log.warn(&self.file, text);
                    }
                    let cells = self.records.cells();
                    let (file, header, manner) = (&self.file, &self.header, self.manner);
                    return Some(Row { file, header, line, cells, manner });
                }
                Ok(Next::Bad(line, why)) => {
                    let kind = FaultKind::NotATable(why.text().to_string());
                    log.fault(&self.file, Some(line), None, kind);
                }
                Ok(Next::End) => return None,
                Err(error) => {
                    log.fault(&self.file, None, None, FaultKind::Unreadable(error.to_string()));
                    return None;
                }
            }
        }
    }

    /// SHA-256 of everything read.
    pub fn hash(self) -> String {
        self.records.hash()
    }
}

/// What is wrong with the number of cells of a row, if anything is.
fn wrong_cells(cells: &Cells, columns: usize) -> Option<String> {
    let extra = cells.iter().skip(columns).any(|cell| !cell.is_empty());
    (cells.len() < columns || extra)
        .then(|| format!("the row has {} cells where the header has {columns}", cells.len()))
}

impl Table {
    /// Reads a whole file; `None` (with the fault recorded) if it cannot be used at all.
    pub fn read(source: impl BufRead, file: &str, columns: &Columns, log: &mut Log) -> Option<Table> {
        let mut stream = Stream::open(source, file, columns, log)?;
        let mut records = Vec::new();
        while let Some(row) = stream.next(log) {
            // Empty cells behind the last column are not kept: a sheet may have thousands of them.
            let (line, columns) = (row.line, row.header.len());
            let mut cells = row.cells.clone();
            cells.truncate(columns);
            records.push((line, cells));
            if records.len() > MAX_ROWS {
                let why = format!("it has more than {MAX_ROWS} rows");
                log.fault(file, None, None, FaultKind::NotATable(why));
                return None;
            }
        }
        Some(Table { file: stream.file, header: stream.header, records, manner: stream.manner })
    }

    /// The rows, in the order of the file.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.records.iter().map(|(line, cells)| Row {
            file: &self.file,
            header: &self.header,
            line: *line,
            cells,
            manner: self.manner,
        })
    }
}

fn check_header(header: &[String], line: u64, file: &str, columns: &Columns, log: &mut Log) -> bool {
    let mut sound = true;
    for required in columns.required {
        if !header.iter().any(|name| name == required) {
            let what = format!("the column {required} is missing; expected {}", columns.required.join(", "));
            log.fault(file, Some(line), None, FaultKind::Header(what));
            sound = false;
        }
    }
    for (place, name) in header.iter().enumerate() {
        let known = columns.required.iter().chain(columns.optional).any(|column| column == name);
        if header[..place].contains(name) && known {
            let what = format!("the column {name} stands there twice");
            log.fault(file, Some(line), None, FaultKind::Header(what));
            sound = false;
        } else if !known && !name.is_empty() {
            log.warn(file, format!("the column {name} is not known and is ignored"));
        }
    }
    sound
}
