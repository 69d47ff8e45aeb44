//! The flow of one board: what is done at which machine, at which reading, and what falls off.

use std::collections::BTreeMap;

use serde::Serialize;

use super::sizes::shown;
use crate::index::PartIndex;
use crate::intake::letters;
use crate::job::{Facing, Job, SheetSawKind, Station};
use crate::measure::Length;
use crate::pattern::Layout;
use crate::plan::{Board, CutKind, PlacedPiece, Plan, SawCut, SetupKind};

/// One line of the flow.
#[derive(Serialize)]
pub struct StepView {
    /// Numbers of the cuts; empty for what is done at other machines.
    pub numbers: String,
    pub what: String,
    pub frees: String,
}

/// Does a trim run across the board?
pub fn is_end_trim(cut: &SawCut, board: &Board) -> bool {
    cut.kind == CutKind::Trim && cut.y0 == Length::ZERO && cut.y1 == board.width
}

/// Cuts alike that follow each other.
pub fn alike(board: &Board) -> impl Iterator<Item = &[SawCut]> {
    let key = |cut: &SawCut| (cut.kind, cut.setting, is_end_trim(cut, board));
    board.cuts.chunk_by(move |one, other| key(one) == key(other))
}

/// The work on a board in its order: ends, faces, edges, then the cuts. Cuts alike that follow each other are one
/// line.
pub fn steps(plan: &Plan, job: &Job, board: &Board, letters: &[PartIndex]) -> Vec<StepView> {
    let line = |cuts: &[SawCut]| {
        let cut = &cuts[0];
        let numbers = match cuts {
            [_] => cut.step.to_string(),
            [.., last] => format!("{} to {}", cut.step, last.step),
            [] => String::new(),
        };
        let what = told(cut, board, job);
        StepView { numbers, what, frees: frees(cuts, board, letters) }
    };
    let lines: Vec<(bool, StepView)> =
        alike(board).map(|cuts| (is_end_trim(&cuts[0], board), line(cuts))).collect();
    let ends = lines.iter().take_while(|(is_end, _)| *is_end).count();
    let parked = parked(board);
    let mut steps: Vec<StepView> = lines.into_iter().map(|(_, line)| line).collect();
    if let Some((place, what)) = parked {
        steps.insert(place, StepView { numbers: String::new(), what, frees: String::new() });
    }
    if !board.pieces.is_empty() && board.sheet.is_none() {
        steps.insert(ends, milling(plan, job, board));
    }
    steps
}

/// Strips of a sheet that are put aside before the first of them is cut up: the line before which that is told, and how.
fn parked(board: &Board) -> Option<(usize, String)> {
    let first = match board.layout {
        Layout::RipFirst => CutKind::Rip,
        Layout::CrosscutFirst => CutKind::Crosscut,
    };
    board.sheet.as_ref()?;
    let is_second = |cut: &SawCut| cut.kind != CutKind::Trim && cut.kind != first;
    let place = alike(board).position(|cuts| is_second(&cuts[0]))?;
    let strips = if first == CutKind::Rip { "strips" } else { "sections" };
    let has_any = board.cuts.iter().take_while(|cut| !is_second(cut)).any(|cut| cut.kind == first);
    has_any
        .then(|| (place, format!("park the {strips} where they lie flat, and take up one after the other")))
}

/// What a board and its pieces are planed to, the thickest first. Pieces that are resawn are planed after it.
pub fn thicknesses(job: &Job, board: &Board) -> Vec<Length> {
    let whole = board.pieces.iter().filter(|piece| piece.blanks == 1);
    let mut thicknesses: Vec<Length> = whole.map(|piece| job.parts[piece.part].blank.thickness).collect();
    thicknesses.sort_unstable_by(|one, other| other.cmp(one));
    thicknesses.dedup();
    thicknesses
}

/// What is milled before the first rip.
fn milling(plan: &Plan, job: &Job, board: &Board) -> StepView {
    let unit = plan.unit;
    let thicknesses = thicknesses(job, board);
    let planed = |thickness: &Length| shown(*thickness, unit);
    let plane = match thicknesses[..] {
        [] => "plane the other".to_string(),
        [thickness] => format!("plane to {}", planed(&thickness)),
        [thickest, ..] => {
            let others: Vec<String> = thicknesses[1..].iter().map(planed).collect();
            format!("plane to {} (once cut, some to {})", planed(&thickest), others.join(" and "))
        }
    };
    let stations = &job.shop.saw.stations;
    let face = match stations.face(board.width) {
        Facing::Jointer => "joint a face",
        Facing::PlanerSled => "wider than the jointer: flatten a face on a sled through the planer",
        Facing::ByHand => "wider than the planer: flatten a face by hand",
    };
    StepView { numbers: String::new(), what: format!("{face}, {plane}, joint an edge"), frees: String::new() }
}

/// What a cut is, and what its machine is set to.
fn told(cut: &SawCut, board: &Board, job: &Job) -> String {
    let (unit, sawing, saw) = (job.shop.unit, job.shop.sawing(board.quarter), &job.shop.saw);
    match (cut.kind, cut.setting) {
        (CutKind::Trim, _) if is_end_trim(cut, board) => {
            let crosscut = if board.sheet.is_some() { "cut" } else { "crosscut" };
            let checked = if board.sheet.is_some() { "" } else { ", the checked end first" };
            format!("{crosscut} {} off each end{checked}", shown(sawing.end_trim, unit))
        }
        (CutKind::Trim, _) => {
            let rip = if board.sheet.is_some() { "cut" } else { "rip" };
            format!("{rip} {} off each edge", shown(sawing.edge_trim, unit))
        }
        (kind, Some((SetupKind::Sheet, setting))) => {
            let way = if kind == CutKind::Rip { "along" } else { "across" };
            let (size, sheet_saw) = (shown(setting, unit), &job.shop.sheet_saw);
            let set = sheet_saw.kind.is_set_by();
            if !sheet_saw.reaches(setting) {
                format!("cut {way} at {size}, with another tool")
            } else if setting < job.shop.safety.narrowest_rip && sheet_saw.kind != SheetSawKind::TrackSaw {
                format!("cut {way}, {set} at {size}, narrow: off the far side of the blade")
            } else {
                format!("cut {way}, {set} at {size}")
            }
        }
        (CutKind::Rip, Some((_, setting))) if saw.rips_beyond_reach(setting) => {
            format!("rip to {}, with another tool", shown(setting, unit))
        }
        (CutKind::Rip, Some((_, setting))) if setting < job.shop.safety.narrowest_rip => {
            format!("rip to {}, narrow: off the far side of the blade", shown(setting, unit))
        }
        (CutKind::Rip, Some((_, setting))) => format!("rip, fence at {}", shown(setting, unit)),
        (CutKind::Crosscut, Some((_, setting))) => {
            let stop = shown(setting, unit);
            match saw.station(setting) {
                None => format!("crosscut to {stop}, with another tool"),
                Some(Station::Fence) => {
                    let reading = shown(Station::Fence.reading(saw.standoff_block, setting), unit);
                    format!("crosscut, stop at {stop} (fence reads {reading})")
                }
                Some(Station::LongStop) => format!("crosscut, stop at {stop}"),
                Some(Station::ChopSaw) => format!("crosscut at the chop saw, stop at {stop}"),
                Some(Station::Sled) => format!("crosscut on the sled, stop at {stop}"),
            }
        }
        (CutKind::Rip, None) => "rip to the line".to_string(),
        (CutKind::Crosscut, None) => "crosscut to the line".to_string(),
    }
}

/// The pieces that end at some cuts, as letters with their number, and those that are left beyond the last of them.
fn frees(cuts: &[SawCut], board: &Board, letters: &[PartIndex]) -> String {
    let mut freed: Vec<&PlacedPiece> = Vec::new();
    let mut left: Vec<&PlacedPiece> = Vec::new();
    for piece in &board.pieces {
        if cuts.iter().any(|cut| ends_at(cut, piece)) {
            freed.push(piece);
        } else if cuts.last().is_some_and(|last| is_left_by(last, piece, board)) {
            left.push(piece);
        }
    }
    let (freed, left) = (counted(&freed, letters), counted(&left, letters));
    if left.is_empty() { freed } else { format!("{freed}; the rest is {left}") }
}

/// Is a cut along a board?
fn is_along(cut: &SawCut) -> bool {
    cut.kind == CutKind::Rip
}

/// Does a piece end at a cut that is made to a setting?
fn ends_at(cut: &SawCut, piece: &PlacedPiece) -> bool {
    if cut.setting.is_none() {
        return false;
    }
    if is_along(cut) {
        piece.y + piece.width == cut.y0 && piece.x >= cut.x0 && piece.x + piece.length <= cut.x1
    } else {
        piece.x + piece.length == cut.x0 && piece.y >= cut.y0 && piece.y + piece.width <= cut.y1
    }
}

/// Is a piece what a cut to a setting leaves beyond it? Nothing but a trim then ends it.
fn is_left_by(cut: &SawCut, piece: &PlacedPiece, board: &Board) -> bool {
    let begins = if is_along(cut) {
        piece.y == cut.y1 && piece.x >= cut.x0 && piece.x + piece.length <= cut.x1
    } else {
        piece.x == cut.x1 && piece.y >= cut.y0 && piece.y + piece.width <= cut.y1
    };
    let ends = |other: &SawCut| match (is_along(cut), other.kind) {
        (_, CutKind::Trim) => false,
        (true, CutKind::Rip) => {
            other.y0 == piece.y + piece.width && other.x0 <= piece.x && piece.x + piece.length <= other.x1
        }
        (false, CutKind::Crosscut) => {
            other.x0 == piece.x + piece.length && other.y0 <= piece.y && piece.y + piece.width <= other.y1
        }
        _ => false,
    };
    cut.setting.is_some() && begins && !board.cuts.iter().any(ends)
}

/// Pieces as letters with their number.
fn counted(pieces: &[&PlacedPiece], letters: &[PartIndex]) -> String {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for piece in pieces {
        let letter = letters.iter().position(|part| *part == piece.part).unwrap_or(0);
        *counts.entry(letter).or_insert(0) += 1;
    }
    let words = counts.into_iter().map(|(letter, count)| match count {
        1 => letter_of(letter),
        many => format!("{many} {}", letter_of(letter)),
    });
    words.collect::<Vec<_>>().join(", ")
}

/// a, b, ... z, aa, ab, ...
pub fn letter_of(number: usize) -> String {
    letters(number).to_lowercase()
}
