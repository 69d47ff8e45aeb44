//! Pieces too short to be milled alone: the cut before which they are milled while they still hang together.

use super::board::Box2;
use super::exact;
use super::fault::PlanFault;
use crate::document::{BoardEntry, JoinedEntry, PieceEntry};
use crate::job::Shop;
use crate::measure::Length;

/// Short pieces are milled before a cut, and must then still be in wood as long as is said.
pub fn check_joined(board: &BoardEntry, shop: &Shop, faults: &mut Vec<PlanFault>) {
    let unit = shop.unit;
    let mut report = |text: String| faults.push(PlanFault::new(format!("board {}", board.id), text));
    let of = |piece: &PieceEntry| Box2::new(piece.x, piece.y, piece.length, piece.width, unit);
    let pieces: Vec<Box2> = board.pieces.iter().map(of).collect();
    for (piece, place) in board.pieces.iter().zip(&pieces) {
        let mut told = board.mill_joined.iter();
        let is_told = told.any(|entry| (&entry.product, &entry.part) == (&piece.product, &piece.part));
        if place.length() < shop.safety.min_machined_length && !is_told {
            report(format!("does not say before which cut {} / {} is milled", piece.product, piece.part));
        }
    }
    for (number, entry) in board.mill_joined.iter().enumerate() {
        let same = |other: &JoinedEntry| (&other.product, &other.part) == (&entry.product, &entry.part);
        if board.mill_joined[..number].iter().any(same) {
            report(format!("tells twice before which cut {} / {} is milled", entry.product, entry.part));
        }
        let own = board.pieces.iter().zip(&pieces);
        let own = own.filter(|(piece, _)| (&piece.product, &piece.part) == (&entry.product, &entry.part));
        let held = own.map(|(_, piece)| {
            let made = board.cuts.iter().filter(|cut| cut.step < entry.before_step && cut.kind != "rip");
            let boxes = made.map(|cut| [cut.x0, cut.x1, cut.y0, cut.y1].map(|at| exact(at, unit)));
            let beside = boxes.filter(|[_, _, y0, y1]| *y0 < piece.y1 && *y1 > piece.y0);
            let (mut from, mut to) = (Length::ZERO, exact(board.length, unit));
            for [x0, x1, ..] in beside {
                if x1 <= piece.x0 {
                    from = from.max(x1);
                } else if x0 >= piece.x1 {
                    to = to.min(x0);
                }
            }
            to - from
        });
        let other = held.min() != Some(exact(entry.length, unit));
        let least = shop.safety.min_machined_length.min(exact(board.length, unit));
        if other || exact(entry.length, unit) < least {
            report(format!("does not hold {} / {} as long as is said", entry.product, entry.part));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// With a blade of no width a crosscut of the strip above ends where the short piece's own strip begins: it shortens
    /// nothing of that, and the piece is milled in 20 in of wood.
    #[test]
    fn a_cut_that_only_touches_a_strip_takes_nothing_off_it() {
        let piece = |part: &str, x: f64, y: f64, length: f64| json!({ "product": "box", "part": part, "x": x, "y": y, "length": length, "width": 2.0 });
        let cut = |step: u32, x: f64, y: f64| json!({ "step": step, "kind": "crosscut", "x0": x, "y0": y, "x1": x, "y1": y + 2.0 });
        let board = json!({
            "id": "A", "source": "buy:0", "copies": 1, "layout": "rip-first", "length": 20.0, "width": 4.0, "quarter": "4/4",
            "pieces": [piece("short", 0.0, 0.0, 5.0), piece("long", 5.0, 2.0, 15.0)],
            "offcuts": [],
            "cuts": [cut(2, 5.0, 2.0), cut(3, 5.0, 0.0)],
            "mill_joined": [{ "product": "box", "part": "short", "before_step": 3, "length": 20.0 }],
        });
        let board: BoardEntry = serde_json::from_value(board).unwrap();
        let mut faults = Vec::new();
        check_joined(&board, &Shop::default(), &mut faults);
        assert!(faults.is_empty(), "{faults:?}");
    }
}
