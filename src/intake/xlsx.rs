//! A sheet of a workbook, changed cell by cell in its file.
//!
//! Only the cells that are changed are written anew; every other part of the workbook is copied as it lies there, so that
//! formats, formulas, other sheets and pictures stay. The form is that of ECMA-376, part 1, 18.3 (SpreadsheetML).

use std::collections::BTreeMap;

use quick_xml::Reader;
use quick_xml::escape::escape;
use quick_xml::events::{BytesStart, Event};

use super::edit::CellTexts;
use super::packed::{Parts, attribute, invalid, is_number, tags};
use super::sheet::letters;

/// The workbook with some cells of a sheet changed. An empty text empties its cell.
///
/// # Errors
/// If it is no such workbook, has no such sheet, or a cell is a formula.
pub fn with_cells(workbook: &[u8], sheet: &str, cells: &CellTexts) -> std::io::Result<Vec<u8>> {
    let mut parts = Parts::of(workbook)?;
    let part = part_of(&mut parts, sheet)?;
    let changed = rewritten(&parts.text(&part)?, cells)?;
    parts.with(&part, &changed)
}

/// The part that a sheet lies in.
fn part_of(parts: &mut Parts<'_>, sheet: &str) -> std::io::Result<String> {
    let relations = parts.text("_rels/.rels")?;
    let is_book =
        |tag: &&BytesStart<'_>| attribute(tag, "Type").is_some_and(|kind| kind.ends_with("/officeDocument"));
    let book =
        tags(&relations, "Relationship")?.iter().find(is_book).and_then(|tag| attribute(tag, "Target"));
    let book = book.ok_or_else(|| invalid("it names no workbook"))?.trim_start_matches('/').to_string();
    let (folder, name) = book.rsplit_once('/').unwrap_or(("", &book));
    let sheets = tags(&parts.text(&book)?, "sheet")?;
    let own = sheets.iter().find(|tag| attribute(tag, "name").as_deref() == Some(sheet));
    // Its own attribute `sheetId` is another number: the relation is `r:id`.
    let relation = own.and_then(|tag| attribute(tag, "id"));
    let relation = relation.ok_or_else(|| invalid(format!("it has no sheet {sheet}")))?;
    let relations = parts.text(format!("{folder}/_rels/{name}.rels").trim_start_matches('/'))?;
    let target = tags(&relations, "Relationship")?
        .iter()
        .find(|tag| attribute(tag, "Id").as_ref() == Some(&relation))
        .and_then(|tag| attribute(tag, "Target"));
    let target = target.ok_or_else(|| invalid(format!("the sheet {sheet} lies nowhere")))?;
    Ok(match target.strip_prefix('/') {
        Some(whole) => whole.to_string(),
        None => format!("{folder}/{target}").trim_start_matches('/').to_string(),
    })
}

/// The column of a reference such as `AB12`, from 0.
fn column_of(reference: &str) -> Option<usize> {
    let letters = reference.bytes().take_while(u8::is_ascii_alphabetic);
    let number = letters.fold(0usize, |sum, letter| {
        sum.saturating_mul(26).saturating_add(usize::from(letter.to_ascii_uppercase() - b'A') + 1)
    });
    number.checked_sub(1)
}

/// A sheet that is being written anew.
struct Rewriting<'s> {
    out: String,
    /// What is still to be written.
    left: BTreeMap<(u64, usize), &'s str>,
    /// What stands before the names of tags.
    prefix: String,
}

impl Rewriting<'_> {
    fn cell(&mut self, (row, column): (u64, usize), style: Option<&str>) {
        let text = self.left.remove(&(row, column)).unwrap_or_default();
        let p = &self.prefix;
        let style = style.map_or(String::new(), |style| format!(" s=\"{}\"", escape(style)));
        let start = format!("<{p}c r=\"{}{row}\"{style}", letters(column));
        let cell = match text {
            "" => format!("{start}/>"),
            number if is_number(number) => format!("{start}><{p}v>{number}</{p}v></{p}c>"),
            text => format!(
                "{start} t=\"inlineStr\"><{p}is><{p}t xml:space=\"preserve\">{}</{p}t></{p}is></{p}c>",
                escape(text)
            ),
        };
        self.out.push_str(&cell);
    }

    /// The cells of a row that come before a column.
    fn cells_before(&mut self, row: u64, column: usize) {
        let due: Vec<(u64, usize)> = self.left.range((row, 0)..(row, column)).map(|(at, _)| *at).collect();
        due.into_iter().for_each(|at| self.cell(at, None));
    }

    /// An empty tag as it stands, filled by what is written in between.
    fn filled(&mut self, raw: &str, name: &str, write: impl FnOnce(&mut Self)) {
        self.out.push_str(raw.strip_suffix("/>").unwrap_or(raw));
        self.out.push('>');
        write(self);
        self.out.push_str(&format!("</{}{name}>", self.prefix));
    }

    /// The rows that come before a row, none of which the sheet has.
    fn rows_before(&mut self, row: u64) {
        while let Some(next) = self.left.keys().next().map(|(next, _)| *next).filter(|next| *next < row) {
            let row = format!("<{}row r=\"{next}\"/>", self.prefix);
            self.filled(&row, "row", |new| new.cells_before(next, usize::MAX));
        }
    }
}

fn rewritten(sheet: &str, cells: &CellTexts) -> std::io::Result<String> {
    let mut reader = Reader::from_str(sheet);
    let left = cells.iter().map(|(at, text)| (*at, text.as_str())).collect();
    let mut new = Rewriting { out: String::with_capacity(sheet.len()), left, prefix: String::new() };
    let (mut row, mut column) = (0u64, 0usize);
    let mut begun = 0usize;
    loop {
        let event = reader.read_event().map_err(invalid)?;
        let end = usize::try_from(reader.buffer_position()).map_err(invalid)?;
        let raw = &sheet[begun..end];
        begun = end;
        let is_empty = matches!(event, Event::Empty(_));
        match &event {
            Event::Eof => break,
            Event::Start(tag) | Event::Empty(tag) => match tag.local_name().as_ref() {
                // What it says may no longer hold, and it may be left out.
                "dimension" if is_empty => continue,
                "sheetData" => {
                    new.prefix =
                        tag.name().as_ref().strip_suffix("sheetData").unwrap_or_default().to_string();
                    if is_empty {
                        new.filled(raw, "sheetData", |new| new.rows_before(u64::MAX));
                        continue;
                    }
                }
                "row" => {
                    row = attribute(tag, "r").and_then(|text| text.parse().ok()).unwrap_or(row + 1);
                    column = 0;
                    new.rows_before(row);
                    if is_empty && new.left.range((row, 0)..=(row, usize::MAX)).next().is_some() {
                        new.filled(raw, "row", |new| new.cells_before(row, usize::MAX));
                        continue;
                    }
                }
                "c" => {
                    let own =
                        attribute(tag, "r").and_then(|reference| column_of(&reference)).unwrap_or(column);
                    column = own + 1;
                    new.cells_before(row, own);
                    if new.left.contains_key(&(row, own)) {
                        let style = attribute(tag, "s");
                        if !is_empty {
                            skipped(&mut reader)?;
                            begun = usize::try_from(reader.buffer_position()).map_err(invalid)?;
                        }
                        new.cell((row, own), style.as_deref());
                        continue;
                    }
                }
                _ => {}
            },
            Event::End(tag) => match tag.local_name().as_ref() {
                "row" => new.cells_before(row, usize::MAX),
                "sheetData" => new.rows_before(u64::MAX),
                _ => {}
            },
            _ => {}
        }
        new.out.push_str(raw);
    }
    Ok(new.out)
}

/// Goes past the rest of a cell, which must be no formula.
fn skipped(reader: &mut Reader<&[u8]>) -> std::io::Result<()> {
    let mut depth = 1;
    while depth > 0 {
        match reader.read_event().map_err(invalid)? {
            Event::Start(tag) | Event::Empty(tag) if tag.local_name().as_ref() == "f" => {
                return Err(invalid("the cell is a formula: change it in the workbook"));
            }
            Event::Start(_) => depth += 1,
            Event::End(_) => depth -= 1,
            Event::Eof => return Err(invalid("the sheet ends in a cell")),
            _ => {}
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::{CellTexts, column_of, rewritten};

    fn changed(sheet: &str, cells: &[(u64, usize, &str)]) -> String {
        let cells: CellTexts =
            cells.iter().map(|(row, column, text)| ((*row, *column), text.to_string())).collect();
        rewritten(sheet, &cells).unwrap()
    }

    #[test]
    fn only_the_cells_that_are_changed_are_written_anew() {
        let sheet = "<worksheet><dimension ref=\"A1:B3\"/><sheetData><row r=\"1\" spans=\"1:2\"><c r=\"A1\" t=\"s\"><v>0</v></c>\
                     <c r=\"B1\" s=\"4\"><v>7.5</v></c></row><row r=\"3\"/></sheetData><pageMargins/></worksheet>";
        let inline = |at: &str, text: &str| {
            format!("<c r=\"{at}\" t=\"inlineStr\"><is><t xml:space=\"preserve\">{text}</t></is></c>")
        };
        assert_eq!(
            changed(sheet, &[(1, 1, "8"), (1, 27, "a & b"), (2, 0, "leg"), (3, 1, "1/2"), (5, 0, "")]),
            format!(
                "<worksheet><sheetData><row r=\"1\" spans=\"1:2\"><c r=\"A1\" t=\"s\"><v>0</v></c><c r=\"B1\" s=\"4\"><v>8</v></c>\
                 {}</row><row r=\"2\">{}</row><row r=\"3\">{}</row><row r=\"5\"><c r=\"A5\"/></row></sheetData><pageMargins/></worksheet>",
                inline("AB1", "a &amp; b"),
                inline("A2", "leg"),
                inline("B3", "1/2")
            )
        );
        assert_eq!(
            changed("<x:worksheet><x:sheetData/></x:worksheet>", &[(1, 0, "3")]),
            "<x:worksheet><x:sheetData><x:row r=\"1\"><x:c r=\"A1\"><x:v>3</x:v></x:c></x:row></x:sheetData></x:worksheet>"
        );
    }

    #[test]
    fn a_formula_is_not_overwritten() {
        let sheet = "<worksheet><sheetData><row><c><f>1+1</f><v>2</v></c></row></sheetData></worksheet>";
        let cells = CellTexts::from([((1, 0), "3".to_string())]);
        assert!(rewritten(sheet, &cells).unwrap_err().to_string().contains("formula"));
    }

    #[test]
    fn columns_are_told() {
        assert_eq!(["A1", "Z9", "AA10", "12"].map(column_of), [Some(0), Some(25), Some(26), None]);
    }
}
