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

use super::bill::{Bill, ROWS_SCANNED, UnitPrice, money_ticks, ticks, ticks_in_cents};
use super::instance::{Instance, Supply};
use crate::index::{StockIndex, SupplierIndex, TiSlice, TiVec, ti_vec};
use crate::job::{Job, Supplier, share_of};
use crate::measure::{Money, Overflow};
use crate::solve::tolerances::TICKS_PER_UNIT;

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

/// Boards of each stock.
pub type BoardsByStock = TiSlice<StockIndex, u32>;

/// Something that a dealer's order must reach: `sum of amounts >= least`.
#[derive(Debug, Clone)]
pub struct Side {
    /// Amount of one board, by stock, where it counts at all; in whole currency, board feet or boards, and
    /// negative where it is a limit.
    pub amounts: Vec<(StockIndex, f64)>,
    /// What must be reached. For a minimum order this is what unrounded rows must come to at least, since
    /// rounding may lift them; [`Side::minimum`] is what decides.
    pub least: f64,
    /// For a minimum order, the ticks that rounded rows must reach.
    pub minimum: Option<i64>,
}

impl Side {
    /// What so many boards of each stock still lack of it; nothing or less where it is reached.
    pub fn lacks(&self, market: &Market, boards: &BoardsByStock) -> f64 {
        if let Some(minimum) = self.minimum {
            // The dealer judges the rows as he rounds them.
            let spent = market.spent(self.amounts.iter().map(|(stock, _)| (*stock, boards[*stock])));
            return (minimum - spent) as f64 / TICKS_PER_UNIT as f64;
        }
        let sum: f64 = self.amounts.iter().map(|(stock, amount)| amount * f64::from(boards[*stock])).sum();
        // Amounts are floats: a break that is reached exactly must not be missed by their rounding.
        let lacks = self.least - sum;
        if lacks <= self.least.abs() * ROUNDING_OF_SUMS { 0.0 } else { lacks }
    }
}

/// Costs of one board of each stock, and what else binds.
#[derive(Debug, Clone)]
pub struct Market {
    /// Ticks for one board, rounded down; `None` where it is not to be had.
    pub costs: TiVec<StockIndex, Option<i64>>,
    /// By stock, the row of a dealer's bill that it is on; none for the rack, and where it is not to be had.
    bill_of: TiVec<StockIndex, Option<usize>>,
    /// The rows.
    bills: Vec<Bill>,
    /// Prices as fractions, where they have a common denominator.
    pub exact: Option<ExactPrices>,
    /// What ties drawn boards together, and after that breaks and minimum orders that must be reached.
    pub sides: Vec<Side>,
    /// By stock, the sides that count it, in their order, and its amount.
    sides_of: TiVec<StockIndex, Vec<(usize, f64)>>,
    /// How many sides are of drawn boards, whatever the dealers' terms.
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
    pub prices: TiVec<StockIndex, Option<i128>>,
}

impl ExactPrices {
    fn new(prices: &TiSlice<StockIndex, Option<BigRational>>) -> Option<ExactPrices> {
        let mut shares = BigInt::one();
        for price in prices.iter().flatten() {
            shares = shares.lcm(price.denom());
            shares.to_i128().filter(|shares| *shares <= MOST_SHARES)?;
        }
        let whole = |price: &BigRational| (price.numer() * (&shares / price.denom())).to_i128();
        let mut in_shares = TiVec::with_capacity(prices.len());
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

impl Market {
    /// Prices of all stock under `terms`, one for each supplier.
    ///
    /// # Errors
    /// If a price is too large to be held exactly.
    pub fn new(instance: &Instance, terms: &TiSlice<SupplierIndex, Terms>) -> Result<Market, Overflow> {
        let job = &instance.job;
        let mut costs = TiVec::with_capacity(instance.stocks.len());
        let mut prices = TiVec::with_capacity(instance.stocks.len());
        let mut feet = TiVec::with_capacity(instance.stocks.len());
        for stock in &instance.stocks {
            match &stock.source {
                Supply::Line(index) | Supply::Drawn(index, _) => {
                    let drawn = match &stock.source {
                        Supply::Drawn(_, board) => Some(*board),
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
                    prices.push(price);
                    feet.push(line.tally(supplier)?.board_feet_f64());
                }
                Supply::Rack(boards) => {
                    let value = job.rack[boards[0]].value;
                    costs.push(Some(money_ticks(value)));
                    prices.push(Some(value.to_ratio()));
                    feet.push(0.0);
                }
            }
        }
        let exact = ExactPrices::new(&prices);
        let (bills, bill_of) = bills(instance, &prices);
        let sides = in_turn(instance);
        let turns = sides.len();
        let mut market =
            Market { costs, bill_of, bills, exact, sides, sides_of: TiVec::new(), turns, fixed: 0 };
        for (index, terms) in terms.iter_enumerated() {
            if let Terms::Open(reached) = terms {
                market.open(instance, index, *reached, &prices, &feet);
            }
        }
        market.sides_of = sides_of(&market.sides, instance.stocks.len());
        Ok(market)
    }

    /// The same without what dealers ask for: only drawn boards are tied together.
    pub fn without_terms(&self) -> Market {
        let sides = self.sides[..self.turns].to_vec();
        Market { sides_of: sides_of(&sides, self.costs.len()), sides, ..self.clone() }
    }

    /// The sides that count a stock, and its amount.
    pub fn sides_of(&self, stock: StockIndex) -> &[(usize, f64)] {
        &self.sides_of[stock]
    }

    /// Does a board of the one stock count for as much as one of the other, whatever a dealer asks for?
    pub fn counts_as_much(&self, one: StockIndex, other: StockIndex) -> bool {
        let mut both = [one, other].into_iter().flat_map(|stock| &self.sides_of[stock]);
        both.all(|(side, _)| self.amount(one, *side) >= self.amount(other, *side))
    }

    /// What one board of a stock counts for a side.
    pub fn amount(&self, stock: StockIndex, side: usize) -> f64 {
        let amounts = &self.sides_of[stock];
        amounts.iter().find(|(place, _)| *place == side).map_or(0.0, |(_, amount)| *amount)
    }

    /// The row of a dealer's bill that a stock is on; none for the rack.
    pub fn bill_of(&self, stock: StockIndex) -> Option<usize> {
        self.bill_of[stock]
    }

    /// The most ticks that rounding can take off the row of a stock.
    pub fn gain(&self, stock: StockIndex) -> i64 {
        self.bill_of[stock].map_or(0, |bill| self.gain_of(bill))
    }

    /// The most ticks that rounding can take off a row.
    pub fn gain_of(&self, bill: usize) -> i64 {
        self.bills[bill].gain
    }

    /// How many of a row's boards there are among these, by stock, if they are the first so many of it.
    pub fn first_boards(&self, bill: usize, boards: &BoardsByStock) -> Option<u32> {
        let boards: Vec<u32> = self.bills[bill].stocks.iter().map(|stock| boards[*stock]).collect();
        let all: u32 = boards.iter().sum();
        let share = |place: usize| share_of(u64::from(all), place, boards.len());
        boards.iter().enumerate().all(|(place, many)| u64::from(*many) == share(place)).then_some(all)
    }

    /// The rows that some stock is on, each once.
    pub fn bills(&self, stocks: impl Iterator<Item = StockIndex>) -> Vec<usize> {
        let mut bills: Vec<usize> = stocks.filter_map(|stock| self.bill_of[stock]).collect();
        bills.sort_unstable();
        bills.dedup();
        bills
    }

    /// The most ticks that rounding can take off all rows of boards of some stock.
    pub fn most_gained(&self, stocks: impl Iterator<Item = StockIndex>) -> i64 {
        self.bills(stocks).into_iter().map(|bill| self.bills[bill].gain).sum()
    }

    /// The most ticks that rounding can take off a row of at most so many boards.
    pub fn most_gained_of(&self, bill: usize, boards: u32) -> i64 {
        let bill = &self.bills[bill];
        bill.most_rounded(boards).0.min(bill.gain)
    }

    /// Can rounding change a row?
    pub fn is_rounded(&self, bill: usize) -> bool {
        self.bills[bill].gain > 0 || self.bills[bill].lift > 0
    }

    /// The boards of a row that can be had, of what can be had by stock.
    pub fn most_boards(&self, bill: usize, available: &TiSlice<StockIndex, Option<u32>>) -> Option<u32> {
        let stocks = &self.bills[bill].stocks;
        stocks.iter().try_fold(0u32, |sum, stock| Some(sum.saturating_add(available[*stock]?)))
    }

    /// Ticks of the first so many boards of a row.
    pub fn row(&self, bill: usize, boards: u32) -> i64 {
        self.bills[bill].row(boards)
    }

    /// What boards cost, in ticks; boards of one row must follow each other.
    pub fn spent(&self, boards: impl Iterator<Item = (StockIndex, u32)>) -> i64 {
        let mut spent = 0;
        let mut open: Option<(usize, i128)> = None;
        for (stock, many) in boards {
            let Some(bill) = self.bill_of[stock] else {
                spent += self.costs[stock].unwrap_or(0) * i64::from(many);
                continue;
            };
            let row = &self.bills[bill];
            let price = row.price_of(stock).times(many);
            match &mut open {
                Some((row, sum)) if *row == bill => *sum += price,
                other => {
                    let before = other.replace((bill, price));
                    spent += before.map_or(0, |(_, sum)| ticks_in_cents(sum));
                }
            }
        }
        spent + open.map_or(0, |(_, sum)| ticks_in_cents(sum))
    }

    fn open(
        &mut self,
        instance: &Instance,
        supplier: SupplierIndex,
        reached: usize,
        prices: &TiSlice<StockIndex, Option<BigRational>>,
        feet: &TiSlice<StockIndex, f64>,
    ) {
        let job: &Job = &instance.job;
        let dealer = &job.suppliers[supplier];
        self.fixed += money_ticks(dealer.delivery);
        let his = |stock: StockIndex| instance.supplier(stock) == Some(supplier);
        let stocks: Vec<StockIndex> = instance.stocks.keys().filter(|stock| his(*stock)).collect();
        let amounts = |amount: &dyn Fn(StockIndex) -> f64| -> Vec<(StockIndex, f64)> {
            let each = stocks.iter().map(|stock| (*stock, amount(*stock)));
            each.filter(|(_, amount)| *amount != 0.0).collect()
        };
        if let Some(step) = reached.checked_sub(1) {
            let least = dealer.breaks[step].from.board_feet_f64();
            self.sides.push(Side { amounts: amounts(&|stock| feet[stock]), least, minimum: None });
        }
        if !dealer.minimum_order.is_zero() {
            let cost =
                |stock: StockIndex| prices[stock].as_ref().and_then(BigRational::to_f64).unwrap_or(0.0);
            let rows = self.bills(stocks.iter().copied());
            let lifted: i64 = rows.into_iter().map(|bill| self.bills[bill].lift).sum();
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

/// The rows of the dealers' bills, and by stock the row that it is on. All drawn boards of a line are one row.
fn bills(
    instance: &Instance,
    prices: &TiSlice<StockIndex, Option<BigRational>>,
) -> (Vec<Bill>, TiVec<StockIndex, Option<usize>>) {
    // A plan buys no more boards than it cuts pieces, and a few for a break or a minimum.
    let pieces: u32 = instance.demand().iter().sum();
    let most =
        |stock: StockIndex| instance.stocks[stock].available.unwrap_or(pieces.saturating_add(ROWS_SCANNED));
    let mut bills = Vec::new();
    let mut bill_of = ti_vec![None; prices.len()];
    let mut next = instance.stocks.keys();
    for row in instance.stocks.raw.chunk_by(|one, other| one.lot.is_some() && one.lot == other.lot) {
        let stocks: Vec<StockIndex> = next.by_ref().take(row.len()).collect();
        let priced: Option<Vec<UnitPrice>> =
            stocks.iter().map(|stock| prices[*stock].as_ref().map(UnitPrice::new)).collect();
        if let (Some(priced), false) = (priced, matches!(row[0].source, Supply::Rack(_))) {
            stocks.iter().for_each(|stock| bill_of[*stock] = Some(bills.len()));
            let boards = stocks.iter().fold(0u32, |sum, stock| sum.saturating_add(most(*stock)));
            bills.push(Bill::new(stocks, priced, boards));
        }
    }
    (bills, bill_of)
}

/// By stock, the sides that count it, and its amount.
fn sides_of(sides: &[Side], stocks: usize) -> TiVec<StockIndex, Vec<(usize, f64)>> {
    let mut sides_of = ti_vec![Vec::new(); stocks];
    for (place, side) in sides.iter().enumerate() {
        side.amounts.iter().for_each(|(stock, amount)| sides_of[*stock].push((place, *amount)));
    }
    sides_of
}

/// Drawn boards come in turn: of every two that follow each other there are as many of the first as of the second,
/// or one more. The whole numbers that meet this are those of the first so many boards, and the linear program's
/// numbers are their mixtures: the rows are differences along a chain, so they are totally unimodular.
fn in_turn(instance: &Instance) -> Vec<Side> {
    let mut sides = Vec::new();
    for lot in &instance.lots {
        let side = |more: StockIndex, fewer: StockIndex, least: f64| {
            let mut amounts = vec![(more, 1.0), (fewer, -1.0)];
            amounts.sort_unstable_by_key(|(stock, _)| *stock);
            Side { amounts, least, minimum: None }
        };
        if let [first, .., last] = lot[..] {
            sides.push(side(last, first, -1.0));
        }
        sides.extend(lot.windows(2).rev().map(|pair| side(pair[0], pair[1], 0.0)));
    }
    sides
}
