//! Every column against the cuts of a program that has only some of them.
//!
//! Cuts raise the bound of the columns that are listed. What a plan with other columns costs is known only by the linear
//! program without cuts, unless those columns are priced with the cuts' dual values too. A column's coefficient in a cut is
//! a weighted sum rounded up, so it is no linear function of its pieces. But it is at most the sum of the coefficients of
//! its pieces one by one, so values of single pieces bound what a column can be worth, and the listing of patterns by
//! those values finds every column of negative reduced cost. Those join the program until there is none; then the bound
//! with its cuts holds for all columns, and so does ruling out by reduced cost (Baldacci, Christofides and Mingozzi,
//! Mathematical Programming 115(2), 2008).

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::cuts::{CutValues, Tight};
use super::exact::proves;
use super::listing::{Reach, clean_patterns};
use super::program::{plain, rows_of_sizes};
use crate::index::{SizeIndex, StockIndex, TiVec};
use crate::pattern::{Counts, Pattern};
use crate::solve::problem::{Listed, Offer, Task};
use crate::solve::relax::Pool;
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// A program whose bound holds for every column there is.
pub struct Complete {
    /// Its columns.
    pub listed: Vec<Listed>,
    /// It with its cuts.
    pub tight: Tight,
    /// No plan costs less, before rows are rounded.
    pub bound: f64,
    /// No plan with another column than these costs less.
    pub outside: f64,
}

/// Can columns of a task be priced with cuts? All its patterns must be ones that can be listed ([`super::exact::proves`]).
/// Beside that every board must be clean and unlimited, and give one blank a piece, and nothing but pieces may be asked for.
pub fn can_be_completed(task: &Task<'_>, offers: &[Offer]) -> bool {
    let is_plain = |offer: &Offer| offer.available.is_none() && task.instance.blanks(offer.shape).is_empty();
    proves(task, offers)
        && task.instance.lots.is_empty()
        && task.market.sides.is_empty()
        && offers.iter().all(is_plain)
}

/// Adds columns to a program with its cuts until its bound holds for all, and then all that a plan below `cutoff` can
/// need, or as far towards it as `reach` allows. `None` if the columns are too many or the time is up.
pub fn complete(
    task: &Task<'_>,
    listed: Vec<Listed>,
    pool: &mut Pool,
    cutoff: f64,
    reach: Reach,
    stop: &Stop,
) -> Option<Complete> {
    let known = listed.iter().map(|column| (column.stock, column.counts.clone())).collect();
    let mut tight = Tight::recording(plain(task, &listed.iter().collect::<Vec<_>>()));
    tight.covering.cutoff = cutoff;
    tight.tighten(tol::CUT_ROUNDS, stop);
    let mut run = Completing { task, offers: task.offers(), reach, stop, cutoff, listed, known, tight };
    for _ in 0..tol::ROUNDS_OF_PRICING {
        if stop.is_due() {
            return None;
        }
        let values = run.tight.values()?;
        let mut found = run.priced(&values, -PRICED_AS_NOTHING, pool)?;
        found.retain(|(_, column)| !run.known.contains(&(column.stock, column.counts.clone())));
        if found.is_empty() {
            return Some(run.reached(&values, pool));
        }
        found.truncate(tol::COLUMNS_A_ROUND_OF_PRICING);
        run.take(found);
        run.renew();
        run.tight.tighten(tol::CUT_ROUNDS_IN_NODE, stop);
    }
    None
}

/// Reduced costs above the negative of this are taken for nothing.
const PRICED_AS_NOTHING: f64 = 1e-6;

/// A program on the way to all columns.
struct Completing<'a> {
    task: &'a Task<'a>,
    offers: Vec<Offer>,
    reach: Reach,
    stop: &'a Stop,
    cutoff: f64,
    listed: Vec<Listed>,
    known: BTreeSet<(StockIndex, Counts)>,
    tight: Tight,
}

impl Completing<'_> {
    /// The program of the columns as they are now, with the cuts so far.
    fn renew(&mut self) {
        let columns: Vec<&Listed> = self.listed.iter().collect();
        self.tight = self.tight.over(plain(self.task, &columns));
        self.tight.covering.cutoff = self.cutoff;
    }

    /// Takes columns that it does not have.
    fn take(&mut self, found: Vec<(f64, Listed)>) {
        for (_, column) in found {
            if self.known.insert((column.stock, column.counts.clone())) {
                self.listed.push(column);
            }
        }
    }

    /// The program with all columns within what its bound leaves of the cutoff, or as many of them as can be had.
    fn reached(mut self, values: &CutValues, pool: &mut Pool) -> Complete {
        // A plan has no more boards than pieces.
        let pieces: u32 = self.task.demand.iter().sum();
        let bound = values.bound - PRICED_AS_NOTHING * f64::from(pieces);
        let whole = (self.cutoff - bound).max(0.0);
        let mut room = 0.0;
        let mut next = whole / tol::FIRST_ROOM;
        // A tree over a part of a wide gap would be large and prove little.
        let is_near = whole <= self.cutoff * tol::NEAR_SHARE;
        while is_near && room < whole {
            let Some(found) = self.priced(values, next, pool) else { break };
            self.take(found);
            room = next;
            next = (next * tol::MORE_ROOM).min(whole);
        }
        self.renew();
        self.tight.ends_recording();
        Complete { listed: self.listed, tight: self.tight, bound, outside: bound + room }
    }

    /// All columns of at most this reduced cost, the least first; `None` if they are too many.
    fn priced(&self, values: &CutValues, room: f64, pool: &mut Pool) -> Option<Vec<(f64, Listed)>> {
        let Completing { task, reach, stop, .. } = *self;
        let unit = tol::TICKS_PER_UNIT as f64;
        let row_of_size = rows_of_sizes(task);
        // Rounded up, since they bound what a column is worth.
        let ticks = |worth: f64| (worth * unit).ceil() as i64 + 1;
        let of_sizes: TiVec<SizeIndex, i64> =
            row_of_size.iter().map(|row| row.map_or(0, |row| ticks(values.worth_of_one(row)))).collect();
        let shapes: Vec<&[Offer]> = self.offers.chunk_by(|one, other| one.shape == other.shape).collect();
        let looked_at = Reach { columns: reach.columns * tol::COLUMNS_LOOKED_AT, ..reach };
        let patterns_of = |offers: &&[Offer]| -> Option<Vec<Pattern>> {
            let cheapest = offers.iter().map(|offer| offer.cost).min().unwrap_or(0);
            let least = cheapest - ticks(room.max(0.0)) - 1;
            clean_patterns(task, offers[0].shape, &of_sizes, least, looked_at, &|| stop.is_due())
        };
        let found: Option<Vec<Vec<Pattern>>> = shapes.par_iter().map(patterns_of).collect();
        let mut columns: Vec<(f64, &Offer, Pattern, Counts)> = Vec::new();
        for (offers, patterns) in shapes.iter().zip(found?) {
            for pattern in patterns {
                let counts = task.cut_down(&pattern.counts());
                let entries =
                    counts.iter().filter_map(|(size, n)| Some((row_of_size[*size]?, i64::from(*n))));
                let worth = values.worth(&entries.collect::<Vec<_>>());
                for offer in offers.iter() {
                    let reduced = offer.cost as f64 / unit - worth;
                    if reduced <= room {
                        columns.push((reduced, offer, pattern.clone(), counts.clone()));
                    }
                }
            }
        }
        if columns.len() > reach.columns {
            return None;
        }
        columns.sort_by(|one, other| one.0.total_cmp(&other.0).then_with(|| one.3.cmp(&other.3)));
        let column = |(reduced, offer, pattern, counts): (f64, &Offer, Pattern, Counts)| {
            let (number, _) = pool.take(offer.shape, pattern);
            (reduced, Listed { stock: offer.stock, pattern: number, cost: offer.cost, counts })
        };
        Some(columns.into_iter().map(column).collect())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::index::ti_vec;
    use crate::job::{Draft, Job, Order, Per, PriceLine, ProductPart, Supplier, Wood, WoodDefects};
    use crate::measure::{Length, Money};
    use crate::solve::problem::{Instance, Market, Terms, most_gained};
    use crate::solve::relax::{generate, generate_proper};
    use crate::solve::search::listing::list;
    use crate::solve::{Options, solve};
    use crate::trade::{Grade, Quarter};

    /// A job of clear boards of two sizes, and parts by pieces, length and width in inches.
    fn job(parts: &[(u64, i64, i64)], prices: [i64; 2]) -> Job {
        let line = |(length, width): (i64, i64), cents: i64| {
            let price = (Money::cents(cents), Per::Piece);
            let sizes = [Length::inches(length), Length::inches(width)];
            PriceLine::new(0, "oak", Quarter::quarters(4), Grade::Fas, sizes, price)
        };
        let part = |(number, (pieces, length, width)): (usize, &(u64, i64, i64))| {
            let sizes = [Length::inches(*length), Length::inches(*width), Length::inch_128ths(96)];
            ProductPart::new("box", &format!("p{number}"), *pieces, sizes, "oak")
        };
        let mut draft = Draft {
            orders: vec![Order::new("1", "box", 1)],
            parts: parts.iter().enumerate().map(part).collect(),
            suppliers: vec![Supplier::new("yard")],
            lines: vec![line((60, 7), prices[0]), line((84, 9), prices[1])],
            ..Draft::default()
        };
        draft.shop.wood = Wood { defects: WoodDefects::None, ..draft.shop.wood };
        Job::try_new(draft).unwrap()
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

        /// However few columns it began with, what is proven of all columns is never above the cheapest plan.
        #[test]
        fn a_bound_for_all_columns_is_never_above_the_cheapest_plan(
            parts in prop::collection::vec((1_u64..5, 8_i64..50, 1_i64..6), 2..6),
            prices in [900_i64..1_500, 1_500_i64..2_400],
        ) {
            let job = job(&parts, prices);
            let options = Options { gap_percent: 0.0, threads: 1, ..Options::default() };
            let best = solve(&job, &options, &|_, _| ()).unwrap().cost().to_f64();
            let instance = Instance::new(job);
            let market = Market::new(&instance, &ti_vec![Terms::Undecided]).unwrap();
            let sizes: Vec<SizeIndex> = instance.sizes.keys().collect();
            let task = Task::whole(&instance, &market, &sizes);
            let (mut pool, stop) = (Pool::new(&instance), Stop::never());
            let relaxed = generate(&task, &mut pool, &stop);
            let generated = generate_proper(&task, &mut pool, &relaxed, &stop).unwrap_or(relaxed);
            let offers = task.offers();
            prop_assert!(can_be_completed(&task, &offers));
            let reach = Reach { steps: 1 << 22, columns: 20_000 };
            let mut local = pool.emptied();
            let few = list(&task, &offers, &generated, (&pool, &mut local), Some(0), reach, &stop).unwrap();
            let gains = most_gained(&task, &offers) as f64 / tol::TICKS_PER_UNIT as f64;
            let cutoff = best + gains + 0.01;
            let found = complete(&task, few, &mut local, cutoff, reach, &stop).unwrap();
            prop_assert!(found.bound <= best + gains + 1e-6, "{} above {best}", found.bound);
            // The whole gap was within reach, or was too wide to be tried.
            prop_assert!(found.outside >= found.bound);
            let unproven = generated.unrounded as f64 / tol::TICKS_PER_UNIT as f64;
            prop_assert!(found.bound >= unproven - 1e-3, "{} below {unproven}", found.bound);
        }
    }
}
