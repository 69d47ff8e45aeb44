//! The tally of the boards that came: what later plans draw from, and how it compares with what was expected.

use std::collections::BTreeMap;
use std::path::Path;

use super::error::RackError;
use crate::intake::header_of;
use crate::job::{RackBoard, defect_share};
use crate::measure::{Area, Unit};
use crate::report::{safe_cell, write_file};
use crate::trade::grading::below_what_is_sold;
use crate::trade::{Grade, Quarter};

/// The file in a job's folder.
pub const SEEN: &str = "boards-seen.csv";

/// Boards of one kind that came.
#[derive(Debug, Clone, PartialEq)]
pub struct Came {
    /// Species, class and grade.
    pub kind: (String, Quarter, Grade),
    /// Boards.
    pub boards: usize,
    /// Percent of their faces that defects take.
    pub defects_percent: f64,
    /// The percent that plans by grade expect.
    pub expected_percent: f64,
    /// Boards whose measured defects leave less than the grade they were sold as.
    pub below_grade: usize,
}

/// What came, by kind, beside what a plan by grade expects.
pub fn what_came(boards: &[RackBoard]) -> Vec<Came> {
    let mut kinds: BTreeMap<(String, Quarter, Grade), Vec<&RackBoard>> = BTreeMap::new();
    for board in boards {
        kinds.entry((board.species.clone(), board.quarter, board.grade)).or_default().push(board);
    }
    let came = |(kind, boards): ((String, Quarter, Grade), Vec<&RackBoard>)| {
        let area = |board: &&RackBoard| Area::of(board.length, board.width).base() as f64;
        let lost = |board: &&RackBoard| -> f64 {
            board.defects.iter().map(|one| Area::of(one.x1 - one.x0, one.y1 - one.y0).base() as f64).sum()
        };
        let below = boards.iter().filter(|board| {
            below_what_is_sold(board.grade, board.length, board.width, &board.defects).is_some()
        });
        Came {
            boards: boards.len(),
            defects_percent: boards.iter().map(lost).sum::<f64>() / boards.iter().map(area).sum::<f64>()
                * 100.0,
            expected_percent: defect_share(kind.2) * 100.0,
            below_grade: below.count(),
            kind,
        }
    };
    kinds.into_iter().map(came).collect()
}

/// Adds boards to the tally of a job's folder, under the columns that it has.
///
/// # Errors
/// If the file cannot be read or written.
pub fn add_to_tally(folder: &Path, boards: &[RackBoard], plan: &str, unit: Unit) -> Result<(), RackError> {
    let path = folder.join(SEEN);
    let failed = |why: String| RackError::Tally { path: path.clone(), why };
    let mut text = match std::fs::read(&path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Vec::new(),
        Err(error) => return Err(failed(error.to_string())),
    };
    let (delimiter, header) = header_of(&text).map_err(failed)?;
    let is_begun = header.is_some();
    let columns = header.unwrap_or_else(|| COLUMNS.map(str::to_string).to_vec());
    let row = |board: &RackBoard| -> Vec<String> {
        let cell = |column: &String| match column.as_str() {
            "board" => safe_cell(&board.board),
            "species" => safe_cell(&board.species),
            "quarter" => board.quarter.to_string(),
            "grade" => board.grade.to_string(),
            "width" => board.width.display(unit).to_string(),
            "length" => board.length.display(unit).to_string(),
            "defects" => defects_cell(board, unit),
            "plan" => plan.to_string(),
            _ => String::new(),
        };
        columns.iter().map(cell).collect()
    };
    if text.last().is_some_and(|last| *last != b'\n') {
        text.push(b'\n');
    }
    let mut writer = csv::WriterBuilder::new().delimiter(delimiter).from_writer(text);
    // The header of a tally that is there already stays as it is.
    let header = (!is_begun).then(|| columns.clone());
    for record in header.into_iter().chain(boards.iter().map(row)) {
        writer.write_record(&record).map_err(|error| failed(error.to_string()))?;
    }
    let text = writer.into_inner().map_err(|error| failed(error.to_string()))?;
    Ok(write_file(folder, SEEN, &text)?)
}

const COLUMNS: [&str; 8] = ["board", "species", "quarter", "grade", "width", "length", "defects", "plan"];

/// Defects as a rack's file writes them.
pub fn defects_cell(board: &RackBoard, unit: Unit) -> String {
    let one = |defect: &crate::trade::Defect| {
        let [x0, x1, y0, y1] =
            [defect.x0, defect.x1, defect.y0, defect.y1].map(|end| end.display(unit).to_string());
        format!("{x0}..{x1}@{y0}..{y1} {}", defect.kind.name()).trim_end().to_string()
    };
    board.defects.iter().map(one).collect::<Vec<_>>().join(";")
}
