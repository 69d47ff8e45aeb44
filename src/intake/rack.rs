//! `rack.csv`: boards and offcuts on hand, with their defects.

use std::collections::BTreeMap;

use super::log::Log;
use super::row::Row;
use super::source::{Source, needed, optional};
use super::table::{Columns, Table};
use crate::job::{BareLength, Defect, FaultKind, MAX_BOARD_LENGTH, MAX_BOARD_WIDTH, RackBoard, Shop};
use crate::measure::{Length, Money, Unit};
use crate::trade::DefectKind;

/// The columns of `rack.csv` and of a yard tally.
pub const RACK: Columns = Columns {
    required: &["board", "species", "quarter", "grade", "width", "length"],
    optional: &["value", "defects", "material", "core", "grain", "real", "place", "trimmed"],
};

/// Reads the rack, where there is one.
pub fn read_rack(source: &dyn Source, shop: &Shop, log: &mut Log) -> Vec<RackBoard> {
    let Some(table) = optional(source, "rack.csv", &RACK, log) else { return Vec::new() };
    read_boards(&table, shop, BareLength::ShopUnit, log).into_iter().map(|(_, board)| board).collect()
}

/// The columns of the boards that a shop has seen.
const SEEN: Columns = Columns {
    required: &["species", "quarter", "grade", "width", "length"],
    optional: &["board", "value", "defects", "plan", "material", "core", "grain", "real", "place", "trimmed"],
};

/// Reads the boards that a shop has seen. They have no names that matter and no value.
pub fn read_seen(source: &dyn Source, file: &str, shop: &Shop, log: &mut Log) -> Vec<RackBoard> {
    let Some(table) = needed(source, file, &SEEN, log) else { return Vec::new() };
    table.rows().filter_map(|row| described(&row, shop, BareLength::ShopUnit, log)).collect()
}

/// The boards of a table, each with its row.
pub fn read_boards<'t>(
    table: &'t Table,
    shop: &Shop,
    bare: BareLength,
    log: &mut Log,
) -> Vec<(Row<'t>, RackBoard)> {
    let mut seen: BTreeMap<String, u64> = BTreeMap::new();
    let mut boards = Vec::new();
    for row in table.rows() {
        let Some(board) = read_board(&row, shop, bare, log) else { continue };
        match seen.get(&board.board) {
            Some(first_row) => {
                let what = format!("the board {}", board.board);
                row.fault("board", FaultKind::Duplicate { what, first_row: *first_row }, log);
            }
            None => {
                seen.insert(board.board.clone(), row.line);
                boards.push((row, board));
            }
        }
    }
    boards
}

fn read_board(row: &Row<'_>, shop: &Shop, bare: BareLength, log: &mut Log) -> Option<RackBoard> {
    let board = row.name("board", log);
    let value = row.money("value", Some(Money::ZERO), log);
    let described = described(row, shop, bare, log);
    Some(RackBoard { board: board?, value: value?, ..described? })
}

/// A board as its row describes it, without a name or a value.
fn described(row: &Row<'_>, shop: &Shop, bare: BareLength, log: &mut Log) -> Option<RackBoard> {
    let species = row.name("species", log);
    let is_sheet = row.is_sheet(log)?;
    let quarter = row.class(is_sheet, shop.unit, log);
    let sheet = row.sheet(is_sheet, shop.unit, log);
    let grade = row.grade(shop, None, log);
    let width = row.length("width", shop.unit, MAX_BOARD_WIDTH, log);
    let trimmed = row.yes_no("trimmed", false, log);
    // Sheets are not sold by the foot of their length.
    let bare = if is_sheet { BareLength::ShopUnit } else { bare };
    let length = board_length(row, shop.unit, bare, log);
    let (length, width) = (length?, width?);
    if is_sheet && !row.cell("defects").is_empty() {
        let expected = "nothing: cut what is spoiled off the sheet, and enter what is left";
        return row.bad("defects", expected, None, log);
    }
    let defects = match parse_defects(row.cell("defects"), length, width, shop.unit) {
        Ok(defects) => Some(defects),
        Err(why) => {
            let expected = "boxes such as 10..14@0..2 1/2 inside the board, separated by ;";
            row.bad("defects", expected, Some(why), log)
        }
    };
    Some(RackBoard {
        board: String::new(),
        species: species?,
        quarter: quarter?,
        grade: grade?,
        sheet: sheet?,
        width,
        length,
        value: Money::ZERO,
        defects: defects?,
        place: row.cell("place").to_string(),
        trimmed: trimmed?,
    })
}

/// The length of a board, whose bare number may be meant in feet.
fn board_length(row: &Row<'_>, unit: Unit, bare: BareLength, log: &mut Log) -> Option<Length> {
    let text = row.cell("length");
    let is_bare = text.chars().all(|letter| letter.is_ascii_digit() || " ./-".contains(letter));
    let asks = |why: String, log: &mut Log| {
        let expected = "a length with its unit, or [yard] lengths in shop.toml";
        row.bad("length", expected, Some(why), log)
    };
    match bare {
        BareLength::Feet if is_bare => {
            let feet = row.length_of(&format!("{text}ft"), "length", unit, MAX_BOARD_LENGTH, log)?;
            if feet > Length::inches(12 * BareLength::MOST_FEET) {
                let most = BareLength::MOST_FEET;
                return asks(
                    format!("{text} in or {text} ft? bare lengths are feet here, up to {most}"),
                    log,
                );
            }
            Some(feet)
        }
        BareLength::Asked if is_bare && unit == Unit::Inch => {
            let length = row.length("length", unit, MAX_BOARD_LENGTH, log)?;
            if length <= Length::inches(BareLength::MAY_BE_FEET) {
                let most = BareLength::MAY_BE_FEET;
                return asks(
                    format!("{text} in or {text} ft? a bare length up to {most} is asked about"),
                    log,
                );
            }
            Some(length)
        }
        _ => row.length("length", unit, MAX_BOARD_LENGTH, log),
    }
}

fn parse_defects(text: &str, length: Length, width: Length, unit: Unit) -> Result<Vec<Defect>, String> {
    let mut defects = Vec::new();
    for cell in text.split(';').map(str::trim).filter(|cell| !cell.is_empty()) {
        let (along, across) = cell.split_once('@').ok_or_else(|| format!("{cell} has no @"))?;
        let (x0, x1) = parse_span(along, length, unit)?;
        let (across, kind) =
            across.split_at(across.to_ascii_lowercase().find("sound").unwrap_or(across.len()));
        let (y0, y1) = parse_span(across, width, unit)?;
        let kind = DefectKind::parse(kind)
            .ok_or_else(|| format!("{} is neither \"sound\" nor \"sound back\"", kind.trim()))?;
        defects.push(Defect { x0, x1, y0, y1, kind });
    }
    Ok(defects)
}

fn parse_span(text: &str, most: Length, unit: Unit) -> Result<(Length, Length), String> {
    let (low, high) = text.split_once("..").ok_or_else(|| format!("{} is not a range", text.trim()))?;
    let read = |end: &str| Length::parse(end, unit).map_err(|error| format!("{}: {error}", end.trim()));
    let (low, high) = (read(low)?, read(high)?);
    if low >= high {
        return Err(format!("{} does not rise", text.trim()));
    }
    if high > most {
        return Err(format!("{} ends outside the board", text.trim()));
    }
    Ok((low, high))
}
