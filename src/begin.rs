//! A new job: files to begin with, and a part list taken over from a table with headings of its own.
//!
//! What lives here: what `ripwright new` writes. What never does: a default or a column's meaning, which are the
//! readers' own.

use std::collections::BTreeMap;
use std::path::Path;

use crate::intake::{FILES, PARTS, read_foreign, shop_toml};
use crate::measure::Unit;
use crate::report::csv_table;

/// A file of a new job: name and content.
pub type NewFile = (String, Vec<u8>);

/// Folder of a new job with a small example of every optional file: they are off until they are moved beside
/// `parts.csv`.
pub const EXAMPLES: &str = "examples";

/// Rows to begin with, in inches and in millimetres, by file.
const ROWS: [(&str, &str, &str); 11] = [
    ("orders.csv", "1,step stool,2,,\n2,wall shelf,1,,\n", "1,step stool,2,,\n2,wall shelf,1,,\n"),
    (
        "parts.csv",
        "step stool,top,2,14,5 1/2,3/4,red oak,,stop,yes,,\n\
         step stool,leg,4,10 1/4,2 1/2,3/4,red oak,,creep,,,\n\
         step stool,rail,2,12 1/2,2 1/2,3/4,red oak,,to-work,,no,\n\
         wall shelf,board,3,30,5 1/4,3/4,red oak,,stop,,,\n\
         wall shelf,bracket,6,7,1 1/2,3/4,red oak,,stop,,,\n",
        "step stool,top,2,355,140,20,red oak,,stop,yes,,\n\
         step stool,leg,4,260,64,20,red oak,,creep,,,\n\
         step stool,rail,2,318,64,20,red oak,,to-work,,no,\n\
         wall shelf,board,3,760,134,20,red oak,,stop,,,\n\
         wall shelf,bracket,6,178,38,20,red oak,,stop,,,\n",
    ),
    (
        "prices/first-dealer.csv",
        "red oak,4/4,1C,5..9,7'..10',4.10,bf,,\nred oak,4/4,FAS,6..10,8'..12',5.60,bf,,\n",
        "red oak,27mm,1C,125..230,2100..3000,1700,m3,,\nred oak,27mm,FAS,150..250,2400..3600,2300,m3,,\n",
    ),
    ("suppliers.csv", "first-dealer,35.00,100.00,exact\n", "first-dealer,35.00,100.00,exact\n"),
    ("breaks.csv", "first-dealer,200,5\n", "first-dealer,200,5\n"),
    ("rack.csv", "A1,red oak,4/4,1C,6 1/2,40,2.50,\n", "A1,red oak,27mm,1C,165,1000,2.50,\n"),
    ("holes.csv", "step stool,top,4,clearance,8,,,,yes\n", "step stool,top,4,clearance,,4,,,yes\n"),
    ("finish.csv", "step stool,oil,machined,2,150,show\n", "step stool,oil,machined,2,14,show\n"),
    ("edging.csv", "birch,3/4,1/16,25',9.50\n", "birch,18mm,1mm,25m,32.00\n"),
    (
        "scenarios.csv",
        "thin blade,,,,,3/32,,,,\nno first dealer,,,,,,,first-dealer,,\n",
        "thin blade,,,,,2.4,,,,\nno first dealer,,,,,,,first-dealer,,\n",
    ),
    ("boards.csv", "T1,red oak,4/4,1C,6 1/2,8',,\n", "T1,red oak,27mm,1C,165,2400,,\n"),
];

/// The files of a new job with two small products. Those that a job needs not are in the folder of examples.
pub fn new_job(unit: Unit) -> Vec<NewFile> {
    let mut files = vec![("shop.toml".to_string(), shop_toml(unit).into_bytes())];
    for (name, inch, metric) in ROWS {
        // A dealer's sheet and a tally go by other names than their kind.
        let kind = if name.starts_with("prices/") { "prices/NAME.csv" } else { name };
        let kind = if name == "boards.csv" { "rack.csv" } else { kind };
        let Some(file) = FILES.iter().find(|file| file.name == kind) else { continue };
        let header: Vec<&str> = file.columns().map(|(column, ..)| column).collect();
        let rows = if unit == Unit::Inch { inch } else { metric };
        let place = if file.needed { name.to_string() } else { format!("{EXAMPLES}/{name}") };
        let rows: String = rows.lines().map(|row| filled_up(row, header.len())).collect();
        files.push((place, format!("{}\n{rows}", header.join(",")).into_bytes()));
    }
    files
}

/// A row of plain cells with empty ones up to so many.
fn filled_up(row: &str, cells: usize) -> String {
    let own = row.split(',').count();
    format!("{row}{}\n", ",".repeat(cells.saturating_sub(own)))
}

/// Other headings that lists use for a column of `parts.csv`, in small letters without spaces and marks.
const HEADINGS: [(&str, &[&str]); 8] = [
    ("product", &["item", "unit", "cabinet", "furniture", "assembly", "model"]),
    ("part", &["partname", "name", "component", "description", "label", "piece"]),
    ("pieces", &["qty", "quantity", "count", "pcs", "number", "no", "each", "howmany"]),
    ("length", &["len", "l", "long", "finishedlength"]),
    ("width", &["wid", "w", "wide", "finishedwidth"]),
    ("thickness", &["thick", "thk", "t", "th", "finishedthickness"]),
    ("species", &["wood", "material", "timber", "lumber"]),
    ("grade", &["quality"]),
];

/// How a list with other headings was understood.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct TakenOver {
    /// Column of `parts.csv` and the heading that it is taken from, in the order of the columns.
    pub from: Vec<(String, String)>,
    /// Headings that nothing is taken from.
    pub left: Vec<String>,
    /// Columns that are the same in every row, and what they hold.
    pub filled: Vec<(String, String)>,
    /// Rows taken over.
    pub rows: usize,
}

/// Why a list cannot be taken over.
#[derive(Debug, thiserror::Error)]
pub enum NewError {
    /// It cannot be read.
    #[error("{0} cannot be read: {1}")]
    Unreadable(String, String),
    /// It holds no row below its headings.
    #[error("{0} holds no part")]
    Empty(String),
    /// A column is told by no heading.
    #[error("no heading stands for {}: say which with --map \"{}=HEADING\" (the headings are {})", .missing.join(", "), .missing[0], .headings.join(", "))]
    Missing {
        /// Columns that are needed.
        missing: Vec<String>,
        /// The headings of the list.
        headings: Vec<String>,
    },
    /// A heading that was named is not there.
    #[error("there is no heading {named} (the headings are {})", .headings.join(", "))]
    NoHeading {
        /// As it was named.
        named: String,
        /// The headings of the list.
        headings: Vec<String>,
    },
    /// A column that was named is not there.
    #[error("parts.csv has no column {0}")]
    NoColumn(String),
}

fn plain(text: &str) -> String {
    // "Length (in)" is a length.
    let text = text.split(['(', '[']).next().unwrap_or_default();
    text.to_lowercase().chars().filter(|letter| letter.is_alphanumeric()).collect()
}

/// Where the cells of a column come from.
enum Origin {
    /// A column of the list, by its place.
    Column(usize),
    /// The same text in every row.
    Fixed(String),
    /// Nowhere: the cells stay empty.
    Nowhere,
}

/// The files of a job with the parts of a list, CSV or a workbook, whose headings are its own. `named` says which
/// heading stands for a column, where that cannot be told by its name; a column that all rows share may be given as
/// `column: =text`. Without a product in the list the file's name is the product's.
///
/// # Errors
/// If the list cannot be read, or a column is told by no heading.
pub fn new_job_from(
    file: &Path,
    unit: Unit,
    named: &BTreeMap<String, String>,
) -> Result<(Vec<NewFile>, TakenOver), NewError> {
    let shown = file.display().to_string();
    let failed = |why: String| NewError::Unreadable(shown.clone(), why);
    let list = read_foreign(file).map_err(|error| failed(error.to_string()))?;
    if list.rows.is_empty() {
        return Err(NewError::Empty(shown));
    }
    let columns: Vec<(&str, bool)> = PARTS.columns().map(|(name, required, _)| (name, required)).collect();
    let origins = origins(file, &columns, list.headings.clone(), named)?;
    let cell = |row: &Vec<String>, origin: &Origin| match origin {
        Origin::Column(place) => row.get(*place).cloned().unwrap_or_default(),
        Origin::Fixed(text) => text.clone(),
        Origin::Nowhere => String::new(),
    };
    let parts: Vec<Vec<String>> =
        list.rows.iter().map(|row| origins.iter().map(|origin| cell(row, origin)).collect()).collect();
    // One order of each product, in the order of the list.
    let mut orders: Vec<Vec<String>> = Vec::new();
    for part in &parts {
        if !orders.iter().any(|order| order[1] == part[0]) {
            orders.push(vec![(orders.len() + 1).to_string(), part[0].clone(), "1".to_string()]);
        }
    }
    let header: Vec<&str> = columns.iter().map(|(column, _)| *column).collect();
    let rows = parts.len();
    let written = |header: &[&str], rows| csv_table(header, rows).map_err(|error| failed(error.to_string()));
    let (parts, orders) = (written(&header, parts)?, written(&["order", "product", "quantity"], orders)?);
    let mut files = new_job(unit);
    // The examples are of other products.
    files.retain(|(name, _)| !["holes.csv", "finish.csv"].iter().any(|other| name.ends_with(other)));
    for (name, content) in &mut files {
        match name.as_str() {
            "parts.csv" => content.clone_from(&parts),
            "orders.csv" => content.clone_from(&orders),
            _ => {}
        }
    }
    let mut taken = TakenOver { rows, ..TakenOver::default() };
    for (column, origin) in header.iter().zip(&origins) {
        match origin {
            Origin::Column(place) => taken.from.push(((*column).to_string(), list.headings[*place].clone())),
            Origin::Fixed(text) => taken.filled.push(((*column).to_string(), text.clone())),
            Origin::Nowhere => {}
        }
    }
    let is_taken = |place: usize| origins.iter().any(|one| matches!(one, Origin::Column(at) if *at == place));
    let left =
        list.headings.into_iter().enumerate().filter(|(place, name)| !is_taken(*place) && !name.is_empty());
    taken.left = left.map(|(_, name)| name).collect();
    Ok((files, taken))
}

/// The same, where a person is asked for each column that no heading stands for: the question has the column and the
/// headings, and the answer is one of them, or its number from 1, or `=TEXT` for all rows. No answer ends it.
///
/// # Errors
/// As [`new_job_from`].
pub fn new_job_asking(
    file: &Path,
    unit: Unit,
    named: &BTreeMap<String, String>,
    ask: &mut dyn FnMut(&str, &[String]) -> Option<String>,
) -> Result<(Vec<NewFile>, TakenOver), NewError> {
    let mut named = named.clone();
    // A column that was asked about is never asked about again.
    loop {
        let (missing, headings) = match new_job_from(file, unit, &named) {
            Err(NewError::Missing { missing, headings }) => (missing, headings),
            other => return other,
        };
        for column in &missing {
            let Some(answer) = ask(column, &headings) else {
                return Err(NewError::Missing { missing, headings });
            };
            let numbered =
                answer.parse::<usize>().ok().and_then(|number| headings.get(number.checked_sub(1)?));
            named.insert(column.clone(), numbered.unwrap_or(&answer).clone());
        }
    }
}

/// Where each column of `parts.csv` comes from.
fn origins(
    file: &Path,
    columns: &[(&str, bool)],
    headings: Vec<String>,
    named: &BTreeMap<String, String>,
) -> Result<Vec<Origin>, NewError> {
    if let Some(unknown) = named.keys().find(|column| columns.iter().all(|(name, _)| name != column)) {
        return Err(NewError::NoColumn(unknown.clone()));
    }
    let called = |name: &str| headings.iter().position(|heading| plain(heading) == plain(name));
    let usual = |column: &str| {
        let known = HEADINGS.iter().find(|(name, _)| *name == column).map_or(&[][..], |(_, known)| known);
        headings.iter().position(|heading| known.contains(&plain(heading).as_str()))
    };
    // "Material" is the wood, where no other heading is.
    let wood = called("species")
        .or_else(|| usual("species").filter(|place| plain(&headings[*place]) != plain("material")));
    let mut origins = Vec::new();
    let mut missing = Vec::new();
    for (column, required) in columns {
        let origin = match named.get(*column) {
            Some(text) if text.starts_with('=') => Origin::Fixed(text[1..].trim().to_string()),
            Some(heading) => match called(heading) {
                Some(place) => Origin::Column(place),
                None => return Err(NewError::NoHeading { named: heading.clone(), headings }),
            },
            None if *column == "material" && wood.is_none() => Origin::Nowhere,
            None => match (called(column).or_else(|| usual(column)), file.file_stem()) {
                (Some(place), _) => Origin::Column(place),
                (None, Some(stem)) if *column == "product" => {
                    Origin::Fixed(stem.to_string_lossy().into_owned())
                }
                _ => Origin::Nowhere,
            },
        };
        if *required && matches!(origin, Origin::Nowhere) {
            missing.push((*column).to_string());
        }
        origins.push(origin);
    }
    if missing.is_empty() { Ok(origins) } else { Err(NewError::Missing { missing, headings }) }
}
