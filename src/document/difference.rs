//! What two plans of the same work differ in: boards bought, in money, and boards that are cut otherwise.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{BoardEntry, BuyEntry, Document};
use crate::measure::{Length, Money, Unit};

/// What one plan has that the other one has not.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// Price lines of which more or fewer boards are bought, or at another price.
    pub buy: Vec<BoughtOtherwise>,
    /// Boards that both plans cut alike.
    pub boards_as_before: u64,
    /// Boards that are cut no more, or otherwise, under their names on the sheets of the plan before.
    pub boards_gone: Vec<BoardTold>,
    /// Boards that come for them, under their names on the sheets of the plan now.
    pub boards_new: Vec<BoardTold>,
}

/// A price line that the plans buy of otherwise.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BoughtOtherwise {
    /// Dealer, wood and size in words.
    pub line: String,
    /// Boards of it in the plan before.
    pub boards_before: u64,
    /// Boards of it in the plan now.
    pub boards_now: u64,
    /// What they cost more now; less where it is negative.
    pub cost_more: String,
}

/// A board with what is cut from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BoardTold {
    /// Its name on the sheets.
    pub board: String,
    /// How many such.
    pub copies: u64,
    /// Where it comes from, and its size.
    pub from: String,
    /// Pieces of one, by product and part.
    pub pieces: BTreeMap<String, u64>,
}

impl Difference {
    /// Between a plan as it was and as it is, either of which may be missing. Sizes are told in the unit of both.
    pub fn between(before: Option<&Document>, now: Option<&Document>, unit: Unit) -> Difference {
        let (boards_before, boards_now) = (boards(before, unit), boards(now, unit));
        let copies = |boards: &Boards<'_>, same: &String| boards.get(same).map_or(0, |one| one.copies);
        let only = |these: &Boards<'_>, others: &Boards<'_>| {
            let more = these.iter().filter_map(|(same, one)| {
                let more = one.copies.saturating_sub(copies(others, same));
                (more > 0).then(|| one.told(more))
            });
            let mut more: Vec<(usize, BoardTold)> = more.collect();
            more.sort_by_key(|(place, _)| *place);
            more.into_iter().map(|(_, told)| told).collect()
        };
        let alike = boards_now.iter().map(|(same, one)| one.copies.min(copies(&boards_before, same)));
        Difference {
            buy: bought_otherwise(before, now, unit),
            boards_as_before: alike.sum(),
            boards_gone: only(&boards_before, &boards_now),
            boards_new: only(&boards_now, &boards_before),
        }
    }

    /// Are the plans the same on paper?
    pub fn is_nothing(&self) -> bool {
        self.buy.is_empty() && self.boards_gone.is_empty() && self.boards_new.is_empty()
    }
}

/// Boards of a plan by all that the saw and the stack know of them, whatever they are called.
type Boards<'d> = BTreeMap<String, SuchBoards<'d>>;

struct SuchBoards<'d> {
    /// Where the first of them stands in the plan.
    place: usize,
    first: &'d BoardEntry,
    copies: u64,
    from: String,
}

impl SuchBoards<'_> {
    fn told(&self, copies: u64) -> (usize, BoardTold) {
        let mut pieces = BTreeMap::new();
        for piece in &self.first.pieces {
            *pieces.entry(format!("{} {}", piece.product, piece.part)).or_insert(0) += 1;
        }
        (self.place, BoardTold { board: self.first.id.clone(), copies, from: self.from.clone(), pieces })
    }
}

fn boards(document: Option<&Document>, unit: Unit) -> Boards<'_> {
    let mut boards: Boards<'_> = BTreeMap::new();
    for (document, (place, board)) in document
        .into_iter()
        .flat_map(|document| document.boards.iter().enumerate().map(move |one| (document, one)))
    {
        let source = match board.source.strip_prefix("buy:").and_then(|row| row.parse::<usize>().ok()) {
            Some(row) => document.buy.get(row).map_or(String::new(), wood_of),
            None => board.source.strip_prefix("rack:").unwrap_or_default().to_string(),
        };
        let unnamed = BoardEntry { id: String::new(), along_with: None, copies: 0, ..board.clone() };
        let nameless = BoardEntry { source: source.clone(), ..unnamed };
        // A board holds numbers and words only, which can always be written.
        let Ok(same) = serde_json::to_string(&nameless) else { continue };
        let from = format!("{source}, {}", size([(board.width, None), (board.length, None)], unit));
        let such = SuchBoards { place, first: board, copies: 0, from };
        boards.entry(same).or_insert(such).copies += u64::from(board.copies);
    }
    boards
}

fn wood_of(row: &BuyEntry) -> String {
    format!("{} {} {} of {}", row.species, row.quarter, row.grade, row.supplier)
}

/// A width and a length, each with its upper end where it is a range.
fn size(sides: [(f64, Option<f64>); 2], unit: Unit) -> String {
    let told =
        |size: f64| Length::from_f64(size, unit).map_or(String::new(), |size| size.display(unit).to_string());
    let side = |(least, most): (f64, Option<f64>)| match most {
        Some(most) => format!("{} to {}", told(least), told(most)),
        None => told(least),
    };
    sides.map(side).join(" x ")
}

fn bought_otherwise(before: Option<&Document>, now: Option<&Document>, unit: Unit) -> Vec<BoughtOtherwise> {
    let mut lines: BTreeMap<String, [(u64, Money); 2]> = BTreeMap::new();
    for (side, document) in [before, now].into_iter().enumerate() {
        let Some(document) = document else { continue };
        for row in &document.buy {
            let sides = [(row.width, row.width_to), (row.length, row.length_to)];
            let bought =
                &mut lines.entry(format!("{}, {}", wood_of(row), size(sides, unit))).or_default()[side];
            bought.0 += row.boards;
            bought.1 += Money::parse_signed(&row.cost).unwrap_or(Money::ZERO);
        }
    }
    let otherwise = lines.into_iter().filter(|(_, [before, now])| before != now);
    let told = |(line, [before, now]): (String, [(u64, Money); 2])| BoughtOtherwise {
        line,
        boards_before: before.0,
        boards_now: now.0,
        cost_more: (now.1 - before.1).to_string(),
    };
    otherwise.map(told).collect()
}
