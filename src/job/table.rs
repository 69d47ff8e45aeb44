//! One CSV file as rows of cells, with the reading of single cells.
//!
//! Every reader of a cell records what is wrong and gives `None`; nothing stops at the first fault.

use std::path::Path;

use super::{Fault, FaultKind, Warning};
use crate::measure::{Length, Money, Unit};

/// Rows that one file may have, so that a wrong file fails early instead of filling the memory.
const MAX_ROWS: usize = 2_000_000;

/// Bytes of a file that is read whole, for the same reason.
const LARGEST_FILE: u64 = 1 << 29;

/// Faults and warnings gathered while a job is read.
#[derive(Debug, Default)]
pub struct Log {
    pub faults: Vec<Fault>,
    pub warnings: Vec<Warning>,
}

impl Log {
    pub fn fault(&mut self, file: &str, row: Option<u64>, column: Option<&str>, kind: FaultKind) {
        self.faults.push(Fault { file: file.to_string(), row, column: column.map(str::to_string), kind });
    }

    pub fn warn(&mut self, file: &str, text: String) {
        self.warnings.push(Warning { file: file.to_string(), text });
    }
}

/// The columns a file may have.
pub struct Columns {
    pub required: &'static [&'static str],
    pub optional: &'static [&'static str],
}

/// A file read whole.
pub struct Table {
    pub file: String,
    header: Vec<String>,
    records: Vec<(u64, csv::StringRecord)>,
}

/// One row of a table.
#[derive(Clone, Copy)]
pub struct Row<'t> {
    table: &'t Table,
    /// Line in the file; the header is 1.
    pub line: u64,
    cells: &'t csv::StringRecord,
}

impl Table {
    /// Reads a file; `None` (with the fault recorded) if it cannot be used at all.
    pub fn read(folder: &Path, file: &str, columns: &Columns, log: &mut Log) -> Option<Table> {
        let path = folder.join(file);
        let bytes = std::fs::metadata(&path).map_or(0, |data| data.len());
        if bytes > LARGEST_FILE {
            let why = format!("it has {bytes} bytes, more than any list of a shop: is it the right file?");
            log.fault(file, None, None, FaultKind::NotATable(why));
            return None;
        }
        match std::fs::read(path) {
            Ok(bytes) => Table::parse(&bytes, file, columns, log),
            Err(error) => {
                log.fault(file, None, None, FaultKind::Unreadable(error.to_string()));
                None
            }
        }
    }

    /// Reads a file's bytes.
    pub fn parse(bytes: &[u8], file: &str, columns: &Columns, log: &mut Log) -> Option<Table> {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                let line = 1 + bytes[..error.valid_up_to()].iter().filter(|byte| **byte == b'\n').count();
                let why = "the text is not UTF-8; save the file as UTF-8".to_string();
                log.fault(file, Some(line as u64), None, FaultKind::NotATable(why));
                return None;
            }
        };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter(text))
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let header: Vec<String> = match reader.headers() {
            Ok(header) => header.iter().map(str::to_lowercase).collect(),
            Err(error) => {
                log.fault(file, Some(1), None, FaultKind::NotATable(error.to_string()));
                return None;
            }
        };
        if !check_header(&header, file, columns, log) {
            return None;
        }
        let mut table = Table { file: file.to_string(), header, records: Vec::new() };
        let mut lines = Lines { text, byte: 0, line: 1 };
        for record in reader.records() {
            match record {
                Ok(record) => {
                    let line = record.position().map_or(0, |position| lines.at(position.byte()));
                    table.keep(line, record, log);
                }
                Err(error) => {
                    let line = error.position().map(|position| lines.at(position.byte()));
                    log.fault(file, line, None, FaultKind::NotATable(error.to_string()));
                }
            }
            if table.records.len() > MAX_ROWS {
                let why = format!("it has more than {MAX_ROWS} rows");
                log.fault(file, None, None, FaultKind::NotATable(why));
                return None;
            }
        }
        Some(table)
    }

    fn keep(&mut self, line: u64, record: csv::StringRecord, log: &mut Log) {
        if record.iter().all(str::is_empty) {
            return;
        }
        let extra = record.iter().skip(self.header.len()).any(|cell| !cell.is_empty());
        if record.len() < self.header.len() || extra {
            let kind = FaultKind::NotATable(format!(
                "the row has {} cells where the header has {}",
                record.len(),
                self.header.len()
            ));
            log.fault(&self.file, Some(line), None, kind);
            return;
        }
        self.records.push((line, record));
    }

    /// The rows, in the order of the file.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.records.iter().map(|(line, cells)| Row { table: self, line: *line, cells })
    }
}

/// Line numbers as an editor shows them. The reader's own count is off after blank lines and line
/// ends of two characters.
struct Lines<'t> {
    text: &'t str,
    byte: usize,
    line: u64,
}

impl Lines<'_> {
    /// The line of the first text at or after `byte`, which never goes back.
    fn at(&mut self, byte: u64) -> u64 {
        let bytes = self.text.as_bytes();
        let mut target = (byte as usize).min(bytes.len());
        while target < bytes.len() && matches!(bytes[target], b'\r' | b'\n') {
            target += 1;
        }
        let passed = bytes[self.byte.min(target)..target].iter().filter(|byte| **byte == b'\n').count();
        self.line += passed as u64;
        self.byte = self.byte.max(target);
        self.line
    }
}

/// A semicolon-separated file is recognised from its header.
fn delimiter(text: &str) -> u8 {
    let header = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
    let count = |byte: u8| header.bytes().filter(|found| *found == byte).count();
    if count(b';') > count(b',') { b';' } else { b',' }
}

fn check_header(header: &[String], file: &str, columns: &Columns, log: &mut Log) -> bool {
    let mut sound = true;
    for required in columns.required {
        if !header.iter().any(|name| name == required) {
            let what = format!("the column {required} is missing; expected {}", columns.required.join(", "));
            log.fault(file, Some(1), None, FaultKind::Header(what));
            sound = false;
        }
    }
    for (place, name) in header.iter().enumerate() {
        let known = columns.required.iter().chain(columns.optional).any(|column| column == name);
        if header[..place].contains(name) && known {
            log.fault(
                file,
                Some(1),
                None,
                FaultKind::Header(format!("the column {name} stands there twice")),
            );
            sound = false;
        } else if !known && !name.is_empty() {
            log.warn(file, format!("the column {name} is not known and is ignored"));
        }
    }
    sound
}

impl<'t> Row<'t> {
    /// The trimmed text of a cell; empty where the column is absent.
    pub fn cell(&self, column: &str) -> &'t str {
        let place = self.table.header.iter().position(|name| name == column);
        place.and_then(|place| self.cells.get(place)).unwrap_or("")
    }

    /// Records a fault of this row.
    pub fn fault(&self, column: &str, kind: FaultKind, log: &mut Log) {
        let column = (!column.is_empty()).then_some(column);
        log.fault(&self.table.file, Some(self.line), column, kind);
    }

    /// Records a bad value.
    pub fn bad<T>(&self, column: &str, expected: &str, why: Option<String>, log: &mut Log) -> Option<T> {
        let text = self.cell(column).to_string();
        self.fault(column, FaultKind::Value { text, expected: expected.to_string(), why }, log);
        None
    }

    /// A cell that must not be empty.
    pub fn name(&self, column: &str, log: &mut Log) -> Option<String> {
        /// A longer name is a file gone wrong, and would break every report.
        const LONGEST_NAME: usize = 200;
        let text = self.cell(column);
        if text.is_empty() {
            return self.bad(column, "a name", Some("it is empty".to_string()), log);
        }
        if text.chars().count() > LONGEST_NAME || text.chars().any(char::is_control) {
            return self.bad(column, "a name of one line, of at most 200 characters", None, log);
        }
        Some(text.to_string())
    }

    /// A positive length of at most `most`.
    pub fn length(&self, column: &str, unit: Unit, most: Length, log: &mut Log) -> Option<Length> {
        match read_size(self.cell(column), unit, most) {
            Ok(length) => Some(length),
            Err(why) => self.bad(column, "a length above 0, such as 7 1/4 or 184mm", Some(why), log),
        }
    }

    /// A size, or the two ends of a range.
    pub fn range(
        &self,
        column: &str,
        unit: Unit,
        most: Length,
        log: &mut Log,
    ) -> Option<(Length, Option<Length>)> {
        let text = self.cell(column);
        let expected = "a length above 0, or a range such as 5..9";
        let ends: Vec<&str> = text.split("..").collect();
        let read = |end: &str| read_size(end, unit, most);
        let result = match ends.as_slice() {
            [one] => read(one).map(|length| (length, None)),
            [low, high] => read(low).and_then(|low| {
                let high = read(high)?;
                if high < low {
                    return Err("its upper end is below its lower end".to_string());
                }
                Ok((low, (high > low).then_some(high)))
            }),
            _ => Err("it is not a range".to_string()),
        };
        match result {
            Ok(range) => Some(range),
            Err(why) => self.bad(column, expected, Some(why), log),
        }
    }

    /// Money; an empty cell takes `default` where there is one.
    pub fn money(&self, column: &str, default: Option<Money>, log: &mut Log) -> Option<Money> {
        let text = self.cell(column);
        if let (true, Some(default)) = (text.is_empty(), default) {
            return Some(default);
        }
        match Money::parse(text) {
            Ok(money) => Some(money),
            Err(error) => {
                self.bad(column, "an amount such as 4.10, at most 4 decimals", Some(error.to_string()), log)
            }
        }
    }

    /// A whole number between `least` and `most`.
    pub fn whole(&self, column: &str, least: u64, most: u64, log: &mut Log) -> Option<u64> {
        let text = self.cell(column);
        let plain = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        match text.parse::<u64>() {
            Ok(count) if plain && (least..=most).contains(&count) => Some(count),
            _ => self.bad(column, &format!("a whole number from {least} to {most}"), None, log),
        }
    }

    /// One of a fixed set of words; an empty cell takes `default` where there is one.
    pub fn choice<T>(
        &self,
        column: &str,
        parse: impl Fn(&str) -> Option<T>,
        default: Option<T>,
        expected: &str,
        log: &mut Log,
    ) -> Option<T> {
        let text = self.cell(column);
        match (parse(text), default) {
            (Some(value), _) => Some(value),
            (None, Some(default)) if text.is_empty() => Some(default),
            (None, _) => self.bad(column, expected, None, log),
        }
    }
}

/// A positive length of at most `most`, or the reason why not.
pub fn read_size(text: &str, unit: Unit, most: Length) -> Result<Length, String> {
    let length = Length::parse(text, unit).map_err(|error| error.to_string())?;
    if length == Length::ZERO {
        return Err("it is zero".to_string());
    }
    if length > most {
        return Err(format!("it is longer than {}, the most that is read", most.display_feet(unit)));
    }
    Ok(length)
}
