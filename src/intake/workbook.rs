//! A workbook as a source of tables: a sheet named as a file is read as that file.
//!
//! `parts` stands for `parts.csv`, `prices yard` for `prices/yard.csv`, and the keys and values of `shop` for
//! `shop.toml`. A cell is taken by its value, a formula's too; a day as `2027-03-31`.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io::{BufRead, Cursor, Error, ErrorKind};
use std::path::{Path, PathBuf};

use calamine::{Data, Range, Reader, open_workbook_auto};

use super::edit::CellTexts;
use super::sheet::sheet_of;
use super::source::{LARGEST_FILE, Source};

/// Rows and cells of one sheet that are read: more is a sheet gone wrong.
const MOST_CELLS: usize = 20_000_000;

/// The sheets of a workbook that are tables.
#[derive(Debug, Clone)]
pub struct Workbook {
    path: PathBuf,
    /// By the file that each stands for, what it is called.
    sheets: BTreeMap<String, String>,
    /// By the file that each stands for, as CSV with the sheet's own rows.
    tables: BTreeMap<String, Vec<u8>>,
    /// The same files in the order of the sheets.
    order: Vec<String>,
}

impl Workbook {
    /// Reads a workbook whole.
    ///
    /// # Errors
    /// If it cannot be read, or two sheets stand for one file.
    pub fn open(path: &Path) -> std::io::Result<Workbook> {
        if std::fs::metadata(path)?.len() > LARGEST_FILE {
            return Err(Error::other("it is larger than any list of a shop: is it the right file?"));
        }
        let failed = |error: calamine::Error| Error::new(ErrorKind::InvalidData, error.to_string());
        let mut book = open_workbook_auto(path).map_err(failed)?;
        let mut tables = BTreeMap::new();
        let mut order = Vec::new();
        let mut sheets = BTreeMap::new();
        for sheet in book.sheet_names() {
            let range = book.worksheet_range(&sheet).map_err(failed)?;
            if range.get_size().0.saturating_mul(range.get_size().1) > MOST_CELLS {
                return Err(Error::other(format!("the sheet {sheet} has more than {MOST_CELLS} cells")));
            }
            let file = file_of(&sheet);
            let table = if file == "shop.toml" { settings(&range) } else { csv_of(&range)? };
            order.push(file.clone());
            sheets.insert(file.clone(), sheet.clone());
            if tables.insert(file, table).is_some() {
                return Err(Error::other(format!("the sheet {sheet} stands there twice")));
            }
        }
        Ok(Workbook { path: path.to_path_buf(), sheets, tables, order })
    }

    /// The only table, where there is only one: an order book that somebody keeps in a sheet of any name.
    pub fn only_table(&self) -> Option<&str> {
        let mut tables = self.tables.iter().filter(|(_, table)| !table.is_empty());
        let (name, _) = tables.next()?;
        tables.next().is_none().then_some(name)
    }
}

impl Workbook {
    fn name(&self) -> Cow<'_, str> {
        self.path.file_name().unwrap_or_default().to_string_lossy()
    }

    /// The workbook's file, and what the sheet is called that stands for a file; none where it cannot be changed in place.
    pub fn sheet_that_changes(&self, file: &str) -> Option<(&Path, &str)> {
        let changes = changed_by(&self.path).is_some();
        let sheet = self.sheets.get(file).filter(|_| changes && file != "shop.toml")?;
        Some((&self.path, sheet))
    }

    /// A table by its file's name, or else the first sheet that has one.
    pub fn first_table(&self, file: &str) -> Option<&str> {
        let named = self.tables.get_key_value(file).map(|(name, _)| name.as_str());
        let first = || self.order.iter().find(|name| !self.tables[*name].is_empty()).map(String::as_str);
        named.or_else(first)
    }
}

impl Source for Workbook {
    fn open(&self, file: &str) -> std::io::Result<Box<dyn BufRead + '_>> {
        match self.tables.get(file) {
            Some(table) => Ok(Box::new(Cursor::new(table))),
            None => Err(Error::new(ErrorKind::NotFound, format!("{} has no such sheet", self.name()))),
        }
    }

    fn dealers(&self) -> std::io::Result<Vec<String>> {
        let dealer = |file: &String| Some(file.strip_prefix("prices/")?.strip_suffix(".csv")?.to_string());
        Ok(self.tables.keys().filter_map(dealer).collect())
    }

    fn shown(&self, file: &str) -> String {
        let sheet = file.trim_end_matches(".csv").trim_end_matches(".toml");
        sheet_of(sheet, &self.name())
    }
}

/// A workbook with cells of one of its sheets changed.
type WithCells = fn(&[u8], &str, &CellTexts) -> std::io::Result<Vec<u8>>;

/// What changes cells in a workbook's file, by its name; none where it cannot be changed in place.
pub fn changed_by(file: &Path) -> Option<WithCells> {
    let ending = file.extension()?.to_str()?.to_ascii_lowercase();
    match ending.as_str() {
        "xlsx" | "xlsm" => Some(super::xlsx::with_cells),
        "ods" => Some(super::ods::with_cells),
        _ => None,
    }
}

/// The file that a sheet stands for.
fn file_of(sheet: &str) -> String {
    let sheet = sheet.trim();
    let lower = sheet.to_lowercase();
    match lower.strip_prefix("prices") {
        Some(rest) if rest.starts_with([' ', '-', '_', '.']) => {
            let dealer = &sheet[sheet.len() - rest.len()..];
            format!("prices/{}.csv", dealer.trim_matches([' ', '-', '_', '.']))
        }
        _ if lower == "shop" => "shop.toml".to_string(),
        _ => format!("{}.csv", lower.replace(' ', "-")),
    }
}

/// A cell as a text that the reader of a CSV cell would get.
fn text_of(cell: &Data) -> String {
    match cell {
        Data::Empty => String::new(),
        Data::String(text) | Data::DurationIso(text) => text.replace(['\r', '\n'], " "),
        Data::Int(number) => number.to_string(),
        Data::Float(number) => number.to_string(),
        Data::Bool(yes) => if *yes { "yes" } else { "no" }.to_string(),
        Data::DateTimeIso(text) => text.strip_suffix("T00:00:00").unwrap_or(text).to_string(),
        Data::DateTime(at) => {
            let (year, month, day, ..) = at.to_ymd_hms_milli();
            format!("{year:04}-{month:02}-{day:02}")
        }
        Data::Error(error) => error.to_string(),
    }
}

/// A sheet as CSV, with an empty line for every empty row, so that rows keep their numbers.
fn csv_of(range: &Range<Data>) -> std::io::Result<Vec<u8>> {
    let Some((above, left)) = range.start() else { return Ok(Vec::new()) };
    let mut text = vec![b'\n'; above as usize];
    for row in range.rows() {
        if row.iter().all(|cell| text_of(cell).trim().is_empty()) {
            text.push(b'\n');
            continue;
        }
        let mut writer = csv::Writer::from_writer(&mut text);
        let cells = std::iter::repeat_n(String::new(), left as usize).chain(row.iter().map(text_of));
        writer.write_record(cells).map_err(Error::other)?;
        writer.flush()?;
    }
    Ok(text)
}

/// The sheet of settings as TOML: a key with its section, such as `saw.rip_kerf`, and its value beside it.
fn settings(range: &Range<Data>) -> Vec<u8> {
    let mut sections: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for row in range.rows() {
        let mut cells =
            row.iter().map(|cell| text_of(cell).trim().to_string()).filter(|cell| !cell.is_empty());
        let (Some(key), Some(value)) = (cells.next(), cells.next()) else { continue };
        let (section, key) = key.rsplit_once('.').unwrap_or(("", &key));
        let quoted = |text: &str| toml::Value::String(text.to_string()).to_string();
        let value = match value.as_str() {
            "yes" | "true" => "true".to_string(),
            "no" | "false" => "false".to_string(),
            text => quoted(text),
        };
        sections.entry(section.to_string()).or_default().push(format!("{} = {value}\n", quoted(key)));
    }
    let mut text = String::new();
    for (section, lines) in sections {
        if !section.is_empty() {
            text.push_str(&format!("[{section}]\n"));
        }
        text.push_str(&lines.concat());
    }
    text.into_bytes()
}

#[cfg(test)]
mod tests {
    use super::file_of;

    #[test]
    fn sheets_stand_for_files() {
        for (sheet, file) in [
            ("Parts", "parts.csv"),
            ("prices Yard", "prices/Yard.csv"),
            ("Prices - North Bank", "prices/North Bank.csv"),
            ("prices_old-quay", "prices/old-quay.csv"),
            ("SHOP", "shop.toml"),
            ("boards seen", "boards-seen.csv"),
            ("prices", "prices.csv"),
        ] {
            assert_eq!(file_of(sheet), file);
        }
    }
}
