//! What boards cost under one assumption about every dealer.
//!
//! A dealer is closed, open at one of his breaks, or undecided. Undecided he sells at his deepest
//! discount without delivery or minimum: a plan cannot do better whatever is decided later, so bounds
//! found under undecided dealers hold for all their decisions.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, ToPrimitive, Zero};

use super::instance::{Instance, Source};
use super::tolerances::TICKS_PER_UNIT;
use crate::job::{Job, Per, PriceLine, Supplier};
use crate::measure::{Money, Overflow};

/// What is assumed of one dealer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Terms {
    /// Not yet decided.
    Undecided,
    /// Nothing is bought there.
    Closed,
    /// Something is bought, and this many of his breaks are reached.
    Open(usize),
}

/// Something that a dealer's order must reach: `sum of amounts >= least`.
#[derive(Debug, Clone)]
pub struct Side {
    /// Amount of one board of each stock (0 for other stock), in whole currency or board feet.
    pub amounts: Vec<f64>,
    /// What must be reached.
    pub least: f64,
}

/// Costs of one board of each stock, and what else binds.
#[derive(Debug, Clone)]
pub struct Market {
    /// Ticks for one board; `None` where it is not to be had.
    pub costs: Vec<Option<i64>>,
    /// Breaks and minimum orders that must be reached.
    pub sides: Vec<Side>,
    /// Deliveries, in ticks.
    pub fixed: i64,
}

/// The exact price of one board before any break.
pub fn board_price(line: &PriceLine, supplier: &Supplier) -> Result<BigRational, Overflow> {
    let measure = match line.per {
        Per::BoardFoot => line.tally(supplier)?.board_feet(),
        Per::Piece => BigRational::one(),
        Per::Foot => {
            let foot = crate::measure::Length::inches(12);
            BigRational::new(BigInt::from(line.length.base()), BigInt::from(foot.base()))
        }
        Per::CubicMetre => line.volume().cubic_metres(),
    };
    Ok(measure * line.price.to_ratio())
}

/// The share that is left to pay after a percentage off.
pub fn share_to_pay(percent_off: Money) -> BigRational {
    let hundred = BigRational::from_integer(BigInt::from(100));
    (&hundred - percent_off.to_ratio()) / hundred
}

/// Percent off once `reached` breaks are reached.
pub fn percent_off(supplier: &Supplier, reached: usize) -> Money {
    reached.checked_sub(1).map_or(Money::ZERO, |place| supplier.breaks[place].percent_off)
}

/// Does anything about this dealer need a decision?
pub fn needs_decision(supplier: &Supplier) -> bool {
    !supplier.delivery.is_zero() || !supplier.minimum_order.is_zero() || !supplier.breaks.is_empty()
}

/// The least that one more board can cost, in ticks rounded down: a row is rounded to a cent once,
/// so `n` boards may cost up to half a cent less than `n` times the price.
fn least_unit_cost(price: &BigRational) -> i64 {
    /// Rows of more boards gain less than half a cent divided by this.
    const SCANNED: u32 = 200;
    let cents = price * BigRational::from_integer(BigInt::from(100));
    if cents.is_integer() {
        return ticks(price);
    }
    let half = BigRational::new(BigInt::from(1), BigInt::from(2));
    let mut least = &cents - &half / BigRational::from_integer(BigInt::from(SCANNED));
    for boards in 1..=SCANNED {
        let boards = BigRational::from_integer(BigInt::from(boards));
        let each = (&cents * &boards + &half).floor() / boards;
        if each < least {
            least = each;
        }
    }
    ticks(&(least / BigRational::from_integer(BigInt::from(100))))
}

/// Whole ticks, rounded down.
fn ticks(amount: &BigRational) -> i64 {
    (amount * BigRational::from_integer(BigInt::from(TICKS_PER_UNIT))).floor().to_integer().to_i64().unwrap_or(i64::MAX / 4)
}

/// Ticks of an amount, rounded down.
pub fn money_ticks(amount: Money) -> i64 {
    ticks(&amount.to_ratio())
}

impl Market {
    /// Prices of all stock under `terms`, one for each supplier.
    ///
    /// # Errors
    /// If a price is too large to be held exactly.
    pub fn new(instance: &Instance<'_>, terms: &[Terms]) -> Result<Market, Overflow> {
        let job = instance.job;
        let mut costs = Vec::with_capacity(instance.stocks.len());
        let mut prices = Vec::with_capacity(instance.stocks.len());
        let mut feet = Vec::with_capacity(instance.stocks.len());
        for stock in &instance.stocks {
            match &stock.source {
                Source::Line(index) => {
                    let line = &job.lines[*index];
                    let supplier = &job.suppliers[line.supplier];
                    let off = match terms[line.supplier] {
                        Terms::Closed => None,
                        Terms::Open(reached) => Some(percent_off(supplier, reached)),
                        Terms::Undecided => Some(percent_off(supplier, supplier.breaks.len())),
                    };
                    let price = match off {
                        Some(off) => Some(board_price(line, supplier)? * share_to_pay(off)),
                        None => None,
                    };
                    costs.push(price.as_ref().map(|price| least_unit_cost(price).max(1)));
                    prices.push(price.unwrap_or_else(BigRational::zero));
                    feet.push(line.tally(supplier)?.board_feet_f64());
                }
                Source::Rack(boards) => {
                    let value = job.rack[boards[0]].value;
                    costs.push(Some(money_ticks(value)));
                    prices.push(value.to_ratio());
                    feet.push(0.0);
                }
            }
        }
        let mut market = Market { costs, sides: Vec::new(), fixed: 0 };
        for (index, terms) in terms.iter().enumerate() {
            if let Terms::Open(reached) = terms {
                market.open(instance, index, *reached, &prices, &feet);
            }
        }
        Ok(market)
    }

    fn open(
        &mut self,
        instance: &Instance<'_>,
        supplier: usize,
        reached: usize,
        prices: &[BigRational],
        feet: &[f64],
    ) {
        let job: &Job = instance.job;
        let dealer = &job.suppliers[supplier];
        self.fixed += money_ticks(dealer.delivery);
        let his = |stock: usize| instance.supplier(stock) == Some(supplier);
        let amounts = |amount: &dyn Fn(usize) -> f64| -> Vec<f64> {
            (0..instance.stocks.len()).map(|stock| if his(stock) { amount(stock) } else { 0.0 }).collect()
        };
        if let Some(step) = reached.checked_sub(1) {
            let least = dealer.breaks[step].from.board_feet_f64();
            self.sides.push(Side { amounts: amounts(&|stock| feet[stock]), least });
        }
        if !dealer.minimum_order.is_zero() {
            let cost = |stock: usize| prices[stock].to_f64().unwrap_or(0.0);
            self.sides.push(Side { amounts: amounts(&cost), least: dealer.minimum_order.to_f64() });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_of_boards_costs_less_than_the_least_unit_cost() {
        for (numerator, denominator) in [(10_004i64, 1000i64), (1, 3), (12_345, 1000), (999, 700), (5, 1)] {
            let price = BigRational::new(numerator.into(), denominator.into());
            let least = least_unit_cost(&price);
            for boards in 1i64..2000 {
                let row = &price * BigRational::from_integer(boards.into());
                let paid = money_ticks(Money::round_half_up(&row).unwrap());
                assert!(paid >= least * boards, "{numerator}/{denominator} x {boards}");
            }
        }
    }
}
