//! The boards measured at a dealer's yard: the rack's columns, priced by the dealer's sheet where no
//! value stands beside a board.

use std::io::BufRead;
use std::path::Path;

use super::log::Log;
use super::rack::{RACK, read_boards};
use super::source::{Source, apart, needed};
use crate::index::SupplierIndex;
use crate::job::{FaultKind, Job, JobError, PriceLine, RackBoard};
use crate::measure::{Length, Money, Overflow};
use crate::trade::same_species;

/// Makes the job that can be cut from measured boards and the rack, and from sheets as they are sold. A board without a value costs
/// what the sheet of `dealer` (by name), or else the cheapest sheet, asks for its class and grade at its
/// real size.
///
/// # Errors
/// Every fault of the file, or a dealer that is not known.
pub fn job_of_tally(job: &Job, file: &Path, dealer: Option<&str>) -> Result<Job, JobError> {
    let (folder, name) = apart(file, "boards.csv");
    let boards = boards_of(job, &folder, &name, dealer)?;
    let mut at_yard = job.without_lumber_to_buy();
    at_yard.rack.extend(boards);
    Ok(at_yard)
}

/// One board as somebody types it in at the yard, its cells by column of a tally. Without a value it costs what the
/// sheets ask, as in [`job_of_tally`].
///
/// # Errors
/// Every fault of its cells, or a dealer that is not known.
pub fn board_at_yard(
    job: &Job,
    cells: &[(&'static str, String)],
    dealer: Option<&str>,
) -> Result<RackBoard, JobError> {
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    let row = cells.iter().map(|(_, text)| text.replace(['\r', '\n'], " "));
    let written = writer.write_record(cells.iter().map(|(column, _)| *column));
    let written = written.and_then(|()| writer.write_record(row)).map_err(|error| error.to_string());
    let bytes = written.and_then(|()| writer.into_inner().map_err(|error| error.to_string()));
    let typed = Typed(bytes.map_err(|why| JobError::Folder { path: "board".into(), why })?);
    let boards = boards_of(job, &typed, "board", dealer)?;
    let none = || JobError::Folder { path: "board".into(), why: "it holds no board".to_string() };
    boards.into_iter().next().ok_or_else(none)
}

/// A table that was typed in.
struct Typed(Vec<u8>);

impl Source for Typed {
    fn open(&self, _: &str) -> std::io::Result<Box<dyn BufRead + '_>> {
        Ok(Box::new(self.0.as_slice()))
    }

    fn dealers(&self) -> std::io::Result<Vec<String>> {
        Ok(Vec::new())
    }
}

/// The boards of a tally, each with what is asked for it.
fn boards_of(
    job: &Job,
    source: &dyn Source,
    name: &str,
    dealer: Option<&str>,
) -> Result<Vec<RackBoard>, JobError> {
    let mut log = Log::default();
    let mut boards = Vec::new();
    let supplier = dealer.and_then(|name| job.suppliers.position(|one| one.name == name));
    if let (Some(dealer), None) = (dealer, supplier) {
        let what = format!("the dealer {dealer}");
        let expected = "a dealer with a price sheet in prices/".to_string();
        log.fault(name, None, None, FaultKind::Unknown { what, expected });
    }
    if let Some(table) = needed(source, name, &RACK, &mut log) {
        for (row, mut board) in read_boards(&table, &job.shop, job.shop.at_yard.lengths, &mut log) {
            if job.rack.iter().any(|other| other.board == board.board) {
                let what = format!("the board {}", board.board);
                let expected = "a name that no board of rack.csv has".to_string();
                row.fault("board", FaultKind::Unknown { what, expected }, &mut log);
            }
            if row.cell("value").is_empty() {
                match asked(job, supplier, &board) {
                    Ok(Some(price)) => board.value = price,
                    Ok(None) | Err(_) => {
                        let why = "no price sheet has a line of its species, class and grade".to_string();
                        row.bad::<()>("value", "what the board costs", Some(why), &mut log);
                    }
                }
            }
            boards.push(board);
        }
        if boards.is_empty() && log.faults.is_empty() {
            log.fault(name, None, None, FaultKind::Empty("it holds no board".to_string()));
        }
    }
    if log.faults.is_empty() { Ok(boards) } else { Err(log.into_error()) }
}

/// What the dealer asks for one board, rounded half up to 0.01; `None` if no line is meant for it.
fn asked(job: &Job, supplier: Option<SupplierIndex>, board: &RackBoard) -> Result<Option<Money>, Overflow> {
    let alike = job.lines.iter().filter(|line| {
        supplier.is_none_or(|supplier| supplier == line.supplier)
            && same_species(&line.species, &board.species)
            && line.quarter == board.quarter
            && line.grade == board.grade
    });
    // The line whose sizes hold the board, else the one nearest in width.
    let mut best: Option<(Length, Money)> = None;
    for line in alike {
        let one = PriceLine { length: board.length, width: board.width, ..line.clone() };
        let price = Money::round_half_up(&one.price_of_board(&job.suppliers[line.supplier])?)?;
        let far = distance(line, board);
        if best.is_none_or(|(nearest, cheapest)| (far, price) < (nearest, cheapest)) {
            best = Some((far, price));
        }
    }
    Ok(best.map(|(_, price)| price))
}

/// How far a board's width and length lie outside a line's.
fn distance(line: &PriceLine, board: &RackBoard) -> Length {
    let (length, width) = line.upper.unwrap_or((line.length, line.width));
    let outside =
        |size: Length, low: Length, high: Length| low.saturating_sub(size).max(size.saturating_sub(high));
    outside(board.width, line.width, width) + outside(board.length, line.length, length)
}
