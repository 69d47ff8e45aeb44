//! The SQLite file behind the ledger: its tables, and the writing of one movement as one transaction.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};

use super::error::{RackError, Refused};
use crate::document::Document;
use crate::job::{Defect, RackBoard, Sheet};
use crate::measure::{Length, Money};
use crate::trade::{DefectKind, Grade, Quarter, SheetGrain};

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
    plan TEXT,
    sheet TEXT NOT NULL DEFAULT ''
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
    defects TEXT NOT NULL,
    sheet TEXT NOT NULL DEFAULT ''
);
CREATE TABLE IF NOT EXISTS told (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    movement INTEGER NOT NULL
);";

/// Version of these tables. Ledgers of version 0 lack the table `told`, those of version 1 what sheets are like.
const VERSION: i64 = 2;

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

/// A board's state, and the plan that holds it.
pub type State = (String, Option<String>);

/// The file.
#[derive(Debug)]
pub struct Store {
    path: PathBuf,
    pub database: Connection,
}

impl Store {
    /// Opens the file of a job's folder, or begins it.
    pub fn open(folder: &Path) -> Result<Store, RackError> {
        let path = folder.join(LEDGER);
        let open = || -> rusqlite::Result<Connection> {
            let database = Connection::open(&path)?;
            database.busy_timeout(PATIENCE)?;
            database.pragma_update(None, "foreign_keys", true)?;
            database.pragma_update(None, "synchronous", "EXTRA")?;
            Ok(database)
        };
        let database = open().map_err(|why| RackError::Database { path: path.clone(), why })?;
        let store = Store { path, database };
        let version = store.database.pragma_query_value(None, "user_version", |row| row.get::<_, i64>(0));
        match version.map_err(store.failed())? {
            VERSION => Ok(store),
            newer if newer > VERSION => Err(RackError::Newer(store.path)),
            _ => {
                store.bring_up_to_date().map_err(store.failed())?;
                Ok(store)
            }
        }
    }

    /// Makes the tables of a new ledger, or those that an older one lacks.
    fn bring_up_to_date(&self) -> rusqlite::Result<()> {
        let transaction = Transaction::new_unchecked(&self.database, TransactionBehavior::Immediate)?;
        transaction.execute_batch(SCHEMA)?;
        for table in ["boards", "descriptions"] {
            let query = "SELECT COUNT(*) FROM pragma_table_info(?1) WHERE name = 'sheet'";
            let has: i64 = transaction.query_row(query, [table], |row| row.get(0))?;
            if has == 0 {
                let add = format!("ALTER TABLE {table} ADD COLUMN sheet TEXT NOT NULL DEFAULT ''");
                transaction.execute(&add, [])?;
            }
        }
        // An older ledger wrote rack.csv after every movement.
        transaction.execute(
            "INSERT OR IGNORE INTO told (only, movement) SELECT 1, COALESCE(MAX(number), 0) FROM movements",
            [],
        )?;
        transaction.pragma_update(None, "user_version", VERSION)?;
        transaction.commit()
    }

    /// The last movement, and the last one that `rack.csv` tells of.
    pub fn last_and_told(&self) -> Result<(i64, i64), RackError> {
        let query = "SELECT (SELECT COALESCE(MAX(number), 0) FROM movements), (SELECT movement FROM told)";
        let read = self.database.query_row(query, [], |row| Ok((row.get(0)?, row.get(1)?)));
        read.map_err(self.failed())
    }

    /// Writes the boards that are free, while nobody else moves any. If the writing fails or is killed, the ledger
    /// knows that the file is older than it is.
    pub fn tell(&self, write: impl FnOnce(Vec<RackBoard>) -> Result<(), RackError>) -> Result<(), RackError> {
        let begin = || Transaction::new_unchecked(&self.database, TransactionBehavior::Immediate);
        let transaction = begin().map_err(self.failed())?;
        write(self.boards("state = 'free' AND ?1 = ''", "")?)?;
        let told = transaction
            .execute("UPDATE told SET movement = (SELECT COALESCE(MAX(number), 0) FROM movements)", []);
        told.and_then(|_| transaction.commit()).map_err(self.failed())
    }

    /// Copies the database as it is now, as SQLite does it.
    pub fn copy_to(&self, file: &Path) -> Result<(), RackError> {
        let name = file.to_string_lossy();
        self.database.execute("VACUUM INTO ?1", [name.as_ref()]).map_err(self.failed())?;
        Ok(())
    }

    /// What a failure of the database means.
    pub fn failed(&self) -> impl Fn(rusqlite::Error) -> RackError + use<> {
        let path = self.path.clone();
        move |why| RackError::Database { path: path.clone(), why }
    }

    /// Boards of which a condition of the database holds, by name.
    pub fn boards(&self, which: &str, key: &str) -> Result<Vec<RackBoard>, RackError> {
        let read = || -> rusqlite::Result<Vec<RackBoard>> {
            let mut query = self.database.prepare(&format!(
                "SELECT board, species, quarter, grade, width, length, value, defects, sheet FROM boards
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
                    sheet: sheet_of(&text(8)?).ok_or_else(|| whole(8, "sheet"))?,
                })
            })?;
            rows.collect()
        };
        read().map_err(self.failed())
    }

    /// One movement: all of it or nothing.
    pub fn movement(
        &mut self,
        kind: &str,
        plan: Option<&str>,
        work: impl FnOnce(&mut MovementLog<'_>) -> Result<(), Refused>,
    ) -> Result<Moved, RackError> {
        let failed = self.failed();
        let attempt = || -> Result<Moved, Refused> {
            // Others wait from the first read on, so that two plans cannot both see a board free.
            let transaction = self.database.transaction_with_behavior(TransactionBehavior::Immediate)?;
            // A clock beyond the year 9999 is no reason to lose a movement.
            let now = jiff::Timestamp::try_from(std::time::SystemTime::now());
            let at = now.unwrap_or(jiff::Timestamp::MAX).to_string();
            transaction.execute(
                "INSERT INTO movements (at, kind, plan) VALUES (?1, ?2, ?3)",
                params![at, kind, plan],
            )?;
            let number = transaction.last_insert_rowid();
            let mut log = MovementLog { transaction: &transaction, number, added: 0, taken: 0 };
            work(&mut log)?;
            let moved = Moved { number, added: log.added, taken: log.taken };
            transaction.commit()?;
            Ok(moved)
        };
        attempt().map_err(|refused| match refused {
            Refused::Rack(error) => error,
            Refused::Database(error) => failed(error),
        })
    }
}

/// A movement being written.
pub struct MovementLog<'t> {
    transaction: &'t Transaction<'t>,
    number: i64,
    added: u64,
    taken: u64,
}

/// What a movement did to a board; before it a new board was none.
pub struct Change {
    pub board: String,
    pub before: Option<State>,
    pub after: State,
}

impl MovementLog<'_> {
    pub fn state(&self, board: &str) -> rusqlite::Result<Option<State>> {
        let query = "SELECT state, plan FROM boards WHERE board = ?1";
        self.transaction.query_row(query, [board], |row| Ok((row.get(0)?, row.get(1)?))).optional()
    }

    pub fn names(&self, query: &str, key: &[&dyn rusqlite::ToSql]) -> rusqlite::Result<Vec<String>> {
        self.transaction.prepare(query)?.query_map(key, |row| row.get(0))?.collect()
    }

    pub fn free(&self) -> rusqlite::Result<Vec<String>> {
        self.names("SELECT board FROM boards WHERE state = 'free' ORDER BY board", &[])
    }

    pub fn held_by(&self, key: &str) -> rusqlite::Result<Vec<String>> {
        let query = "SELECT board FROM boards WHERE state = 'reserved' AND plan = ?1 ORDER BY board";
        self.names(query, &[&key])
    }

    pub fn committed(&self, key: &str) -> rusqlite::Result<Option<i64>> {
        let query = "SELECT number FROM movements AS one WHERE kind = 'commit' AND plan = ?1 AND number <> ?2
                     AND NOT EXISTS (SELECT 1 FROM movements WHERE undoes = one.number)";
        self.transaction.query_row(query, params![key, self.number], |row| row.get(0)).optional()
    }

    pub fn last_to_undo(&self) -> rusqlite::Result<Option<i64>> {
        let query = "SELECT number FROM movements AS one WHERE kind <> 'undo' AND number <> ?1
                     AND NOT EXISTS (SELECT 1 FROM movements WHERE undoes = one.number)
                     ORDER BY number DESC LIMIT 1";
        self.transaction.query_row(query, [self.number], |row| row.get(0)).optional()
    }

    pub fn undoes(&self, movement: i64) -> Result<(), Refused> {
        let query = "UPDATE movements SET undoes = ?1 WHERE number = ?2";
        self.transaction.execute(query, params![movement, self.number])?;
        Ok(())
    }

    pub fn changes_of(&self, movement: i64) -> rusqlite::Result<Vec<Change>> {
        let query = "SELECT board, state_before, plan_before, state_after, plan_after FROM changes
                     WHERE movement = ?1 ORDER BY rowid";
        let mut query = self.transaction.prepare(query)?;
        let rows = query.query_map([movement], |row| {
            let before: Option<String> = row.get(1)?;
            let plan_before: Option<String> = row.get(2)?;
            Ok(Change {
                board: row.get(0)?,
                before: before.map(|state| (state, plan_before)),
                after: (row.get(3)?, row.get(4)?),
            })
        })?;
        rows.collect()
    }

    /// A new board; one that left the rack by an undo may come back.
    pub fn add(&mut self, board: &RackBoard) -> Result<(), Refused> {
        match self.state(&board.board)? {
            None => {
                self.write(
                    board,
                    "INSERT INTO boards VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, 'free', NULL, ?9)",
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
    pub fn describe(&self, board: &RackBoard) -> Result<(), Refused> {
        let kept = "INSERT INTO descriptions
                    SELECT ?1, board, species, quarter, grade, width, length, value, defects, sheet
                    FROM boards WHERE board = ?2";
        self.transaction.execute(kept, params![self.number, board.board])?;
        self.write(
            board,
            "UPDATE boards SET species = ?2, quarter = ?3, grade = ?4, width = ?5, length = ?6, value = ?7,
             defects = ?8, sheet = ?9 WHERE board = ?1",
        )?;
        let same = "DELETE FROM descriptions WHERE movement = ?1 AND board = ?2
                    AND (species, quarter, grade, width, length, value, defects, sheet) =
                        (SELECT species, quarter, grade, width, length, value, defects, sheet
                         FROM boards WHERE board = ?2)";
        self.transaction.execute(same, params![self.number, board.board])?;
        Ok(())
    }

    /// Boards are again as they were before a movement described them anew.
    pub fn describe_as_before(&self, movement: i64) -> Result<(), Refused> {
        let query = "UPDATE boards SET (species, quarter, grade, width, length, value, defects, sheet) =
                         (SELECT species, quarter, grade, width, length, value, defects, sheet
                          FROM descriptions WHERE movement = ?1 AND descriptions.board = boards.board)
                     WHERE board IN (SELECT board FROM descriptions WHERE movement = ?1)";
        self.transaction.execute(query, [movement])?;
        Ok(())
    }

    pub fn write(&self, board: &RackBoard, statement: &str) -> Result<(), Refused> {
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
                if board.quarter.is_sheet() { sheet_text(&board.sheet) } else { String::new() },
            ],
        )?;
        Ok(())
    }

    pub fn change(&mut self, board: &str, state: &str, plan: Option<&str>) -> Result<(), Refused> {
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

    pub fn note(
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
    pub fn take(&mut self, document: &Document, key: &str, state: &str) -> Result<(), Refused> {
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

/// Defects in base units: x0 x1 y0 y1 and what kind they are of, separated by semicolons.
fn defects_text(defects: &[Defect]) -> String {
    let one = |defect: &Defect| {
        let ends = [defect.x0, defect.x1, defect.y0, defect.y1];
        let ends = ends.map(|end| end.base().to_string()).join(" ");
        format!("{ends} {}", defect.kind.name()).trim_end().to_string()
    };
    defects.iter().map(one).collect::<Vec<_>>().join(";")
}

/// What a sheet is like: its grain, what it really measures in base units where that is known, and its core.
fn sheet_text(sheet: &Sheet) -> String {
    let real = sheet.real.map_or("-".to_string(), |real| real.base().to_string());
    format!("{} {real} {}", sheet.grain.name(), sheet.core)
}

fn sheet_of(text: &str) -> Option<Sheet> {
    if text.is_empty() {
        return Some(Sheet::default());
    }
    let mut words = text.splitn(3, ' ');
    let grain = SheetGrain::parse(words.next()?)?;
    let real = match words.next()? {
        "-" => None,
        real => Some(Length::from_base(real.parse().ok()?)),
    };
    Some(Sheet { core: words.next()?.to_string(), grain, real })
}

fn defects_of(text: &str) -> Option<Vec<Defect>> {
    let cells = text.split(';').filter(|cell| !cell.is_empty());
    let one = |cell: &str| {
        let mut words = cell.split(' ');
        let ends: Vec<i64> = words.by_ref().take(4).map(str::parse).collect::<Result<_, _>>().ok()?;
        let [x0, x1, y0, y1] = <[i64; 4]>::try_from(ends).ok()?.map(Length::from_base);
        let kind = DefectKind::parse(&words.collect::<Vec<_>>().join(" "))?;
        Some(Defect { x0, x1, y0, y1, kind })
    };
    cells.map(one).collect()
}
