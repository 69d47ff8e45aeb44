//! A demand to be met from a market.

use std::collections::BTreeSet;

use super::column::{Counts, Cut};
use super::instance::{Blanks, Instance, blanks_in};
use super::market::{BoardsByStock, Market};
use crate::index::{LotIndex, ShapeIndex, SizeIndex, StockIndex, TiVec, ti_vec};
use crate::pattern::{Limits, Pattern, Piece, Rect, Values};
use crate::solve::tolerances as tol;

/// A demand to be met from a market.
#[derive(Debug, Clone)]
pub struct Task<'a> {
    /// The job.
    pub instance: &'a Instance,
    /// What boards cost.
    pub market: &'a Market,
    /// Pieces still wanted, by size.
    pub demand: TiVec<SizeIndex, u32>,
    /// Boards still to be had, by stock.
    pub available: TiVec<StockIndex, Option<u32>>,
    /// What the market's sides still lack.
    pub side_least: Vec<f64>,
    /// Boards of each stock that the plan has already.
    pub elsewhere: TiVec<StockIndex, u32>,
}

/// The stock of one problem as the bound sees it.
#[derive(Debug, Clone, Copy)]
pub struct Offer {
    /// Index of the stock.
    pub stock: StockIndex,
    /// Its shape.
    pub shape: ShapeIndex,
    /// Ticks for one board.
    pub cost: i64,
    /// Boards that can be had.
    pub available: Option<u32>,
}

impl<'a> Task<'a> {
    /// The whole demand of `sizes`, from everything a market has.
    pub fn whole(instance: &'a Instance, market: &'a Market, sizes: &[SizeIndex]) -> Task<'a> {
        let mut demand = ti_vec![0; instance.sizes.len()];
        for size in sizes {
            demand[*size] = instance.sizes[*size].demand;
        }
        Task {
            instance,
            market,
            demand,
            available: instance.stocks.iter().map(|stock| stock.available).collect(),
            side_least: market.sides.iter().map(|side| side.least).collect(),
            elsewhere: ti_vec![0; instance.stocks.len()],
        }
    }

    /// Boards of each stock in the plan, once these cuts are made.
    pub fn boards_with(&self, cuts: &[Cut]) -> TiVec<StockIndex, u32> {
        let mut boards = self.elsewhere.clone();
        cuts.iter().for_each(|cut| boards[cut.stock] += cut.copies);
        boards
    }

    /// Is every piece of a pattern still wanted?
    pub fn takes_whole(&self, counts: &[(SizeIndex, u32)]) -> bool {
        counts.iter().all(|(size, n)| self.demand[*size] >= *n)
    }

    /// Is every piece of a pattern needed, be it for a single one of its blanks?
    pub fn needs_whole(&self, shape: ShapeIndex, pattern: &Pattern) -> bool {
        let blanks = self.instance.blanks(shape);
        let needed = |size: SizeIndex| self.demand[size].div_ceil(blanks_in(blanks, size));
        pattern.counts().iter().all(|(size, n)| needed(*size) >= *n)
    }

    /// Pieces of a pattern no more than wanted.
    pub fn cut_down(&self, counts: &[(SizeIndex, u32)]) -> Counts {
        let wanted = |size: SizeIndex| self.demand[size];
        counts.iter().map(|(size, n)| (*size, (*n).min(wanted(*size)))).filter(|(_, n)| *n > 0).collect()
    }

    /// Cuts so many boards of a plan.
    pub fn take_many(&mut self, stock: StockIndex, counts: &[(SizeIndex, u32)], copies: u32) {
        self.elsewhere[stock] += copies;
        if let Some(left) = &mut self.available[stock] {
            *left = left.saturating_sub(copies);
        }
        for (size, n) in counts {
            let left = &mut self.demand[*size];
            *left = left.saturating_sub(n.saturating_mul(copies));
        }
        for (side, amount) in self.market.sides_of(stock) {
            self.side_least[*side] -= amount * f64::from(copies);
        }
    }

    /// Cuts one board; false if it is not to be had.
    pub fn take(&mut self, stock: StockIndex, counts: &[(SizeIndex, u32)]) -> bool {
        let can_be_had = self.available[stock] != Some(0);
        if can_be_had {
            self.take_many(stock, counts, 1);
        }
        can_be_had
    }

    /// Are so few pieces wanted that trees close what is left of the gap sooner than many short searches?
    pub fn has_few_pieces(&self) -> bool {
        self.demand.iter().sum::<u32>() <= tol::FEW_PIECES
    }

    /// Is anything still wanted?
    pub fn is_open(&self) -> bool {
        self.demand.iter().any(|pieces| *pieces > 0)
    }

    /// Wanted sizes that a shape offers.
    pub fn wanted_of(&self, shape: ShapeIndex) -> Vec<SizeIndex> {
        let kind = self.instance.shapes[shape].kind;
        let sizes = self.instance.kinds[kind].sizes.iter().copied();
        sizes.filter(|size| self.demand[*size] > 0).collect()
    }

    /// The same with the piece that each is cut as, in every way in which it may lie.
    pub fn pieces_of(&self, shape: ShapeIndex) -> Vec<(SizeIndex, Piece)> {
        self.instance.pieces_of(shape, &self.wanted_of(shape))
    }

    /// The stock as it is on offer; none where no board of it is to be had.
    pub fn offer_of(&self, stock: StockIndex) -> Option<Offer> {
        let (cost, available) = (self.market.costs[stock]?, self.available[stock]);
        let shape = self.instance.stocks[stock].shape;
        (available != Some(0)).then_some(Offer { stock, shape, cost, available })
    }

    /// Stock worth looking at, by shape and then cost: all stock that offers a wanted size. Stock is left out if
    /// other stock without a limit offers as much on a board as large for no more money.
    pub fn offers(&self) -> Vec<Offer> {
        let mut offers: Vec<(Offer, Rect, Vec<u64>)> = Vec::new();
        let wanted_lots = self.wanted_lots();
        for (shape, entry) in self.instance.shapes.iter_enumerated() {
            let wanted = self.wanted_of(shape);
            let counts = |stock: StockIndex| {
                let in_turn = self.instance.stocks[stock].lot.is_some_and(|lot| wanted_lots[lot]);
                let mut sides = self.market.sides_of(stock).iter();
                in_turn || sides.any(|(side, amount)| *side >= self.market.turns && *amount > 0.0)
            };
            let set = self.bits(&wanted);
            for stock in &entry.stocks {
                if let Some(offer) = self.offer_of(*stock)
                    // A board that gives nothing wanted may still be bought to reach a break, or come in turn.
                    && (!wanted.is_empty() || counts(*stock))
                {
                    offers.push((offer, entry.rect, set.clone()));
                }
            }
        }
        let dominates = |one: &(Offer, Rect, Vec<u64>), other: &(Offer, Rect, Vec<u64>)| {
            // What rounding may take off the other's row must not turn the comparison around.
            let gain = self.market.gain(other.0.stock);
            let alone = |offer: &Offer| self.instance.stocks[offer.stock].lot.is_none();
            one.0.available.is_none()
                && alone(&one.0)
                && alone(&other.0)
                && (one.0.cost + gain, one.0.stock) < (other.0.cost, other.0.stock)
                && one.1.length >= other.1.length
                && one.1.width >= other.1.width
                && other.2.iter().zip(&one.2).all(|(has, offers)| has & !offers == 0)
                && self.lie_as_freely(one.0.shape, other.0.shape)
                && gives_as_many_blanks(
                    self.instance.blanks(one.0.shape),
                    self.instance.blanks(other.0.shape),
                )
                && self.market.counts_as_much(one.0.stock, other.0.stock)
        };
        let kept = (0..offers.len()).filter(|place| {
            let dominated = offers.iter().any(|one| dominates(one, &offers[*place]));
            !dominated
        });
        let mut kept: Vec<Offer> = kept.map(|place| offers[place].0).collect();
        kept.sort_by_key(|offer| (offer.shape, offer.cost, offer.stock));
        kept
    }

    /// The same task without the lots of which a linear program buys nothing: for plans, not for bounds.
    pub fn without_idle_lots(&self, used: impl Iterator<Item = StockIndex>) -> Task<'a> {
        let mut task = self.clone();
        let used: BTreeSet<LotIndex> = used.filter_map(|stock| self.instance.stocks[stock].lot).collect();
        for (lot, stocks) in self.instance.lots.iter_enumerated() {
            if !used.contains(&lot) {
                stocks.iter().for_each(|stock| task.available[*stock] = Some(0));
            }
        }
        task
    }

    /// By lot, the place of the board that comes next in turn, where `boards` are all boards of the plan, by stock.
    /// Only the board before it can be left out of the plan.
    pub fn next_in_turn(&self, boards: &BoardsByStock) -> TiVec<LotIndex, usize> {
        let next = |lot: &Vec<StockIndex>| {
            lot.iter().map(|stock| boards[*stock] as usize).sum::<usize>() % lot.len()
        };
        self.instance.lots.iter().map(next).collect()
    }

    /// Was no lot left out of it?
    pub fn has_all_lots(&self) -> bool {
        let whole = |stock: &StockIndex| self.available[*stock] == self.instance.stocks[*stock].available;
        self.instance.lots.iter().flatten().all(whole)
    }

    /// The same task with every lot again.
    pub fn with_all_lots(&self) -> Task<'a> {
        let mut task = self.clone();
        for stock in self.instance.lots.iter().flatten() {
            task.available[*stock] = self.instance.stocks[*stock].available;
        }
        task
    }

    /// By lot, does one of its boards offer anything that is wanted, or does one come in turn that the plan lacks?
    fn wanted_lots(&self) -> TiVec<LotIndex, bool> {
        let offers = |stock: &StockIndex| {
            let kind = self.instance.shapes[self.instance.stocks[*stock].shape].kind;
            let sizes = &self.instance.kinds[kind].sizes;
            sizes.iter().any(|size| self.demand[*size] > 0)
        };
        let lacks = |lot: &[StockIndex]| {
            let boards = |place: usize| self.elsewhere[lot[place]];
            let falls = lot.windows(2).any(|pair| self.elsewhere[pair[0]] < self.elsewhere[pair[1]]);
            falls || boards(lot.len() - 1) + 1 < boards(0)
        };
        self.instance.lots.iter().map(|lot| lot.iter().any(offers) || lacks(lot)).collect()
    }

    /// May every wanted piece lie on the one in every way in which it may lie on the other?
    fn lie_as_freely(&self, one: ShapeIndex, other: ShapeIndex) -> bool {
        let (instance, shapes) = (self.instance, &self.instance.shapes);
        let turns = |shape: ShapeIndex, size: SizeIndex| instance.turns(shape, size);
        shapes[one].kind == shapes[other].kind
            || self.wanted_of(other).into_iter().all(|size| turns(one, size).covers(turns(other, size)))
    }

    fn bits(&self, sizes: &[SizeIndex]) -> Vec<u64> {
        let mut words = vec![0; self.demand.len().div_ceil(64)];
        for size in sizes.iter().map(|size| usize::from(*size)) {
            words[size / 64] |= 1 << (size % 64);
        }
        words
    }
}

/// Is every piece that the other resaws resawn into as many blanks by the one?
fn gives_as_many_blanks(one: &Blanks, other: &Blanks) -> bool {
    other.iter().all(|(size, blanks)| blanks_in(one, *size) >= *blanks)
}

/// What pieces are worth and how many of them are wanted, by size, where some are resawn into several
/// blanks: a piece is worth all its blanks.
pub fn before_resawing(
    blanks: &Blanks,
    values: &Values,
    limits: &Limits,
) -> (TiVec<SizeIndex, i64>, TiVec<SizeIndex, u32>) {
    let (mut values, mut limits) = (values.to_vec(), limits.to_vec());
    for (size, many) in blanks {
        values[*size] *= i64::from(*many);
        limits[*size] = limits[*size].div_ceil(*many);
    }
    (values, limits)
}

/// What pieces give where some are resawn into several blanks, by size.
pub fn after_resawing(blanks: &Blanks, mut counts: Counts) -> Counts {
    if !blanks.is_empty() {
        counts.iter_mut().for_each(|(size, n)| *n *= blanks_in(blanks, *size));
    }
    counts
}
