//! Where a job lies: a folder of CSV files, a workbook, or a folder with both.

#[cfg(feature = "workbooks")]
use std::collections::BTreeSet;
use std::io::{BufRead, Error, ErrorKind};
use std::path::{Path, PathBuf};

use super::edit::CellTexts;
#[cfg(feature = "workbooks")]
use super::sheet::is_workbook;
use super::source::{Folder, Source};
#[cfg(feature = "workbooks")]
use super::workbook::Workbook;

/// The folder that a job's files lie in, or that its workbook lies in.
pub fn folder_of(job: &Path) -> PathBuf {
    let folder = if job.is_file() { job.parent() } else { Some(job) };
    folder.unwrap_or(Path::new("")).to_path_buf()
}

/// A job as it lies on the disk: a folder of CSV files, a workbook, or a folder with both.
pub struct Place {
    folder: Option<Folder>,
    #[cfg(feature = "workbooks")]
    workbook: Option<Workbook>,
}

impl Place {
    /// Opens a job: a folder, or a workbook. A folder may hold one workbook, whose sheets stand for the files that it
    /// lacks.
    ///
    /// # Errors
    /// If neither can be read, or the folder holds two workbooks.
    #[cfg(feature = "workbooks")]
    pub fn open(path: &Path) -> std::io::Result<Place> {
        if path.is_file() && is_workbook(path) {
            return Ok(Place { folder: None, workbook: Some(Workbook::open(path)?) });
        }
        let mut books: Vec<PathBuf> = Vec::new();
        for entry in std::fs::read_dir(path)? {
            let entry = entry?.path();
            // A spreadsheet that has a workbook open keeps a file beside it whose name begins like this.
            let name = entry.file_name().and_then(|name| name.to_str()).unwrap_or_default();
            let is_open_mark = name.starts_with("~$") || name.starts_with(".~");
            if is_workbook(&entry) && entry.is_file() && !is_open_mark {
                books.push(entry);
            }
        }
        books.sort();
        match &books[..] {
            [] => Ok(Place { folder: Some(Folder::new(path)), workbook: None }),
            [book] => {
                let named = |error: Error| Error::new(error.kind(), format!("{}: {error}", book.display()));
                let workbook = Workbook::open(book).map_err(named)?;
                Ok(Place { folder: Some(Folder::new(path)), workbook: Some(workbook) })
            }
            [one, other, ..] => Err(Error::other(format!(
                "it holds the workbooks {} and {}, and a job has one",
                one.display(),
                other.display()
            ))),
        }
    }

    /// Opens a job folder.
    ///
    /// # Errors
    /// If it cannot be read.
    #[cfg(not(feature = "workbooks"))]
    pub fn open(path: &Path) -> std::io::Result<Place> {
        std::fs::read_dir(path)?;
        Ok(Place { folder: Some(Folder::new(path)) })
    }

    /// The path of a table that is a file of its own, and none of a workbook.
    pub fn path_of(&self, file: &str) -> Option<PathBuf> {
        self.folder.as_ref().and_then(|folder| folder.path_of(file))
    }

    /// The workbook's file and the sheet that stands for a table, where the sheet can be changed in place.
    #[cfg(feature = "workbooks")]
    pub fn sheet_that_changes(&self, file: &str) -> Option<(&Path, &str)> {
        let is_file = self.folder.as_ref().is_some_and(|folder| folder.has(file));
        self.workbook.as_ref().filter(|_| !is_file)?.sheet_that_changes(file)
    }

    /// Without workbooks no table is a sheet.
    #[cfg(not(feature = "workbooks"))]
    pub fn sheet_that_changes(&self, _: &str) -> Option<(&Path, &str)> {
        None
    }

    /// The workbook, if it has the table and no file is in its place.
    fn instead(&self, file: &str) -> Option<&dyn Source> {
        let there = self.folder.as_ref().is_some_and(|folder| folder.has(file));
        #[cfg(feature = "workbooks")]
        if !there && let Some(workbook) = &self.workbook {
            // A folder's own files are told by the folder, what neither has too.
            return (self.folder.is_none() || workbook.open(file).is_ok()).then_some(workbook as &dyn Source);
        }
        let _ = there;
        None
    }
}

/// A workbook with cells of a sheet changed, given its file's name and bytes.
///
/// # Errors
/// If it cannot be changed in place.
#[cfg(feature = "workbooks")]
pub fn workbook_with(
    file: &Path,
    workbook: &[u8],
    sheet: &str,
    cells: &CellTexts,
) -> std::io::Result<Vec<u8>> {
    let with_cells = super::workbook::changed_by(file).ok_or(ErrorKind::Unsupported)?;
    with_cells(workbook, sheet, cells)
}

/// Without workbooks there is none to change.
///
/// # Errors
/// Always.
#[cfg(not(feature = "workbooks"))]
pub fn workbook_with(_: &Path, _: &[u8], _: &str, _: &CellTexts) -> std::io::Result<Vec<u8>> {
    Err(Error::from(ErrorKind::Unsupported))
}

impl Source for Place {
    fn open(&self, file: &str) -> std::io::Result<Box<dyn BufRead + '_>> {
        match (self.instead(file), &self.folder) {
            (Some(workbook), _) => workbook.open(file),
            (None, Some(folder)) => folder.open(file),
            (None, None) => Err(Error::from(ErrorKind::NotFound)),
        }
    }

    fn shown(&self, file: &str) -> String {
        self.instead(file).map_or_else(|| file.to_string(), |workbook| workbook.shown(file))
    }

    fn dealers(&self) -> std::io::Result<Vec<String>> {
        let names = self.folder.as_ref().map_or_else(|| Ok(Vec::new()), Source::dealers)?;
        #[cfg(feature = "workbooks")]
        if let Some(workbook) = &self.workbook {
            let all: BTreeSet<String> = names.into_iter().chain(workbook.dealers()?).collect();
            return Ok(all.into_iter().collect());
        }
        Ok(names)
    }
}
