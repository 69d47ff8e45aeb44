//! The lower bound, in integers.
//!
//! For any values of the pieces, Lagrangian relaxation of the demand gives a bound; where stock is
//! not limited the values are first scaled down until no pattern is worth more than its board costs
//! (Farley, Operations Research 38(5), 1990). The restricted master's value is no bound: only this is.
//! Everything is rounded so that an error can only make the bound weaker.
use std::sync::Arc;

use super::prices::ShapePrice;
use crate::index::{SizeIndex, StockIndex, TiVec};
use crate::pattern::Limits;
use crate::solve::problem::Offer;
use crate::solve::tolerances::SCALE_BITS;

/// Dual values in ticks.
#[derive(Debug, Clone, Default)]
pub struct Duals {
    /// By size.
    pub sizes: TiVec<SizeIndex, i64>,
    /// What one board of each stock adds through breaks and minimum orders, rounded up.
    pub sides: TiVec<StockIndex, i64>,
    /// What the breaks and minimum orders add to the bound, rounded down.
    pub side_total: i64,
}

/// A bound with the scale of the feasible point that proves it.
#[derive(Debug, Clone)]
pub struct Bound {
    /// Ticks.
    pub value: i64,
    /// The scale of the duals in units of 2^-40, at most 1.
    pub scale: i64,
}

/// A bound with what it was proven by.
#[derive(Debug, Clone)]
pub struct Proven {
    /// The bound.
    pub bound: Bound,
    /// The values, before they are scaled.
    pub duals: Duals,
    /// The prices of every shape under them.
    pub prices: Vec<ShapePrice>,
    /// The lots that the master did not have then.
    pub idle: Arc<[IdleLot]>,
}

impl Duals {
    /// These values moved by a share of the way to others, rounded so that a bound can only get weaker.
    pub fn towards(&self, others: &Duals, share: f64) -> Duals {
        let between = |from: i64, to: i64| from as f64 + (to - from) as f64 * share;
        let each = |from: &[i64], to: &[i64]| -> Vec<f64> {
            from.iter().zip(to).map(|(from, to)| between(*from, *to)).collect()
        };
        Duals {
            sizes: each(&self.sizes.raw, &others.sizes.raw)
                .iter()
                .map(|value| value.floor() as i64)
                .collect(),
            sides: each(&self.sides.raw, &others.sides.raw)
                .iter()
                .map(|value| value.ceil() as i64 + 1)
                .collect(),
            side_total: between(self.side_total, others.side_total).floor() as i64 - 1,
        }
    }
}

const ONE: i128 = 1 << SCALE_BITS;

/// A lot that the master does not have: what each of its boards on offer costs, in turn.
pub type IdleLot = Vec<Offer>;

/// What a board of an offer is worth at most under some values.
fn worth_of(offer: &Offer, duals: &Duals, prices: &[ShapePrice]) -> i128 {
    let place = prices.binary_search_by_key(&offer.shape, |price| price.shape);
    let bound = place.map_or(0, |place| prices[place].bound);
    i128::from(bound) + i128::from(duals.sides[offer.stock])
}

/// What the first so many boards of a lot, whichever number is best, are worth beyond their price.
pub fn gain_of_lot(lot: &IdleLot, duals: &Duals, prices: &[ShapePrice]) -> i128 {
    most_of_first(lot, |offer| worth_of(offer, duals, prices) - i128::from(offer.cost))
}

/// The largest sum over the first so many boards of a lot, none included.
fn most_of_first(lot: &IdleLot, gain: impl Fn(&Offer) -> i128) -> i128 {
    let sums = lot.iter().scan(0, |sum, offer| {
        *sum += gain(offer);
        Some(*sum)
    });
    sums.max().unwrap_or(0).max(0)
}

/// Gives values to the rows of lots that the master does not have, so that no column of theirs is worth more than it
/// costs. Every board but the last gets what it lacks of its price. The values of a lot's rows add up to nothing over
/// a turn, so the last board gets the negative sum of the others.
pub fn value_idle_lots(duals: &mut Duals, idle: &[IdleLot], prices: &[ShapePrice]) {
    for lot in idle {
        let mut sum = 0;
        for (place, offer) in lot.iter().enumerate() {
            let lacks = i128::from(offer.cost) - worth_of(offer, duals, prices);
            let value = if place + 1 == lot.len() { -sum } else { lacks };
            sum += lacks;
            duals.sides[offer.stock] += value as i64;
        }
    }
}

/// The bound that `duals` prove, given the most that a board of every shape is worth under them. Lots that the master
/// does not have lower it in two ways. The values are scaled down until a whole turn of such a lot is worth no more
/// than it costs. Then the first boards of one turn that gain most are taken off.
pub fn lagrangian(
    duals: &Duals,
    demand: &Limits,
    offers: &[Offer],
    idle: &[IdleLot],
    prices: &[ShapePrice],
) -> Bound {
    let worth = |offer: &Offer| worth_of(offer, duals, prices);
    let mut scale = ONE;
    for offer in offers.iter().filter(|offer| offer.available.is_none()) {
        let worth = worth(offer);
        if worth > i128::from(offer.cost) {
            scale = scale.min(i128::from(offer.cost) * ONE / worth);
        }
    }
    for lot in idle {
        let (worth, cost) =
            lot.iter().fold((0, 0), |(sum, cost), offer| (sum + worth(offer), cost + i128::from(offer.cost)));
        if worth > cost {
            scale = scale.min(cost * ONE / worth);
        }
    }
    let gross: i128 = demand
        .iter()
        .zip(&duals.sizes)
        .map(|(pieces, value)| i128::from(*pieces) * i128::from(*value))
        .sum::<i128>()
        + i128::from(duals.side_total);
    let mut value = (gross * scale).div_euclid(ONE);
    let excess = |offer: &Offer| (worth(offer) * scale + ONE - 1).div_euclid(ONE) - i128::from(offer.cost);
    for offer in offers {
        let Some(available) = offer.available else { continue };
        value -= excess(offer).max(0) * i128::from(available);
    }
    value -= idle.iter().map(|lot| most_of_first(lot, excess)).sum::<i128>();
    Bound { value: i64::try_from(value.max(0)).unwrap_or(i64::MAX), scale: scale as i64 }
}

/// Duals scaled as the bound scaled them, rounded down.
pub fn scaled(value: i64, scale: i64) -> i64 {
    ((i128::from(value) * i128::from(scale)) >> SCALE_BITS) as i64
}
