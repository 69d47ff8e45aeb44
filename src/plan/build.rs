//! From the solver's boards and patterns to a plan that can be sawn from.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_rational::BigRational;

use super::after::work_after;
use super::bought::{BoardSource, Buy, Cost};
use super::credit::offcut_credit;
use super::dealt::Dealt;
use super::edging::{cost_of_rolls, edging};
use super::joined::joined;
use super::layout::{PieceFacts, lay_out};
use super::ledger::ledger;
use super::model::{Board, Boards, PartCount, PlacedPiece, Plan};
use super::order::order_of_settings;
use super::sets::sets_of;
use super::setups::{
    charged, charged_at_least, leaders, settings_by_board, settings_by_layout, setup_cost, setups,
};
use crate::index::{BoardIndex, LineIndex, PartIndex, TiVec, ti_vec};
use crate::job::{Defect, DrawnBoard, Job, Offered, Sheet};
use crate::measure::{Money, Overflow};
use crate::pattern::Piece;
use crate::solve::{BuyRow, CutBoards, Instance, Solution, Status, Supply, blanks_of, gap_between};

/// Why a solution does not make a plan.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BuildError {
    /// A number too large to be exact.
    #[error(transparent)]
    Overflow(#[from] Overflow),
}

/// Builds the plan of a solution. `gap_percent` is the gap that was asked for.
///
/// # Errors
/// If a sum is too large to be held exactly.
pub fn build_plan(solution: &Solution) -> Result<Plan, BuildError> {
    let (job, instance) = (solution.job(), solution.instance());
    let purchase = &solution.incumbent.purchase;
    let buy: Vec<Buy> = purchase.rows.iter().map(|row| bought(job, row)).collect();
    let boards = build_boards(job, instance, &solution.incumbent.boards, &buy);
    let setups = setups(&job.shop, &boards);
    let setup = setup_cost(&job.shop, &charged(job, &boards))?;
    let offcut_credit = offcut_credit(job, &boards, &buy)?;
    let edging = edging(job)?;
    let rolls = cost_of_rolls(&edging);
    let total = solution.incumbent.cost() + setup + rolls - offcut_credit;
    // No credit is larger than its percentage of what the boards cost.
    let percent = job.shop.offcuts.credit_percent;
    let share = BigRational::from_integer(BigInt::from(1))
        - percent.to_ratio() / BigRational::from_integer(BigInt::from(100));
    let labour = setup_cost(&job.shop, &charged_at_least(job))?;
    let lower_bound =
        (Money::round_half_up(&(solution.bound.to_ratio() * share))? + labour + rolls).min(total);
    let gap = gap_between(total, lower_bound);
    let status = Status::of(total, lower_bound, solution.gap_percent);
    let (waste, sheet_waste) = ledger(job, &boards)?;
    let order = order_of_settings(&boards);
    Ok(Plan {
        unit: job.shop.unit,
        currency: job.shop.currency.clone(),
        status,
        searched: solution.searched,
        cost: Cost {
            lumber: purchase.lumber,
            delivery: purchase.delivery,
            rack: solution.incumbent.rack,
            setup,
            offcut_credit,
            edging: rolls,
            total,
            lower_bound,
            gap_percent: gap,
        },
        parts: count_parts(job, &boards),
        buy,
        settings_made: (order.len(), None),
        order,
        settings_by_layout: (settings_by_layout(&boards), None),
        settings_by_board: settings_by_board(&job.shop, &boards),
        work: work_after(job, &boards),
        sets: sets_of(job, &boards),
        matching: None,
        boards,
        waste,
        sheet_waste,
        edging,
        setups,
        confidence: None,
        still_needed: Vec::new(),
    })
}

/// A row of the purchase, as the list says it.
fn bought(job: &Job, row: &BuyRow) -> Buy {
    let line = &job.lines[row.line];
    Buy {
        line: row.line,
        supplier: job.suppliers[line.supplier].name.clone(),
        species: line.species.clone(),
        quarter: line.quarter,
        grade: line.grade,
        sheet: line
            .quarter
            .is_sheet()
            .then(|| Sheet { real: Some(line.offered().real_thickness()), ..line.sheet.clone() }),
        width: line.width,
        length: line.length,
        upper: line.upper.filter(|_| !line.drawn.is_empty()),
        boards: row.boards,
        board_feet: row.board_feet,
        price: line.price,
        per: line.per,
        percent_off: row.percent_off,
        cost: row.cost,
    }
}

fn build_boards(job: &Job, instance: &Instance, cut: &[CutBoards], buy: &[Buy]) -> TiVec<BoardIndex, Board> {
    let row_of_line: BTreeMap<LineIndex, usize> =
        buy.iter().enumerate().map(|(row, buy)| (buy.line, row)).collect();
    let mut dealt = Dealt::new(job, instance);
    let mut boards: TiVec<BoardIndex, Board> = TiVec::new();
    for group in cut {
        let quarter = group.source.quarter(job);
        let blanks = |part: PartIndex| blanks_of(job, quarter, &job.parts[part]);
        for (pattern_parts, copies) in dealt.deal(&group.pattern, group.copies, blanks) {
            let id = (boards.len() + 1).to_string();
            boards.push(board(job, &row_of_line, id, group, &pattern_parts, copies));
        }
    }
    for (layout, leader) in leaders(&boards).into_iter_enumerated() {
        boards[layout].along_with = leader.map(|leader| boards[leader].id.clone());
    }
    boards
}

/// Where a board comes from, what it is and which defects it has.
fn origin<'j>(
    job: &'j Job,
    row_of_line: &BTreeMap<LineIndex, usize>,
    supply: &Supply,
) -> (BoardSource, Offered<'j>, Vec<Defect>) {
    match supply {
        Supply::Line(index) => {
            (BoardSource::Buy(row_of_line[index]), job.lines[*index].offered(), Vec::new())
        }
        Supply::Drawn(index, board) => {
            let line = &job.lines[*index];
            let DrawnBoard { length, width, defects } = &line.drawn[*board];
            let offered = Offered { length: *length, width: *width, ..line.offered() };
            (BoardSource::Buy(row_of_line[index]), offered, defects.clone())
        }
        Supply::Rack(boards) => {
            let board = &job.rack[boards[0]];
            (BoardSource::Rack(boards[0], board.board.clone()), board.offered(), board.defects.clone())
        }
    }
}

fn board(
    job: &Job,
    row_of_line: &BTreeMap<LineIndex, usize>,
    id: String,
    group: &CutBoards,
    parts: &[(PartIndex, u32)],
    copies: u32,
) -> Board {
    let (source, offered, defects) = origin(job, row_of_line, &group.source);
    let Offered { length, width, quarter, grade, trimmed, .. } = offered;
    let sheet = quarter.is_sheet().then(|| offered.sheet.clone());
    let species = offered.species.to_string();
    let drawn = matches!(group.source, Supply::Drawn(..));
    let facts: Vec<PieceFacts> = parts
        .iter()
        .zip(group.pattern.pieces())
        .map(|((part, _), laid)| {
            let part = &job.parts[*part];
            let piece = laid.piece(Piece::new(part.blank.cut_length, part.blank.cut_width));
            PieceFacts { length: piece.length, width: piece.width, fit: part.fit }
        })
        .collect();
    let laid_out = lay_out(
        &job.shop,
        (quarter, job.shop.sawing_of(quarter, trimmed)),
        [length, width],
        &group.pattern,
        &facts,
    );
    let pieces: Vec<PlacedPiece> = parts
        .iter()
        .zip(&facts)
        .zip(&laid_out.pieces)
        .zip(group.pattern.pieces())
        .map(|((((part, blanks), facts), (x, y)), laid)| PlacedPiece {
            turned: laid.is_turned(),
            part: *part,
            blanks: *blanks,
            x: *x,
            y: *y,
            length: facts.length,
            width: facts.width,
        })
        .collect();
    Board {
        id,
        source,
        copies,
        layout: group.pattern.layout,
        length,
        width,
        trimmed,
        drawn,
        defects,
        quarter,
        species,
        grade,
        // Sheets are not milled.
        joined: if sheet.is_some() { Vec::new() } else { joined(&job.shop, length, &pieces, &laid_out.cuts) },
        sheet,
        along_with: None,
        pieces,
        offcuts: laid_out.offcuts,
        cuts: laid_out.cuts,
    }
}

fn count_parts(job: &Job, boards: &Boards) -> Vec<PartCount> {
    let mut cut: TiVec<PartIndex, u64> = ti_vec![0; job.parts.len()];
    for board in boards {
        for piece in &board.pieces {
            cut[piece.part] += u64::from(board.copies) * u64::from(piece.blanks);
        }
    }
    let counts = job.parts.iter_enumerated().map(|(index, part)| PartCount {
        part: index,
        product: part.product.clone(),
        name: part.part.clone(),
        required: part.blanks_wanted(),
        cut: cut[index],
    });
    counts.collect()
}
