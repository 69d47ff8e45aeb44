//! What a movement of the rack means: which boards it takes, promises, brings and gives back.

use std::path::{Path, PathBuf};

use rusqlite::OptionalExtension;

use super::error::{RackError, Refused};
use super::log::{Movement, SHORT_KEY};
use super::seen::{add_to_tally, defects_cell};
use super::store::{LEDGER, Log, Moved, Store};
use crate::document::{BoardEntry, Document};
use crate::intake::{digest, read_rack_of};
use crate::job::RackBoard;
use crate::measure::{Length, Money, Unit};
use crate::report::{csv_table, write_file};
use crate::trade::{Grade, Quarter};

/// The ledger of one job's rack.
#[derive(Debug)]
pub struct Ledger {
    folder: PathBuf,
    unit: Unit,
    store: Store,
}

impl Ledger {
    /// Opens the ledger of a job's folder.
    ///
    /// # Errors
    /// If there is none, or the job's `shop.toml` or the file cannot be read.
    pub fn open(folder: &Path) -> Result<Ledger, RackError> {
        if !folder.join(LEDGER).exists() {
            return Err(RackError::NoLedger(folder.to_path_buf()));
        }
        let (shop, _) = read_rack_of(folder)?;
        Ledger::connect(folder, shop.unit)
    }

    /// Unit of the shop.
    pub fn unit(&self) -> Unit {
        self.unit
    }

    fn connect(folder: &Path, unit: Unit) -> Result<Ledger, RackError> {
        Ok(Ledger { folder: folder.to_path_buf(), unit, store: Store::open(folder)? })
    }

    /// One movement of the store. The rack's file follows.
    fn movement(
        &mut self,
        kind: &str,
        plan: Option<&str>,
        work: impl FnOnce(&mut Log<'_>) -> Result<(), Refused>,
    ) -> Result<Moved, RackError> {
        let moved = self.store.movement(kind, plan, work)?;
        self.export()?;
        Ok(moved)
    }

    /// Every movement, the first one first.
    ///
    /// # Errors
    /// If the database cannot be read.
    pub fn history(&self) -> Result<Vec<Movement>, RackError> {
        self.store.history()
    }

    /// Brings the ledger to what `rack.csv` says: new boards are added, free ones that it lacks are gone.
    /// Begins a ledger where there is none.
    ///
    /// # Errors
    /// If the file cannot be read, or names a board that is promised or gone.
    pub fn import(folder: &Path) -> Result<Moved, RackError> {
        let (shop, boards) = read_rack_of(folder)?;
        let mut ledger = Ledger::connect(folder, shop.unit)?;
        ledger.movement("import", None, |log| {
            let mut faults = Vec::new();
            for board in &boards {
                match log.state(&board.board)? {
                    None => log.add(board)?,
                    Some((state, _)) if state == "free" => log.describe(board)?,
                    Some((state, _)) => faults.push(format!("the board {} is {state}", board.board)),
                }
            }
            for free in log.free()? {
                if !boards.iter().any(|board| board.board == free) {
                    log.change(&free, "gone", None)?;
                }
            }
            if faults.is_empty() { Ok(()) } else { Err(Refused::Rack(RackError::NotFree(faults))) }
        })
    }

    /// Promises a plan's rack boards to it.
    ///
    /// # Errors
    /// If any of them is not free: then none is promised.
    pub fn reserve(&mut self, plan: &str) -> Result<Moved, RackError> {
        let (document, key) = read_plan(plan)?;
        self.movement("reserve", Some(&key), |log| log.take(&document, &key, "reserved"))
    }

    /// Gives the boards that are promised to a plan back to the rack.
    ///
    /// # Errors
    /// If none is promised to it.
    pub fn release(&mut self, plan: &str) -> Result<Moved, RackError> {
        let (_, key) = read_plan(plan)?;
        self.movement("release", Some(&key), |log| {
            let held = log.held_by(&key)?;
            if held.is_empty() {
                let text = "no board is promised to this plan".to_string();
                return Err(Refused::Rack(RackError::Plan(text)));
            }
            held.iter().try_for_each(|board| log.change(board, "free", None))
        })
    }

    /// A plan was cut: its rack boards are gone, its kept offcuts are on the rack under new names.
    ///
    /// # Errors
    /// If a board is not free or promised to another plan, or the plan was committed before.
    pub fn commit(&mut self, plan: &str) -> Result<Moved, RackError> {
        Ok(self.commit_with(plan, &[])?.0)
    }

    /// The same for a plan of measured boards: those of the tally that it cuts come onto the rack and off it, and
    /// into the tally of all boards that the shop has seen. Gives them as well.
    ///
    /// # Errors
    /// As [`Ledger::commit`].
    pub fn commit_with(
        &mut self,
        plan: &str,
        tally: &[RackBoard],
    ) -> Result<(Moved, Vec<RackBoard>), RackError> {
        let (document, key) = read_plan(plan)?;
        let is_cut = |board: &&RackBoard| {
            let mut sources = document.boards.iter().filter_map(|one| one.source.strip_prefix("rack:"));
            sources.any(|name| name == board.board)
        };
        let came: Vec<RackBoard> = tally.iter().filter(is_cut).cloned().collect();
        let mut offcuts = Vec::new();
        for board in &document.boards {
            offcuts.extend(self.offcuts_of(&document, board, &key, &came)?);
        }
        let moved = self.movement("commit", Some(&key), |log| {
            if let Some(before) = log.committed(&key)? {
                return Err(Refused::Rack(RackError::Committed(before)));
            }
            came.iter().try_for_each(|board| log.add(board))?;
            log.take(&document, &key, "gone")?;
            offcuts.iter().try_for_each(|offcut| log.add(offcut))
        })?;
        if !came.is_empty() {
            add_to_tally(&self.folder, &came, &key[..SHORT_KEY], self.unit)?;
        }
        Ok((moved, came))
    }

    /// Takes back the last movement that is not yet undone.
    ///
    /// # Errors
    /// If there is none, or a board that it brought has been used since.
    pub fn undo(&mut self) -> Result<Moved, RackError> {
        self.movement("undo", None, |log| {
            let Some(last) = log.last_to_undo()? else {
                return Err(Refused::Rack(RackError::NothingToUndo));
            };
            for (board, before, after) in log.changes_of(last)?.into_iter().rev() {
                if log.state(&board)?.as_ref() != Some(&after) {
                    return Err(Refused::Rack(RackError::InUse(last, board)));
                }
                let (state, plan) = before.unwrap_or(("gone".to_string(), None));
                log.change(&board, &state, plan.as_deref())?;
            }
            log.describe_as_before(last)?;
            log.undoes(last)
        })
    }

    /// The boards that are free, by name.
    ///
    /// # Errors
    /// If the database cannot be read.
    pub fn free(&self) -> Result<Vec<RackBoard>, RackError> {
        self.store.boards("state = 'free' AND ?1 = ''", "")
    }

    /// The boards that are promised to a plan, or were used by it.
    ///
    /// # Errors
    /// If the database cannot be read, or the text is no plan.
    pub fn boards_of(&self, plan: &str) -> Result<Vec<RackBoard>, RackError> {
        self.store.boards("plan = ?1", &read_plan(plan)?.1)
    }

    /// Writes `rack.csv` with the boards that are free.
    ///
    /// # Errors
    /// If the ledger cannot be read or the file cannot be written.
    pub fn export(&self) -> Result<(), RackError> {
        // What is printed reads back as the same length, and names as they came: the file is read again.
        let length = |length: Length| length.display(self.unit).to_string();
        let header = ["board", "species", "quarter", "grade", "width", "length", "value", "defects"];
        let rows = self.free()?.into_iter().map(|board| {
            vec![
                board.board.clone(),
                board.species.clone(),
                board.quarter.to_string(),
                board.grade.to_string(),
                length(board.width),
                length(board.length),
                board.value.price(),
                defects_cell(&board, self.unit),
            ]
        });
        let text = csv_table(&header, rows.collect())?;
        Ok(write_file(&self.folder, "rack.csv", &text)?)
    }

    /// The kept offcuts of all copies of a board, named after the plan and the board.
    fn offcuts_of(
        &self,
        document: &Document,
        board: &BoardEntry,
        key: &str,
        came: &[RackBoard],
    ) -> Result<Vec<RackBoard>, RackError> {
        let bad = |what: &str| RackError::Plan(format!("board {} of the plan has no valid {what}", board.id));
        let (species, grade) = match board.source.split_once(':') {
            Some(("buy", row)) => {
                let row: usize = row.parse().map_err(|_| bad("source"))?;
                let row = document.buy.get(row).ok_or_else(|| bad("source"))?;
                (row.species.clone(), row.grade.clone())
            }
            Some(("rack", name)) => match came.iter().find(|board| board.board == name) {
                Some(board) => (board.species.clone(), board.grade.to_string()),
                None => {
                    let query = "SELECT species, grade FROM boards WHERE board = ?1";
                    let found = self
                        .store
                        .database
                        .query_row(query, [name], |row| Ok((row.get(0)?, row.get(1)?)))
                        .optional()
                        .map_err(self.store.failed())?;
                    found.ok_or_else(|| RackError::NotFree(vec![format!("the rack has no board {name}")]))?
                }
            },
            _ => return Err(bad("source")),
        };
        let grade = Grade::parse(&grade).ok_or_else(|| bad("grade"))?;
        let quarter = Quarter::parse(&board.quarter).ok_or_else(|| bad("class"))?;
        if document.unit != self.unit.name() {
            return Err(bad("unit"));
        }
        let length = |value: f64| Length::from_f64(value, self.unit).filter(|length| *length > Length::ZERO);
        let mut offcuts = Vec::new();
        for copy in 1..=board.copies {
            for (number, offcut) in board.offcuts.iter().filter(|offcut| offcut.keep).enumerate() {
                offcuts.push(RackBoard {
                    board: format!("{}-{}-{copy}-{}", &key[..SHORT_KEY], board.id, number + 1),
                    species: species.clone(),
                    quarter,
                    grade,
                    width: length(offcut.width).ok_or_else(|| bad("offcut"))?,
                    length: length(offcut.length).ok_or_else(|| bad("offcut"))?,
                    value: Money::ZERO,
                    defects: Vec::new(),
                });
            }
        }
        let plain = |id: &str| id.len() <= 20 && id.chars().all(|one| one.is_ascii_alphanumeric());
        if !plain(&board.id) {
            return Err(bad("name"));
        }
        Ok(offcuts)
    }
}

/// A plan and its hash.
fn read_plan(text: &str) -> Result<(Document, String), RackError> {
    let document = serde_json::from_str(text)
        .map_err(|error| RackError::Plan(format!("this is not a readable plan: {error}")))?;
    Ok((document, digest(text.as_bytes())))
}
