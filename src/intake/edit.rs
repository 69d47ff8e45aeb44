//! A table as it stands in its file, to be changed cell by cell.
//!
//! Only the row that is changed is written anew; every other byte of the file stays. Nothing is judged here: the
//! readers say what is wrong with the file that comes of it.

use std::collections::BTreeMap;
use std::ops::Range;

use encoding_rs::{UTF_8, WINDOWS_1252};

use super::hash::digest;
use super::records::header_of;

/// Letters that a cell may have when it is typed in.
pub const LONGEST_CELL: usize = 500;

/// Texts of cells, by row (from 1) and column (from 0).
pub type CellTexts = BTreeMap<(u64, usize), String>;

/// A table that can be changed.
#[derive(Debug, Clone)]
pub struct Editable {
    /// Is it a sheet, whose rows keep their numbers, so that one that is taken out becomes an empty one?
    is_sheet: bool,
    text: String,
    delimiter: u8,
    header: Vec<String>,
    /// Where the header stands.
    head: Range<usize>,
    /// Its line.
    head_line: u64,
    rows: Vec<EditableRow>,
}

/// One of its rows.
#[derive(Debug, Clone)]
pub struct EditableRow {
    /// Line in the file; faults name the same.
    pub line: u64,
    /// Its cells, as they stand.
    pub cells: Vec<String>,
    place: Range<usize>,
}

/// Why a table is not changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EditError {
    /// It is no table.
    #[error("it is no table that can be changed here: {0}")]
    NoTable(String),
    /// The row is no longer what it was.
    #[error("{}", match .0 { Some(now) => format!("the row was changed elsewhere; it says now: {}", now.join(" | ")), None => "the row was taken out elsewhere".to_string() })]
    Changed(Option<Vec<String>>),
    /// The column is not there.
    #[error("it has no column {0}")]
    NoColumn(usize),
    /// The name is none that another column may have.
    #[error("the table has the column {0} already, or it is no name")]
    Column(String),
    /// The text is none that a cell may have.
    #[error("a cell holds one line of at most {LONGEST_CELL} letters")]
    Cell,
}

/// One change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Edit {
    /// A cell (by column, from 0) gets a text.
    Cell {
        /// Column.
        column: usize,
        /// The text.
        text: String,
    },
    /// The row is taken out.
    Remove,
}

impl Editable {
    /// Reads a table from the bytes of its file.
    ///
    /// # Errors
    /// If it is no table.
    pub fn read(bytes: &[u8]) -> Result<Editable, EditError> {
        // What is changed becomes UTF-8, whatever a spreadsheet wrote.
        let (text, _, had_errors) = UTF_8.decode(bytes);
        let text = if had_errors { WINDOWS_1252.decode(bytes).0 } else { text }.into_owned();
        let (delimiter, header) = header_of(text.as_bytes()).map_err(EditError::NoTable)?;
        let header = header.ok_or_else(|| EditError::NoTable("it is empty".to_string()))?;
        let mut reader = ::csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .has_headers(false)
            .flexible(true)
            .from_reader(text.as_bytes());
        let mut starts = Vec::new();
        let mut cells = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| EditError::NoTable(error.to_string()))?;
            let at = record.position().map_or(0, ::csv::Position::byte);
            starts.push(usize::try_from(at).unwrap_or(text.len()));
            cells.push(record.iter().map(str::to_string).collect::<Vec<String>>());
        }
        starts.push(text.len());
        let mut rows = Vec::new();
        let (mut line, mut counted) = (1, 0);
        for (ends, cells) in starts.windows(2).zip(cells) {
            // A record begins behind the ends of lines that part it from the one before.
            let whole = &text[ends[0]..ends[1]];
            let start = ends[0] + (whole.len() - whole.trim_start_matches(['\r', '\n']).len());
            let end = start + text[start..ends[1]].trim_end_matches(['\r', '\n']).len();
            line += text[counted..start].bytes().filter(|byte| *byte == b'\n').count() as u64;
            counted = start;
            rows.push(EditableRow { line, cells, place: start..end });
        }
        rows.retain(|row| row.cells.iter().any(|cell| !cell.trim().is_empty()));
        let (head, head_line) = match rows.is_empty() {
            true => (0..0, 1),
            false => {
                let first = rows.remove(0);
                (first.place, first.line)
            }
        };
        Ok(Editable { is_sheet: false, text, delimiter, header, head, head_line, rows })
    }

    /// Reads the text of a sheet, a line for each of its rows.
    ///
    /// # Errors
    /// If it is no table.
    pub fn read_sheet(text: &[u8]) -> Result<Editable, EditError> {
        Ok(Editable { is_sheet: true, ..Editable::read(text)? })
    }

    /// The cells of a sheet that another text of it has otherwise.
    ///
    /// # Errors
    /// If the text is no table.
    pub fn cells_changed(&self, text: &str) -> Result<CellTexts, EditError> {
        let new = Editable::read_sheet(text.as_bytes())?;
        let all = |table: &Editable| -> CellTexts {
            let names = table
                .header
                .iter()
                .enumerate()
                .map(|(column, name)| ((table.head_line, column), name.clone()));
            let rows = table.rows.iter().flat_map(|row| {
                let cells = row.cells.iter().enumerate();
                cells.map(|(column, text)| ((row.line, column), text.clone()))
            });
            names.chain(rows).collect()
        };
        let (old, new) = (all(self), all(&new));
        let text = |cells: &CellTexts, at: &(u64, usize)| cells.get(at).cloned().unwrap_or_default();
        let places = old.keys().chain(new.keys());
        let changed = places.filter(|at| text(&old, at) != text(&new, at));
        Ok(changed.map(|at| (*at, text(&new, at))).collect())
    }

    /// Names of its columns, in small letters.
    pub fn header(&self) -> &[String] {
        &self.header
    }

    /// Its rows.
    pub fn rows(&self) -> &[EditableRow] {
        &self.rows
    }

    /// The text with one row changed, if that row still says what whoever changes it has seen.
    ///
    /// # Errors
    /// If it says something else by now, or the change is none.
    pub fn changed(&self, line: u64, seen: &[String], edit: &Edit) -> Result<String, EditError> {
        let row = self.rows.iter().find(|row| row.line == line).ok_or(EditError::Changed(None))?;
        if row.cells != seen {
            return Err(EditError::Changed(Some(row.cells.clone())));
        }
        let (before, after) = (&self.text[..row.place.start], &self.text[row.place.end..]);
        match edit {
            // The rows below keep their numbers.
            Edit::Remove if self.is_sheet => Ok(format!("{before}{after}")),
            Edit::Remove => {
                let rest = after.strip_prefix("\r\n").or_else(|| after.strip_prefix('\n')).unwrap_or(after);
                Ok(format!("{before}{rest}"))
            }
            Edit::Cell { column, text } => {
                let mut cells = row.cells.clone();
                if *column >= self.header.len() {
                    return Err(EditError::NoColumn(*column));
                }
                cells.resize(cells.len().max(self.header.len()), String::new());
                cells[*column] = checked(text)?;
                Ok(format!("{before}{}{after}", self.written(&cells)?))
            }
        }
    }

    /// The text with a row more at its end.
    ///
    /// # Errors
    /// If a cell cannot be one.
    pub fn with_row(&self, cells: &[String]) -> Result<String, EditError> {
        let mut row: Vec<String> = cells.iter().map(|text| checked(text)).collect::<Result<_, _>>()?;
        row.resize(self.header.len(), String::new());
        let end = if self.text.contains("\r\n") { "\r\n" } else { "\n" };
        let whole = self.text.trim_end_matches(['\r', '\n']);
        Ok(format!("{whole}{end}{}{end}", self.written(&row)?))
    }

    /// The text with a column more, the last one, which is empty in every row.
    ///
    /// # Errors
    /// If its name is none, or the table has it.
    pub fn with_column(&self, name: &str) -> Result<String, EditError> {
        let name = checked(name)?;
        if name.is_empty() || self.header.iter().any(|known| known.eq_ignore_ascii_case(&name)) {
            return Err(EditError::Column(name));
        }
        let delimiter = char::from(self.delimiter);
        let mut text = self.text[..self.head.end].to_string();
        text.push(delimiter);
        text.push_str(&self.written(&[name])?);
        let mut at = self.head.end;
        // A row that is too short or too long is a fault that stays one.
        for row in self.rows.iter().filter(|row| row.cells.len() == self.header.len()) {
            text.push_str(&self.text[at..row.place.end]);
            text.push(delimiter);
            at = row.place.end;
        }
        text.push_str(&self.text[at..]);
        Ok(text)
    }

    fn written(&self, cells: &[String]) -> Result<String, EditError> {
        let failed = |error: String| EditError::NoTable(error);
        let mut writer =
            ::csv::WriterBuilder::new().delimiter(self.delimiter).flexible(true).from_writer(Vec::new());
        writer.write_record(cells).map_err(|error| failed(error.to_string()))?;
        let bytes = writer.into_inner().map_err(|error| failed(error.to_string()))?;
        let text = String::from_utf8(bytes).map_err(|error| failed(error.to_string()))?;
        Ok(text.trim_end_matches('\n').to_string())
    }
}

/// What names a state of a file.
pub fn version(bytes: &[u8]) -> String {
    digest(bytes)[..16].to_string()
}

fn checked(text: &str) -> Result<String, EditError> {
    let sound = text.chars().count() <= LONGEST_CELL && !text.chars().any(char::is_control);
    if sound { Ok(text.trim().to_string()) } else { Err(EditError::Cell) }
}

#[cfg(test)]
mod tests {
    use super::{Edit, EditError, Editable};

    const TEXT: &str = "\u{feff}Part;Note\r\n\r\nleg;\"7 1/2\"\" ; long\"\r\nrail;ok\r\n";

    fn cell(column: usize, text: &str) -> Edit {
        Edit::Cell { column, text: text.to_string() }
    }

    #[test]
    fn only_the_row_that_is_changed_is_written_anew() {
        let table = Editable::read(TEXT.as_bytes()).unwrap();
        assert_eq!(table.header(), ["part", "note"]);
        let lines: Vec<u64> = table.rows().iter().map(|row| row.line).collect();
        assert_eq!(lines, [3, 4]);
        let seen = table.rows()[0].cells.clone();
        assert_eq!(seen, ["leg", "7 1/2\" ; long"]);
        let changed = table.changed(3, &seen, &cell(0, "leg; front")).unwrap();
        assert_eq!(changed, "Part;Note\r\n\r\n\"leg; front\";\"7 1/2\"\" ; long\"\r\nrail;ok\r\n");
        let without = table.changed(3, &seen, &Edit::Remove).unwrap();
        assert_eq!(without, "Part;Note\r\n\r\nrail;ok\r\n");
        let more = table.with_row(&["arm".to_string()]).unwrap();
        assert_eq!(more, format!("{}arm;\r\n", TEXT.trim_start_matches('\u{feff}')));
    }

    #[test]
    fn a_column_more_leaves_every_other_byte() {
        let table = Editable::read(TEXT.as_bytes()).unwrap();
        let wider = table.with_column("grade").unwrap();
        assert_eq!(wider, "Part;Note;grade\r\n\r\nleg;\"7 1/2\"\" ; long\";\r\nrail;ok;\r\n");
        let read = Editable::read(wider.as_bytes()).unwrap();
        assert_eq!(read.header(), ["part", "note", "grade"]);
        assert_eq!(read.rows()[0].cells, ["leg", "7 1/2\" ; long", ""]);
        assert_eq!(table.with_column("Note"), Err(EditError::Column("Note".to_string())));
        assert_eq!(table.with_column("two\nlines"), Err(EditError::Cell));
    }

    #[test]
    fn a_row_that_was_changed_elsewhere_is_not_overwritten() {
        let table = Editable::read(TEXT.as_bytes()).unwrap();
        let seen = ["rail".to_string(), "old".to_string()];
        let now = vec!["rail".to_string(), "ok".to_string()];
        assert_eq!(table.changed(4, &seen, &cell(1, "new")), Err(EditError::Changed(Some(now))));
        assert_eq!(table.changed(9, &seen, &cell(1, "new")), Err(EditError::Changed(None)));
        let seen = table.rows()[1].cells.clone();
        assert_eq!(table.changed(4, &seen, &cell(2, "new")), Err(EditError::NoColumn(2)));
        assert_eq!(table.changed(4, &seen, &cell(1, "two\nlines")), Err(EditError::Cell));
    }
}
