//! What can be wrong with a job, each said as a sentence a person can act on.

use std::fmt;
use std::path::PathBuf;

/// One thing wrong in one file. Rows are counted as an editor counts lines: the header is row 1.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Fault {
    /// File, relative to the job folder.
    pub file: String,
    /// Line in the file, if the fault has one.
    pub row: Option<u64>,
    /// Column or key, if the fault has one.
    pub column: Option<String>,
    /// What is wrong.
    pub kind: FaultKind,
}

/// The kinds of fault.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum FaultKind {
    /// The file is not there, or cannot be opened.
    Unreadable(String),
    /// The file is not UTF-8 text or not a table.
    NotATable(String),
    /// A required column is not in the header, or a column stands there twice.
    Header(String),
    /// A cell that does not hold what it must.
    Value {
        /// The offending text.
        text: String,
        /// What was expected.
        expected: String,
        /// The reason in the reader's words, where there is one.
        why: Option<String>,
    },
    /// The same thing is described twice.
    Duplicate {
        /// What is described twice.
        what: String,
        /// Where it was first described.
        first_row: u64,
    },
    /// A name that nothing else in the job describes.
    Unknown {
        /// The kind of thing and its name.
        what: String,
        /// Where it should have been described.
        expected: String,
    },
    /// The job holds nothing to do.
    Empty(String),
    /// More than can be planned at once.
    TooMany {
        /// What there is too much of, with the number.
        what: String,
        /// The most of them.
        most: usize,
        /// What to do instead.
        instead: String,
    },
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(row) = self.row {
            write!(f, ", row {row}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column {column}")?;
        }
        match &self.kind {
            FaultKind::Unreadable(why) => write!(f, ": cannot be read: {why}"),
            FaultKind::NotATable(why) => write!(f, ": is not a readable table: {why}"),
            FaultKind::Value { text, .. } => write!(f, ": \"{}\": {}", shorten(text), self.kind.reason()),
            kind => write!(f, ": {}", kind.reason()),
        }
    }
}

impl FaultKind {
    /// What is wrong, without the text of the cell.
    pub fn reason(&self) -> String {
        match self {
            FaultKind::Unreadable(why)
            | FaultKind::NotATable(why)
            | FaultKind::Header(why)
            | FaultKind::Empty(why) => why.clone(),
            FaultKind::Value { expected, why: Some(why), .. } => format!("{why}; expected {expected}"),
            FaultKind::Value { expected, why: None, .. } => format!("expected {expected}"),
            FaultKind::Duplicate { what, first_row } => {
                format!("{what} is described a second time; expected once (first in row {first_row})")
            }
            FaultKind::Unknown { what, expected } => format!("{what}: expected {expected}"),
            FaultKind::TooMany { what, most, instead } => {
                format!("{what}; expected no more than {most}: {instead}")
            }
        }
    }
}

/// Long cells are cut so that an error stays one readable line, and control characters shown.
fn shorten(text: &str) -> String {
    const LONGEST: usize = 60;
    let shown: String = text.chars().take(LONGEST).collect();
    let shown = shown.escape_debug().to_string().replace("\\'", "'").replace("\\\"", "\"");
    if text.chars().count() > LONGEST { format!("{shown}...") } else { shown }
}

/// Something ignored that the reader may want to know about.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Warning {
    /// File, relative to the job folder.
    pub file: String,
    /// The sentence.
    pub text: String,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.file, self.text)
    }
}

/// A part that the job's stock cannot give.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Shortfall {
    /// Product of the part.
    pub product: String,
    /// Name of the part.
    pub part: String,
    /// Why, with what was nearest.
    pub reason: String,
}

impl fmt::Display for Shortfall {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} / {}: {}", self.product, self.part, self.reason)
    }
}

/// Why a folder is not a job that can be planned.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum JobError {
    /// The folder itself is missing or unreadable.
    #[error("the job folder {path} cannot be read: {why}", path = path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// The system's reason.
        why: String,
    },
    /// Faults in the files, all of them.
    #[error("the job has {} fault{}:\n{}", .faults.len(), if .faults.len() == 1 { "" } else { "s" }, lines(.faults))]
    Faults {
        /// Every fault of every file.
        faults: Vec<Fault>,
        /// Warnings met on the way.
        warnings: Vec<Warning>,
    },
    /// Valid files, but parts that nobody's stock can yield.
    #[error("no plan can meet the demand:\n{}", lines(.0))]
    Unobtainable(Vec<Shortfall>),
}

impl Fault {
    /// Is it one of a single row, without which the others can be read?
    pub fn is_of_a_row(&self) -> bool {
        let of_file =
            matches!(self.kind, FaultKind::Unreadable(_) | FaultKind::NotATable(_) | FaultKind::Header(_));
        self.row.is_some() && !of_file
    }
}

fn lines<T: fmt::Display>(items: &[T]) -> String {
    items.iter().map(|item| format!("  {item}")).collect::<Vec<_>>().join("\n")
}
