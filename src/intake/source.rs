//! Where the files of a job come from.

use std::io::{BufRead, BufReader, Cursor, Error, ErrorKind, Read};
use std::path::{Path, PathBuf};

use encoding_rs::{Encoding, UTF_8};

use super::log::Log;
use super::table::{Columns, Table};
use crate::job::FaultKind;

/// Bytes of a file that is read whole, so that a wrong file fails early instead of filling the memory.
pub const LARGEST_FILE: u64 = 1 << 29;

/// The files of a job by their names, such as `parts.csv` or `prices/yard.csv`.
pub trait Source {
    /// Opens a file; [`ErrorKind::NotFound`] where there is none.
    ///
    /// # Errors
    /// If it is not there or cannot be read.
    fn open(&self, file: &str) -> std::io::Result<Box<dyn BufRead + '_>>;

    /// The file as a person finds it.
    fn shown(&self, file: &str) -> String {
        file.to_string()
    }

    /// Names of the dealers with a price sheet, in any order.
    ///
    /// # Errors
    /// If they cannot be listed.
    fn dealers(&self) -> std::io::Result<Vec<String>>;
}

/// A folder.
#[derive(Debug, Clone)]
pub struct Folder {
    path: PathBuf,
}

impl Folder {
    /// Files below `path`.
    pub fn new(path: &Path) -> Folder {
        Folder { path: path.to_path_buf() }
    }

    /// Is a file of that name there?
    pub fn has(&self, file: &str) -> bool {
        self.path.join(file).exists()
    }

    /// The path of a file that is there, whichever way its ending is written.
    pub fn path_of(&self, file: &str) -> Option<PathBuf> {
        let path = self.path.join(file);
        let other = path.with_extension("CSV");
        [path, other].into_iter().find(|path| path.is_file())
    }
}

impl Source for Folder {
    fn open(&self, file: &str) -> std::io::Result<Box<dyn BufRead + '_>> {
        let mut path = self.path.join(file);
        if !path.exists() && path.is_symlink() {
            return Err(Error::other("it is a link that leads nowhere"));
        }
        if !path.exists() && path.with_extension("CSV").exists() {
            path.set_extension("CSV");
        }
        let data = std::fs::metadata(&path)?;
        if !data.is_file() {
            return Err(Error::other("it is not a file"));
        }
        if data.len() > LARGEST_FILE {
            let bytes = data.len();
            let why = format!("it has {bytes} bytes, more than any list of a shop: is it the right file?");
            return Err(Error::other(why));
        }
        decoded(std::fs::File::open(path)?)
    }

    fn dealers(&self) -> std::io::Result<Vec<String>> {
        let entries = match std::fs::read_dir(self.path.join("prices")) {
            Ok(entries) => entries,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(error),
        };
        let mut names = Vec::new();
        for entry in entries {
            let path = entry?.path();
            let is_sheet = path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("csv"));
            if !is_sheet || !path.is_file() {
                continue;
            }
            let name = path.file_stem().and_then(|stem| stem.to_str());
            let unreadable =
                || Error::new(ErrorKind::InvalidData, "a price sheet's name is not readable text");
            names.push(name.ok_or_else(unreadable)?.to_string());
        }
        Ok(names)
    }
}

/// A file as UTF-8: one that a spreadsheet wrote as UTF-16, which its first two bytes tell, is decoded.
///
/// # Errors
/// If it cannot be read, or ends within a letter.
pub fn decoded(file: std::fs::File) -> std::io::Result<Box<dyn BufRead>> {
    let mut reader = BufReader::with_capacity(1 << 16, file);
    let encoding = match Encoding::for_bom(reader.fill_buf()?) {
        Some((encoding, _)) if encoding != UTF_8 => encoding,
        _ => return Ok(Box::new(reader)),
    };
    let mut bytes = Vec::new();
    reader.read_to_end(&mut bytes)?;
    let (text, had_errors) = encoding.decode_with_bom_removal(&bytes);
    if had_errors {
        return Err(Error::new(ErrorKind::InvalidData, "its first bytes say UTF-16, and it is none"));
    }
    Ok(Box::new(Cursor::new(text.into_owned().into_bytes())))
}

/// Reads a table that must be there.
pub fn needed(source: &dyn Source, file: &str, columns: &Columns, log: &mut Log) -> Option<Table> {
    match source.open(file) {
        Ok(reader) => Table::read(reader, &source.shown(file), columns, log),
        Err(error) => {
            log.fault(&source.shown(file), None, None, FaultKind::Unreadable(error.to_string()));
            None
        }
    }
}

/// Reads a table that may be missing.
pub fn optional(source: &dyn Source, file: &str, columns: &Columns, log: &mut Log) -> Option<Table> {
    match source.open(file) {
        Err(error) if error.kind() == ErrorKind::NotFound => None,
        Ok(reader) => Table::read(reader, &source.shown(file), columns, log),
        Err(error) => {
            log.fault(&source.shown(file), None, None, FaultKind::Unreadable(error.to_string()));
            None
        }
    }
}

/// A file of its own, by its path: the folder it lies in, and its name.
pub fn apart(file: &Path, usual: &str) -> (Folder, String) {
    let name = file.file_name().and_then(|name| name.to_str()).unwrap_or(usual).to_string();
    (Folder::new(file.parent().unwrap_or(Path::new("."))), name)
}
