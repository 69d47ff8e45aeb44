//! Boards filled one after the other, by values that learn what is hard to place.
//!
//! Sequential value correction: the most valuable pattern for its price is cut, the values of its pieces are drawn
//! towards what they have really cost, and the next board is filled; sweep after sweep the values of pieces that end
//! on wasteful boards rise, and they are cut sooner (Mukhacheva, Belov, Kartack and Mukhacheva, Pesquisa Operacional
//! 20(2), 2000, 153-168; Belov and Scheithauer, INFORMS Journal on Computing 19(1), 2007, 27-35, section 3). It needs
//! no linear program, so it finds good plans where a board holds many pieces of which few are wanted, as on sheets.

use fastrand::Rng;
use rayon::prelude::*;

use super::dive::{most_for_its_price, top_up};
use super::engine::{AtHand, Engine, Slice};
use crate::index::{SizeIndex, StockIndex, TiSlice, TiVec, ti_vec};
use crate::pattern::{Pattern, Values};
use crate::solve::problem::{Cut, Offer, Task, cost, merged};
use crate::solve::relax::Pricer;
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// The search's state between two turns.
#[derive(Debug, Clone)]
pub struct Sequential {
    /// By lane, the values of the pieces by size, in ticks, and its chance.
    lanes: Vec<(TiVec<SizeIndex, f64>, Rng)>,
    /// What a piece of each size takes with its kerfs, in square base units.
    areas: TiVec<SizeIndex, f64>,
    /// Turns since the last gain.
    idle: u32,
    /// Had it the last turn?
    had_a_turn: bool,
}

/// A plan of one lane with its cost, each board by its stock.
type Swept = (i64, Vec<(StockIndex, Pattern)>);

impl Sequential {
    /// Nothing tried yet. `values` are what pieces are worth by a linear program, by size.
    pub fn new(task: &Task<'_>, values: &Values, seed: u64) -> Sequential {
        let areas = areas(task);
        let rate = values.iter().zip(&areas).map(|(value, area)| *value as f64 / area).fold(0.0, f64::max);
        let lane = |lane: u64| {
            // The first lane begins with the linear program's values, the others with less of them.
            let share = 1.0 / (1.0 + lane as f64);
            let value = |(value, area): (&i64, &f64)| share * *value as f64 + (1.0 - share) * rate * area;
            let values = values.iter().zip(&areas).map(value).collect();
            (values, Rng::with_seed(seed.wrapping_add(lane)))
        };
        let lanes = (0..tol::SEQUENTIAL_LANES).map(lane).collect();
        Sequential { lanes, areas, idle: 0, had_a_turn: false }
    }

    /// Is it its turn? It takes turns with the other searches until it is idle.
    pub fn has_its_turn(&mut self) -> bool {
        self.had_a_turn = !self.is_idle() && !self.had_a_turn;
        self.had_a_turn
    }
}

impl Engine for Sequential {
    fn is_idle(&self) -> bool {
        self.idle >= tol::SEQUENTIAL_IDLE
    }

    /// Some sweeps in every lane.
    fn slice(&mut self, on: AtHand<'_>) -> Slice {
        let now = on.cost();
        let AtHand { task, pool, stop, .. } = on;
        let areas = &self.areas;
        let swept: Vec<Option<Swept>> = self
            .lanes
            .par_iter_mut()
            .map(|(values, random)| {
                let sweeps = (0..tol::SEQUENTIAL_SWEEPS).map(|_| sweep(task, areas, (values, random), stop));
                sweeps.flatten().min_by_key(|(cost, _)| *cost)
            })
            .collect();
        let mut best: Option<(i64, Vec<Cut>)> = None;
        for (cost_of_boards, boards) in swept.into_iter().flatten() {
            if cost_of_boards >= best.as_ref().map_or(now, |(best, _)| *best) {
                continue;
            }
            let mut rest = task.clone();
            let mut cuts: Vec<Cut> = Vec::new();
            for (stock, pattern) in boards {
                let (number, _) = pool.take(task.instance.stocks[stock].shape, pattern);
                rest.take(stock, &pool.patterns[number].counts);
                cuts.push(Cut { stock, pattern: number, copies: 1 });
            }
            if top_up(&mut rest, pool, &mut cuts).is_some() {
                let cuts = merged(cuts);
                let spent = cost(task.market, &cuts);
                if spent < best.as_ref().map_or(now, |(best, _)| *best) {
                    best = Some((spent, cuts));
                }
            }
        }
        self.idle = if best.is_some() { 0 } else { self.idle + 1 };
        Slice { plan: best.map(|(_, cuts)| cuts), bound: None }
    }
}

/// What a piece of each size takes with its kerfs, in square base units.
fn areas(task: &Task<'_>) -> TiVec<SizeIndex, f64> {
    let saw = task.instance.kinds.iter().find(|kind| kind.sheets).map(|kind| kind.sawing);
    let (rip, crosscut) =
        saw.map_or((0.0, 0.0), |saw| (saw.rip_kerf.base() as f64, saw.crosscut_kerf.base() as f64));
    let sizes = task.instance.sizes.iter().map(|size| size.piece);
    sizes.map(|piece| (piece.length.base() as f64 + crosscut) * (piece.width.base() as f64 + rip)).collect()
}

/// One whole plan; none if a piece finds no board, or the time is up.
fn sweep(
    task: &Task<'_>,
    areas: &TiSlice<SizeIndex, f64>,
    (values, random): (&mut TiSlice<SizeIndex, f64>, &mut Rng),
    stop: &Stop,
) -> Option<Swept> {
    let mut rest = task.clone();
    let mut boards = Vec::new();
    let mut spent = 0;
    // Large pieces cost more than their area: what is left beside them is harder to use.
    let power = 1.0 + 0.08 * random.f64();
    let inertia = 0.5 + random.f64();
    let weights: TiVec<SizeIndex, f64> = areas.iter().map(|area| area.powf(power)).collect();
    while rest.is_open() {
        if stop.is_due() {
            return None;
        }
        let offers = rest.offers();
        let whole: TiVec<SizeIndex, i64> = values.iter().map(|value| (*value as i64).max(1)).collect();
        let least = ti_vec![0; rest.instance.shapes.len()];
        let prices = Pricer::new(&rest, &offers).price(&whole, &rest.demand, &least);
        let (Offer { stock, cost: price, .. }, pattern) = most_for_its_price(&rest, &offers, &prices)?;
        let counts = pattern.counts();
        let used: f64 = counts.iter().map(|(size, n)| weights[*size] * f64::from(*n)).sum();
        for (size, n) in &counts {
            let place = *size;
            let cost = weights[place] / used * price as f64;
            // A size of which many are wanted learns slowly from each board.
            let wanted = f64::from(task.demand[place] + rest.demand[place]);
            let slow = inertia * wanted / f64::from(*n);
            values[place] = (slow * values[place] + cost) / (slow + 1.0);
        }
        spent += price;
        if !rest.take(stock, &counts) {
            return None;
        }
        boards.push((stock, pattern.clone()));
    }
    Some((spent, boards))
}
