//! What a movement of the rack means: which boards it takes, promises, brings and gives back.

use std::path::{Path, PathBuf};

use super::error::{RackError, Refused};
use super::log::RackMovement;
use super::movement::{Change, MovementLog, YES};
use super::seen::{add_to_tally, defects_cell};
use super::store::{LEDGER, Moved, Store};
use crate::document::{BoardEntry, Document, SHORT_KEY, Wood};
use crate::intake::{digest, read_rack_of};
use crate::job::{RackBoard, Sheet};
use crate::measure::{Length, Unit};
use crate::report::{csv_table, write_file};

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

    /// The ledger of a job's folder, where there is one.
    ///
    /// # Errors
    /// If the job's `shop.toml` or the file cannot be read.
    pub fn of_job(folder: &Path) -> Result<Option<Ledger>, RackError> {
        match Ledger::open(folder) {
            Ok(ledger) => Ok(Some(ledger)),
            Err(RackError::NoLedger(_)) => Ok(None),
            Err(error) => Err(error),
        }
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
        work: impl FnOnce(&mut MovementLog<'_>) -> Result<(), Refused>,
    ) -> Result<Moved, RackError> {
        let moved = self.store.movement(kind, plan, work)?;
        self.export()?;
        Ok(moved)
    }

    /// Every movement, the first one first.
    ///
    /// # Errors
    /// If the database cannot be read.
    pub fn history(&self) -> Result<Vec<RackMovement>, RackError> {
        self.store.history()
    }

    /// Brings the ledger to what `rack.csv` says: new boards are added, free ones that it lacks are gone.
    /// Begins a ledger where there is none.
    ///
    /// # Errors
    /// If the file cannot be read, names a board that is promised or gone, or has no board where the ledger has some.
    pub fn import(folder: &Path) -> Result<Moved, RackError> {
        let (_, boards) = read_rack_of(folder)?;
        if boards.is_empty() && folder.join(LEDGER).exists() {
            let free = Ledger::open(folder)?.free()?.len();
            if free > 0 {
                let text = format!("rack.csv has no board, and {free} would be gone from the ledger");
                return Err(RackError::WouldEmpty(text));
            }
        }
        Ledger::import_whatever(folder)
    }

    /// As [`Ledger::import`], and an empty rack is taken at its word.
    ///
    /// # Errors
    /// If the file cannot be read, or names a board that is promised or gone.
    pub fn import_whatever(folder: &Path) -> Result<Moved, RackError> {
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
        self.movement("reserve", Some(&key), |log| log.take(document.takes(), &key, "reserved"))
    }

    /// Promises to a plan those of its boards that are on the rack: others are left by plans that are not cut yet. What is
    /// promised to it already stays so.
    ///
    /// # Errors
    /// If any of them is gone or promised to another plan: then none is promised.
    pub fn promise(&mut self, plan: &str) -> Result<Moved, RackError> {
        let (document, key) = read_plan(plan)?;
        self.movement("reserve", Some(&key), |log| {
            let held = log.held_by(&key)?;
            let mut open = Vec::new();
            for name in document.takes() {
                if log.state(name)?.is_some() && !held.iter().any(|held| held == name) {
                    open.push(name);
                }
            }
            log.take(open.into_iter(), &key, "reserved")
        })
    }

    /// Gives back what is promised to a plan, if anything is.
    ///
    /// # Errors
    /// If the database cannot be read, or the text is no plan.
    pub fn give_back(&mut self, plan: &str) -> Result<(), RackError> {
        let held = self.store.boards("plan = ?1 AND state = 'reserved'", &read_plan(plan)?.1)?;
        if held.is_empty() { Ok(()) } else { self.release(plan).map(|_| ()) }
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
        let is_cut = |board: &&RackBoard| document.takes().any(|name| name == board.board);
        let came: Vec<RackBoard> = tally.iter().filter(is_cut).cloned().collect();
        let lumber = |board: &&RackBoard| !board.quarter.is_sheet();
        let mut offcuts = Vec::new();
        for board in &document.boards {
            offcuts.extend(self.offcuts_of(&document, board, &key, &came)?);
        }
        let moved = self.movement("commit", Some(&key), |log| {
            if let Some(before) = log.committed(&key)? {
                return Err(Refused::Rack(RackError::Committed(before)));
            }
            came.iter().try_for_each(|board| log.add(board))?;
            log.take(document.takes(), &key, "gone")?;
            offcuts.iter().try_for_each(|offcut| log.add(offcut))
        })?;
        let seen: Vec<RackBoard> = came.iter().filter(lumber).cloned().collect();
        if !seen.is_empty() {
            add_to_tally(&self.folder, &seen, &key[..SHORT_KEY], self.unit)?;
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
            for Change { board, before, after } in log.changes_of(last)?.into_iter().rev() {
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

    /// Copies the ledger as it is now to a new file, and gives the bytes of it. Others may go on using the ledger.
    ///
    /// # Errors
    /// If the file is there already or cannot be written.
    pub fn back_up(&self, file: &Path) -> Result<u64, RackError> {
        if file.exists() {
            return Err(RackError::IsThere(file.to_path_buf()));
        }
        self.store.copy_to(file)?;
        Ok(std::fs::metadata(file).map_or(0, |data| data.len()))
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

    /// Is `rack.csv` as new as the ledger? A movement that was killed before it wrote the file leaves an older one.
    ///
    /// # Errors
    /// If it is older, or the ledger cannot be read.
    pub fn tells_the_last_movement(folder: &Path) -> Result<(), RackError> {
        let path = folder.join(LEDGER);
        if !path.exists() {
            return Ok(());
        }
        let (last, told) = Store::open(folder)?.last_and_told()?;
        if told < last { Err(RackError::Stale(folder.to_path_buf())) } else { Ok(()) }
    }

    /// Writes `rack.csv` with the boards that are free.
    ///
    /// # Errors
    /// If the ledger cannot be read, nothing was ever moved in it while the file has boards, or the file cannot be
    /// written.
    pub fn export(&self) -> Result<(), RackError> {
        if self.store.last_and_told()?.0 == 0 && !read_rack_of(&self.folder)?.1.is_empty() {
            let text = "the ledger is new and rack.csv has boards: `ripwright rack import` brings them in";
            return Err(RackError::WouldEmpty(text.to_string()));
        }
        self.store.tell(|free| {
            // What is printed reads back as the same length, and names as they came: the file is read again.
            let length = |length: Length| length.display(self.unit).to_string();
            let mut header =
                vec!["board", "species", "quarter", "grade", "width", "length", "value", "defects"];
            // Where there is no sheet, nobody needs the columns.
            let sheets = free.iter().any(|board| board.quarter.is_sheet());
            header.extend(["grain", "core", "real"].into_iter().filter(|_| sheets));
            let places = free.iter().any(|board| !board.place.is_empty());
            header.extend(["place"].into_iter().filter(|_| places));
            let trimmed = free.iter().any(|board| board.trimmed);
            header.extend(["trimmed"].into_iter().filter(|_| trimmed));
            let rows = free.into_iter().map(|board| {
                let mut row = vec![
                    board.board.clone(),
                    board.species.clone(),
                    board.quarter.to_string(),
                    board.grade.to_string(),
                    length(board.width),
                    length(board.length),
                    board.value.price(),
                    defects_cell(&board, self.unit),
                ];
                if sheets && board.quarter.is_sheet() {
                    let Sheet { core, grain, real } = &board.sheet;
                    row.extend([grain.name().to_string(), core.clone(), real.map_or(String::new(), length)]);
                }
                row.resize(if sheets { 11 } else { 8 }, String::new());
                row.extend([board.place].into_iter().filter(|_| places));
                let said = if board.trimmed { YES } else { "" }.to_string();
                row.extend([said].into_iter().filter(|_| trimmed));
                row
            });
            let text = csv_table(&header, rows.collect())?;
            Ok(write_file(&self.folder, "rack.csv", &text)?)
        })
    }

    /// The kept offcuts of all copies of a board.
    fn offcuts_of(
        &self,
        document: &Document,
        board: &BoardEntry,
        key: &str,
        came: &[RackBoard],
    ) -> Result<Vec<RackBoard>, RackError> {
        let bad = |what: &str| RackError::Plan(format!("board {} of the plan has no valid {what}", board.id));
        let wood = match board.source.split_once(':') {
            Some(("buy", row)) => {
                document.wood_bought(row.parse().map_err(|_| bad("source"))?, self.unit).map_err(bad)?
            }
            Some(("rack", name)) => match came.iter().find(|board| board.board == name) {
                Some(own) => Wood::of(own),
                None => {
                    let found = self.store.boards("board = ?1", name)?.pop();
                    let missing = || RackError::NotFree(vec![format!("the rack has no board {name}")]);
                    let own = found.ok_or_else(missing)?;
                    let size = |value: f64| Length::from_f64(value, self.unit);
                    if (size(board.length), size(board.width)) != (Some(own.length), Some(own.width)) {
                        let text = format!("the rack's board {name} has another size than in the plan");
                        return Err(RackError::NotFree(vec![text]));
                    }
                    Wood::of(&own)
                }
            },
            _ => return Err(bad("source")),
        };
        if document.unit != self.unit.name() {
            return Err(bad("unit"));
        }
        lies_within(board, self.unit).map_err(bad)?;
        Ok(board.leftovers(&wood, key, self.unit).map_err(bad)?.collect())
    }
}

/// Do the pieces and the kept offcuts of a board lie in it, side by side? A plan that somebody wrote may say anything.
fn lies_within(board: &BoardEntry, unit: Unit) -> Result<(), &'static str> {
    let exact = |value: f64| Length::from_f64(value, unit);
    let boxed = |x: f64, y: f64, length: f64, width: f64| {
        let (x, y) = (exact(x)?, exact(y)?);
        Some([x, y, x + exact(length)?, y + exact(width)?])
    };
    let (Some(length), Some(width)) = (exact(board.length), exact(board.width)) else { return Err("size") };
    let inside = |[x0, y0, x1, y1]: [Length; 4]| {
        x0 >= Length::ZERO && y0 >= Length::ZERO && x0 < x1 && y0 < y1 && x1 <= length && y1 <= width
    };
    let pieces = board.pieces.iter().map(|piece| boxed(piece.x, piece.y, piece.length, piece.width));
    let kept = board.offcuts.iter().filter(|offcut| offcut.keep);
    let kept = kept.map(|offcut| boxed(offcut.x, offcut.y, offcut.length, offcut.width));
    let boxes: Option<Vec<[Length; 4]>> = pieces.chain(kept).collect();
    let boxes =
        boxes.filter(|boxes| boxes.iter().all(|one| inside(*one))).ok_or("piece or offcut within it")?;
    for (place, one) in boxes.iter().enumerate() {
        let meets = |other: &[Length; 4]| {
            one[0] < other[2] && other[0] < one[2] && one[1] < other[3] && other[1] < one[3]
        };
        if boxes[place + 1..].iter().any(meets) {
            return Err("place for each piece and offcut");
        }
    }
    Ok(())
}

/// Reads a plan and gives its hash. The text is written anew before it is hashed, so that the same plan with
/// other spacing has the same hash. For a plan as the program wrote it, that is the hash of its file.
fn read_plan(text: &str) -> Result<(Document, String), RackError> {
    let unreadable =
        |error: serde_json::Error| RackError::Plan(format!("this is not a readable plan: {error}"));
    let document: Document = serde_json::from_str(text).map_err(unreadable)?;
    let said = serde_json::to_string_pretty(&document).map_err(unreadable)? + "\n";
    Ok((document, digest(said.as_bytes())))
}
