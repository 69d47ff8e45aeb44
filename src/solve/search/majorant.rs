//! Values of single pieces by which no column of a shape is worth less than with all cuts.
//!
//! What a column is worth in a program with cuts is no sum over its pieces, since its coefficients are rounded up, and
//! patterns are searched for by sums over pieces. Each cut offers two sums that are never too low: what its pieces have
//! one by one, which is right for columns of few of its pieces, and the sum before it is rounded with almost one more,
//! which is right for columns of many ([`CutValues::above`]). Any mixture of the two holds. The mixture and the charges
//! for pieces of which too many are taken (as in `pattern/proper/charges`) are moved by subgradient steps to where the
//! best pattern of the tables is worth least (Held, Wolfe and Crowder, Mathematical Programming 6, 1974).

use std::collections::BTreeMap;

use super::cuts::{CutValues, LinearWorth, SingleUnits};
use super::program::rows_of_sizes;
use crate::index::{ShapeIndex, SizeIndex, StockIndex, TiVec};
use crate::pattern::{Counts, Cutting, Piece, Rect, StepLength, TwoStage, move_charges};
use crate::solve::problem::{Blanks, Task, after_resawing, before_resawing};
use crate::solve::tolerances as tol;

/// Values of a shape's pieces in ticks, and what is added to every column.
pub struct Majorant {
    pub values: TiVec<SizeIndex, i64>,
    pub constant: i64,
    /// No column is worth more, as far as the tables know.
    pub most: i64,
}

/// What majorants of all shapes are made from.
pub struct Majorants<'a> {
    task: &'a Task<'a>,
    values: &'a CutValues,
    row_of_size: TiVec<SizeIndex, Option<u32>>,
    row_of_stock: BTreeMap<StockIndex, u32>,
    units: SingleUnits,
}

/// In ticks, rounded up: it bounds what a column is worth.
fn ticks(worth: f64) -> i64 {
    (worth * tol::TICKS_PER_UNIT as f64).ceil() as i64 + 1
}

impl<'a> Majorants<'a> {
    /// `limited` is the stock whose rows come after those of the pieces.
    pub fn new(task: &'a Task<'a>, values: &'a CutValues, limited: &[StockIndex]) -> Majorants<'a> {
        let row_of_size = rows_of_sizes(task);
        let sizes = row_of_size.iter().flatten().count() as u32;
        let row_of_stock = limited.iter().zip(sizes..).map(|(stock, row)| (*stock, row)).collect();
        Majorants { task, values, row_of_size, row_of_stock, units: values.of_single_units() }
    }

    /// What a column is worth, with all cuts.
    pub fn worth(&self, stock: StockIndex, counts: &Counts) -> f64 {
        let mut entries = self.entries(counts);
        entries.extend(self.row_of_stock.get(&stock).map(|row| (*row, -1)));
        self.values.worth(&entries)
    }

    /// Entries of a column's pieces in the rows.
    fn entries(&self, counts: &Counts) -> Vec<(u32, i64)> {
        counts.iter().filter_map(|(size, n)| Some((self.row_of_size[*size]?, i64::from(*n)))).collect()
    }

    /// The majorant of a shape that comes nearest to what its columns are worth, or the first by which none is worth
    /// `least`. What its stock adds to that is left out.
    pub fn of(&self, shape: ShapeIndex, least: i64) -> Majorant {
        let instance = self.task.instance;
        let pieces = self.task.pieces_of(shape);
        let charges: TiVec<SizeIndex, i64> = self.task.demand.iter().map(|_| 0).collect();
        let blanks = instance.blanks(shape);
        let (_, limits) = before_resawing(blanks, &charges, &self.task.demand);
        let mut descent = Descent {
            of: self,
            blanks,
            limits,
            tables: tables(&pieces, instance.shapes[shape].rect, instance.cutting(shape)),
            sizes: self.task.wanted_of(shape),
            shares: vec![0.0; self.values.cuts()],
            charges,
        };
        // What some column is worth, and what none must be worth.
        let mut met = least;
        let mut best: Option<Majorant> = None;
        let mut length = StepLength::whole();
        for _ in 0..tol::MAJORANT_STEPS {
            let (now, held) = descent.majorant();
            let most = now.most;
            let is_better = best.as_ref().is_none_or(|best| most < best.most);
            if is_better {
                best = Some(now);
            }
            let length = length.after(is_better);
            let is_too_low = best.as_ref().is_some_and(|best| best.most < least);
            let Some(held) = held.filter(|_| !is_too_low) else { break };
            met = met.max(descent.worth_of(&held));
            if most <= met {
                break;
            }
            descent.step(&held, (most - met) as f64 * length);
        }
        best.unwrap_or_else(|| descent.majorant().0)
    }
}

/// The way down to the least majorant of one shape.
struct Descent<'a> {
    of: &'a Majorants<'a>,
    blanks: &'a Blanks,
    tables: Vec<TwoStage>,
    sizes: Vec<SizeIndex>,
    /// Copies of each piece that are wanted, as they lie on the board.
    limits: TiVec<SizeIndex, u32>,
    /// By cut, the share of it that is taken by its sum.
    shares: Vec<f64>,
    /// What a copy of each piece is charged, in ticks.
    charges: TiVec<SizeIndex, i64>,
}

impl Descent<'_> {
    /// The majorant of the shares as they are, and what the best pattern of the tables holds; none where no piece is
    /// worth anything beyond its charge.
    fn majorant(&self) -> (Majorant, Option<Counts>) {
        let Majorants { task, row_of_size, units, values, .. } = self.of;
        let LinearWorth { constant, of_rows } = values.above(units, &self.shares);
        let value = |row: &Option<u32>| row.map_or(0, |row| ticks(of_rows[row as usize]));
        let values: TiVec<SizeIndex, i64> = row_of_size.iter().map(value).collect();
        let constant = ticks(constant);
        let (mut charged, _) = before_resawing(self.blanks, &values, &task.demand);
        let mut given_back = 0;
        for size in &self.sizes {
            let charge = self.charges[*size].min(charged[*size]);
            charged[*size] -= charge;
            given_back += charge * i64::from(self.limits[*size]);
        }
        let best = self.tables.iter().filter_map(|table| {
            let priced = table.price(&charged, &self.limits, &[0]).pop()?;
            Some((priced.bound, priced.patterns?.relaxed.counts()))
        });
        let best = best.max_by_key(|(bound, _)| *bound);
        let (worth, held) = best.map_or((0, None), |(bound, held)| (bound, Some(held)));
        (Majorant { values, constant, most: worth + constant + given_back }, held)
    }

    /// What the column of a pattern gives that is wanted.
    fn given(&self, held: &Counts) -> Counts {
        self.of.task.cut_down(&after_resawing(self.blanks, held.clone()))
    }

    /// What the column of a pattern is worth, in ticks.
    fn worth_of(&self, held: &Counts) -> i64 {
        let worth = self.of.values.worth(&self.of.entries(&self.given(held)));
        (worth * tol::TICKS_PER_UNIT as f64) as i64
    }

    /// Half of what is to be gained is asked of the charges, half of the shares.
    fn step(&mut self, held: &Counts, to_gain: f64) {
        move_charges(&mut self.charges, &self.sizes, held, &self.limits, to_gain / 2.0);
        let column = self.of.entries(&self.given(held));
        let mut gains = self.of.values.by_sum_not_by_units(&self.of.units, &column);
        for (gain, share) in gains.iter_mut().zip(&self.shares) {
            if (*gain > 0.0 && *share <= 0.0) || (*gain < 0.0 && *share >= 1.0) {
                *gain = 0.0;
            }
        }
        let square: f64 = gains.iter().map(|gain| gain * gain).sum();
        let unit = tol::TICKS_PER_UNIT as f64;
        for (gain, share) in gains.iter().zip(&mut self.shares).filter(|_| square > 0.0) {
            *share = (*share - to_gain / unit / 2.0 / square * gain).clamp(0.0, 1.0);
        }
    }
}

/// A table in each layout that is needed.
fn tables(pieces: &[(SizeIndex, Piece)], board: Rect, cutting: Cutting) -> Vec<TwoStage> {
    let layouts = cutting.layouts_for(pieces, board).iter();
    layouts.map(|layout| TwoStage::new(*layout, pieces, &[board], cutting)).collect()
}
