//! The rack's ledger: boards and offcuts on hand, and every movement of them.
//!
//! One SQLite file in the job's folder. Each movement is one transaction, its history is kept, and no
//! board can be promised to two plans. After a movement `rack.csv` is written anew with the boards that
//! are free, so that whatever reads the rack sees what may be planned with. What never lives here:
//! planning.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};
use sha2::{Digest, Sha256};

use crate::document::{BoardEntry, Document};
use crate::intake::{hex, read_rack_of};
use crate::job::{Defect, JobError, RackBoard};
use crate::measure::{Length, Money, Unit};
use crate::report::{RenderError, WriteError, csv_table, write_file};
use crate::trade::{Grade, Quarter};

/// Name of the ledger in a job's folder.
pub const LEDGER: &str = "rack.sqlite";

/// How long a command waits for another one that is writing.
const PATIENCE: Duration = Duration::from_secs(20);

const SCHEMA: &str = "
CREATE TABLE IF NOT EXISTS boards (
    board TEXT PRIMARY KEY,
    species TEXT NOT NULL,
    quarter TEXT NOT NULL,
    grade TEXT NOT NULL,
    width INTEGER NOT NULL CHECK (width > 0),
    length INTEGER NOT NULL CHECK (length > 0),
    value TEXT NOT NULL,
    defects TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('free', 'reserved', 'gone')),
    plan TEXT
);
CREATE TABLE IF NOT EXISTS movements (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    at TEXT NOT NULL,
    kind TEXT NOT NULL,
    plan TEXT,
    undoes INTEGER REFERENCES movements (number)
);
CREATE TABLE IF NOT EXISTS changes (
    movement INTEGER NOT NULL REFERENCES movements (number),
    board TEXT NOT NULL REFERENCES boards (board),
    state_before TEXT,
    plan_before TEXT,
    state_after TEXT NOT NULL,
    plan_after TEXT
);
CREATE TABLE IF NOT EXISTS descriptions (
    movement INTEGER NOT NULL REFERENCES movements (number),
    board TEXT NOT NULL REFERENCES boards (board),
    species TEXT NOT NULL,
    quarter TEXT NOT NULL,
    grade TEXT NOT NULL,
    width INTEGER NOT NULL,
    length INTEGER NOT NULL,
    value TEXT NOT NULL,
    defects TEXT NOT NULL
);";

/// Why the ledger did not move.
#[derive(Debug, thiserror::Error)]
pub enum RackError {
    /// The job's files.
    #[error(transparent)]
    Job(#[from] JobError),
    /// The database.
    #[error("{path} cannot be used: {why}", path = path.display())]
    Database {
        /// The file.
        path: PathBuf,
        /// Why.
        why: rusqlite::Error,
    },
    /// `rack.csv` could not be written after the movement.
    #[error("the movement is kept, but {0}; `ripwright rack export` writes it again")]
    Write(#[from] WriteError),
    /// `rack.csv` could not be made after the movement.
    #[error("the movement is kept, but {0}")]
    Render(#[from] RenderError),
    /// There is no ledger yet.
    #[error("{} has no rack ledger: begin one with `ripwright rack import`", .0.display())]
    NoLedger(PathBuf),
    /// Boards that are not there, or promised to another plan.
    #[error("nothing was changed: {}", .0.join("; "))]
    NotFree(Vec<String>),
    /// The plan was committed before.
    #[error("nothing was changed: this plan was committed before, by movement {0}")]
    Committed(i64),
    /// Nothing to undo.
    #[error("nothing was changed: there is no movement left to undo")]
    NothingToUndo,
    /// Boards that the movement put on the rack are in use.
    #[error("movement {0} cannot be undone: {1} has been used or promised since")]
    InUse(i64, String),
    /// A plan that does not fit the rack.
    #[error("nothing was changed: {0}")]
    Plan(String),
}

/// One movement of the history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Movement {
    /// Its number.
    pub number: i64,
    /// When, in UTC.
    pub at: String,
    /// `import`, `reserve`, `release`, `commit` or `undo`.
    pub kind: String,
    /// First digits of the plan's SHA-256.
    pub plan: String,
    /// The movement it undoes.
    pub undoes: Option<i64>,
    /// Boards it changed.
    pub boards: u64,
}

/// What a movement did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moved {
    /// Its number.
    pub number: i64,
    /// Boards that came to the rack or are free again.
    pub added: u64,
    /// Boards that left it or are promised.
    pub taken: u64,
}

/// The ledger of one job's rack.
#[derive(Debug)]
pub struct Ledger {
    folder: PathBuf,
    unit: Unit,
    database: Connection,
}

/// A board's state, and the plan that holds it.
type State = (String, Option<String>);

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
        let path = folder.join(LEDGER);
        let open = || -> rusqlite::Result<Connection> {
            let database = Connection::open(&path)?;
            database.busy_timeout(PATIENCE)?;
            database.pragma_update(None, "foreign_keys", true)?;
            database.pragma_update(None, "synchronous", "FULL")?;
            database.execute_batch(SCHEMA)?;
            Ok(database)
        };
        match open() {
            Ok(database) => Ok(Ledger { folder: folder.to_path_buf(), unit, database }),
            Err(why) => Err(RackError::Database { path, why }),
        }
    }

    fn failed(&self) -> impl Fn(rusqlite::Error) -> RackError + use<> {
        let path = self.folder.join(LEDGER);
        move |why| RackError::Database { path: path.clone(), why }
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
        let (document, key) = read_plan(plan)?;
        let mut offcuts = Vec::new();
        for board in &document.boards {
            offcuts.extend(self.offcuts_of(&document, board, &key)?);
        }
        self.movement("commit", Some(&key), |log| {
            if let Some(before) = log.committed(&key)? {
                return Err(Refused::Rack(RackError::Committed(before)));
            }
            log.take(&document, &key, "gone")?;
            offcuts.iter().try_for_each(|offcut| log.add(offcut))
        })
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
        self.boards("state = 'free' AND ?1 = ''", "")
    }

    /// The boards that are promised to a plan, or were used by it.
    ///
    /// # Errors
    /// If the database cannot be read, or the text is no plan.
    pub fn boards_of(&self, plan: &str) -> Result<Vec<RackBoard>, RackError> {
        self.boards("plan = ?1", &read_plan(plan)?.1)
    }

    fn boards(&self, which: &str, key: &str) -> Result<Vec<RackBoard>, RackError> {
        let read = || -> rusqlite::Result<Vec<RackBoard>> {
            let mut query = self.database.prepare(&format!(
                "SELECT board, species, quarter, grade, width, length, value, defects FROM boards
                 WHERE {which} ORDER BY board"
            ))?;
            let rows = query.query_map([key], |row| {
                let text = |place: usize| row.get::<_, String>(place);
                let whole = |place: usize, what: &str| {
                    let kind = rusqlite::types::Type::Text;
                    rusqlite::Error::FromSqlConversionFailure(place, kind, format!("not a {what}").into())
                };
                Ok(RackBoard {
                    board: text(0)?,
                    species: text(1)?,
                    quarter: Quarter::parse(&text(2)?).ok_or_else(|| whole(2, "class"))?,
                    grade: Grade::parse(&text(3)?).ok_or_else(|| whole(3, "grade"))?,
                    width: Length::from_base(row.get(4)?),
                    length: Length::from_base(row.get(5)?),
                    value: Money::parse(&text(6)?).map_err(|_| whole(6, "value"))?,
                    defects: defects_of(&text(7)?).ok_or_else(|| whole(7, "list of defects"))?,
                })
            })?;
            rows.collect()
        };
        read().map_err(self.failed())
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
            let boxes = board.defects.iter().map(|defect| {
                let [x0, x1, y0, y1] = [defect.x0, defect.x1, defect.y0, defect.y1].map(length);
                format!("{x0}..{x1}@{y0}..{y1}")
            });
            vec![
                board.board.clone(),
                board.species.clone(),
                board.quarter.to_string(),
                board.grade.to_string(),
                length(board.width),
                length(board.length),
                board.value.price(),
                boxes.collect::<Vec<_>>().join(";"),
            ]
        });
        let text = csv_table(&header, rows.collect())?;
        Ok(write_file(&self.folder, "rack.csv", &text)?)
    }

    /// Every movement, the first one first.
    ///
    /// # Errors
    /// If the database cannot be read.
    pub fn history(&self) -> Result<Vec<Movement>, RackError> {
        let read = || -> rusqlite::Result<Vec<Movement>> {
            let mut query = self.database.prepare(
                "SELECT number, at, kind, plan, undoes,
                        (SELECT COUNT(*) FROM (SELECT board FROM changes WHERE movement = number
                                               UNION SELECT board FROM descriptions WHERE movement = number))
                 FROM movements ORDER BY number",
            )?;
            let rows = query.query_map([], |row| {
                let plan: Option<String> = row.get(3)?;
                Ok(Movement {
                    number: row.get(0)?,
                    at: row.get(1)?,
                    kind: row.get(2)?,
                    plan: plan.unwrap_or_default().chars().take(SHORT_KEY).collect(),
                    undoes: row.get(4)?,
                    boards: row.get::<_, i64>(5)?.unsigned_abs(),
                })
            })?;
            rows.collect()
        };
        read().map_err(self.failed())
    }

    /// One movement: all of it or nothing. The rack's file follows.
    fn movement(
        &mut self,
        kind: &str,
        plan: Option<&str>,
        work: impl FnOnce(&mut Log<'_>) -> Result<(), Refused>,
    ) -> Result<Moved, RackError> {
        let failed = self.failed();
        let attempt = || -> Result<Moved, Refused> {
            // Others wait from the first read on, so that two plans cannot both see a board free.
            let transaction = self.database.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let at = jiff::Timestamp::now().to_string();
            transaction.execute(
                "INSERT INTO movements (at, kind, plan) VALUES (?1, ?2, ?3)",
                params![at, kind, plan],
            )?;
            let number = transaction.last_insert_rowid();
            let mut log = Log { transaction: &transaction, number, added: 0, taken: 0 };
            work(&mut log)?;
            let moved = Moved { number, added: log.added, taken: log.taken };
            transaction.commit()?;
            Ok(moved)
        };
        let moved = attempt().map_err(|refused| match refused {
            Refused::Rack(error) => error,
            Refused::Database(error) => failed(error),
        })?;
        self.export()?;
        Ok(moved)
    }

    /// The kept offcuts of all copies of a board, named after the plan and the board.
    fn offcuts_of(
        &self,
        document: &Document,
        board: &BoardEntry,
        key: &str,
    ) -> Result<Vec<RackBoard>, RackError> {
        let bad = |what: &str| RackError::Plan(format!("board {} of the plan has no valid {what}", board.id));
        let (species, grade) = match board.source.split_once(':') {
            Some(("buy", row)) => {
                let row: usize = row.parse().map_err(|_| bad("source"))?;
                let row = document.buy.get(row).ok_or_else(|| bad("source"))?;
                (row.species.clone(), row.grade.clone())
            }
            Some(("rack", name)) => {
                let query = "SELECT species, grade FROM boards WHERE board = ?1";
                let found = self
                    .database
                    .query_row(query, [name], |row| Ok((row.get(0)?, row.get(1)?)))
                    .optional()
                    .map_err(self.failed())?;
                found.ok_or_else(|| RackError::NotFree(vec![format!("the rack has no board {name}")]))?
            }
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

/// Digits of a plan's hash that name it to people.
const SHORT_KEY: usize = 8;

/// A plan and its hash.
fn read_plan(text: &str) -> Result<(Document, String), RackError> {
    let document = serde_json::from_str(text)
        .map_err(|error| RackError::Plan(format!("this is not a readable plan: {error}")))?;
    Ok((document, hex(&Sha256::digest(text.as_bytes()))))
}

/// Why a transaction is rolled back.
enum Refused {
    Rack(RackError),
    Database(rusqlite::Error),
}

impl From<rusqlite::Error> for Refused {
    fn from(error: rusqlite::Error) -> Refused {
        Refused::Database(error)
    }
}

/// A movement being written.
struct Log<'t> {
    transaction: &'t Transaction<'t>,
    number: i64,
    added: u64,
    taken: u64,
}

impl Log<'_> {
    fn state(&self, board: &str) -> rusqlite::Result<Option<State>> {
        let query = "SELECT state, plan FROM boards WHERE board = ?1";
        self.transaction.query_row(query, [board], |row| Ok((row.get(0)?, row.get(1)?))).optional()
    }

    fn names(&self, query: &str, key: &[&dyn rusqlite::ToSql]) -> rusqlite::Result<Vec<String>> {
        self.transaction.prepare(query)?.query_map(key, |row| row.get(0))?.collect()
    }

    fn free(&self) -> rusqlite::Result<Vec<String>> {
        self.names("SELECT board FROM boards WHERE state = 'free' ORDER BY board", &[])
    }

    fn held_by(&self, key: &str) -> rusqlite::Result<Vec<String>> {
        let query = "SELECT board FROM boards WHERE state = 'reserved' AND plan = ?1 ORDER BY board";
        self.names(query, &[&key])
    }

    fn committed(&self, key: &str) -> rusqlite::Result<Option<i64>> {
        let query = "SELECT number FROM movements AS one WHERE kind = 'commit' AND plan = ?1 AND number <> ?2
                     AND NOT EXISTS (SELECT 1 FROM movements WHERE undoes = one.number)";
        self.transaction.query_row(query, params![key, self.number], |row| row.get(0)).optional()
    }

    fn last_to_undo(&self) -> rusqlite::Result<Option<i64>> {
        let query = "SELECT number FROM movements AS one WHERE kind <> 'undo' AND number <> ?1
                     AND NOT EXISTS (SELECT 1 FROM movements WHERE undoes = one.number)
                     ORDER BY number DESC LIMIT 1";
        self.transaction.query_row(query, [self.number], |row| row.get(0)).optional()
    }

    fn undoes(&self, movement: i64) -> Result<(), Refused> {
        let query = "UPDATE movements SET undoes = ?1 WHERE number = ?2";
        self.transaction.execute(query, params![movement, self.number])?;
        Ok(())
    }

    fn changes_of(&self, movement: i64) -> rusqlite::Result<Vec<(String, Option<State>, State)>> {
        let query = "SELECT board, state_before, plan_before, state_after, plan_after FROM changes
                     WHERE movement = ?1 ORDER BY rowid";
        let mut query = self.transaction.prepare(query)?;
        let rows = query.query_map([movement], |row| {
            let before: Option<String> = row.get(1)?;
            let plan_before: Option<String> = row.get(2)?;
            Ok((row.get(0)?, before.map(|state| (state, plan_before)), (row.get(3)?, row.get(4)?)))
        })?;
        rows.collect()
    }

    /// A new board; one that left the rack by an undo may come back.
    fn add(&mut self, board: &RackBoard) -> Result<(), Refused> {
        match self.state(&board.board)? {
            None => {
                self.write(
                    board,
                    "INSERT INTO boards VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, 'free', NULL)",
                )?;
                self.note(&board.board, None, "free", None)?;
                self.added += 1;
                Ok(())
            }
            Some((state, _)) if state == "gone" => {
                self.describe(board)?;
                self.change(&board.board, "free", None)
            }
            Some(_) => {
                let text = format!("the rack has a board {} already", board.board);
                Err(Refused::Rack(RackError::NotFree(vec![text])))
            }
        }
    }

    /// The sizes of a board, as they are now. What they were before is kept, if it was anything else.
    fn describe(&self, board: &RackBoard) -> Result<(), Refused> {
        let kept = "INSERT INTO descriptions
                    SELECT ?1, board, species, quarter, grade, width, length, value, defects
                    FROM boards WHERE board = ?2";
        self.transaction.execute(kept, params![self.number, board.board])?;
        self.write(
            board,
            "UPDATE boards SET species = ?2, quarter = ?3, grade = ?4, width = ?5, length = ?6, value = ?7,
             defects = ?8 WHERE board = ?1",
        )?;
        let same = "DELETE FROM descriptions WHERE movement = ?1 AND board = ?2
                    AND (species, quarter, grade, width, length, value, defects) =
                        (SELECT species, quarter, grade, width, length, value, defects
                         FROM boards WHERE board = ?2)";
        self.transaction.execute(same, params![self.number, board.board])?;
        Ok(())
    }

    /// Boards are again as they were before a movement described them anew.
    fn describe_as_before(&self, movement: i64) -> Result<(), Refused> {
        let query = "UPDATE boards SET (species, quarter, grade, width, length, value, defects) =
                         (SELECT species, quarter, grade, width, length, value, defects
                          FROM descriptions WHERE movement = ?1 AND descriptions.board = boards.board)
                     WHERE board IN (SELECT board FROM descriptions WHERE movement = ?1)";
        self.transaction.execute(query, [movement])?;
        Ok(())
    }

    fn write(&self, board: &RackBoard, statement: &str) -> Result<(), Refused> {
        self.transaction.execute(
            statement,
            params![
                board.board,
                board.species,
                board.quarter.to_string(),
                board.grade.to_string(),
                board.width.base(),
                board.length.base(),
                board.value.price(),
                defects_text(&board.defects),
            ],
        )?;
        Ok(())
    }

    fn change(&mut self, board: &str, state: &str, plan: Option<&str>) -> Result<(), Refused> {
        let before = self.state(board)?;
        self.transaction.execute(
            "UPDATE boards SET state = ?2, plan = ?3 WHERE board = ?1",
            params![board, state, plan],
        )?;
        self.note(board, before, state, plan)?;
        if state == "free" {
            self.added += 1
        } else {
            self.taken += 1
        }
        Ok(())
    }

    fn note(
        &self,
        board: &str,
        before: Option<State>,
        state: &str,
        plan: Option<&str>,
    ) -> Result<(), Refused> {
        let (state_before, plan_before) = before.map_or((None, None), |(state, plan)| (Some(state), plan));
        self.transaction.execute(
            "INSERT INTO changes VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            params![self.number, board, state_before, plan_before, state, plan],
        )?;
        Ok(())
    }

    /// Takes a plan's rack boards off the rack, or promises them.
    fn take(&mut self, document: &Document, key: &str, state: &str) -> Result<(), Refused> {
        let mut faults = Vec::new();
        let names = document.boards.iter().filter_map(|board| board.source.strip_prefix("rack:"));
        for name in names {
            match self.state(name)? {
                None => faults.push(format!("the rack has no board {name}")),
                Some((now, _)) if now == "free" => self.change(name, state, Some(key))?,
                Some((now, Some(held))) if now == "reserved" && held == key && state == "gone" => {
                    self.change(name, state, Some(key))?;
                }
                Some((now, _)) if now == "reserved" => {
                    faults.push(format!("the board {name} is promised to another plan"));
                }
                Some(_) => faults.push(format!("the board {name} is gone")),
            }
        }
        if faults.is_empty() { Ok(()) } else { Err(Refused::Rack(RackError::NotFree(faults))) }
    }
}

/// Defects in base units: x0 x1 y0 y1, separated by semicolons.
fn defects_text(defects: &[Defect]) -> String {
    let one = |defect: &Defect| {
        let ends = [defect.x0, defect.x1, defect.y0, defect.y1];
        ends.map(|end| end.base().to_string()).join(" ")
    };
    defects.iter().map(one).collect::<Vec<_>>().join(";")
}

fn defects_of(text: &str) -> Option<Vec<Defect>> {
    let cells = text.split(';').filter(|cell| !cell.is_empty());
    let one = |cell: &str| {
        let ends: Vec<i64> = cell.split(' ').map(str::parse).collect::<Result<_, _>>().ok()?;
        let [x0, x1, y0, y1] = <[i64; 4]>::try_from(ends).ok()?.map(Length::from_base);
        Some(Defect { x0, x1, y0, y1 })
    };
    cells.map(one).collect()
}
