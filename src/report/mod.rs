//! Checked plans and decisions on their way to people and machines: text, JSON, CSV, printable sheets.
//!
//! What lives here: formats, one file each behind the trait [`Report`], and the writing of files so
//! that a killed run leaves the old ones whole. What never does: any figure that the plan does not hold.

mod bought;
#[cfg(feature = "sheets")]
mod calendar;
mod csv;
#[cfg(feature = "sheets")]
mod curve;
mod decision;
mod drawing;
mod json;
#[cfg(feature = "sheets")]
mod labels;
mod measured;
mod needed;
#[cfg(feature = "sheets")]
mod page;
#[cfg(feature = "sheets")]
mod sheets;
mod table;
mod take;
mod text;
mod words;
#[cfg(feature = "workbooks")]
mod workbook;
mod write;

#[cfg(feature = "page")]
pub(crate) use bought::range;
#[cfg(feature = "sheets")]
pub use calendar::{Calendar, CalendarRow};
pub use csv::{BuyCsv, CutsCsv, SetupsCsv, safe as safe_cell, table as csv_table};
#[cfg(feature = "sheets")]
pub use decision::DecisionPage;
pub use decision::{Decision, DecisionCsv, DecisionJson, DecisionText};
pub use drawing::Drawing;
pub use json::PlanJson;
#[cfg(feature = "sheets")]
pub use labels::{LabelEach, Labels};
#[cfg(feature = "page")]
pub(crate) use measured::{area as measured_area, unit_of_area, unit_of_volume, volume as measured_volume};
#[cfg(feature = "page")]
pub(crate) use needed::Needed;
#[cfg(feature = "page")]
pub(crate) use page::render_with;
#[cfg(feature = "sheets")]
pub use sheets::Sheets;
pub use table::aligned_text;
pub use take::{TakeCsv, TakeList};
pub use text::{Detail, Summary};
#[cfg(feature = "workbooks")]
pub use workbook::PlanWorkbook;
pub use write::{MANIFEST, WriteError, not_of_one_set, write_file, write_report, write_reports, write_set};

use std::io::Write;

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::planning::Checked;

/// Folder beside a job's files that a plan is written to where nobody names another.
pub const PLAN_FOLDER: &str = "plan";

/// Something planned, in one format.
pub trait Report {
    /// Name of the file in the output folder.
    fn file_name(&self) -> &'static str;

    /// The whole content.
    ///
    /// # Errors
    /// If it cannot be put into the format.
    fn bytes(&self) -> Result<Vec<u8>, RenderError>;

    /// Writes the whole content, as it is made where it may be large.
    ///
    /// # Errors
    /// As [`Report::bytes`], and if it cannot be written.
    fn write(&self, to: &mut dyn Write) -> Result<(), RenderError> {
        Ok(to.write_all(&self.bytes()?)?)
    }
}

/// Why a report could not be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RenderError {
    /// The template engine refused.
    #[cfg(feature = "sheets")]
    #[error("the sheets could not be made: {0}")]
    Template(#[from] minijinja::Error),
    /// The workbook writer refused.
    #[cfg(feature = "workbooks")]
    #[error("plan.xlsx could not be made: {0}")]
    Workbook(#[from] rust_xlsxwriter::XlsxError),
    /// The JSON writer refused.
    #[error("plan.json could not be made: {0}")]
    Json(#[from] serde_json::Error),
    /// The CSV writer refused.
    #[error("a table could not be made: {0}")]
    Csv(String),
    /// What it is written to refused.
    #[error("a report could not be written: {0}")]
    Write(#[from] std::io::Error),
}

/// What a person chooses about the printed pages.
#[derive(Debug, Clone, Copy, Default)]
#[non_exhaustive]
pub struct Printing {
    /// The day that the cover names, if it names one.
    pub dated: Option<Date>,
    /// What one label is stuck on.
    #[cfg(feature = "sheets")]
    pub labels: LabelEach,
}

/// Today, or the day that a reproducible build asks for (the SOURCE_DATE_EPOCH specification).
pub fn today() -> Date {
    let asked = std::env::var("SOURCE_DATE_EPOCH").ok().and_then(|text| text.parse::<i64>().ok());
    let asked = asked.and_then(|second| Timestamp::from_second(second).ok());
    // A clock beyond the year 9999 names the last day that there is.
    let now = || Timestamp::try_from(std::time::SystemTime::now()).unwrap_or(Timestamp::MAX);
    let zone = if asked.is_some() { TimeZone::UTC } else { TimeZone::system() };
    asked.unwrap_or_else(now).to_zoned_datetime(zone).date()
}

/// Every file that `plan` writes, in the order they are written.
pub fn plan_files(checked: &Checked, printing: Printing) -> Vec<Box<dyn Report + '_>> {
    let mut files: Vec<Box<dyn Report + '_>> = vec![
        Box::new(PlanJson(checked)),
        Box::new(BuyCsv(checked)),
        Box::new(CutsCsv(checked)),
        Box::new(SetupsCsv(checked)),
        #[cfg(feature = "workbooks")]
        Box::new(PlanWorkbook(checked)),
    ];
    files.extend(pages(checked, printing));
    files
}

#[cfg(feature = "sheets")]
fn pages(checked: &Checked, printing: Printing) -> Vec<Box<dyn Report + '_>> {
    vec![Box::new(Sheets(checked, printing.dated)), Box::new(Labels(checked, printing.labels))]
}

#[cfg(not(feature = "sheets"))]
fn pages(_: &Checked, _: Printing) -> Vec<Box<dyn Report + '_>> {
    Vec::new()
}
