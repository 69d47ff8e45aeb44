//! Files that are either the old one or the new one, never half of it.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::{RenderError, Report};

/// Why a file could not be written.
#[derive(Debug, thiserror::Error)]
#[error("{path} cannot be written: {why}", path = path.display())]
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
    let path = folder.join(name);
    let attempt = || -> std::io::Result<()> {
        let inner = path.parent().unwrap_or(folder);
        std::fs::create_dir_all(inner)?;
        let mut temporary = tempfile::Builder::new();
        temporary.prefix(".ripwright-");
        // A temporary file is private; a report is as readable as the person's other files are.
        #[cfg(unix)]
        temporary.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let mut file = temporary.tempfile_in(inner)?;
        file.write_all(content)?;
        file.as_file().sync_all()?;
        file.persist(&path).map_err(|error| error.error)?;
        // The new name is kept by the folder, which is a file of its own.
        #[cfg(unix)]
        std::fs::File::open(inner)?.sync_all()?;
        Ok(())
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
