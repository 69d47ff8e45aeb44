//! The output folder: one run at a time, whole runs only, and what was planned before.
//!
//! ```text
//! OUT/latest         a link to the last whole run
//! OUT/runs/NAME/     runs
//! OUT/released/      the weeks whose sheets are handed out
//! OUT/planned/KEY/   plans, and which batches are planned as one, by the hash of what they were made from
//! OUT/.lock          held while a run is on; the system lets go of it however the run ends
//! ```

use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;

use crate::intake::digest;
use crate::report::{RenderError, Report, WriteError, write_file, write_report};

/// Name of the record of a run, in its folder.
pub const RECORD: &str = "run.json";

/// Name of the link to the last whole run.
pub const LATEST: &str = "latest";
/// Folder of the weeks that are released.
pub const RELEASED: &str = "released";
/// What became of the last attempt, published or not.
const ATTEMPT: &str = "last-attempt.json";
/// Plans of earlier content that are kept.
const KEPT_PLANS: usize = 4_000;
/// Written last into a folder of `planned`, with the hash of every file: without it the folder is torn.
const WHOLE: &str = ".whole";
/// Holds whether two batches are planned as one, in a folder of `planned` by the hash of both.
const DECIDED: &str = ".decided";
const TOGETHER: &str = "together";
const APART: &str = "apart";
/// Names the boards on hand that a batch takes, a line each, in a folder of `planned`.
const TAKEN: &str = ".taken";
/// What the name of a run begins with while another one takes its place.
const ASIDE: &str = ".ripwright-aside-";

/// Hashes and names of a manifest, as `sha256sum` writes them.
fn entries(manifest: &str) -> impl Iterator<Item = (&str, &str)> {
    manifest.lines().filter_map(|line| line.split_once("  "))
}

/// Remembers what became of an attempt, as a line of JSON.
///
/// # Errors
/// If the folder cannot be written to.
pub fn note_attempt(out: &Path, line: &str) -> Result<(), WriteError> {
    write_file(out, ATTEMPT, line.as_bytes())
}

/// What became of the last attempt, if anybody has noted it.
pub fn last_attempt(out: &Path) -> Option<String> {
    std::fs::read_to_string(out.join(ATTEMPT)).ok()
}

/// What of the record of the last published run is asked for, if there is one that says so.
pub fn last_record<T: DeserializeOwned>(out: &Path) -> Option<T> {
    serde_json::from_slice(&std::fs::read(out.join(LATEST).join(RECORD)).ok()?).ok()
}

/// Is a run on?
pub fn is_running(out: &Path) -> bool {
    let lock = File::options().write(true).open(out.join(".lock"));
    lock.is_ok_and(|lock| matches!(lock.try_lock(), Err(TryLockError::WouldBlock)))
}

/// Folders of runs and of plans that are kept, and the bytes of all their files.
pub fn kept(out: &Path) -> (usize, usize, u64) {
    let folders = |name: &str| -> Vec<PathBuf> {
        let entries = std::fs::read_dir(out.join(name)).into_iter().flatten().flatten();
        entries.map(|entry| entry.path()).filter(|path| path.is_dir()).collect()
    };
    let (runs, plans) = (folders("runs"), folders("planned"));
    let bytes = runs.iter().chain(&plans).map(|folder| size_of(folder)).sum();
    (runs.len(), plans.len(), bytes)
}

fn size_of(folder: &Path) -> u64 {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let size = |entry: std::fs::DirEntry| match entry.metadata() {
        Ok(data) if data.is_dir() => size_of(&entry.path()),
        Ok(data) => data.len(),
        Err(_) => 0,
    };
    entries.map(size).sum()
}

/// Lets two folders change places in one step, where the system can.
#[cfg(target_os = "linux")]
fn exchange(one: &Path, other: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).is_ok()
}

#[cfg(not(target_os = "linux"))]
fn exchange(_: &Path, _: &Path) -> bool {
    false
}

/// Why the output folder cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum PlaceError {
    /// Another run is on.
    #[error("another run is writing to {}: wait for it to end; nothing was changed", .0.display())]
    Busy(PathBuf),
    /// The system refuses.
    #[error("{} cannot be used: {why}; the last run there is untouched", path.display())]
    System {
        /// The folder or file.
        path: PathBuf,
        /// The system's reason.
        why: std::io::Error,
    },
}

/// An output folder with its lock held.
#[derive(Debug)]
pub struct OutFolder {
    out: PathBuf,
    _lock: File,
}

fn system<T>(path: &Path, result: std::io::Result<T>) -> Result<T, PlaceError> {
    result.map_err(|why| PlaceError::System { path: path.to_path_buf(), why })
}

impl OutFolder {
    /// Takes the lock of a folder and clears what a killed run left behind.
    pub fn open(out: &Path) -> Result<OutFolder, PlaceError> {
        system(out, std::fs::create_dir_all(out))?;
        let path = out.join(".lock");
        let lock = system(&path, File::options().create(true).truncate(false).write(true).open(&path))?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Err(PlaceError::Busy(out.to_path_buf())),
            Err(TryLockError::Error(why)) => return Err(PlaceError::System { path, why }),
        }
        let place = OutFolder { out: out.to_path_buf(), _lock: lock };
        for folder in [out.to_path_buf(), place.runs(), place.planned(), place.released()] {
            place.clear(&folder)?;
        }
        Ok(place)
    }

    fn runs(&self) -> PathBuf {
        self.out.join("runs")
    }

    fn planned(&self) -> PathBuf {
        self.out.join("planned")
    }

    /// Holds the weeks that are released.
    pub fn released(&self) -> PathBuf {
        self.out.join(RELEASED)
    }

    /// Takes away half-written folders and files.
    fn clear(&self, folder: &Path) -> Result<(), PlaceError> {
        let entries = match std::fs::read_dir(folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(()),
            Err(why) => return Err(PlaceError::System { path: folder.to_path_buf(), why }),
        };
        for entry in entries {
            let path = system(folder, entry)?.path();
            let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
            if let Some(run) = name.strip_prefix(ASIDE).map(|run| folder.join(run))
                && !run.exists()
            {
                // A run was killed while it took the place of another one of its name: that one is still whole.
                system(&path, std::fs::rename(&path, &run))?;
            } else if name.starts_with(".ripwright-") {
                let gone =
                    if path.is_dir() { std::fs::remove_dir_all(&path) } else { std::fs::remove_file(&path) };
                system(&path, gone)?;
            }
        }
        Ok(())
    }

    /// A folder for a run that nobody sees yet.
    pub fn fresh_run(&self) -> Result<PathBuf, PlaceError> {
        system(&self.runs(), std::fs::create_dir_all(self.runs()))?;
        let fresh = tempfile::Builder::new().prefix(".ripwright-").tempdir_in(self.runs());
        let path = system(&self.runs(), fresh)?.keep();
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            system(&path, std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)))?;
        }
        Ok(path)
    }

    /// Shows a whole run: from now on it is the latest. Of the older ones so many are kept.
    pub fn publish(&self, fresh: &Path, name: &str, kept: usize) -> Result<(), PlaceError> {
        let path = self.runs().join(name);
        if path.exists() {
            // The same inputs gave it its name: whoever reads it sees the old one or the new one.
            let aside = self.runs().join(format!("{ASIDE}{name}"));
            if exchange(fresh, &path) {
                system(&path, std::fs::rename(fresh, &aside))?;
            } else {
                system(&path, std::fs::rename(&path, &aside))?;
                system(&path, std::fs::rename(fresh, &path))?;
            }
            self.point_to(name)?;
            system(&aside, std::fs::remove_dir_all(&aside))?;
        } else {
            system(&path, std::fs::rename(fresh, &path))?;
            self.point_to(name)?;
        }
        self.forget(&self.runs(), kept, &[name])?;
        self.forget(&self.planned(), KEPT_PLANS, &[])
    }

    /// Turns the link in one step.
    fn point_to(&self, name: &str) -> Result<(), PlaceError> {
        let link = self.out.join(LATEST);
        let next = self.out.join(format!(".ripwright-{LATEST}"));
        let target = Path::new("runs").join(name);
        let _ = std::fs::remove_file(&next);
        #[cfg(unix)]
        system(&next, std::os::unix::fs::symlink(&target, &next))?;
        // Where links need rights of their own, a file names the run.
        #[cfg(not(unix))]
        system(&next, std::fs::write(&next, target.to_string_lossy().as_bytes()))?;
        system(&link, std::fs::rename(&next, &link))
    }

    /// Keeps the newest folders.
    fn forget(&self, folder: &Path, kept: usize, always: &[&str]) -> Result<(), PlaceError> {
        let Ok(entries) = std::fs::read_dir(folder) else { return Ok(()) };
        let mut dated: Vec<(std::time::SystemTime, PathBuf)> = entries
            .filter_map(|entry| {
                let entry = entry.ok()?;
                let name = entry.file_name();
                let spared = always.iter().any(|spared| name.to_str() == Some(spared));
                (!spared).then_some((entry.metadata().ok()?.modified().ok()?, entry.path()))
            })
            .collect();
        dated.sort();
        let many = dated.len().saturating_sub(kept);
        for (_, path) in dated.into_iter().take(many) {
            system(&path, std::fs::remove_dir_all(&path))?;
        }
        Ok(())
    }

    /// The plan.json that was made from the same content, if all its files are as they were written.
    pub fn planned_before(&self, key: &str) -> Option<Vec<u8>> {
        let folder = self.planned().join(key);
        let manifest = std::fs::read_to_string(folder.join(WHOLE)).ok()?;
        let mut plan = None;
        for (hash, name) in entries(&manifest) {
            let content = std::fs::read(folder.join(name)).ok()?;
            if digest(&content) != hash {
                return None;
            }
            if name == "plan.json" {
                plan = Some(content);
            }
        }
        plan
    }

    /// Whether two neighbouring batches were planned as one, where that was decided before.
    pub fn joined_before(&self, pair: &str) -> Option<bool> {
        match std::fs::read_to_string(self.planned().join(pair).join(DECIDED)).ok()?.trim() {
            TOGETHER => Some(true),
            APART => Some(false),
            _ => None,
        }
    }

    /// Remembers whether two neighbouring batches are planned as one.
    pub fn decide(&self, pair: &str, joined: bool) -> Result<(), WriteError> {
        let word = if joined { TOGETHER } else { APART };
        write_file(&self.planned().join(pair), DECIDED, format!("{word}\n").as_bytes())
    }

    /// The boards on hand that a batch was planned to take, where that was decided before; none where its own plan stands.
    pub fn taken_before(&self, mark: &str) -> Option<Vec<String>> {
        let text = std::fs::read_to_string(self.planned().join(mark).join(TAKEN)).ok()?;
        Some(text.lines().map(String::from).collect())
    }

    /// Remembers the boards on hand that a batch takes.
    pub fn take(&self, mark: &str, boards: &[String]) -> Result<(), WriteError> {
        let lines: String = boards.iter().map(|board| format!("{board}\n")).collect();
        write_file(&self.planned().join(mark), TAKEN, lines.as_bytes())
    }

    /// A plan or a decision that was of use is the last one to be forgotten.
    pub fn used(&self, key: &str) {
        // Where the system refuses, it is forgotten by the day that it was made.
        let folder = File::open(self.planned().join(key));
        let _ = folder.and_then(|folder| folder.set_modified(std::time::SystemTime::now()));
    }

    /// Keeps a file of a plan for the nights to come, and gives its SHA-256.
    pub fn keep<E: From<RenderError> + From<WriteError>>(
        &self,
        key: &str,
        report: &dyn Report,
    ) -> Result<String, E> {
        write_report(report, &self.planned().join(key))
    }

    /// Marks a plan's files as all there, each with its SHA-256 in hexadecimal.
    pub fn keep_whole(&self, key: &str, files: &[(&str, String)]) -> Result<(), WriteError> {
        let manifest: String = files.iter().map(|(name, hash)| format!("{hash}  {name}\n")).collect();
        write_file(&self.planned().join(key), WHOLE, manifest.as_bytes())
    }

    /// Copies the files of a kept plan into a folder of a run. They are no links: what a person changes there must not
    /// come back on another night.
    pub fn show(&self, key: &str, folder: &Path) -> Result<(), PlaceError> {
        let kept = self.planned().join(key);
        let manifest = system(&kept, std::fs::read_to_string(kept.join(WHOLE)))?;
        system(folder, std::fs::create_dir_all(folder))?;
        for (_, name) in entries(&manifest) {
            let (from, to) = (kept.join(name), folder.join(name));
            system(&to, std::fs::copy(&from, &to))?;
        }
        Ok(())
    }
}
