//! Setup groups: every setting of the fence or the stop, made once for all boards.

use std::collections::{BTreeMap, BTreeSet};

use num_bigint::BigInt;
use num_rational::BigRational;

use super::model::{Board, Boards, Setup, SetupKind};
use super::order::wanted;
use crate::index::{BoardIndex, TiVec};
use crate::job::{Fit, Job, Part, Shop};
use crate::measure::{Length, Money, Overflow};
use crate::pattern::Layout;
use crate::solve::sawn_along;

/// Groups equal settings: rips first, then stops, the largest setting first.
pub fn setups(shop: &Shop, boards: &Boards) -> Vec<Setup> {
    let mut groups: BTreeMap<(SetupKind, std::cmp::Reverse<Length>), Setup> = BTreeMap::new();
    for board in boards {
        for (kind, setting) in board.cuts.iter().filter_map(|cut| cut.setting) {
            let group = groups.entry((kind, std::cmp::Reverse(setting))).or_insert_with(|| {
                let saw = &shop.saw;
                let station = (kind == SetupKind::Stop).then(|| saw.station(setting)).flatten();
                let (reading, beyond_reach) = match kind {
                    SetupKind::Rip => (Some(setting), saw.rips_beyond_reach(setting)),
                    SetupKind::Sheet => (Some(setting), !shop.sheet_saw.reaches(setting)),
                    SetupKind::Stop => (
                        station.map(|station| station.reading(saw.standoff_block, setting)),
                        saw.crosscuts_beyond_reach(setting),
                    ),
                };
                let narrow = kind != SetupKind::Stop && setting < shop.safety.narrowest_rip;
                Setup { kind, setting, station, reading, cuts: 0, boards: Vec::new(), beyond_reach, narrow }
            });
            group.cuts += u64::from(board.copies);
            if group.boards.last() != Some(&board.id) {
                group.boards.push(board.id.clone());
            }
        }
    }
    groups.into_values().collect()
}

/// For each layout, the layout that it is sawn along with, if there is one. Both are of boards of one size,
/// and their first cuts run the same way.
pub fn leaders(boards: &Boards) -> TiVec<BoardIndex, Option<BoardIndex>> {
    let layouts: Vec<_> = boards.iter().map(|board| (of_kind(board), wanted(board))).collect();
    let layouts: Vec<_> = layouts.iter().map(|(kind, settings)| (kind, settings)).collect();
    sawn_along(&layouts).into_iter().map(|leader| leader.map(BoardIndex::from)).collect()
}

/// Boards of one size whose first cuts run the same way; sheets never go along with lumber.
fn of_kind(board: &Board) -> (Length, Length, Layout, bool) {
    (board.length, board.width, board.layout, board.sheet.is_some())
}

/// Settings made where layouts are sawn one after the other, each with all boards that are sawn along.
pub fn settings_by_layout(boards: &Boards) -> usize {
    let first = boards.iter().filter(|board| board.along_with.is_none());
    first.map(|board| wanted(board).len()).sum()
}

/// Settings made where every board is sawn by itself, and sheets cut alike in stacks.
pub fn settings_by_board(shop: &Shop, boards: &Boards) -> u64 {
    let passes = |board: &Board| match board.sheet {
        Some(_) => shop.sheet_saw.passes(board.copies),
        None => board.copies,
    };
    boards.iter().map(|board| u64::from(passes(board)) * wanted(board).len() as u64).sum()
}

/// The settings that a part needs: its width, and its length unless it is cut to a line.
fn of_part(part: &Part) -> impl Iterator<Item = (SetupKind, Length)> {
    let (along, across) = match part.sheet {
        Some(_) => (SetupKind::Sheet, SetupKind::Sheet),
        None => (SetupKind::Rip, SetupKind::Stop),
    };
    let to_stop = part.fit != Fit::ToWork || part.sheet.is_some();
    let stop = to_stop.then_some((across, part.blank.cut_length));
    std::iter::once((along, part.blank.cut_width)).chain(stop)
}

/// Settings whose labour a plan is charged: one for every size that is cut, and one for every other setting
/// that a cut is made at. A last piece that ends at the end trim is cut free by the trim. The trim is then
/// made at the size of that piece.
pub fn charged(job: &Job, boards: &Boards) -> BTreeSet<(SetupKind, Length)> {
    let cuts = boards.iter().flat_map(|board| &board.cuts).filter_map(|cut| cut.setting);
    let pieces = boards.iter().flat_map(|board| &board.pieces);
    cuts.chain(pieces.flat_map(|piece| of_part(&job.parts[piece.part]))).collect()
}

/// Settings that every plan is charged, however its glued parts are glued.
pub fn charged_at_least(job: &Job) -> BTreeSet<(SetupKind, Length)> {
    let of_every_way = |part: &Part, setting: &(SetupKind, Length)| {
        !part.blank.make.is_glued() || setting.0 == SetupKind::Stop
    };
    let parts = job.parts.iter().filter(|part| part.required > 0);
    parts.flat_map(|part| of_part(part).filter(|setting| of_every_way(part, setting))).collect()
}

/// Labour of settings.
///
/// # Errors
/// If the sum is too large to be held exactly.
pub fn setup_cost(shop: &Shop, settings: &BTreeSet<(SetupKind, Length)>) -> Result<Money, Overflow> {
    let minutes: BigRational = settings.iter().map(|(kind, _)| kind.minutes(&shop.labour).to_ratio()).sum();
    let hours = minutes / BigRational::from_integer(BigInt::from(60));
    Money::round_half_up(&(hours * shop.labour.hourly_rate.to_ratio()))
}
