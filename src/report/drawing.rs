//! Boards drawn with characters, for a terminal.

use super::{RenderError, Report};
use crate::index::PartIndex;
use crate::job::Job;
use crate::plan::{Board, BoardSource, Plan};
use crate::planning::Checked;

/// Columns of a drawing.
const COLUMNS: usize = 76;
/// Board widths drawn as one row: a character is about twice as high as wide.
const ROWS: usize = 7;

/// Every board of a plan.
pub struct Drawing<'p>(pub &'p Checked);

impl Report for Drawing<'_> {
    fn file_name(&self) -> &'static str {
        "boards.txt"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let (plan, job) = (self.0.plan(), self.0.job());
        Ok(plan.boards.iter().map(|board| draw(plan, job, board)).collect::<String>().into_bytes())
    }
}

fn draw(plan: &Plan, job: &Job, board: &Board) -> String {
    let mut cells = vec![vec!['.'; COLUMNS]; ROWS];
    let (length, width) = (board.length.to_f64(plan.unit), board.width.to_f64(plan.unit));
    let mut fill = |x: f64, y: f64, long: f64, wide: f64, sign: char| {
        let column = |at: f64| ((at / length * COLUMNS as f64).round() as usize).min(COLUMNS);
        let row = |at: f64| ((at / width * ROWS as f64).round() as usize).min(ROWS);
        let (from, to) = (column(x), column(x + long).max(column(x) + 1).min(COLUMNS));
        let (low, high) = (row(y), row(y + wide).max(row(y) + 1).min(ROWS));
        for line in cells.iter_mut().rev().take(high).skip(low) {
            line[from..to].fill(sign);
            // A bar at the right end parts pieces that lie end to end.
            if sign != '#' && to > from + 1 {
                line[to - 1] = '|';
            }
        }
    };
    let value = |length: crate::measure::Length| length.to_f64(plan.unit);
    for offcut in board.offcuts.iter().filter(|offcut| offcut.keep) {
        fill(value(offcut.x), value(offcut.y), value(offcut.length), value(offcut.width), '#');
    }
    let mut parts: Vec<PartIndex> = Vec::new();
    for piece in &board.pieces {
        let place = parts.iter().position(|part| *part == piece.part).unwrap_or_else(|| {
            parts.push(piece.part);
            parts.len() - 1
        });
        let sign = char::from(b'a' + (place % 26) as u8);
        fill(value(piece.x), value(piece.y), value(piece.length), value(piece.width), sign);
    }
    let from = match &board.source {
        BoardSource::Buy(row) => plan.buy[*row].supplier.clone(),
        BoardSource::Rack(_, name) => format!("rack board {name}"),
    };
    let copies = if board.copies > 1 { format!(", {} alike", board.copies) } else { String::new() };
    let mut text = format!(
        "Board {}{copies}: {} {} {}, {} x {}, {from}, {}\n",
        board.id,
        board.species,
        board.quarter,
        board.grade,
        board.width.display(plan.unit),
        board.length.display_feet(plan.unit),
        board.layout.name()
    );
    for line in &cells {
        text.push_str(&format!("  {}\n", line.iter().collect::<String>()));
    }
    for (place, part) in parts.iter().enumerate() {
        let count = board.pieces.iter().filter(|piece| piece.part == *part).count();
        let part = &job.parts[*part];
        text.push_str(&format!(
            "  {} {count} x {} / {}, {} x {}\n",
            char::from(b'a' + (place % 26) as u8),
            part.product,
            part.part,
            part.blank.cut_length.display(plan.unit),
            part.blank.cut_width.display(plan.unit)
        ));
    }
    text.push_str("  # kept offcut, . scrap, kerf and trim\n\n");
    text
}
