//! Files that are either the old one or the new one, never half of it.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::{RenderError, Report};
use crate::intake::{digest, hex};

/// Why a file could not be written.
#[derive(Debug, thiserror::Error)]
#[error("{path} cannot be written: {why}", path = path.display())]
#[non_exhaustive]
pub struct WriteError {
    /// The file.
    pub path: PathBuf,
    /// The system's reason.
    pub why: std::io::Error,
}

/// Writes a file through a temporary one in the same folder and a rename. A name may hold folders.
///
/// # Errors
/// If the folder cannot be made or written to; an old file of that name is then still whole.
pub fn write_file(folder: &Path, name: &str, content: &[u8]) -> Result<(), WriteError> {
    write_file_by(folder, name, |file| file.write_all(content))
}

/// Writes a report as it is made, which may be larger than memory should hold twice, and gives its SHA-256.
///
/// # Errors
/// If it cannot be made or written; an old file of that name is then still whole.
pub fn write_report<E: From<RenderError> + From<WriteError>>(
    report: &dyn Report,
    folder: &Path,
) -> Result<String, E> {
    let mut not_made = None;
    let written = write_file_by(folder, report.file_name(), |file| {
        let mut to = BufWriter::with_capacity(BLOCK, Digesting { file, digest: Sha256::new(), failed: None });
        let made = report.write(&mut to).and_then(|()| Ok(to.flush()?));
        let (Digesting { digest, failed, .. }, _) = to.into_parts();
        match (failed, made) {
            (Some(why), _) => Err(why),
            (None, Ok(())) => Ok(hex(&digest.finalize())),
            (None, Err(error)) => {
                not_made = Some(error);
                Err(std::io::ErrorKind::Other.into())
            }
        }
    });
    match not_made {
        Some(error) => Err(error.into()),
        None => Ok(written?),
    }
}

/// Bytes that are written at a time: a page is made a word at a time.
const BLOCK: usize = 1 << 16;

/// Remembers what is written to a file, and why the system refused.
struct Digesting<W> {
    file: W,
    digest: Sha256,
    failed: Option<std::io::Error>,
}

impl<W: Write> Write for Digesting<W> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        match self.file.write(bytes) {
            Ok(many) => {
                self.digest.update(&bytes[..many]);
                Ok(many)
            }
            Err(why) if why.kind() == std::io::ErrorKind::Interrupted => Err(why),
            Err(why) => {
                let told = std::io::Error::from(why.kind());
                self.failed = Some(why);
                Err(told)
            }
        }
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file.flush()
    }
}

fn write_file_by<T>(
    folder: &Path,
    name: &str,
    fill: impl FnOnce(&mut File) -> std::io::Result<T>,
) -> Result<T, WriteError> {
    let path = folder.join(name);
    let attempt = || -> std::io::Result<T> {
        let inner = path.parent().unwrap_or(folder);
        std::fs::create_dir_all(inner)?;
        let mut temporary = tempfile::Builder::new();
        temporary.prefix(".ripwright-");
        // A temporary file is private; a report is as readable as the person's other files are.
        #[cfg(unix)]
        temporary.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let mut file = temporary.tempfile_in(inner)?;
        let filled = fill(file.as_file_mut())?;
        file.as_file().sync_all()?;
        file.persist(&path).map_err(|error| error.error)?;
        // The new name is kept by the folder, which is a file of its own.
        #[cfg(unix)]
        File::open(inner)?.sync_all()?;
        Ok(filled)
    };
    attempt().map_err(|why| WriteError { path, why })
}

/// Writes reports under their names.
///
/// # Errors
/// If one cannot be made or written; those before it are then written.
pub fn write_reports<E: From<RenderError> + From<WriteError>>(
    reports: &[Box<dyn Report + '_>],
    folder: &Path,
) -> Result<(), E> {
    for report in reports {
        write_file(folder, report.file_name(), &report.bytes()?)?;
    }
    Ok(())
}

/// Names and hashes of the files of one plan, beside them.
pub const MANIFEST: &str = "manifest.json";

const MANIFEST_FORMAT: &str = "ripwright-files/1";

/// Writes the files of one plan, and last of all their list. A run that is killed on the way, or two that write to one
/// folder, leave files that do not fit the list.
///
/// # Errors
/// If one cannot be made: then none is written; or written.
pub fn write_set<E: From<RenderError> + From<WriteError>>(
    reports: &[Box<dyn Report + '_>],
    folder: &Path,
) -> Result<(), E> {
    let mut made = Vec::new();
    for report in reports {
        made.push((report.file_name(), report.bytes()?));
    }
    let hashes: BTreeMap<&str, String> = made.iter().map(|(name, bytes)| (*name, digest(bytes))).collect();
    for (name, bytes) in &made {
        write_file(folder, name, bytes)?;
    }
    let list = serde_json::json!({ "format": MANIFEST_FORMAT, "files": hashes });
    write_file(folder, MANIFEST, format!("{list:#}\n").as_bytes())?;
    Ok(())
}

/// Files of a folder that are not those of its list; none where there is no list.
pub fn not_of_one_set(folder: &Path) -> Vec<String> {
    let Ok(bytes) = std::fs::read(folder.join(MANIFEST)) else { return Vec::new() };
    let list: Option<serde_json::Value> = serde_json::from_slice(&bytes).ok();
    let files = list.as_ref().and_then(|list| list.get("files")?.as_object());
    let Some(files) = files else { return vec![MANIFEST.to_string()] };
    let is_other = |(name, hash): &(&String, &serde_json::Value)| {
        // A name is one of this folder.
        let path = Path::new(name.as_str()).file_name().map(|name| folder.join(name));
        let own = path.and_then(|path| std::fs::read(path).ok()).map(|bytes| digest(&bytes));
        own.as_deref() != hash.as_str()
    };
    files.iter().filter(is_other).map(|(name, _)| name.clone()).collect()
}
