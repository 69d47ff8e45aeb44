//! The stack at the yard as far as it is known, and its file.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use serde::{Deserialize, Serialize};

use super::refusal::{Answer, Refusal};
use crate::intake::{Editable, board_at_yard};
use crate::job::{Job, RackBoard};
use crate::planning::{Advice, Appraised, Appraiser};
use crate::report::{csv_table, safe_cell, write_file};

/// What was measured, with what was decided.
const MEASURED: &str = "measured.csv";

/// The boards that were taken, as a tally.
pub const BOUGHT: &str = "bought.csv";

/// Columns of a tally, as a phone sends them.
pub const COLUMNS: [&str; 8] =
    ["board", "species", "quarter", "grade", "width", "length", "value", "defects"];

/// Where the value stands among them.
pub const VALUE: usize = 6;

/// What was decided about a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Decided {
    /// Nothing yet.
    Open,
    /// It is bought.
    Taken,
    /// It stays.
    Left,
    /// It was typed in by mistake.
    Undone,
}

impl Decided {
    /// Every decision with its word.
    pub const ALL: [(Decided, &'static str); 4] = [
        (Decided::Open, "open"),
        (Decided::Taken, "taken"),
        (Decided::Left, "left"),
        (Decided::Undone, "undone"),
    ];

    /// As the file has it.
    pub fn word(self) -> &'static str {
        Decided::ALL.into_iter().find(|(one, _)| *one == self).map_or("open", |(_, word)| word)
    }

    /// What a word of the file means; a strange one is no decision.
    pub fn of(word: &str) -> Decided {
        Decided::ALL.into_iter().find(|(_, one)| *one == word).map_or(Decided::Open, |(one, _)| one)
    }
}

/// A board of the stack.
#[derive(Debug, Clone)]
pub struct MeasuredBoard {
    /// The name that the phone gave it.
    pub id: String,
    /// What was typed in, in the order of [`COLUMNS`].
    pub cells: Vec<String>,
    /// What was decided about it.
    pub decided: Decided,
    /// The board as it was read.
    pub board: Option<RackBoard>,
    /// What was said of it.
    pub said: Option<Said>,
}

/// What was said of a board, in the words of the job as it was then.
#[derive(Debug, Clone)]
pub struct Said {
    /// `take`, `maybe` or `leave`.
    pub advice: &'static str,
    /// What its pieces are worth.
    pub worth: String,
    /// The pieces, with their numbers.
    pub pieces: String,
}

impl Said {
    /// What is said of a board by the values of the last time; nothing where a number is too large.
    pub fn of(appraiser: &Appraiser, board: &RackBoard) -> Option<Said> {
        let Appraised { advice, worth, blanks, .. } = appraiser.appraise(board).ok()?;
        let words = blanks.iter().map(|(part, n)| format!("{n} {}", appraiser.job().parts[*part].part));
        let advice = match advice {
            Advice::Take => "take",
            Advice::Maybe => "maybe",
            Advice::Leave => "leave",
        };
        Some(Said { advice, worth: worth.to_string(), pieces: words.collect::<Vec<_>>().join(", ") })
    }
}

/// Wood of one kind that is still needed, with the parts it is for.
#[derive(Debug, Clone, Serialize)]
pub struct NeededView {
    /// Which wood, and how much.
    pub what: String,
    /// What for.
    pub parts: Vec<String>,
}

impl NeededView {
    /// A sentence in place of a list.
    pub fn told(what: &str) -> Vec<NeededView> {
        vec![NeededView { what: what.to_string(), parts: Vec::new() }]
    }
}

/// The stack so far.
#[derive(Debug, Default)]
pub struct Yard {
    is_read: bool,
    /// The boards, in the order they came.
    pub boards: Vec<MeasuredBoard>,
    /// What values them; none before the first time.
    pub appraiser: Option<Arc<Appraiser>>,
    /// What is still needed, or why that is not known.
    pub needed: Vec<NeededView>,
    /// Is a thread at work?
    pub busy: bool,
    /// Was anything taken since it began?
    pub stale: bool,
    /// Set to end it.
    pub interrupt: Arc<AtomicBool>,
}

impl Yard {
    /// Ends what runs.
    pub fn stop(&self) {
        self.interrupt.store(true, Ordering::Relaxed);
    }

    /// Reads what was measured before, once.
    pub fn read(&mut self, folder: &Path, job: &Job) -> Answer<()> {
        if self.is_read {
            return Ok(());
        }
        let path = folder.join(MEASURED);
        let bytes = match std::fs::read(&path) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                self.is_read = true;
                return Ok(());
            }
            Err(error) => return Err(error.into()),
        };
        let table = Editable::read(&bytes)?;
        let place = |name: &str| table.header().iter().position(|column| column == name);
        let places: Vec<Option<usize>> = COLUMNS.iter().map(|name| place(name)).collect();
        for row in table.rows() {
            let cell = |place: Option<usize>| {
                let text = place.and_then(|place| row.cells.get(place)).cloned().unwrap_or_default();
                text.strip_prefix('\'').map(str::to_string).unwrap_or(text)
            };
            let cells: Vec<String> = places.iter().map(|place| cell(*place)).collect();
            let board = read_board(job, &cells, None).ok();
            let (id, decided) = (cell(place("sent_as")), Decided::of(&cell(place("decided"))));
            self.boards.push(MeasuredBoard { id, cells, decided, board, said: None });
        }
        self.is_read = true;
        Ok(())
    }

    /// Writes every board, whole.
    pub fn write(&self, folder: &Path) -> Answer<()> {
        let mut header = COLUMNS.to_vec();
        header.extend(["decided", "sent_as"]);
        let row = |one: &MeasuredBoard| {
            let mut row: Vec<String> = one.cells.iter().map(|cell| safe_cell(cell)).collect();
            row.extend([one.decided.word().to_string(), one.id.clone()]);
            row
        };
        let bytes = csv_table(&header, self.boards.iter().map(row).collect())?;
        Ok(write_file(folder, MEASURED, &bytes)?)
    }

    /// The boards that are taken.
    pub fn taken(&self) -> impl Iterator<Item = &RackBoard> {
        let taken = self.boards.iter().filter(|one| one.decided == Decided::Taken);
        taken.filter_map(|one| one.board.as_ref())
    }
}

/// A board from what was typed in.
pub fn read_board(job: &Job, cells: &[String], dealer: Option<&str>) -> Answer<RackBoard> {
    let cells: Vec<(&'static str, String)> = COLUMNS.into_iter().zip(cells.iter().cloned()).collect();
    match board_at_yard(job, &cells, dealer) {
        Ok(board) => Ok(board),
        Err(crate::job::JobError::Faults { faults, .. }) => {
            let told = faults.iter().map(|fault| match &fault.column {
                Some(column) => format!("{column}: {}", fault.kind.reason()),
                None => fault.kind.reason(),
            });
            Err(Refusal::bad(told.collect::<Vec<_>>().join("; ")))
        }
        Err(error) => Err(error.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::Decided;

    #[test]
    fn every_decision_is_read_back() {
        for (decided, word) in Decided::ALL {
            assert_eq!((Decided::of(word), decided.word()), (decided, word));
        }
    }
}
