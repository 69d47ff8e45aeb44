//! The boards measured at a dealer's yard: the rack's columns, priced by the dealer's sheet where no
//! value stands beside a board.

use std::path::Path;

use super::log::Log;
use super::rack::{RACK, read_boards};
use super::source::{apart, needed};
use crate::job::{FaultKind, Job, JobError, PriceLine, RackBoard};
use crate::measure::{Length, Money, Overflow};
use crate::trade::same_species;

/// Makes the job that can be cut from measured boards and the rack alone. A board without a value costs
/// what the sheet of `dealer` (by name), or else the cheapest sheet, asks for its class and grade at its
/// real size.
///
/// # Errors
/// Every fault of the file, or a dealer that is not known.
pub fn job_of_tally(job: &Job, file: &Path, dealer: Option<&str>) -> Result<Job, JobError> {
    let mut log = Log::default();
    let (folder, name) = apart(file, "boards.csv");
    let mut boards = Vec::new();
    let supplier = dealer.and_then(|name| job.suppliers.iter().position(|one| one.name == name));
    if let (Some(dealer), None) = (dealer, supplier) {
        let what = format!("the dealer {dealer}");
        let expected = "a dealer with a price sheet in prices/".to_string();
        log.fault(&name, None, None, FaultKind::Unknown { what, expected });
    }
    if let Some(table) = needed(&folder, &name, &RACK, &mut log) {
        for (row, mut board) in read_boards(&table, &job.shop, job.shop.at_yard.lengths, &mut log) {
            if job.rack.iter().any(|other| other.board == board.board) {
                let expected = "a name that no board of rack.csv has".to_string();
                row.fault(
                    "board",
                    FaultKind::Unknown { what: format!("the board {}", board.board), expected },
                    &mut log,
                );
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
            log.fault(&name, None, None, FaultKind::Empty("it holds no board".to_string()));
        }
    }
    if !log.faults.is_empty() {
        return Err(log.into_error());
    }
    let mut at_yard = job.clone();
    at_yard.lines.clear();
    at_yard.suppliers.clear();
    at_yard.rack.extend(boards);
    Ok(at_yard)
}

/// What the dealer asks for one board, rounded half up to 0.01; `None` if no line is meant for it.
fn asked(job: &Job, supplier: Option<usize>, board: &RackBoard) -> Result<Option<Money>, Overflow> {
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
