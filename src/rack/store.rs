//! The SQLite file behind the ledger: its tables, and the writing of one movement as one transaction.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, Transaction, TransactionBehavior, params};

use super::error::{RackError, Refused};
use super::movement::{MovementLog, YES, defects_of, sheet_of};
use crate::job::RackBoard;
use crate::measure::{Length, Money};
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
    plan TEXT,
    sheet TEXT NOT NULL DEFAULT '',
    place TEXT NOT NULL DEFAULT '',
    trimmed TEXT NOT NULL DEFAULT ''
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
    sheet TEXT NOT NULL DEFAULT '',
    place TEXT NOT NULL DEFAULT '',
    trimmed TEXT NOT NULL DEFAULT ''
);
CREATE TABLE IF NOT EXISTS told (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    movement INTEGER NOT NULL
);";

/// Version of these tables. Ledgers of version 0 lack the table `told`, those of version 1 what sheets are like, those of
/// version 2 where boards lie, those of version 3 whether nothing is trimmed off them.
const VERSION: i64 = 4;

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
        let columns = |table| [(table, "sheet"), (table, "place"), (table, "trimmed")];
        for (table, column) in ["boards", "descriptions"].into_iter().flat_map(columns) {
            let query = "SELECT COUNT(*) FROM pragma_table_info(?1) WHERE name = ?2";
            let has: i64 = transaction.query_row(query, [table, column], |row| row.get(0))?;
            if has == 0 {
                let add = format!("ALTER TABLE {table} ADD COLUMN {column} TEXT NOT NULL DEFAULT ''");
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
                "SELECT board, species, quarter, grade, width, length, value, defects, sheet, place, trimmed FROM boards
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
                    place: text(9)?,
                    trimmed: text(10)? == YES,
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
