//! The job's tables: cells are changed where they stand, with what is wrong beside them.

use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use axum::Json;
use axum::extract::{Query, State};
use axum::response::Html;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::desk::Desk;
use super::documents::made;
use super::refusal::{Answer, Refusal, apart, page as on_page};
use crate::intake::{Edit, Editable, FILES, FileReference, Place, Source, version, workbook_with};
use crate::job::{Fault, Job, JobError, Warning};
use crate::report::write_file;

/// The file of settings.
pub const SETTINGS: &str = "shop.toml";

/// Rows that a page shows at once.
const ROWS: usize = 200;

/// Where price sheets lie.
const PRICES: &str = "prices/";

/// A table of the job.
#[derive(Debug, Clone, Serialize)]
pub struct KnownNames {
    /// The file that it is, or that a sheet of the workbook stands for.
    pub name: String,
    /// What it holds.
    pub what: &'static str,
    /// Is it there?
    pub is_there: bool,
    #[serde(skip)]
    reference: &'static FileReference,
}

/// The tables that a job has and may have.
///
/// # Errors
/// If the job's folder cannot be read.
pub fn known(place: &Place) -> std::io::Result<Vec<KnownNames>> {
    let mut tables = Vec::new();
    for reference in &FILES {
        let one = |name: &str| KnownNames {
            name: name.to_string(),
            what: reference.what,
            is_there: place.open(name).is_ok(),
            reference,
        };
        if reference.name.starts_with(PRICES) {
            let mut dealers = place.dealers()?;
            dealers.sort();
            tables.extend(dealers.iter().map(|dealer| one(&format!("{PRICES}{dealer}.csv"))));
        } else {
            tables.push(one(reference.name));
        }
    }
    Ok(tables)
}

/// A table by its name: only those of the list are known, so that no name leads out of the job.
fn of_name(place: &Place, name: &str) -> Answer<KnownNames> {
    let tables = known(place)?;
    let found = tables.into_iter().find(|table| table.name == name);
    found.ok_or_else(|| Refusal::missing("the job has no table of that name"))
}

/// What is wrong with a job, and what was read otherwise than it stands.
#[derive(Debug, Default)]
pub struct Judged {
    /// Every fault.
    pub faults: Vec<Fault>,
    /// Every warning.
    pub warnings: Vec<Warning>,
    /// What is wrong with the job as a whole.
    pub whole: Option<String>,
    /// The job, where it can be read.
    pub job: Option<Job>,
}

/// Reads the job to see what is wrong with it.
pub fn judged(desk: &Desk) -> Judged {
    match desk.job() {
        Ok(mut job) => {
            let whole = desk.rack_is_told().err().map(|error| error.to_string());
            let warnings = std::mem::take(&mut job.warnings);
            Judged { faults: Vec::new(), warnings, whole, job: Some(job) }
        }
        Err(JobError::Faults { faults, warnings }) => Judged { faults, warnings, ..Judged::default() },
        Err(error) => Judged { whole: Some(error.to_string()), ..Judged::default() },
    }
}

/// Which table, and from which row on.
#[derive(Debug, Deserialize)]
pub struct TableAsked {
    name: String,
    #[serde(default)]
    from: usize,
}

#[derive(Serialize)]
struct ShownRow {
    line: u64,
    cells: Vec<ShownCell>,
    seen: String,
    fault: Option<String>,
}

#[derive(Serialize)]
struct ShownCell {
    column: String,
    text: String,
    fault: Option<String>,
}

#[derive(Serialize)]
struct TablePage {
    title: String,
    here: &'static str,
    name: String,
    what: &'static str,
    is_there: bool,
    editable: bool,
    columns: Vec<ColumnView>,
    header: Vec<String>,
    rows: Vec<ShownRow>,
    from: usize,
    next: Option<usize>,
    previous: Option<usize>,
    all: usize,
    undo: usize,
    faults: Vec<String>,
    warnings: Vec<String>,
}

/// A column that a file may have.
#[derive(Serialize)]
struct ColumnView {
    name: &'static str,
    is_needed: bool,
    what: &'static str,
    is_there: bool,
}

impl ColumnView {
    fn of((name, is_needed, what): (&'static str, bool, &'static str), header: &[String]) -> ColumnView {
        ColumnView { name, is_needed, what, is_there: header.iter().any(|own| own == name) }
    }
}

/// A table, as it stands, with its faults.
pub async fn page(State(desk): State<Arc<Desk>>, Query(asked): Query<TableAsked>) -> Answer<Html<Vec<u8>>> {
    on_page(move || {
        let place = desk.place()?;
        let table = of_name(&place, &asked.name)?;
        let shown_name = place.shown(&table.name);
        let judged = judged(&desk);
        let own: Vec<&Fault> = judged.faults.iter().filter(|fault| fault.file == shown_name).collect();
        let is_file = place.path_of(&table.name).is_some();
        let workbook = place.sheet_that_changes(&table.name).map(|(path, _)| path);
        let editable = if table.is_there { Some(read(&place, &table.name)?) } else { None };
        let (header, rows, all) = match &editable {
            Some(editable) => {
                let rows = editable.rows().iter().skip(asked.from).take(ROWS);
                let rows = rows.map(|row| shown(row.line, &row.cells, editable.header(), &own));
                (editable.header().to_vec(), rows.collect(), editable.rows().len())
            }
            None => (Vec::new(), Vec::new(), 0),
        };
        let on_page: Vec<u64> = rows.iter().map(|row: &ShownRow| row.line).collect();
        let beside = |fault: &&&Fault| fault.row.is_none_or(|row| !on_page.contains(&row));
        let warnings = judged.warnings.iter().filter(|warning| warning.file == shown_name);
        let page = TablePage {
            title: table.name.clone(),
            here: "job",
            what: table.what,
            is_there: table.is_there,
            editable: is_file || workbook.is_some() || !table.is_there,
            columns: table.reference.columns().map(|column| ColumnView::of(column, &header)).collect(),
            header,
            rows,
            from: asked.from,
            next: (asked.from + ROWS < all).then_some(asked.from + ROWS),
            previous: (asked.from > 0).then_some(asked.from.saturating_sub(ROWS)),
            all,
            undo: desk.changes().of(&undone_as(workbook, &table.name)),
            faults: own.iter().filter(beside).map(|fault| fault.to_string()).collect(),
            warnings: warnings.map(|warning| warning.text.clone()).collect(),
            name: table.name,
        };
        Ok(made(include_str!("html/table.html"), page)?)
    })
    .await
}

fn shown(line: u64, cells: &[String], header: &[String], faults: &[&Fault]) -> ShownRow {
    let of_row = || faults.iter().filter(|fault| fault.row == Some(line));
    let whole = of_row().find(|fault| {
        fault.column.as_ref().is_none_or(|column| !header.iter().any(|name| is_column(column, name)))
    });
    let cell = |(place, column): (usize, &String)| ShownCell {
        column: column.clone(),
        text: cells.get(place).cloned().unwrap_or_default(),
        fault: of_row()
            .find(|fault| fault.column.as_ref().is_some_and(|of| is_column(of, column)))
            .map(|fault| fault.kind.reason()),
    };
    ShownRow {
        line,
        cells: header.iter().enumerate().map(cell).collect(),
        seen: json!(cells).to_string(),
        fault: whole.map(|fault| fault.kind.reason()),
    }
}

/// A fault of a workbook names its column with the sheet's letter in front.
fn is_column(of_fault: &str, name: &str) -> bool {
    of_fault == name || of_fault.ends_with(&format!("({name})"))
}

fn bytes_of(place: &Place, name: &str) -> Answer<Vec<u8>> {
    let mut bytes = Vec::new();
    place.open(name)?.read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn read(place: &Place, name: &str) -> Answer<Editable> {
    let bytes = bytes_of(place, name)?;
    let is_sheet = place.path_of(name).is_none();
    Ok(if is_sheet { Editable::read_sheet(&bytes)? } else { Editable::read(&bytes)? })
}

/// Which row is meant, by its line and what was seen there.
#[derive(Debug, Deserialize)]
pub struct RowAsked {
    table: String,
    line: u64,
    seen: Vec<String>,
}

/// A cell's new text.
#[derive(Debug, Deserialize)]
pub struct CellAsked {
    #[serde(flatten)]
    row: RowAsked,
    column: usize,
    text: String,
}

/// A new row.
#[derive(Debug, Deserialize)]
pub struct NewRow {
    table: String,
    cells: Vec<String>,
}

/// A table by name alone.
#[derive(Debug, Deserialize)]
pub struct Named {
    table: String,
}

/// Changes a file of the job, and says what is wrong with it then.
async fn change(
    desk: Arc<Desk>,
    table: String,
    work: impl FnOnce(&Editable, &FileReference) -> Answer<String> + Send + 'static,
) -> Answer<Json<Value>> {
    apart(move || {
        let mut changes = desk.changes();
        let place = desk.place()?;
        let known = of_name(&place, &table)?;
        let (path, sheet) = file_of(&place, &known.name)?;
        // The bytes as they lie there: what is undone comes back as it was.
        let before = std::fs::read(&path)?;
        // A workbook is read as a whole when its place is opened: here what it says beside those bytes.
        let table = match &sheet {
            Some(_) => read(&desk.place()?, &known.name)?,
            None => read(&place, &known.name)?,
        };
        let text = work(&table, known.reference)?;
        let after = match &sheet {
            Some(sheet) => workbook_with(&path, &before, sheet, &table.cells_changed(&text)?)?,
            None => text.into_bytes(),
        };
        store(&path, &after)?;
        let key = undone_as(sheet.is_some().then_some(path.as_path()), &known.name);
        changes.keep(&key, before, &after);
        let undo = changes.of(&key);
        drop(changes);
        Ok(Json(told(&desk, &place, &known.name, undo)?))
    })
    .await
}

/// The file that a table lies in, and the sheet that it is, if it is one.
fn file_of(place: &Place, name: &str) -> Answer<(PathBuf, Option<String>)> {
    if let Some(path) = place.path_of(name) {
        return Ok((path, None));
    }
    let Some((path, sheet)) = place.sheet_that_changes(name) else {
        return Err(Refusal::bad(
            "this table is a sheet of a workbook that only its own program changes: change it there, and it is read anew here",
        ));
    };
    let file = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    // Beside a workbook that is open a spreadsheet keeps a file of one of these names.
    let marks = [format!("~${file}"), format!(".~lock.{file}#")];
    if marks.iter().any(|mark| path.with_file_name(mark).exists()) {
        return Err(Refusal::conflict(
            "the workbook is open in a spreadsheet, which would overwrite this: close it there first",
        ));
    }
    Ok((path.to_path_buf(), Some(sheet.to_string())))
}

/// Under which name a table's changes are kept: the sheets of a workbook are one file.
fn undone_as(workbook: Option<&Path>, name: &str) -> String {
    workbook.map_or_else(|| name.to_string(), |path| path.to_string_lossy().into_owned())
}

fn store(path: &Path, bytes: &[u8]) -> Answer<()> {
    // Through a link the file that it leads to is changed, as any editor does.
    let path = std::fs::canonicalize(path)?;
    let (folder, name) = (path.parent(), path.file_name().and_then(|name| name.to_str()));
    let (Some(folder), Some(name)) = (folder, name) else {
        return Err(Refusal::bad("the file has no name that can be written"));
    };
    Ok(write_file(folder, name, bytes)?)
}

/// A table's faults by line and column, and how many there are in the whole job.
fn told(desk: &Desk, place: &Place, name: &str, undo: usize) -> Answer<Value> {
    let judged = judged(desk);
    let shown_name = place.shown(name);
    let own = judged.faults.iter().filter(|fault| fault.file == shown_name);
    let faults: Vec<Value> = own
        .map(|fault| json!({ "line": fault.row, "column": fault.column, "text": fault.kind.reason() }))
        .collect();
    let warnings = judged.warnings.iter().filter(|warning| warning.file == shown_name);
    Ok(json!({
        "faults": faults,
        "warnings": warnings.map(|warning| warning.text.clone()).collect::<Vec<_>>(),
        "all": judged.faults.len() + usize::from(judged.whole.is_some()),
        "undo": undo,
    }))
}

/// A cell gets another text.
pub async fn cell(State(desk): State<Arc<Desk>>, Json(asked): Json<CellAsked>) -> Answer<Json<Value>> {
    let CellAsked { row: RowAsked { table, line, seen }, column, text } = asked;
    let edit = Edit::Cell { column, text };
    change(desk, table, move |editable, _| Ok(editable.changed(line, &seen, &edit)?)).await
}

/// A row is added.
pub async fn row(State(desk): State<Arc<Desk>>, Json(asked): Json<NewRow>) -> Answer<Json<Value>> {
    if asked.cells.iter().all(|cell| cell.trim().is_empty()) {
        return Err(Refusal::bad("the row is empty: type something into it first"));
    }
    change(desk, asked.table, move |editable, _| Ok(editable.with_row(&asked.cells)?)).await
}

/// A row is taken out.
pub async fn remove(State(desk): State<Arc<Desk>>, Json(asked): Json<RowAsked>) -> Answer<Json<Value>> {
    let RowAsked { table, line, seen } = asked;
    change(desk, table, move |editable, _| Ok(editable.changed(line, &seen, &Edit::Remove)?)).await
}

/// A new column.
#[derive(Debug, Deserialize)]
pub struct NewColumn {
    table: String,
    column: String,
}

/// A column that the file may have is added, empty in every row.
pub async fn column(State(desk): State<Arc<Desk>>, Json(asked): Json<NewColumn>) -> Answer<Json<Value>> {
    let NewColumn { table, column } = asked;
    change(desk, table, move |editable, reference| {
        if reference.columns().all(|(name, ..)| name != column) {
            return Err(Refusal::missing("the table may not have a column of that name"));
        }
        Ok(editable.with_column(&column)?)
    })
    .await
}

/// The last change of a table is undone, unless somebody has changed the file since.
pub async fn undo(State(desk): State<Arc<Desk>>, Json(asked): Json<Named>) -> Answer<Json<Value>> {
    apart(move || {
        let mut changes = desk.changes();
        let place = desk.place()?;
        let (path, sheet) = match asked.table == SETTINGS {
            true => (desk.folder().join(SETTINGS), None),
            false => file_of(&place, &of_name(&place, &asked.table)?.name)?,
        };
        let key = undone_as(sheet.is_some().then_some(path.as_path()), &asked.table);
        let nothing = || Refusal::bad("nothing of this table was changed here");
        let (before, after) = changes.last(&key).ok_or_else(nothing)?;
        if version(&std::fs::read(&path)?) != after {
            return Err(Refusal::conflict(
                "the file was changed elsewhere since: nothing is undone, so that that change is not lost",
            ));
        }
        store(&path, before)?;
        changes.forget_last(&key);
        Ok(Json(json!({ "undo": changes.of(&key) })))
    })
    .await
}

/// Letters that the name of a dealer's price sheet may have.
const LONGEST_DEALER: usize = 40;

/// A table that the job does not have yet is begun with its columns.
pub async fn begin(State(desk): State<Arc<Desk>>, Json(asked): Json<Named>) -> Answer<Json<Value>> {
    apart(move || {
        let _changes = desk.changes();
        let place = desk.place()?;
        if desk.is_workbook() {
            return Err(Refusal::bad("the job is a workbook: add a sheet of that name there"));
        }
        let dealer = asked.table.strip_prefix(PRICES).and_then(|rest| rest.strip_suffix(".csv"));
        let reference = match dealer {
            Some(dealer) => {
                let sound = !dealer.trim().is_empty()
                    && dealer.chars().count() <= LONGEST_DEALER
                    && dealer.chars().all(|letter| letter.is_alphanumeric() || " -_&".contains(letter));
                if !sound {
                    return Err(Refusal::bad(format!(
                        "a dealer's name has letters, digits, spaces and dashes, at most {LONGEST_DEALER}"
                    )));
                }
                FILES.iter().find(|file| file.name.starts_with(PRICES))
            }
            None => FILES.iter().find(|file| file.name == asked.table),
        };
        let reference = reference.ok_or_else(|| Refusal::missing("the job has no table of that name"))?;
        if place.open(&asked.table).is_ok() {
            return Err(Refusal::conflict("it is there already"));
        }
        let header: Vec<&str> = reference.columns().map(|(name, ..)| name).collect();
        write_file(&desk.folder(), &asked.table, format!("{}\n", header.join(",")).as_bytes())?;
        Ok(Json(json!({})))
    })
    .await
}
