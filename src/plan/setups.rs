//! Setup groups: every setting of the fence or the stop, made once for all boards.

use std::collections::{BTreeMap, BTreeSet};

use num_bigint::BigInt;
use num_rational::BigRational;

use super::model::{Board, Setup, SetupKind};
use super::order::wanted;
use crate::job::Shop;
use crate::measure::{Length, Money, Overflow};

/// Groups equal settings: rips first, then stops, the largest setting first.
pub fn setups(shop: &Shop, boards: &[Board]) -> Vec<Setup> {
    let mut groups: BTreeMap<(SetupKind, std::cmp::Reverse<Length>), Setup> = BTreeMap::new();
    for board in boards {
        for (kind, setting) in board.cuts.iter().filter_map(|cut| cut.setting) {
            let group = groups.entry((kind, std::cmp::Reverse(setting))).or_insert_with(|| {
                let (fence_reading, reach) = match kind {
                    SetupKind::Rip => (setting, shop.saw.max_rip_width),
                    SetupKind::Stop => (setting + shop.saw.standoff_block, shop.saw.max_crosscut_length),
                };
                let beyond_reach = setting > reach;
                let narrow = kind == SetupKind::Rip && setting < shop.safety.narrowest_rip;
                Setup { kind, setting, fence_reading, cuts: 0, boards: Vec::new(), beyond_reach, narrow }
            });
            group.cuts += u64::from(board.copies);
            if group.boards.last() != Some(&board.id) {
                group.boards.push(board.id.clone());
            }
        }
    }
    groups.into_values().collect()
}

/// Settings made where layouts are sawn one after the other, each with all boards that are cut alike.
pub fn settings_by_layout(boards: &[Board]) -> usize {
    // Layouts that differ only in which parts the pieces are for are sawn as one.
    let layouts: BTreeSet<_> =
        boards.iter().map(|board| (board.length, board.width, board.layout, wanted(board))).collect();
    layouts.iter().map(|(.., settings)| settings.len()).sum()
}

/// Settings made where every board is sawn by itself.
pub fn settings_by_board(boards: &[Board]) -> u64 {
    boards.iter().map(|board| u64::from(board.copies) * wanted(board).len() as u64).sum()
}

/// Labour of `rips` rip settings and `stops` stop settings.
///
/// # Errors
/// If the sum is too large to be held exactly.
pub fn setup_cost(shop: &Shop, rips: usize, stops: usize) -> Result<Money, Overflow> {
    let count = |settings: usize| BigRational::from_integer(BigInt::from(settings));
    let minutes = count(rips) * shop.labour.rip_setup_minutes.to_ratio()
        + count(stops) * shop.labour.stop_setup_minutes.to_ratio();
    let hours = minutes / BigRational::from_integer(BigInt::from(60));
    Money::round_half_up(&(hours * shop.labour.hourly_rate.to_ratio()))
}

/// Number of settings of each kind.
pub fn count(setups: &[Setup]) -> (usize, usize) {
    let rips = setups.iter().filter(|setup| setup.kind == SetupKind::Rip).count();
    (rips, setups.len() - rips)
}
