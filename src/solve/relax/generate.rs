//! Column generation: the master's linear program to optimality, with its bound.
//!
//! Gilmore and Gomory, Operations Research 9(6), 1961 and 11(6), 1963. Each iteration prices every
//! shape in both layouts in parallel and takes the best column of each. With few shapes the values are
//! smoothed first (Wentges, International Transactions in Operational Research 4(2), 1997).

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::bound::{Duals, IdleLot, Proven, gain_of_lot, lagrangian, scaled, value_idle_lots};
use super::master::{Master, MasterSolution};
use super::pool::Pool;
use super::prices::ShapePrice;
use super::pricing::Pricer;
use super::simplex::ColumnSimplex;
use crate::index::{LotIndex, PatternIndex, ShapeIndex, SizeIndex, StockIndex, TiSlice, TiVec, ti_vec};
use crate::pattern::Pattern;
use crate::solve::problem::{Column, Counts, Offer, Task, whole_boards, worth};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// What column generation found.
#[derive(Debug, Clone)]
pub struct Generated {
    /// No plan of the task costs less, in ticks, however its rows are rounded.
    pub bound: i64,
    /// No plan of the task costs less before its rows are rounded.
    pub unrounded: i64,
    /// Values of the pieces that prove the bound, once scaled.
    pub duals: Duals,
    /// The scale that makes them feasible.
    pub scale: i64,
    /// The prices of every shape under those values.
    pub prices: Vec<ShapePrice>,
    /// All columns of the master.
    pub columns: Vec<Column>,
    /// Columns above zero, with their levels.
    pub used: Vec<(usize, f64)>,
    /// Sizes that the columns cannot fill.
    pub missing: Vec<SizeIndex>,
    /// Is anything missing, a break or a minimum order included?
    pub unmet: bool,
    /// Did it run to the end?
    pub complete: bool,
}

impl Generated {
    /// Values of the pieces, by size, that prove the bound.
    pub fn values(&self) -> TiVec<SizeIndex, i64> {
        self.duals.sizes.iter().map(|value| scaled(*value, self.scale)).collect()
    }

    /// Renumbers the patterns after their pool was absorbed by another.
    pub fn renumber(&mut self, numbers: &TiSlice<PatternIndex, PatternIndex>) {
        for column in &mut self.columns {
            column.pattern = numbers[column.pattern];
        }
    }
}

/// Runs column generation for a task; new patterns go into the pool.
pub fn generate(task: &Task<'_>, pool: &mut Pool, stop: &Stop) -> Generated {
    generate_from(task, pool, None, i64::MAX, stop)
}

/// Runs column generation until its bound is above `cutoff` ticks, or to the end. It starts from the
/// patterns of the pool that are cheapest at the values of `parent`, or from all.
pub fn generate_from(
    task: &Task<'_>,
    pool: &mut Pool,
    parent: Option<&Duals>,
    cutoff: i64,
    stop: &Stop,
) -> Generated {
    let offers = task.offers();
    let pricer = Pricer::new(task, &offers);
    let mut awake = lots_to_start_with(task, pool);
    let mut run = Generation::new(task, &offers, pool, parent, |lot| awake.contains(&lot));
    let mut best: Option<Proven> = None;
    let smoothing = run.smoothing();
    let mut iteration = 0;
    loop {
        let solution = run.master.solve();
        let own = run.duals(&solution);
        let (mut added, mut woken) = (0, Vec::new());
        // Smoothed values may price out nothing although the master's own would: then those are priced.
        for share in smoothing.into_iter().chain([0.0]) {
            let centre = best.as_ref().filter(|_| share > 0.0 && solution.missing.is_empty());
            let (duals, least) = match centre {
                Some(centre) => (own.towards(&centre.duals, share), ti_vec![0; task.instance.shapes.len()]),
                None => (own.clone(), run.least_worth(&solution)),
            };
            let prices = pricer.price(&duals.sizes, &task.demand, &least);
            let bound = lagrangian(&duals, &task.demand, &run.offers, &run.idle, &prices);
            added = run.add_columns(&solution, &own, &prices, pool);
            if added == 0 {
                woken = run.wakes(&duals, &prices);
            }
            let smoothed = centre.is_some();
            if best.as_ref().is_none_or(|best| bound.value >= best.bound.value) {
                best = Some(Proven { bound, duals, prices, idle: run.idle.clone() });
            }
            if added > 0 || !woken.is_empty() || !smoothed {
                break;
            }
        }
        iteration += 1;
        let proven = best.as_ref().map_or(0, |best| best.bound.value);
        let value = solution.value * tol::TICKS_PER_UNIT as f64;
        let closed = proven as f64 >= value * (1.0 - tol::CLOSED);
        let above = whole_boards(task, &offers, proven) > cutoff;
        let interrupted = above || stop.is_due() || iteration >= tol::MAX_ITERATIONS;
        if !woken.is_empty() && !interrupted {
            awake.extend(woken);
            run = Generation::new(task, &offers, pool, parent, |lot| awake.contains(&lot));
            continue;
        }
        if added == 0 || (closed && solution.missing.is_empty()) || interrupted {
            let proven = best.expect("every iteration proves a bound");
            pool.lots.extend(awake);
            let missing = solution.missing.iter().filter_map(|row| run.sizes.get(*row).copied()).collect();
            return Generated { missing, complete: !interrupted, ..run.ends(solution, &offers, proven) };
        }
    }
}

/// The lots that were of use before; few of a price sheet's lots are ever bought.
fn lots_to_start_with(task: &Task<'_>, pool: &Pool) -> BTreeSet<LotIndex> {
    let lots = task.instance.lots.len();
    if lots <= tol::FEW_LOTS { task.instance.lots.keys().collect() } else { pool.lots.clone() }
}

/// The master of one task.
pub struct Generation<'a> {
    task: &'a Task<'a>,
    pub offers: Vec<Offer>,
    /// Lots on offer that the master does not have: they are bounded apart, and join where they could pay.
    pub idle: Arc<[IdleLot]>,
    /// Size of each of the first rows.
    sizes: Vec<SizeIndex>,
    row_of_size: TiVec<SizeIndex, Option<u32>>,
    row_of_stock: TiVec<StockIndex, Option<u32>>,
    /// The sides that bind here, by number, with their rows.
    side_rows: Vec<(usize, u32)>,
    /// By stock, the rows of those and what one board adds to each.
    sides_of_stock: TiVec<StockIndex, Vec<(u32, f64)>>,
    pub master: ColumnSimplex,
    pub columns: Vec<Column>,
    known: BTreeSet<(StockIndex, Counts)>,
}

impl<'a> Generation<'a> {
    /// What was found by the master's last solution and the best bound.
    pub fn ends(self, solution: MasterSolution, offers: &[Offer], proven: Proven) -> Generated {
        let Proven { bound, mut duals, prices, idle } = proven;
        value_idle_lots(&mut duals, &idle, &prices);
        Generated {
            bound: whole_boards(self.task, offers, bound.value),
            unrounded: bound.value,
            scale: bound.scale,
            duals,
            prices,
            columns: self.columns,
            used: solution.used,
            missing: Vec::new(),
            unmet: !solution.missing.is_empty(),
            complete: true,
        }
    }

    /// Starts from the patterns of a pool, or from the cheapest of them at the values of a parent. Of the lots on
    /// offer it has those that are awake.
    pub fn new(
        task: &'a Task<'a>,
        all: &[Offer],
        pool: &Pool,
        parent: Option<&Duals>,
        is_awake: impl Fn(LotIndex) -> bool,
    ) -> Generation<'a> {
        let (offers, idle) = awake_and_idle(task, all, is_awake);
        let dearest = offers.iter().map(|offer| offer.cost).max().unwrap_or(0);
        // Whoever wants one board of a lot may have to buy a whole turn of it.
        let turn = task.instance.lots.iter().map(Vec::len).max().unwrap_or(1).max(1) as f64;
        let penalty = (dearest as f64 / tol::TICKS_PER_UNIT as f64 + 1.0) * tol::PENALTY_BOARDS * turn;
        let mut rhs = Vec::new();
        let mut sizes = Vec::new();
        let mut row_of_size = ti_vec![None; task.demand.len()];
        for (size, pieces) in task.demand.iter_enumerated().filter(|(_, pieces)| **pieces > 0) {
            row_of_size[size] = Some(rhs.len() as u32);
            rhs.push(f64::from(*pieces));
            sizes.push(size);
        }
        let mut row_of_stock = ti_vec![None; task.available.len()];
        for offer in &offers {
            if let Some(available) = offer.available {
                row_of_stock[offer.stock] = Some(rhs.len() as u32);
                rhs.push(-f64::from(available));
            }
        }
        let mut offered: TiVec<StockIndex, bool> = ti_vec![false; task.available.len()];
        offers.iter().for_each(|offer| offered[offer.stock] = true);
        let mut side_rows = Vec::new();
        let mut sides_of_stock = ti_vec![Vec::new(); task.available.len()];
        for (place, (side, least)) in task.market.sides.iter().zip(&task.side_least).enumerate() {
            let row = rhs.len() as u32;
            let touched: Vec<&(StockIndex, f64)> =
                side.amounts.iter().filter(|(stock, _)| offered[*stock]).collect();
            // A row of boards that are not on offer binds only where it is not met without them.
            if touched.is_empty() && *least <= 0.0 {
                continue;
            }
            touched.into_iter().for_each(|(stock, amount)| sides_of_stock[*stock].push((row, *amount)));
            side_rows.push((place, row));
            rhs.push(*least);
        }
        // A missing unit of a side row costs as much as a missing piece: more than any board gives.
        let penalties = vec![penalty; rhs.len()];
        let mut run = Generation {
            task,
            offers,
            idle,
            sizes,
            row_of_size,
            row_of_stock,
            side_rows,
            sides_of_stock,
            master: ColumnSimplex::new(&rhs, &penalties),
            columns: Vec::new(),
            known: BTreeSet::new(),
        };
        run.start_from(pool, parent);
        run
    }

    /// The lots that could pay at some values, those that gain most.
    fn wakes(&self, duals: &Duals, prices: &[ShapePrice]) -> Vec<LotIndex> {
        let mut gains: Vec<(i128, LotIndex)> = Vec::new();
        for lot in self.idle.iter() {
            let gain = gain_of_lot(lot, duals, prices);
            let cost: i64 = lot.iter().map(|offer| offer.cost).sum();
            if gain > (cost as f64 * tol::REDUCED_COST * 10.0) as i128
                && let Some(number) = lot.first().and_then(|offer| self.task.instance.stocks[offer.stock].lot)
            {
                gains.push((gain, number));
            }
        }
        gains.sort_by(|one, other| other.cmp(one));
        gains.truncate(tol::LOTS_WOKEN);
        gains.into_iter().map(|(_, lot)| lot).collect()
    }

    /// Columns of the patterns already known, and whole boards bought to reach a break.
    fn start_from(&mut self, pool: &Pool, parent: Option<&Duals>) {
        let offers = self.offers.clone();
        let mut by_shape: BTreeMap<ShapeIndex, Vec<Offer>> = BTreeMap::new();
        for offer in offers {
            by_shape.entry(offer.shape).or_default().push(offer);
        }
        let mut starts: Vec<(i64, Offer, PatternIndex, Counts)> = Vec::new();
        for (number, entry) in pool.patterns.iter_enumerated() {
            let Some(offers) = by_shape.get(&entry.shape) else { continue };
            let counts = self.task.cut_down(&entry.counts);
            if counts.is_empty() {
                continue;
            }
            for offer in offers {
                let reduced = parent
                    .map_or(0, |duals| offer.cost - duals.sides[offer.stock] - worth(&duals.sizes, &counts));
                starts.push((reduced, *offer, number, counts.clone()));
            }
        }
        let most = tol::START_COLUMNS * (self.sizes.len() + 1);
        if parent.is_some() && starts.len() > most {
            starts.select_nth_unstable_by_key(most, |(reduced, offer, number, _)| {
                (*reduced, *number, offer.stock)
            });
            starts.truncate(most);
            starts.sort_unstable_by_key(|(_, offer, number, _)| (*number, offer.stock));
        }
        for (_, offer, number, counts) in starts {
            self.add(&offer, number, counts);
        }
    }

    fn add(&mut self, offer: &Offer, pattern: PatternIndex, counts: Counts) -> bool {
        if !self.known.insert((offer.stock, counts.clone())) {
            return false;
        }
        let mut entries: Vec<(u32, f64)> =
            counts.iter().filter_map(|(size, n)| Some((self.row_of_size[*size]?, f64::from(*n)))).collect();
        if let Some(row) = self.row_of_stock[offer.stock] {
            entries.push((row, -1.0));
        }
        entries.extend(&self.sides_of_stock[offer.stock]);
        self.master.add_column(offer.cost as f64 / tol::TICKS_PER_UNIT as f64, &entries);
        self.columns.push(Column { stock: offer.stock, pattern });
        true
    }

    /// The values of the master in ticks.
    pub fn duals(&self, solution: &MasterSolution) -> Duals {
        let unit = tol::TICKS_PER_UNIT as f64;
        let mut sizes = ti_vec![0; self.task.demand.len()];
        for (row, size) in self.sizes.iter().enumerate() {
            sizes[*size] = (solution.duals[row] * unit).floor() as i64;
        }
        let mut sides: TiVec<StockIndex, i64> = ti_vec![0; self.task.available.len()];
        let mut side_total = 0;
        for (place, row) in &self.side_rows {
            let dual = solution.duals[*row as usize] * unit;
            if dual > 0.0 {
                // Amounts are floats: a margin of one part in 1e9 covers their rounding.
                let least = self.task.side_least[*place];
                side_total += (dual * least - dual * least.abs() * 1e-9).floor() as i64 - 1;
            }
        }
        for (stock, rows) in self.sides_of_stock.iter_enumerated() {
            for (row, amount) in rows {
                let dual = solution.duals[*row as usize] * unit;
                if dual > 0.0 {
                    sides[stock] += (dual * amount + dual * amount.abs() * 1e-9).ceil() as i64 + 1;
                }
            }
        }
        Duals { sizes, sides, side_total }
    }

    /// What one more board of an offer costs at the master's values, in ticks.
    fn reduced_price(&self, solution: &MasterSolution, offer: &Offer) -> f64 {
        let unit = tol::TICKS_PER_UNIT as f64;
        let scarcity = self.row_of_stock[offer.stock].map_or(0.0, |row| solution.duals[row as usize]);
        let sides = self.sides_of_stock[offer.stock].iter();
        let side: f64 = sides.map(|(row, amount)| solution.duals[*row as usize] * amount).sum();
        offer.cost as f64 + (scarcity - side) * unit
    }

    /// By shape, the offer that costs least at the master's values, and what it costs.
    fn cheapest(&self, solution: &MasterSolution) -> Vec<(f64, Offer)> {
        let shapes = self.offers.chunk_by(|one, other| one.shape == other.shape);
        let cheapest = shapes.filter_map(|offers| {
            let priced = offers.iter().map(|offer| (self.reduced_price(solution, offer), *offer));
            priced.min_by(|one, other| one.0.total_cmp(&other.0).then(one.1.stock.cmp(&other.1.stock)))
        });
        cheapest.collect()
    }

    /// What a pattern of each shape must be worth to be taken.
    pub fn least_worth(&self, solution: &MasterSolution) -> TiVec<ShapeIndex, i64> {
        let mut least = ti_vec![i64::MAX; self.task.instance.shapes.len()];
        for (price, offer) in self.cheapest(solution) {
            least[offer.shape] = (price + margin(price)).floor() as i64;
        }
        least
    }

    /// How far the master's values are drawn to those of the best bound, if that pays.
    fn smoothing(&self) -> Option<f64> {
        let shapes = self.offers.chunk_by(|one, other| one.shape == other.shape).count();
        tol::SMOOTHING.iter().find(|(most, _)| shapes <= *most).map(|(_, share)| *share)
    }

    /// Adds the columns of negative reduced cost: for each shape's patterns, its best stock.
    pub fn add_columns(
        &mut self,
        solution: &MasterSolution,
        own: &Duals,
        prices: &[ShapePrice],
        pool: &mut Pool,
    ) -> usize {
        let mut added = 0;
        for (price, offer) in self.cheapest(solution) {
            let Ok(place) = prices.binary_search_by_key(&offer.shape, |price| price.shape) else { continue };
            for (pattern, _) in &prices[place].patterns {
                if (worth(&own.sizes, &pool.given(offer.shape, pattern)) as f64) <= price + margin(price) {
                    continue;
                }
                let (number, _) = pool.take(offer.shape, pattern.clone());
                // A relaxed pattern counts as it is: cut down, it could be too cheap to prove a bound.
                let counts = pool.patterns[number].counts.clone();
                added += usize::from(self.add(&offer, number, counts));
            }
        }
        // A whole board bought only to reach a break or a minimum order, or because it comes in turn.
        if !self.task.market.sides.is_empty() {
            for offer in self.offers.clone() {
                let price = self.reduced_price(solution, &offer);
                if price < -margin(price) {
                    let (number, _) = pool.take(offer.shape, Pattern::empty());
                    added += usize::from(self.add(&offer, number, Vec::new()));
                }
            }
        }
        added
    }
}

/// The offers that take part, and the lots that do not yet: those that are neither awake nor begun. A lot of which
/// boards are bought already must go on in turn.
fn awake_and_idle(
    task: &Task<'_>,
    all: &[Offer],
    is_awake: impl Fn(LotIndex) -> bool,
) -> (Vec<Offer>, Arc<[IdleLot]>) {
    let begun = |lot: LotIndex| task.instance.lots[lot].iter().any(|stock| task.elsewhere[*stock] > 0);
    let mut offers = Vec::new();
    let mut idle: BTreeMap<LotIndex, IdleLot> = BTreeMap::new();
    for offer in all {
        match task.instance.stocks[offer.stock].lot {
            Some(lot) if !is_awake(lot) && !begun(lot) => idle.entry(lot).or_default().push(*offer),
            _ => offers.push(*offer),
        }
    }
    // In turn, not by shape.
    idle.values_mut().for_each(|lot| lot.sort_by_key(|offer| offer.stock));
    (offers, idle.into_values().collect())
}

/// An improvement smaller than this is rounding.
fn margin(price: f64) -> f64 {
    tol::REDUCED_COST * 10.0 * price.abs().max(tol::TICKS_PER_UNIT as f64)
}
