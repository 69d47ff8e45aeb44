//! The dive: fix whole boards of the linear program, price again for what is left, repeat.
//!
//! Diving with residual column generation (Sadykov, Vanderbeck, Pessoa, Tahiri and Uchoa, INFORMS
//! Journal on Computing 31(2), 2019), without backtracking: its variety comes from [`Style`].

use std::collections::BTreeMap;

use super::exact::{Exactly, exactly};
use super::mip::Backend;
use crate::index::{LotIndex, PatternIndex, SizeIndex, StockIndex, TiVec, ti_vec};
use crate::pattern::{Pattern, Values};
use crate::solve::problem::{Cut, Offer, Task, merged};
use crate::solve::relax::{Duals, Generated, Pool, Pricer, ShapePrice, generate_from};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// How a dive chooses.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    /// Levels from which a board is fixed although the level is not whole.
    pub round_up_from: f64,
    /// Finish exactly once so few pieces are left.
    pub exact_pieces: u32,
    /// What solves the exact finish.
    pub backend: Backend,
}

impl Default for Style {
    fn default() -> Style {
        Style { round_up_from: 0.9, exact_pieces: 10, backend: Backend::default() }
    }
}

/// Dives from a task; `None` if it ran into a dead end or out of time.
pub fn dive(task: &Task<'_>, pool: &mut Pool, style: Style, stop: &Stop) -> Option<Vec<Cut>> {
    let mut rest = task.clone();
    let mut cuts = Vec::new();
    let mut parent: Option<Duals> = None;
    while rest.is_open() {
        if stop.is_due() {
            return None;
        }
        let generated = generate_from(&rest, pool, parent.as_ref(), i64::MAX, stop);
        if generated.unmet {
            return None;
        }
        let left: u32 = rest.demand.iter().sum();
        if left <= style.exact_pieces
            && let Exactly::Plan(finish) =
                exactly(&rest, &generated, pool, None, tol::EXACT_NODES, style.backend, stop)
        {
            cuts.extend(finish);
            return Some(merged(cuts));
        }
        let fixed = fix(&mut rest, &generated, pool, style);
        if fixed.is_empty() {
            return None;
        }
        cuts.extend(fixed);
        parent = Some(generated.duals);
    }
    top_up(&mut rest, pool, &mut cuts)?;
    Some(merged(cuts))
}

/// Buys what a break or a minimum order still lacks, as cheaply as one board at a time can, and the boards that
/// come in turn with others.
pub fn top_up(rest: &mut Task<'_>, pool: &mut Pool, cuts: &mut Vec<Cut>) -> Option<()> {
    let mut bought = true;
    // What is bought for one side may be missing from another.
    while std::mem::take(&mut bought) {
        for place in 0..rest.side_least.len() {
            loop {
                let lacks = rest.market.sides[place].lacks(rest.market, &rest.elsewhere);
                if lacks <= 0.0 {
                    break;
                }
                let amounts = &rest.market.sides[place].amounts;
                // The cost of what the board adds towards the rest; more than the rest adds nothing.
                let rate = |(stock, amount): &(StockIndex, f64)| -> Option<(f64, StockIndex)> {
                    let cost = rest.market.costs[*stock]? as f64;
                    let usable = *amount > 0.0 && rest.available[*stock] != Some(0);
                    usable.then(|| (cost / amount.min(lacks), *stock))
                };
                let (_, stock) =
                    amounts.iter().filter_map(rate).min_by(|one, other| one.0.total_cmp(&other.0))?;
                let shape = rest.instance.stocks[stock].shape;
                let (pattern, _) = pool.take(shape, Pattern::empty());
                rest.take(stock, &[]);
                cuts.push(Cut { stock, pattern, copies: 1 });
                bought = true;
            }
        }
    }
    Some(())
}

/// A complete plan in one sweep, whatever the time: the board whose pieces are worth most for its
/// price, again and again. `values` are dual values of the pieces, or anything like them.
pub fn greedy(task: &Task<'_>, pool: &mut Pool, values: &Values) -> Option<Vec<Cut>> {
    let mut rest = task.clone();
    // A piece without a value would never be cut.
    let values: TiVec<SizeIndex, i64> = values.iter().map(|value| (*value).max(1)).collect();
    let mut cuts = Vec::new();
    while rest.is_open() {
        // Of a lot only the board that comes next can be had.
        let next = rest.next_in_turn(&rest.elsewhere);
        let lots = &rest.instance.lots;
        let comes_next = |stock: StockIndex| {
            let lot = rest.instance.stocks[stock].lot;
            lot.is_none_or(|lot| lots[lot][next[lot]] == stock)
        };
        let mut offers = rest.offers();
        offers.retain(|offer| comes_next(offer.stock));
        let (stock, pattern) = best_of(&rest, pool, &values, &offers)?;
        let counts = rest.cut_down(&pool.patterns[pattern].counts);
        let lot = rest.instance.stocks[stock].lot;
        let mut copies = 0;
        let most = if lot.is_some() { 1 } else { u32::MAX };
        while copies < most && rest.is_open() && rest.takes_whole(&counts) && rest.take(stock, &counts) {
            copies += 1;
        }
        if copies == 0 {
            return None;
        }
        let cut = Cut { stock, pattern, copies };
        match lot.filter(|_| rest.demand.iter().sum::<u32>() > tol::PIECES_OF_A_ROUND) {
            Some(lot) => cuts.extend(rounds(&mut rest, pool, &values, lot, cut)),
            None => cuts.push(cut),
        }
    }
    top_up(&mut rest, pool, &mut cuts)?;
    Some(merged(cuts))
}

/// The board that is worth most for its price, with its pattern.
fn best_of(
    rest: &Task<'_>,
    pool: &mut Pool,
    values: &Values,
    offers: &[Offer],
) -> Option<(StockIndex, PatternIndex)> {
    let least = ti_vec![0; rest.instance.shapes.len()];
    let prices = Pricer::new(rest, offers).price(values, &rest.demand, &least);
    let (Offer { stock, shape, .. }, pattern) = most_for_its_price(rest, offers, &prices)?;
    let (pattern, _) = pool.take(shape, pattern.clone());
    Some((stock, pattern))
}

/// The boards of a lot once around, from the first, which is taken already, and then all of them again as often as half of
/// what is left allows: where many pieces are wanted, a search for every single board would take too long.
fn rounds(rest: &mut Task<'_>, pool: &mut Pool, values: &Values, lot: LotIndex, first: Cut) -> Vec<Cut> {
    let boards = &rest.instance.lots[lot];
    let mut round = vec![first];
    while round.len() < boards.len() {
        let stock = boards[rest.next_in_turn(&rest.elsewhere)[lot]];
        let Some(offer) = rest.offer_of(stock) else { return round };
        let Some((stock, pattern)) = best_of(rest, pool, values, &[offer]) else { return round };
        let counts = rest.cut_down(&pool.patterns[pattern].counts);
        rest.take_many(stock, &counts, 1);
        round.push(Cut { stock, pattern, copies: 1 });
    }
    let mut held: BTreeMap<SizeIndex, u32> = BTreeMap::new();
    for (size, n) in round.iter().flat_map(|cut| &pool.patterns[cut.pattern].counts) {
        *held.entry(*size).or_default() += n;
    }
    let wanted = held.iter().map(|(size, n)| rest.demand[*size] / n).min().unwrap_or(0) / 2;
    let again = round.iter().filter_map(|cut| rest.available[cut.stock]).fold(wanted, u32::min);
    for cut in &mut round {
        rest.take_many(cut.stock, &pool.patterns[cut.pattern].counts, again);
        cut.copies += again;
    }
    round
}

/// The pattern whose pieces, all of them wanted, are worth most for the price of its board.
pub fn most_for_its_price<'p>(
    rest: &Task<'_>,
    offers: &[Offer],
    prices: &'p [ShapePrice],
) -> Option<(Offer, &'p Pattern)> {
    let mut best: Option<(f64, Offer, &Pattern)> = None;
    for offer in offers {
        let Ok(place) = prices.binary_search_by_key(&offer.shape, |price| price.shape) else { continue };
        for (pattern, worth) in &prices[place].patterns {
            let score = *worth as f64 / (offer.cost as f64 + 1.0);
            let better = best.as_ref().is_none_or(|(score_so_far, ..)| score > *score_so_far);
            if *worth > 0 && better && rest.needs_whole(offer.shape, pattern) {
                best = Some((score, *offer, pattern));
            }
        }
    }
    best.map(|(_, offer, pattern)| (offer, pattern))
}

/// Fixes whole boards, or the most promising one.
fn fix(rest: &mut Task<'_>, generated: &Generated, pool: &Pool, style: Style) -> Vec<Cut> {
    let mut fixed = Vec::new();
    let mut by_level: Vec<(usize, f64)> = generated.used.clone();
    by_level.sort_by(|one, other| other.1.total_cmp(&one.1).then(one.0.cmp(&other.0)));
    for (column, level) in &by_level {
        let mut whole = (level + tol::WHOLE).floor();
        if level - whole >= style.round_up_from {
            whole += 1.0;
        }
        let column = &generated.columns[*column];
        let mut copies = 0;
        while f64::from(copies) < whole && rest.takes_whole(&pool.patterns[column.pattern].counts) {
            if !rest.take(column.stock, &pool.patterns[column.pattern].counts) {
                break;
            }
            copies += 1;
        }
        if copies > 0 {
            fixed.push(Cut { stock: column.stock, pattern: column.pattern, copies });
        }
    }
    if fixed.is_empty() {
        let whole_first = by_level
            .iter()
            .find(|(column, _)| rest.takes_whole(&pool.patterns[generated.columns[*column].pattern].counts))
            .or(by_level.first());
        if let Some((column, level)) = whole_first {
            let column = &generated.columns[*column];
            let mut copies = 0;
            // Half as often as its level says: the pattern holds a piece more than is wanted. One board at a time
            // would be slow where the demand is large.
            while f64::from(copies) < (level / 2.0).floor().max(1.0)
                && rest.take(column.stock, &pool.patterns[column.pattern].counts)
            {
                copies += 1;
            }
            if copies > 0 {
                fixed.push(Cut { stock: column.stock, pattern: column.pattern, copies });
            }
        }
    }
    fixed
}
