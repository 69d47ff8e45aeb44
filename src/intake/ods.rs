//! A sheet of an OpenDocument workbook, changed cell by cell in its file.
//!
//! Only the cells that are changed are written anew. Rows and cells that are alike stand there once with a number of
//! repetitions, so a change in the middle of such a run parts it in three. The form is that of ISO/IEC 26300-1, chapter 9
//! (tables).

use quick_xml::Reader;
use quick_xml::escape::escape;
use quick_xml::events::attributes::Attribute;
use quick_xml::events::{BytesStart, Event};

use super::edit::CellTexts;
use super::packed::{Parts, attribute, invalid, is_number};

/// The part that all sheets lie in.
const CONTENT: &str = "content.xml";

/// The workbook with some cells of a sheet changed. An empty text empties its cell.
///
/// # Errors
/// If it is no such workbook, has no such sheet, or a cell is a formula.
pub fn with_cells(workbook: &[u8], sheet: &str, cells: &CellTexts) -> std::io::Result<Vec<u8>> {
    let mut parts = Parts::of(workbook)?;
    let changed = rewritten(&parts.text(CONTENT)?, sheet, cells)?;
    parts.with(CONTENT, &changed)
}

/// A row or a cell as it stands in the file, perhaps for several alike.
struct Run<'t> {
    /// Its first tag.
    tag: BytesStart<'t>,
    /// How many it stands for.
    many: u64,
    /// What lies between its tags.
    inner: &'t str,
}

/// The attribute that says how many a row or a cell stands for.
fn repeats(name: &str) -> &'static str {
    if name == "table-row" { "number-rows-repeated" } else { "number-columns-repeated" }
}

impl<'t> Run<'t> {
    /// Reads on to the end of a row or cell whose first tag was just read.
    fn read(
        reader: &mut Reader<&'t [u8]>,
        text: &'t str,
        tag: BytesStart<'t>,
        is_empty: bool,
    ) -> std::io::Result<Run<'t>> {
        let many = attribute(&tag, repeats(tag.local_name().as_ref()));
        // No sheet has so many that they do not fit.
        let many = many.and_then(|many| many.parse::<u32>().ok()).map_or(1, u64::from).max(1);
        let inner = if is_empty {
            ""
        } else {
            let name = tag.name().as_ref().to_owned();
            let (from, to) =
                (position(reader)?, reader.read_to_end(quick_xml::name::QName(&name)).map_err(invalid)?);
            &text[from..usize::try_from(to.end).map_err(invalid)?]
        };
        Ok(Run { tag, many, inner })
    }

    /// The attributes that a cell keeps when its text is another: how it looks, and what may be written into it.
    fn kept(&self) -> String {
        let is_kept = |name: &str| matches!(name, "style-name" | "content-validation-name");
        let all = self.tag.attributes().flatten();
        all.filter(|one| is_kept(one.key.local_name().as_ref())).map(|one| as_written(&one)).collect()
    }

    /// So many of them as they stand.
    fn write(&self, many: u64, inner: &str, out: &mut String) {
        if many == 0 {
            return;
        }
        let name = self.tag.name().as_ref().to_string();
        let own = repeats(self.tag.local_name().as_ref());
        out.push('<');
        out.push_str(&name);
        for one in self.tag.attributes().flatten().filter(|one| one.key.local_name().as_ref() != own) {
            out.push_str(&as_written(&one));
        }
        if many > 1 {
            let prefix = name.split_once(':').map_or(String::new(), |(prefix, _)| format!("{prefix}:"));
            out.push_str(&format!(" {prefix}{own}=\"{many}\""));
        }
        if inner.is_empty() {
            out.push_str("/>");
        } else {
            out.push_str(&format!(">{inner}</{name}>"));
        }
    }
}

/// An attribute with its value, which stands there escaped already.
fn as_written(one: &Attribute<'_>) -> String {
    format!(" {}=\"{}\"", one.key.as_ref(), one.value.replace('"', "&quot;"))
}

/// Where a reader stands in its text.
fn position(reader: &Reader<&[u8]>) -> std::io::Result<usize> {
    usize::try_from(reader.buffer_position()).map_err(invalid)
}

/// A sheet that is being written anew.
struct Rewriting<'c> {
    cells: &'c CellTexts,
    /// What stands before the names of tables.
    table: String,
    out: String,
    /// The row that comes next, from 1.
    next: u64,
    /// Where rows that the sheet does not have are written: after its last one.
    end: usize,
}

impl Rewriting<'_> {
    /// The changes of a row.
    fn of_row(&self, row: u64) -> impl Iterator<Item = (usize, &str)> {
        self.cells.range((row, 0)..=(row, usize::MAX)).map(|((_, column), text)| (*column, text.as_str()))
    }

    /// The first row from the next one on that is changed.
    fn next_changed(&self) -> Option<u64> {
        self.cells.range((self.next, 0)..).next().map(|((row, _), _)| *row)
    }

    /// A run of rows, parted where one of them is changed.
    fn rows(&mut self, run: &Run<'_>) -> std::io::Result<()> {
        let mut left = run.many;
        while let Some(row) = self.next_changed().filter(|row| *row < self.next + left) {
            let before = row - self.next;
            run.write(before, run.inner, &mut self.out);
            let inner = self.row(row, run.inner)?;
            run.write(1, &inner, &mut self.out);
            left -= before + 1;
            self.next = row + 1;
        }
        run.write(left, run.inner, &mut self.out);
        self.next += left;
        self.end = self.out.len();
        Ok(())
    }

    /// The cells of one row with its changes.
    fn row(&self, row: u64, cells: &str) -> std::io::Result<String> {
        let mut out = String::with_capacity(cells.len());
        let mut due = self.of_row(row).peekable();
        let mut next = 0usize;
        let mut reader = Reader::from_str(cells);
        let mut begun = 0;
        loop {
            let event = reader.read_event().map_err(invalid)?;
            let is_empty = matches!(event, Event::Empty(_));
            match event {
                Event::Eof => break,
                Event::Start(tag) | Event::Empty(tag)
                    if matches!(tag.local_name().as_ref(), "table-cell" | "covered-table-cell") =>
                {
                    let run = Run::read(&mut reader, cells, tag, is_empty)?;
                    let mut left = usize::try_from(run.many).map_err(invalid)?;
                    while let Some((column, text)) = due.next_if(|(column, _)| *column < next + left) {
                        if attribute(&run.tag, "formula").is_some() {
                            return Err(invalid("the cell is a formula: change it in the workbook"));
                        }
                        run.write((column - next) as u64, run.inner, &mut out);
                        left -= column - next + 1;
                        next = column + 1;
                        out.push_str(&self.cell(text, &run.kept()));
                    }
                    run.write(left as u64, run.inner, &mut out);
                    next += left;
                }
                _ => out.push_str(&cells[begun..position(&reader)?]),
            }
            begun = position(&reader)?;
        }
        for (column, text) in due {
            self.empty_cells(column - next, &mut out);
            out.push_str(&self.cell(text, ""));
            next = column + 1;
        }
        Ok(out)
    }

    fn empty_cells(&self, many: usize, out: &mut String) {
        if many > 0 {
            let table = &self.table;
            out.push_str(&format!("<{table}table-cell {table}number-columns-repeated=\"{many}\"/>"));
        }
    }

    fn cell(&self, text: &str, kept: &str) -> String {
        let table = &self.table;
        let value = match text {
            "" => return format!("<{table}table-cell{kept}/>"),
            number if is_number(number) => format!(" office:value-type=\"float\" office:value=\"{number}\""),
            _ => " office:value-type=\"string\"".to_string(),
        };
        let lines = text.lines().map(|line| format!("<text:p>{}</text:p>", paragraph(line)));
        format!("<{table}table-cell{kept}{value}>{}</{table}table-cell>", lines.collect::<String>())
    }

    /// Rows behind the last one that the sheet has.
    fn rows_behind(&mut self) -> std::io::Result<()> {
        let mut behind = String::new();
        let table = self.table.clone();
        while let Some(row) = self.next_changed() {
            if row > self.next {
                let many = row - self.next;
                behind.push_str(&format!(
                    "<{table}table-row {table}number-rows-repeated=\"{many}\"><{table}table-cell/></{table}table-row>"
                ));
            }
            behind.push_str(&format!("<{table}table-row>{}</{table}table-row>", self.row(row, "")?));
            self.next = row + 1;
        }
        self.out.insert_str(self.end, &behind);
        Ok(())
    }
}

/// A line of text as a paragraph has it: of several blanks side by side all but one are tags, and tabs are.
fn paragraph(line: &str) -> String {
    let mut out = String::new();
    let mut blanks = 0;
    for letter in line.chars() {
        if letter == ' ' {
            blanks += 1;
            continue;
        }
        let is_first = out.is_empty();
        out.push_str(&blanks_as_written(blanks, is_first));
        blanks = 0;
        match letter {
            '\t' => out.push_str("<text:tab/>"),
            other => out.push_str(&escape(other.encode_utf8(&mut [0; 4]) as &str)),
        }
    }
    out.push_str(&blanks_as_written(blanks, true));
    out
}

/// Blanks side by side: one between letters stands there as it is, what there are more of, or at an end, is a tag.
fn blanks_as_written(many: usize, at_an_end: bool) -> String {
    let plain = if at_an_end { 0 } else { many.min(1) };
    match many - plain {
        0 => " ".repeat(plain),
        more => format!("{}<text:s text:c=\"{more}\"/>", " ".repeat(plain)),
    }
}

fn rewritten(content: &str, sheet: &str, cells: &CellTexts) -> std::io::Result<String> {
    let mut reader = Reader::from_str(content);
    let out = String::with_capacity(content.len());
    let mut new = Rewriting { cells, table: String::new(), out, next: 1, end: 0 };
    let (mut begun, mut depth, mut found) = (0usize, 0usize, false);
    loop {
        let event = reader.read_event().map_err(invalid)?;
        let end = position(&reader)?;
        let raw = &content[begun..end];
        begun = end;
        let is_empty = matches!(event, Event::Empty(_));
        match event {
            Event::Eof => break,
            Event::Start(tag) if tag.local_name().as_ref() == "table" => {
                let is_own = depth == 0 && !found && attribute(&tag, "name").as_deref() == Some(sheet);
                // A table may hold others, in a cell or beside a picture.
                depth += usize::from(depth > 0 || is_own);
                if is_own {
                    found = true;
                    new.table = tag.name().as_ref().strip_suffix("table").unwrap_or_default().to_string();
                }
                new.out.push_str(raw);
                if is_own {
                    new.end = new.out.len();
                }
                continue;
            }
            Event::End(tag) if tag.local_name().as_ref() == "table" && depth > 0 => {
                depth -= 1;
                if depth == 0 {
                    new.rows_behind()?;
                }
            }
            Event::Start(tag) | Event::Empty(tag)
                if depth == 1 && tag.local_name().as_ref() == "table-row" =>
            {
                let run = Run::read(&mut reader, content, tag, is_empty)?;
                new.rows(&run)?;
                begun = position(&reader)?;
                continue;
            }
            _ => {}
        }
        new.out.push_str(raw);
    }
    if found { Ok(new.out) } else { Err(invalid(format!("it has no sheet {sheet}"))) }
}

#[cfg(test)]
mod tests {
    use super::{CellTexts, rewritten};

    fn changed(content: &str, cells: &[(u64, usize, &str)]) -> String {
        let cells: CellTexts =
            cells.iter().map(|(row, column, text)| ((*row, *column), text.to_string())).collect();
        rewritten(content, "parts", &cells).unwrap()
    }

    /// A row, a cell and what lies in it.
    fn row(cells: &str) -> String {
        format!("<table:table-row>{cells}</table:table-row>")
    }

    fn text(text: &str) -> String {
        format!("<table:table-cell office:value-type=\"string\"><text:p>{text}</text:p></table:table-cell>")
    }

    #[test]
    fn only_the_cells_that_are_changed_are_written_anew() {
        let other = "<table:table table:name=\"orders\"><table:table-row><table:table-cell/></table:table-row></table:table>";
        let styled = "<table:table-cell table:style-name=\"ce1\" table:content-validation-name=\"v\" office:value-type=\"float\" office:value=\"7.5\"><text:p>7.5</text:p></table:table-cell>";
        let sheet = format!(
            "<a>{other}<table:table table:name=\"parts\">{}</table:table>{other}</a>",
            row(&format!("{}{styled}", text("leg")))
        );
        assert_eq!(
            changed(&sheet, &[(1, 1, "8"), (1, 3, "a & b"), (3, 0, "two  blanks")]),
            format!(
                "<a>{other}<table:table table:name=\"parts\">{}<table:table-row table:number-rows-repeated=\"1\"><table:table-cell/></table:table-row>{}</table:table>{other}</a>",
                row(&format!(
                    "{}<table:table-cell table:style-name=\"ce1\" table:content-validation-name=\"v\" office:value-type=\"float\" office:value=\"8\"><text:p>8</text:p></table:table-cell>\
                     <table:table-cell table:number-columns-repeated=\"1\"/>{}",
                    text("leg"),
                    text("a &amp; b")
                )),
                row(&text("two <text:s text:c=\"1\"/>blanks"))
            )
        );
    }

    /// A sheet ends with a million empty rows of a thousand empty cells, which stand there once.
    #[test]
    fn a_change_within_a_run_parts_it() {
        let rows = |many: u64| {
            format!(
                "<table:table-row table:number-rows-repeated=\"{many}\"><table:table-cell table:number-columns-repeated=\"1024\"/></table:table-row>"
            )
        };
        let sheet = format!("<table:table table:name=\"parts\">{}</table:table>", rows(1000));
        let cells = "<table:table-cell table:number-columns-repeated=\"2\"/>".to_string()
            + &text("x")
            + "<table:table-cell table:number-columns-repeated=\"1021\"/>";
        assert_eq!(
            changed(&sheet, &[(4, 2, "x")]),
            format!(
                "<table:table table:name=\"parts\">{}{}{}</table:table>",
                rows(3),
                row(&cells),
                rows(996)
            )
        );
    }

    #[test]
    fn a_formula_is_not_overwritten() {
        let cell =
            "<table:table-cell table:formula=\"of:=1+1\" office:value-type=\"float\" office:value=\"2\"/>";
        let sheet = format!("<table:table table:name=\"parts\">{}</table:table>", row(cell));
        let cells = CellTexts::from([((1, 0), "3".to_string())]);
        assert!(rewritten(&sheet, "parts", &cells).unwrap_err().to_string().contains("formula"));
        assert!(rewritten(&sheet, "prices", &cells).unwrap_err().to_string().contains("prices"));
    }
}
