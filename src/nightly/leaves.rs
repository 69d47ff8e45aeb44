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
    let mut left: Vec<RackBoard> = Vec::new();
    // Nobody knows what is left of a board that nobody has seen.
    for board in document.boards.iter().filter(|board| !board.drawn) {
        let Some((wood, paid)) = wood_and_price(document, board, shop, on_hand) else { continue };
        let few = BoardEntry { copies: board.copies.min(MOST_LEFT as u32), ..board.clone() };
        let Ok(offcuts) = few.leftovers(&wood, hash, shop.unit) else { continue };
        let size = |value: f64| Length::from_f64(value, shop.unit).unwrap_or_default();
        let whole = Area::of(size(board.length), size(board.width));
        let percent = shop.offcuts.credit_percent;
        // Nothing is written as the rack's file has it: a plan is kept under what stands there.
        let worth = |offcut: &RackBoard| match credit_of(area(offcut), whole, &paid, percent) {
            Ok(worth) if !worth.is_zero() => worth,
            _ => Money::ZERO,
        };
        left.extend(offcuts.map(|offcut| RackBoard { value: worth(&offcut), ..offcut }));
    }
    left.sort_by_key(|board| (Reverse(area(board).base()), board.board.clone()));
    left.truncate(MOST_LEFT);
    left
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
            let RackBoard { species, grade, sheet, .. } = own.clone();
            Some((Wood { species, grade, sheet }, own.value.to_ratio()))
        }
    }
}
