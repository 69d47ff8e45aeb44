//! Every column against the cuts of a program that has only some of them.
//!
//! Cuts raise the bound of the columns that are listed. What a plan with other columns costs is known only by the linear
//! program without cuts, unless those columns are priced with the cuts' dual values too. A column's coefficient in a cut is
//! a weighted sum rounded up, so it is no linear function of its pieces. But a linear function bounds what a column can be
//! worth ([`super::majorant`]), and the listing of patterns by it finds every column of negative reduced cost. Those join
//! the program until there is none; then the bound with its cuts holds for all columns, and so does ruling out by reduced
//! cost (Baldacci, Christofides and Mingozzi, Mathematical Programming 115(2), 2008).

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::cuts::{CutValues, Tight};
use super::exact::proves;
use super::listing::{Reach, Steps, patterns_wanted};
use super::majorant::{Majorant, Majorants};
use super::program::plain_with;
use crate::index::StockIndex;
use crate::pattern::{Counts, FoundPatterns, Pattern};
use crate::solve::problem::{Listed, Offer, Task, after_resawing};
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

/// Can columns of a task be priced with cuts? All its patterns must be ones that can be listed ([`super::exact::proves`]),
/// and no dealer may ask for anything, nor may boards come in turn.
pub fn can_be_completed(task: &Task<'_>, offers: &[Offer]) -> bool {
    proves(task, offers) && task.instance.lots.is_empty() && task.market.sides.is_empty()
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
    let offers = task.offers();
    let is_limited = |offer: &&Offer| offer.available.is_some();
    let limited: Vec<StockIndex> = offers.iter().filter(is_limited).map(|offer| offer.stock).collect();
    let covering = plain_with(task, &listed.iter().collect::<Vec<_>>(), &limited);
    let mut tight = Tight::recording(covering);
    tight.covering.cutoff = cutoff;
    tight.tighten(tol::CUT_ROUNDS, stop);
    let mut run = Completing { task, offers, limited, reach, stop, cutoff, listed, known, tight };
    for _ in 0..tol::ROUNDS_OF_PRICING {
        if stop.is_due() {
            return None;
        }
        let values = run.tight.values()?;
        let PricedColumns { columns: mut found, are_all } = run.priced(&values, -PRICED_AS_NOTHING, pool);
        found.retain(|(_, column)| !run.known.contains(&(column.stock, column.counts.clone())));
        if found.is_empty() {
            if !are_all {
                return None;
            }
            // More cuts may gain as much again, and ask for other columns.
            run.tight.tighten(tol::CUT_ROUNDS, stop);
            let gained = run.tight.bound - values.bound;
            if gained < (cutoff - values.bound) * tol::COMPLETE_GAIN {
                return Some(run.reached(&values, pool));
            }
            continue;
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
    /// Stock of which there are only so many boards; their rows come after those of the pieces.
    limited: Vec<StockIndex>,
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
        self.tight = self.tight.over(plain_with(self.task, &columns, &self.limited));
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
        // A tree over a part of a wide gap would be large and prove little.
        let is_near = whole <= self.cutoff * tol::NEAR_SHARE;
        for share in tol::ROOM_SHARES.iter().filter(|_| is_near) {
            let found = self.priced(values, whole * share, pool);
            if found.are_all {
                self.take(found.columns);
                room = whole * share;
                break;
            }
        }
        self.renew();
        self.tight.ends_recording();
        Complete { listed: self.listed, tight: self.tight, bound, outside: bound + room }
    }

    /// The columns of at most this reduced cost, the least first.
    fn priced(&self, values: &CutValues, room: f64, pool: &mut Pool) -> PricedColumns {
        let Completing { task, reach, stop, .. } = *self;
        let unit = tol::TICKS_PER_UNIT as f64;
        let majorants = Majorants::new(task, values, &self.limited);
        let reduced =
            |offer: &Offer, counts: &Counts| offer.cost as f64 / unit - majorants.worth(offer.stock, counts);
        let shapes: Vec<&[Offer]> = self.offers.chunk_by(|one, other| one.shape == other.shape).collect();
        let patterns_of = |offers: &&[Offer]| -> FoundPatterns {
            let shape = offers[0].shape;
            // What a column must be worth, but for what its stock adds to that.
            let least = offers.iter().map(|offer| reduced(offer, &Counts::new()) - room);
            // Rounded down: what is listed by it is looked at again.
            let least = (least.fold(f64::MAX, f64::min) * unit).floor() as i64 - 1;
            let Majorant { values, constant, most } = majorants.of(shape, least);
            if most < least {
                return FoundPatterns { patterns: Vec::new(), are_all: true };
            }
            let are_wanted = |counts: &Counts| {
                let given = after_resawing(task.instance.blanks(shape), counts.clone());
                let given = task.cut_down(&given);
                offers.iter().any(|offer| reduced(offer, &given) <= room)
            };
            let steps = Steps { reach, is_late: &|| stop.is_due() };
            patterns_wanted(task, shape, &values, least - constant, &steps, &are_wanted)
        };
        let found: Vec<FoundPatterns> = shapes.par_iter().map(patterns_of).collect();
        let mut are_all = found.iter().all(|found| found.are_all);
        let mut columns: Vec<(f64, &Offer, Pattern, Counts)> = Vec::new();
        for (offers, found) in shapes.iter().zip(found) {
            for pattern in found.patterns {
                let counts = task.cut_down(&pool.given(offers[0].shape, &pattern));
                for offer in offers.iter() {
                    let reduced = reduced(offer, &counts);
                    if reduced <= room {
                        columns.push((reduced, offer, pattern.clone(), counts.clone()));
                    }
                }
            }
        }
        columns.sort_by(|one, other| one.0.total_cmp(&other.0).then_with(|| one.3.cmp(&other.3)));
        are_all &= columns.len() <= reach.columns;
        columns.truncate(reach.columns);
        let column = |(reduced, offer, pattern, counts): (f64, &Offer, Pattern, Counts)| {
            let (number, _) = pool.take(offer.shape, pattern);
            (reduced, Listed { stock: offer.stock, pattern: number, cost: offer.cost, counts })
        };
        PricedColumns { columns: columns.into_iter().map(column).collect(), are_all }
    }
}

/// Columns with their reduced costs.
struct PricedColumns {
    columns: Vec<(f64, Listed)>,
    /// Are there no others?
    are_all: bool,
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::index::{SizeIndex, ti_vec};
    use crate::job::{
        Draft, Job, Order, Per, PriceLine, ProductPart, RackBoard, Sheet, Supplier, Wood, WoodDefects,
    };
    use crate::measure::{Length, Money};
    use crate::solve::problem::{Instance, Market, Terms, most_gained};
    use crate::solve::relax::{generate, generate_proper};
    use crate::solve::search::listing::list;
    use crate::solve::{Options, solve};
    use crate::trade::grading::Defect;
    use crate::trade::{DefectKind, Grade, Quarter};

    /// A job of clear boards of two sizes, and parts by pieces, length and width in inches.
    fn job(
        parts: &[(u64, i64, i64)],
        prices: [i64; 2],
        available: Option<u64>,
        on_the_rack: Option<(i64, i64, i64)>,
    ) -> Job {
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
        draft.lines[1].available = available;
        draft.rack = on_the_rack.into_iter().map(rack_board).collect();
        draft.shop.wood = Wood { defects: WoodDefects::None, ..draft.shop.wood };
        Job::try_new(draft).unwrap()
    }

    /// A board of the rack by length, width and where its defect begins, in inches.
    fn rack_board((length, width, at): (i64, i64, i64)) -> RackBoard {
        let defect = Defect {
            x0: Length::inches(at),
            x1: Length::inches(at + 1),
            y0: Length::inches(1),
            y1: Length::inches(2),
            kind: DefectKind::default(),
        };
        RackBoard {
            board: "R1".to_string(),
            species: "oak".to_string(),
            quarter: Quarter::quarters(4),
            grade: Grade::Fas,
            sheet: Sheet::default(),
            width: Length::inches(width),
            length: Length::inches(length),
            value: Money::cents(250),
            defects: vec![defect],
            place: String::new(),
            trimmed: false,
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

        /// However few columns it began with, what is proven of all columns is never above the cheapest plan, also where
        /// boards are few and where one has a defect.
        #[test]
        fn a_bound_for_all_columns_is_never_above_the_cheapest_plan(
            parts in prop::collection::vec((1_u64..5, 8_i64..50, 1_i64..6), 2..6),
            prices in [900_i64..1_500, 1_500_i64..2_400],
            available in prop::option::of(1_u64..3),
            on_the_rack in prop::option::of((30_i64..80, 3_i64..9, 5_i64..25)),
        ) {
            let job = job(&parts, prices, available, on_the_rack);
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
