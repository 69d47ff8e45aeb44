//! What a plan leaves that a later week may count on.

use std::cmp::Reverse;

use num_bigint::BigInt;
use num_rational::BigRational;

use crate::document::{BoardEntry, Document, Wood};
use crate::job::{RackBoard, Shop};
use crate::measure::{Area, Length, Money};
use crate::plan::credit_of;

/// Leftovers of one batch that later ones can count on, the largest first: each is a board of its own to plan with.
const MOST_LEFT: usize = 200;

/// The kept offcuts of the boards that are known before they are bought, under the names that the rack's ledger gives them
/// once the plan is cut. Each is worth what the plan counts for it. `hash` is that of the plan.
pub fn leaves(document: &Document, hash: &str, shop: &Shop, on_hand: &[RackBoard]) -> Vec<RackBoard> {
    // Nobody knows what is left of a board that nobody has seen.
    let known = document.boards.iter().filter(|board| !board.drawn);
    let largest = |board: &BoardEntry| {
        let kept = board.offcuts.iter().filter(|offcut| offcut.keep);
        kept.map(|offcut| offcut.length * offcut.width).fold(0.0, f64::max)
    };
    let mut boards: Vec<(f64, &BoardEntry)> = known.map(|board| (largest(board), board)).collect();
    boards.retain(|(area, _)| *area > 0.0);
    boards.sort_by(|one, other| other.0.total_cmp(&one.0));
    let mut left: Vec<RackBoard> = Vec::new();
    // A plan of a large week has thousands of boards: as many as can matter are looked at.
    for (_, board) in boards.into_iter().take(MOST_LEFT) {
        left.extend(left_of(board, document, hash, shop, on_hand).unwrap_or_default());
    }
    left.sort_by_key(|board| (Reverse(area(board).base()), board.board.clone()));
    left.truncate(MOST_LEFT);
    left
}

/// What is left of a board's copies.
fn left_of(
    board: &BoardEntry,
    document: &Document,
    hash: &str,
    shop: &Shop,
    on_hand: &[RackBoard],
) -> Option<Vec<RackBoard>> {
    let (wood, paid) = wood_and_price(document, board, shop, on_hand)?;
    let size = |value: f64| Length::from_f64(value, shop.unit).unwrap_or_default();
    let whole = Area::of(size(board.length), size(board.width));
    let percent = shop.offcuts.credit_percent;
    // Nothing is written as the rack's file has it: a plan is kept under what stands there.
    let worth = |offcut: &RackBoard| match credit_of(area(offcut), whole, &paid, percent) {
        Ok(worth) if !worth.is_zero() => worth,
        _ => Money::ZERO,
    };
    let offcuts = board.leftovers(&wood, hash, shop.unit).ok()?;
    Some(offcuts.take(MOST_LEFT).map(|offcut| RackBoard { value: worth(&offcut), ..offcut }).collect())
}

/// The area of a board on hand.
pub fn area(board: &RackBoard) -> Area {
    Area::of(board.length, board.width)
}

/// What a board is made of, and what it was paid or valued at.
fn wood_and_price(
    document: &Document,
    board: &BoardEntry,
    shop: &Shop,
    on_hand: &[RackBoard],
) -> Option<(Wood, BigRational)> {
    match board.source.split_once(':')? {
        ("buy", row) => {
            let row: usize = row.parse().ok()?;
            let bought = document.buy.get(row)?;
            let boards = BigRational::from_integer(BigInt::from(bought.boards.max(1)));
            let paid = Money::parse_signed(&bought.cost).ok()?.to_ratio() / boards;
            Some((document.wood_bought(row, shop.unit).ok()?, paid))
        }
        (_, name) => {
            let own = on_hand.iter().find(|board| board.board == name)?;
            Some((Wood::of(own), own.value.to_ratio()))
        }
    }
}
