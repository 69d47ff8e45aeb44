//! A new job: files to begin with, and a part list taken over from a table with headings of its own.
//!
//! What lives here: what `ripwright new` writes. What never does: a default or a column's meaning, which are the
//! readers' own.

use std::collections::BTreeMap;
use std::path::Path;

use crate::intake::{FILES, Foreign, read_foreign, shop_toml};
use crate::measure::Unit;

/// A file of a new job: name and content.
pub type NewFile = (String, Vec<u8>);

/// Folder of a new job with a small example of every optional file: they are off until they are moved beside
/// `parts.csv`.
pub const EXAMPLES: &str = "examples";

/// Rows to begin with, in inches and in millimetres, by file.
const ROWS: [(&str, &str, &str); 10] = [
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
        files.push((place, format!("{}\n{rows}", header.join(",")).into_bytes()));
    }
    files
}

/// Headings that other lists use for a column of `parts.csv`, in small letters without spaces and marks.
const HEADINGS: [(&str, &[&str]); 9] = [
    (
        "product",
        &["product", "item", "unit", "cabinet", "piece of furniture", "furniture", "assembly", "model"],
    ),
    ("part", &["part", "partname", "name", "component", "description", "label", "piece"]),
    ("pieces", &["pieces", "qty", "quantity", "count", "pcs", "number", "no", "each", "howmany"]),
    ("length", &["length", "len", "l", "long", "finishedlength"]),
    ("width", &["width", "wid", "w", "wide", "finishedwidth"]),
    ("thickness", &["thickness", "thick", "thk", "t", "th", "finishedthickness"]),
    ("species", &["species", "wood", "material", "timber", "lumber"]),
    ("grade", &["grade", "quality"]),
    ("clear", &["clear"]),
];

/// How a list with other headings was understood.
#[derive(Debug, Clone, PartialEq, Eq)]
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
    let Foreign { headings, rows } =
        read_foreign(file).map_err(|error| NewError::Unreadable(shown.clone(), error.to_string()))?;
    if rows.is_empty() {
        return Err(NewError::Empty(shown));
    }
    let Some(parts) = FILES.iter().find(|file| file.name == "parts.csv") else {
        return Err(NewError::NoColumn("product".to_string()));
    };
    let columns: Vec<(&str, bool)> = parts.columns().map(|(name, required, _)| (name, required)).collect();
    if let Some(unknown) = named.keys().find(|column| columns.iter().all(|(name, _)| name != column)) {
        return Err(NewError::NoColumn(unknown.clone()));
    }
    let mut places: Vec<Option<usize>> = Vec::new();
    let mut fixed: Vec<Option<String>> = vec![None; columns.len()];
    let mut missing = Vec::new();
    for (number, (column, required)) in columns.iter().enumerate() {
        let known = HEADINGS.iter().find(|(name, _)| name == column).map_or(&[][..], |(_, known)| known);
        let place = match named.get(*column) {
            Some(text) if text.starts_with('=') => {
                fixed[number] = Some(text[1..].trim().to_string());
                None
            }
            Some(heading) => match headings.iter().position(|one| plain(one) == plain(heading)) {
                Some(place) => Some(place),
                None => return Err(NewError::NoHeading { named: heading.clone(), headings }),
            },
            None => headings
                .iter()
                .position(|heading| plain(heading) == plain(column))
                .or_else(|| headings.iter().position(|heading| known.contains(&plain(heading).as_str()))),
        };
        if place.is_none() && fixed[number].is_none() && *column == "product" {
            fixed[number] = file.file_stem().map(|stem| stem.to_string_lossy().into_owned());
        }
        if place.is_none() && fixed[number].is_none() && *required {
            missing.push((*column).to_string());
        }
        places.push(place);
    }
    if !missing.is_empty() {
        return Err(NewError::Missing { missing, headings });
    }
    let failed = |error: csv::Error| NewError::Unreadable(shown.clone(), error.to_string());
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(columns.iter().map(|(column, _)| *column)).map_err(failed)?;
    let mut products: Vec<String> = Vec::new();
    for row in &rows {
        let cells: Vec<&str> = places
            .iter()
            .zip(&fixed)
            .map(|(place, fixed)| match (place, fixed) {
                (Some(place), _) => row.get(*place).map_or("", String::as_str),
                (None, Some(text)) => text,
                (None, None) => "",
            })
            .collect();
        if !products.iter().any(|product| product == cells[0]) {
            products.push(cells[0].to_string());
        }
        writer.write_record(&cells).map_err(failed)?;
    }
    let list = writer.into_inner().map_err(|error| NewError::Unreadable(shown.clone(), error.to_string()))?;
    let mut orders = csv::Writer::from_writer(Vec::new());
    orders.write_record(["order", "product", "quantity"]).map_err(failed)?;
    for (number, product) in products.iter().enumerate() {
        orders.write_record([&(number + 1).to_string(), product, "1"]).map_err(failed)?;
    }
    let orders =
        orders.into_inner().map_err(|error| NewError::Unreadable(shown.clone(), error.to_string()))?;
    let mut files = new_job(unit);
    // The examples are of other products.
    files.retain(|(name, _)| !["holes.csv", "finish.csv"].iter().any(|other| name.ends_with(other)));
    for (name, content) in &mut files {
        match name.as_str() {
            "parts.csv" => content.clone_from(&list),
            "orders.csv" => content.clone_from(&orders),
            _ => {}
        }
    }
    let name = |number: usize| columns[number].0.to_string();
    let taken = TakenOver {
        from: (0..columns.len())
            .filter_map(|number| Some((name(number), headings[places[number]?].clone())))
            .collect(),
        left: (0..headings.len())
            .filter(|place| !places.contains(&Some(*place)) && !headings[*place].is_empty())
            .map(|place| headings[place].clone())
            .collect(),
        filled: (0..columns.len())
            .filter_map(|number| Some((name(number), fixed[number].clone()?)))
            .collect(),
        rows: rows.len(),
    };
    Ok((files, taken))
}
