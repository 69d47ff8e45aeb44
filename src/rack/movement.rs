//! One movement as it is written into the ledger: what it asks of the tables, and what it changes in them.

use rusqlite::{OptionalExtension, Transaction, params};

use super::error::{RackError, Refused};
use crate::job::{Defect, RackBoard, Sheet};
use crate::measure::Length;
use crate::trade::{DefectKind, SheetGrain};

/// What stands in `trimmed` where it is so.
pub const YES: &str = "yes";

/// A board's state, and the plan that holds it.
pub type State = (String, Option<String>);

/// A movement being written.
pub struct MovementLog<'t> {
    pub(super) transaction: &'t Transaction<'t>,
    pub(super) number: i64,
    pub(super) added: u64,
    pub(super) taken: u64,
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
                    "INSERT INTO boards (board, species, quarter, grade, width, length, value, defects, sheet, place, trimmed, state)
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, 'free')",
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
        let kept = "INSERT INTO descriptions (movement, board, species, quarter, grade, width, length, value, defects,
                        sheet, place, trimmed)
                    SELECT ?1, board, species, quarter, grade, width, length, value, defects, sheet, place, trimmed
                    FROM boards WHERE board = ?2";
        self.transaction.execute(kept, params![self.number, board.board])?;
        self.write(
            board,
            "UPDATE boards SET species = ?2, quarter = ?3, grade = ?4, width = ?5, length = ?6, value = ?7,
             defects = ?8, sheet = ?9, place = ?10, trimmed = ?11 WHERE board = ?1",
        )?;
        let same = "DELETE FROM descriptions WHERE movement = ?1 AND board = ?2
                    AND (species, quarter, grade, width, length, value, defects, sheet, place, trimmed) =
                        (SELECT species, quarter, grade, width, length, value, defects, sheet, place, trimmed
                         FROM boards WHERE board = ?2)";
        self.transaction.execute(same, params![self.number, board.board])?;
        Ok(())
    }

    /// Boards are again as they were before a movement described them anew.
    pub fn describe_as_before(&self, movement: i64) -> Result<(), Refused> {
        let query =
            "UPDATE boards SET (species, quarter, grade, width, length, value, defects, sheet, place, trimmed) =
                         (SELECT species, quarter, grade, width, length, value, defects, sheet, place, trimmed
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
                board.place,
                if board.trimmed { YES } else { "" },
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

    /// Takes boards of a plan off the rack, or promises them.
    pub fn take<'b>(
        &mut self,
        boards: impl Iterator<Item = &'b str>,
        key: &str,
        state: &str,
    ) -> Result<(), Refused> {
        let mut faults = Vec::new();
        for name in boards {
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

pub fn sheet_of(text: &str) -> Option<Sheet> {
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

pub fn defects_of(text: &str) -> Option<Vec<Defect>> {
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
