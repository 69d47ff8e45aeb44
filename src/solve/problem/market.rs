//! What boards cost under one assumption about every dealer.
//!
//! A dealer is closed, open at one of his breaks, or undecided. Undecided he sells at his deepest
//! discount without delivery or minimum: a plan cannot do better whatever is decided later, so bounds
//! found under undecided dealers hold for all their decisions.

use std::borrow::Cow;

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{One, ToPrimitive};

use super::instance::{Instance, Source};
use crate::job::{Job, Supplier};
use crate::measure::{Money, Overflow};
use crate::solve::tolerances::{CENT, TICKS_PER_UNIT};

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
    /// Amount of one board of each stock (0 for other stock), in whole currency or board feet; negative
    /// where it is a limit.
    pub amounts: Vec<f64>,
    /// What must be reached. For a minimum order this is what unrounded rows must come to at least, since
    /// rounding may lift them; [`Side::minimum`] is what decides.
    pub least: f64,
    /// For a minimum order, the ticks that rounded rows must reach.
    pub minimum: Option<i64>,
}

impl Side {
    /// What so many boards of each stock still lack of it; nothing or less where it is reached.
    pub fn lacks(&self, market: &Market, boards: &[u32]) -> f64 {
        let his = || boards.iter().enumerate().filter(|(stock, n)| **n > 0 && self.amounts[*stock] != 0.0);
        if let Some(minimum) = self.minimum {
            // The dealer judges the rows as he rounds them.
            let spent: i64 = his().map(|(stock, n)| market.row(stock, *n)).sum();
            return (minimum - spent) as f64 / TICKS_PER_UNIT as f64;
        }
        let sum: f64 = his().map(|(stock, n)| self.amounts[stock] * f64::from(*n)).sum();
        // Amounts are floats: a break that is reached exactly must not be missed by their rounding.
        let lacks = self.least - sum;
        if lacks <= self.least.abs() * ROUNDING_OF_SUMS { 0.0 } else { lacks }
    }
}

/// Costs of one board of each stock, and what else binds.
#[derive(Debug, Clone)]
pub struct Market {
    /// Ticks for one board, rounded down; `None` where it is not to be had.
    pub costs: Vec<Option<i64>>,
    /// The same, precisely, where a row of boards is rounded to a cent.
    pub unit_prices: Vec<Option<UnitPrice>>,
    /// The most ticks that rounding can take off a stock's row.
    pub gains: Vec<i64>,
    /// The most ticks that rounding can add to a stock's row.
    pub lifts: Vec<i64>,
    /// Prices as fractions, where they have a common denominator.
    pub exact: Option<ExactPrices>,
    /// What ties drawn boards together, and after that breaks and minimum orders that must be reached.
    pub sides: Vec<Side>,
    /// How many of those are of drawn boards, whatever the dealers' terms.
    pub turns: usize,
    /// Deliveries, in ticks.
    pub fixed: i64,
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

/// Prices of single boards as whole numbers of one small share of the currency.
#[derive(Debug, Clone)]
pub struct ExactPrices {
    /// So many shares are one unit of the currency.
    pub shares: i128,
    /// By stock, the price of one board; none where it is not to be had.
    pub prices: Vec<Option<i128>>,
}

impl ExactPrices {
    fn new(prices: &[Option<BigRational>]) -> Option<ExactPrices> {
        let mut shares = BigInt::one();
        for price in prices.iter().flatten() {
            shares = shares.lcm(price.denom());
            shares.to_i128().filter(|shares| *shares <= MOST_SHARES)?;
        }
        let whole = |price: &BigRational| (price.numer() * (&shares / price.denom())).to_i128();
        let mut in_shares = Vec::with_capacity(prices.len());
        for price in prices {
            in_shares.push(match price {
                Some(price) => Some(whole(price)?),
                None => None,
            });
        }
        Some(ExactPrices { shares: shares.to_i128()?, prices: in_shares })
    }
}

/// Largest common denominator that leaves room for sums in 128 bits.
const MOST_SHARES: i128 = 1_000_000_000_000_000_000_000_000;

/// Share of a sum of floats by which it may be off.
const ROUNDING_OF_SUMS: f64 = 1e-9;

/// Prices are held to so small a share of the currency, and an exact half a cent is never missed by it.
const PRECISE: i128 = 1_000_000_000_000_000_000_000;
/// Far above the error of a precise price times any number of boards, far below any real difference.
const PRECISE_SLACK: i128 = 1_000_000_000;
/// Rows of more boards than this are taken to gain the most that rounding can give.
const ROWS_SCANNED: u32 = 400;

/// The price of one board, held so that rows of many boards can be rounded as the dealer rounds them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UnitPrice(i128);

impl UnitPrice {
    fn new(price: &BigRational) -> UnitPrice {
        let scaled = (price * BigRational::from_integer(BigInt::from(PRECISE))).round();
        UnitPrice(scaled.to_integer().to_i128().unwrap_or(i128::MAX / 1_000_000_000_000))
    }

    /// Ticks of a row of boards: rounded half up to a cent once.
    pub fn row(self, boards: u32) -> i64 {
        let cent = PRECISE / 100;
        let cents = (self.0.saturating_mul(i128::from(boards)) + cent / 2 + PRECISE_SLACK).div_euclid(cent);
        i64::try_from(cents).unwrap_or(i64::MAX / TICKS_PER_UNIT) * CENT
    }

    /// The most ticks that rounding can take off a row of at most `boards` boards, and the most that it can
    /// add, both rounded up.
    fn most_rounded(self, boards: u32) -> (i64, i64) {
        let cent = PRECISE / 100;
        let (mut gain, mut lift) = (0, 0);
        for boards in 1..=boards.min(ROWS_SCANNED) {
            let row = self.0.saturating_mul(i128::from(boards));
            let cents = (row + cent / 2 + PRECISE_SLACK).div_euclid(cent);
            gain = gain.max(row - cents * cent);
            lift = lift.max(cents * cent - row);
        }
        if boards > ROWS_SCANNED && self.0 % cent != 0 {
            (gain, lift) = (cent / 2, cent / 2);
        }
        let tick = PRECISE / i128::from(TICKS_PER_UNIT);
        // A price that is whole cents up to its last digit is not rounded.
        let ticks = |most: i128| if most <= PRECISE_SLACK { 0 } else { (most / tick) as i64 + 1 };
        (ticks(gain), ticks(lift))
    }
}

/// Whole ticks, rounded down.
fn ticks(amount: &BigRational) -> i64 {
    (amount * BigRational::from_integer(BigInt::from(TICKS_PER_UNIT)))
        .floor()
        .to_integer()
        .to_i64()
        .unwrap_or(i64::MAX / 4)
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
        // A plan buys no more boards than it cuts pieces, and a few for a break or a minimum.
        let pieces: u32 = instance.demand().iter().sum();
        let mut costs = Vec::with_capacity(instance.stocks.len());
        let mut unit_prices = Vec::with_capacity(instance.stocks.len());
        let mut rounded = Vec::with_capacity(instance.stocks.len());
        let mut prices = Vec::with_capacity(instance.stocks.len());
        let mut feet = Vec::with_capacity(instance.stocks.len());
        for stock in &instance.stocks {
            match &stock.source {
                Source::Line(index) | Source::Drawn(index, _) => {
                    let drawn = match &stock.source {
                        Source::Drawn(_, board) => Some(*board),
                        _ => None,
                    };
                    let line = &job.lines[*index];
                    let line = drawn.map_or(Cow::Borrowed(line), |board| Cow::Owned(line.of_drawn(board)));
                    let supplier = &job.suppliers[line.supplier];
                    let price = match off(terms[line.supplier], supplier) {
                        Some(off) => Some(line.price_of_board(supplier)? * share_to_pay(off)),
                        None => None,
                    };
                    costs.push(price.as_ref().map(ticks));
                    let unit = price.as_ref().map(UnitPrice::new).filter(|_| drawn.is_none());
                    let most = stock.available.unwrap_or(pieces.saturating_add(ROWS_SCANNED));
                    rounded.push(match drawn {
                        None => unit.map_or((0, 0), |unit| unit.most_rounded(most)),
                        // All drawn boards of a line are one row, rounded once: the first board stands for it.
                        Some(0) => (CENT / 2, CENT / 2),
                        Some(_) => (0, 0),
                    });
                    unit_prices.push(unit);
                    prices.push(price);
                    feet.push(line.tally(supplier)?.board_feet_f64());
                }
                Source::Rack(boards) => {
                    let value = job.rack[boards[0]].value;
                    costs.push(Some(money_ticks(value)));
                    unit_prices.push(None);
                    rounded.push((0, 0));
                    prices.push(Some(value.to_ratio()));
                    feet.push(0.0);
                }
            }
        }
        let (gains, lifts) = rounded.into_iter().unzip();
        let exact = ExactPrices::new(&prices);
        let sides = in_turn(instance);
        let turns = sides.len();
        let mut market = Market { costs, unit_prices, gains, lifts, exact, sides, turns, fixed: 0 };
        for (index, terms) in terms.iter().enumerate() {
            if let Terms::Open(reached) = terms {
                market.open(instance, index, *reached, &prices, &feet);
            }
        }
        Ok(market)
    }

    /// The most ticks that rounding can take off a row of at most so many boards of a stock.
    pub fn most_gained(&self, stock: usize, boards: u32) -> i64 {
        let gain = self.gains[stock];
        self.unit_prices[stock].map_or(gain, |unit| unit.most_rounded(boards).0.min(gain))
    }

    /// What a row of so many boards of a stock costs, in ticks.
    pub fn row(&self, stock: usize, boards: u32) -> i64 {
        match self.unit_prices[stock] {
            Some(unit) => unit.row(boards),
            None => self.costs[stock].unwrap_or(0) * i64::from(boards),
        }
    }

    fn open(
        &mut self,
        instance: &Instance<'_>,
        supplier: usize,
        reached: usize,
        prices: &[Option<BigRational>],
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
            self.sides.push(Side { amounts: amounts(&|stock| feet[stock]), least, minimum: None });
        }
        if !dealer.minimum_order.is_zero() {
            let cost = |stock: usize| prices[stock].as_ref().and_then(BigRational::to_f64).unwrap_or(0.0);
            let lifted: i64 =
                (0..instance.stocks.len()).filter(|one| his(*one)).map(|one| self.lifts[one]).sum();
            let least = dealer.minimum_order.to_f64() - lifted as f64 / TICKS_PER_UNIT as f64;
            let minimum = Some(money_ticks(dealer.minimum_order));
            self.sides.push(Side { amounts: amounts(&cost), least, minimum });
            // One more break could take the order below the minimum, so it must not be reached.
            if let Some(next) = dealer.breaks.get(reached) {
                let most = next.from.board_feet_f64();
                self.sides.push(Side {
                    amounts: amounts(&|stock| -feet[stock]),
                    least: -most,
                    minimum: None,
                });
            }
        }
    }
}

/// The percentage off under some terms; none where nothing is bought.
fn off(terms: Terms, supplier: &Supplier) -> Option<Money> {
    match terms {
        Terms::Closed => None,
        Terms::Open(reached) => Some(percent_off(supplier, reached)),
        Terms::Undecided => Some(percent_off(supplier, supplier.breaks.len())),
    }
}

/// Drawn boards come in turn: of every two that follow each other there are as many of the first as of the second,
/// or one more. The whole numbers that meet this are those of the first so many boards, and the linear program's
/// numbers are their mixtures: the rows are differences along a chain, so they are totally unimodular.
fn in_turn(instance: &Instance<'_>) -> Vec<Side> {
    let mut sides = Vec::new();
    for lot in &instance.lots {
        let side = |more: usize, fewer: usize, least: f64| {
            let mut amounts = vec![0.0; instance.stocks.len()];
            amounts[more] = 1.0;
            amounts[fewer] = -1.0;
            Side { amounts, least, minimum: None }
        };
        if let [first, .., last] = lot[..] {
            sides.push(side(last, first, -1.0));
        }
        sides.extend(lot.windows(2).rev().map(|pair| side(pair[0], pair[1], 0.0)));
    }
    sides
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_rounded_as_money_is_and_gain_no_more_than_promised() {
        for (numerator, denominator) in [(10_004i64, 1000i64), (1, 3), (12_345, 1000), (999, 700), (5, 1)] {
            let price = BigRational::new(numerator.into(), denominator.into());
            let unit = UnitPrice::new(&price);
            for boards in 1u32..2000 {
                let row = &price * BigRational::from_integer(boards.into());
                let paid = money_ticks(Money::round_half_up(&row).unwrap());
                assert_eq!(unit.row(boards), paid, "{numerator}/{denominator} x {boards}");
                assert!(paid <= ticks(&row) + 1 + unit.most_rounded(boards).1);
                assert!(
                    paid >= ticks(&row) - unit.most_rounded(boards).0,
                    "{numerator}/{denominator} x {boards}"
                );
            }
        }
    }
}
