//! The one reader of CSV: a stream of rows with the lines they begin on, whatever the size of the file.
//!
//! Cells are told apart by the csv crate's own engine. What is added is what a person needs who mends the
//! file: lines as an editor counts them, a quotation mark that is never closed found on the line that opens
//! it, and reading that goes on behind a row gone wrong.

use std::collections::VecDeque;
use std::io::{BufRead, Read};

use csv_core::ReadRecordResult;
use encoding_rs::WINDOWS_1252;
use sha2::{Digest, Sha256};

use super::hash::hex;

/// Longest row that is read: a longer one is a file gone wrong.
const LONGEST_ROW: usize = 1 << 20;

/// Why a row cannot be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadRow {
    /// A quotation mark is opened in it and not closed.
    OpenQuote,
    /// It is longer than any row.
    TooLong,
    /// It is not UTF-8 text.
    NotUtf8,
}

impl BadRow {
    /// The sentence.
    pub fn text(self) -> &'static str {
        match self {
            BadRow::OpenQuote => {
                "a quotation mark that begins a cell is not closed; write \"\" for a mark within a quoted cell"
            }
            BadRow::TooLong => "the row is longer than a megabyte",
            BadRow::NotUtf8 => "the text is not UTF-8; save the file as UTF-8",
        }
    }
}

/// The cells of one row, trimmed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Cells {
    text: String,
    ends: Vec<usize>,
}

impl Cells {
    /// How many there are.
    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// Leaves out what follows the first so many.
    pub fn truncate(&mut self, count: usize) {
        if let Some(end) = count.checked_sub(1).and_then(|last| self.ends.get(last)) {
            self.text.truncate(*end);
            self.ends.truncate(count);
        }
    }

    /// The text of one of them.
    pub fn get(&self, place: usize) -> Option<&str> {
        let end = *self.ends.get(place)?;
        let start = if place == 0 { 0 } else { self.ends[place - 1] };
        Some(self.text[start..end].trim())
    }

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).filter_map(|place| self.get(place))
    }
}

/// What comes next in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// A row that holds anything, on this line; its cells are in [`Records::cells`].
    Row(u64),
    /// A row that cannot be read, on this line.
    Bad(u64, BadRow),
    /// Nothing more.
    End,
}

/// What parts the cells of a table, and the names of its columns; no names where it holds nothing.
///
/// # Errors
/// If its first row is none.
pub fn header_of(text: &[u8]) -> Result<(u8, Option<Vec<String>>), String> {
    let failed = |error: std::io::Error| error.to_string();
    let mut records = Records::new(text).map_err(failed)?;
    let header = match records.next().map_err(failed)? {
        Next::Row(_) => Some(records.header()),
        Next::Bad(_, why) => return Err(why.text().to_string()),
        Next::End => None,
    };
    Ok((records.delimiter, header))
}

/// The rows of one file.
pub struct Records<R> {
    source: R,
    engine: csv_core::Reader,
    delimiter: u8,
    digest: Sha256,
    /// Lines that are read and not yet told apart, from `at` on.
    buffer: Vec<u8>,
    at: usize,
    /// Line in the file of the byte at `at`.
    line: u64,
    /// Line in the file of the next byte of the source.
    next_line: u64,
    too_long: VecDeque<u64>,
    output: Vec<u8>,
    ends: Vec<usize>,
    cells: Cells,
    /// Is the row read last no UTF-8 text, but one of an older spreadsheet?
    windows_1252: bool,
}

impl<R: BufRead> Records<R> {
    /// Begins to read; commas or semicolons are recognised from the first line that holds anything.
    ///
    /// # Errors
    /// If the source cannot be read.
    pub fn new(source: R) -> std::io::Result<Records<R>> {
        let mut records = Records {
            source,
            engine: csv_core::Reader::new(),
            delimiter: b',',
            digest: Sha256::new(),
            buffer: Vec::new(),
            at: 0,
            line: 1,
            next_line: 1,
            too_long: VecDeque::new(),
            output: vec![0; 1024],
            ends: vec![0; 32],
            cells: Cells::default(),
            windows_1252: false,
        };
        while records.buffer.iter().all(u8::is_ascii_whitespace) && records.fetch()? {
            if records.buffer.starts_with(b"\xef\xbb\xbf") {
                records.buffer.drain(..3);
            }
        }
        let count = |byte: u8| records.buffer.iter().filter(|found| **found == byte).count();
        records.delimiter = if count(b';') > count(b',') { b';' } else { b',' };
        records.engine = csv_core::ReaderBuilder::new().delimiter(records.delimiter).build();
        Ok(records)
    }

    /// The cells of the row read last as the names of columns.
    pub fn header(&self) -> Vec<String> {
        self.cells.iter().map(str::to_lowercase).collect()
    }

    /// The cells of the row read last.
    pub fn cells(&self) -> &Cells {
        &self.cells
    }

    /// What parts the cells.
    pub fn delimiter(&self) -> u8 {
        self.delimiter
    }

    /// Was the row read last written in Windows-1252?
    pub fn is_windows_1252(&self) -> bool {
        self.windows_1252
    }

    /// SHA-256 of everything read.
    pub fn hash(self) -> String {
        hex(&self.digest.finalize())
    }

    /// Reads on to the next row that holds anything.
    ///
    /// # Errors
    /// If the source cannot be read.
    pub fn next(&mut self) -> std::io::Result<Next> {
        loop {
            if let Some(line) = self.too_long.pop_front() {
                return Ok(Next::Bad(line, BadRow::TooLong));
            }
            while self.buffer.get(self.at).is_some_and(|byte| matches!(byte, b'\r' | b'\n')) {
                self.pass(self.at + 1);
            }
            if self.at == self.buffer.len() {
                self.buffer.clear();
                self.at = 0;
                self.line = self.next_line;
                if !self.fetch()? && self.too_long.is_empty() {
                    return Ok(Next::End);
                }
                continue;
            }
            let line = self.line;
            match self.record()? {
                Some(BadRow::OpenQuote) => return Ok(Next::Bad(line, BadRow::OpenQuote)),
                Some(why) => return Ok(Next::Bad(line, why)),
                None if self.cells.iter().all(str::is_empty) => {}
                None => return Ok(Next::Row(line)),
            }
        }
    }

    /// Tells the cells of the row at `at` apart.
    fn record(&mut self) -> std::io::Result<Option<BadRow>> {
        self.engine.reset();
        let (start, mut read, mut written, mut cells) = (self.at, self.at, 0, 0);
        loop {
            let (result, input, output, ends) = self.engine.read_record(
                &self.buffer[read..],
                &mut self.output[written..],
                &mut self.ends[cells..],
            );
            read += input;
            written += output;
            cells += ends;
            match result {
                ReadRecordResult::OutputFull => self.output.resize(self.output.len() * 2, 0),
                ReadRecordResult::OutputEndsFull => self.ends.resize(self.ends.len() * 2, 0),
                ReadRecordResult::Record | ReadRecordResult::End => break,
                // Every line ends in a line end, so only a quoted cell can go on behind it.
                ReadRecordResult::InputEmpty => {
                    if read - start > LONGEST_ROW || !self.fetch()? {
                        let first = self.buffer[start..].iter().position(|byte| *byte == b'\n');
                        self.pass(first.map_or(self.buffer.len(), |first| start + first + 1));
                        return Ok(Some(BadRow::OpenQuote));
                    }
                }
            }
        }
        self.pass(read);
        self.windows_1252 = false;
        let Ok(text) = std::str::from_utf8(&self.output[..written]) else {
            return Ok(self.as_windows_1252(cells).is_none().then_some(BadRow::NotUtf8));
        };
        self.cells.text.clear();
        self.cells.text.push_str(text);
        self.cells.ends.clear();
        self.cells.ends.extend_from_slice(&self.ends[..cells]);
        // A cell of other cells' halves of one letter is no text by itself.
        if self.cells.ends.iter().any(|end| !self.cells.text.is_char_boundary(*end)) {
            return Ok(Some(BadRow::NotUtf8));
        }
        Ok(None)
    }

    /// Takes the cells as those of an older spreadsheet's export; `None` where they are no text in that either.
    fn as_windows_1252(&mut self, cells: usize) -> Option<()> {
        self.cells.text.clear();
        self.cells.ends.clear();
        let mut from = 0;
        for end in &self.ends[..cells] {
            let (text, _) = WINDOWS_1252.decode_without_bom_handling(&self.output[from..*end]);
            // The standard has a control character for a byte that has no letter.
            if text.chars().any(|letter| letter.is_control() && !matches!(letter, '\t' | '\r' | '\n')) {
                return None;
            }
            self.cells.text.push_str(&text);
            self.cells.ends.push(self.cells.text.len());
            from = *end;
        }
        self.windows_1252 = true;
        Some(())
    }

    /// Goes on to a place in the buffer, counting its lines.
    fn pass(&mut self, to: usize) {
        self.line += self.buffer[self.at..to].iter().filter(|byte| **byte == b'\n').count() as u64;
        self.at = to;
    }

    /// Reads one more line into the buffer; false at the end. The last line ends in a line end as well.
    fn fetch(&mut self) -> std::io::Result<bool> {
        let before = self.buffer.len();
        let mut length = 0;
        loop {
            let limit = LONGEST_ROW as u64 + 1;
            let mut source = (&mut self.source).take(limit);
            let from = self.buffer.len();
            let read = source.read_until(b'\n', &mut self.buffer)?;
            self.digest.update(&self.buffer[from..]);
            length += read;
            let whole = self.buffer[from..].ends_with(b"\n");
            if whole || read == 0 {
                break;
            }
            if length > LONGEST_ROW {
                // The rest of such a line is passed over.
                self.buffer.truncate(before);
            }
        }
        if length == 0 {
            return Ok(false);
        }
        if length > LONGEST_ROW {
            self.buffer.truncate(before);
            self.too_long.push_back(self.next_line);
        }
        if !self.buffer[before..].ends_with(b"\n") {
            self.buffer.push(b'\n');
        }
        self.next_line += 1;
        Ok(true)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rows(text: &str) -> Vec<(u64, Result<Vec<String>, BadRow>)> {
        let mut records = Records::new(text.as_bytes()).unwrap();
        let mut rows = Vec::new();
        loop {
            match records.next().unwrap() {
                Next::Row(line) => {
                    rows.push((line, Ok(records.cells().iter().map(str::to_string).collect())))
                }
                Next::Bad(line, why) => rows.push((line, Err(why))),
                Next::End => return rows,
            }
        }
    }

    fn row(line: u64, cells: &[&str]) -> (u64, Result<Vec<String>, BadRow>) {
        (line, Ok(cells.iter().map(|cell| cell.to_string()).collect()))
    }

    #[test]
    fn lines_are_counted_as_an_editor_counts_them() {
        let text = "\u{feff}a;b\r\n\r\n1; 2 \r\n\n\"x\r\ny\";3\r\n,\n4;5";
        let expected = [
            row(1, &["a", "b"]),
            row(3, &["1", "2"]),
            row(5, &["x\r\ny", "3"]),
            row(7, &[","]),
            row(8, &["4", "5"]),
        ];
        assert_eq!(rows(text), expected);
    }

    #[test]
    fn an_inch_mark_is_a_letter_like_any_other() {
        let text = "desk 48\",1\nshelf 30\",2\n\"a \"\"b\"\"\",3\n";
        assert_eq!(
            rows(text),
            [row(1, &["desk 48\"", "1"]), row(2, &["shelf 30\"", "2"]), row(3, &["a \"b\"", "3"])]
        );
    }

    #[test]
    fn a_quotation_mark_left_open_costs_its_own_line_and_no_other() {
        let text = "a,1\n\"b,2\nc,3\nd,4\n";
        assert_eq!(
            rows(text),
            [row(1, &["a", "1"]), (2, Err(BadRow::OpenQuote)), row(3, &["c", "3"]), row(4, &["d", "4"])]
        );
    }

    #[test]
    fn a_line_too_long_is_passed_over() {
        let text = format!("a,1\n{}\nb,2\n", "x".repeat(3 << 20));
        assert_eq!(rows(&text), [row(1, &["a", "1"]), (2, Err(BadRow::TooLong)), row(3, &["b", "2"])]);
    }

    proptest! {
        /// The csv crate's own reader on the whole text is the measure, where every quoted cell is closed.
        #[test]
        fn rows_are_those_of_an_ordinary_reader(cells in prop::collection::vec(
            prop::collection::vec("[a-z\"\n\r, ]{0,6}", 3), 1..12)) {
            let mut writer = csv::Writer::from_writer(Vec::new());
            writer.write_record(["one", "two", "three"]).unwrap();
            cells.iter().for_each(|row| writer.write_record(row).unwrap());
            let text = String::from_utf8(writer.into_inner().unwrap()).unwrap();
            let ordinary = csv::ReaderBuilder::new().has_headers(false).flexible(true).trim(csv::Trim::All)
                .from_reader(text.as_bytes()).records()
                .map(|record| record.unwrap().iter().map(str::to_string).collect::<Vec<_>>())
                .filter(|record| record.iter().any(|cell| !cell.is_empty())).collect::<Vec<_>>();
            let ours: Vec<Vec<String>> = rows(&text).into_iter().map(|(_, row)| row.unwrap()).collect();
            prop_assert_eq!(ours, ordinary);
        }
    }
}
