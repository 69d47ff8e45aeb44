//! Every column that a plan within a gap can need.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::index::{ShapeIndex, SizeIndex, TiVec};
use crate::pattern::{
    AroundDefects, BetweenDefects, Blemished, FoundPatterns, Limits, ListTask, Pattern, Proper, Values,
    wanted_patterns_worth,
};
use crate::solve::problem::{Counts, Listed, Offer, Shape, Task, before_resawing, worth};
use crate::solve::relax::{Generated, Pool, scaled};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// How far columns are listed.
#[derive(Debug, Clone, Copy)]
pub struct Reach {
    /// Steps of the listing of each shape's patterns.
    pub steps: usize,
    /// Columns in all.
    pub columns: usize,
}

/// All columns within the gap, or `None` if they are too many. The patterns of boards with defects are taken from the
/// first pool. All patterns go into the second one, and the columns have its numbers.
pub fn list(
    task: &Task<'_>,
    offers: &[Offer],
    generated: &Generated,
    (known, local): (&Pool, &mut Pool),
    gap: Option<i64>,
    reach: Reach,
    stop: &Stop,
) -> Option<Vec<Listed>> {
    let instance = task.instance;
    let values = generated.values();
    let gap = gap.map(|gap| gap + rounded_away(task, offers));
    let threshold = |offer: &Offer| gap.map_or(0, |gap| least_worth_of(offer, generated, gap));
    let shapes: Vec<&[Offer]> = offers.chunk_by(|one, other| one.shape == other.shape).collect();
    let listing = Listing { task, known, values: &values, reach, stop, found: AtomicUsize::new(0) };
    let found: Option<Vec<Vec<Pattern>>> = shapes
        .par_iter()
        .map(|offers| {
            let least = offers.iter().map(threshold).min().unwrap_or(0);
            listing.patterns_of(offers[0].shape, least)
        })
        .collect();
    let found = found?;
    // The same whichever shape was done first.
    if listing.has_too_many() {
        return None;
    }
    let mut listed = Vec::new();
    for (offers, patterns) in shapes.iter().zip(found) {
        let shape = &instance.shapes[offers[0].shape];
        let is_clean = is_listed_whole(shape);
        for pattern in patterns {
            let (number, _) = local.take(offers[0].shape, pattern);
            let counts = task.cut_down(&local.patterns[number].counts);
            let worth = worth(&values, &counts);
            for offer in offers.iter().filter(|offer| !is_clean || worth >= threshold(offer)) {
                let counts = counts.clone();
                listed.push(Listed { stock: offer.stock, pattern: number, cost: offer.cost, counts });
            }
        }
        if !task.market.sides.is_empty() {
            let (number, _) = local.take(offers[0].shape, Pattern::empty());
            listed.extend(offers.iter().map(|offer| Listed {
                stock: offer.stock,
                pattern: number,
                cost: offer.cost,
                counts: Vec::new(),
            }));
        }
        if listed.len() > reach.columns {
            return None;
        }
    }
    Some(without_covered(task, listed))
}

/// What rounding may hide of the gap. Scaling rounds the value of each piece down, and rounds up what a board in short
/// supply costs beyond its price: by less than a tick each. The values of lots are rounded once a board.
fn rounded_away(task: &Task<'_>, offers: &[Offer]) -> i64 {
    let pieces: i64 = task.demand.iter().map(|pieces| i64::from(*pieces)).sum();
    let limited: i64 = offers.iter().map(|offer| offer.available.map_or(0, i64::from)).sum();
    let lots: i64 = task.instance.lots.iter().map(|lot| 2 * lot.len() as i64).sum();
    pieces + 2 * limited + lots
}

/// Are a shape's patterns listed, all those that are worth enough? Of a measured board whose defects take too long to
/// search around, only known patterns are taken.
pub fn is_listed_whole(shape: &Shape) -> bool {
    shape.blocks.is_empty() || shape.drawn || shape.searched_around
}

/// The listing of one list, shape by shape.
struct Listing<'l> {
    task: &'l Task<'l>,
    /// Has the patterns of boards with defects.
    known: &'l Pool,
    values: &'l Values,
    reach: Reach,
    stop: &'l Stop,
    /// Patterns of the shapes that are done. Each becomes a column, so that the others are listed in vain where these are
    /// already too many.
    found: AtomicUsize,
}

impl Listing<'_> {
    /// All patterns of a shape that are worth `least`, or `None` if they are too many. Every shape has a budget of its
    /// own, so that the list does not depend on the number of threads.
    fn patterns_of(&self, index: ShapeIndex, least: i64) -> Option<Vec<Pattern>> {
        let listed = self.worth(index, least);
        let found = match &listed {
            None => self.reach.columns + 1,
            Some(patterns) if is_listed_whole(&self.task.instance.shapes[index]) => patterns.len(),
            // Of a measured board every known pattern is given, and few of them become columns.
            Some(_) => 0,
        };
        self.found.fetch_add(found, Ordering::Relaxed);
        listed
    }

    fn has_too_many(&self) -> bool {
        self.found.load(Ordering::Relaxed) > self.reach.columns
    }

    fn worth(&self, index: ShapeIndex, least: i64) -> Option<Vec<Pattern>> {
        let Listing { task, reach, .. } = *self;
        let shape = &task.instance.shapes[index];
        let is_late = || self.stop.is_due() || self.has_too_many();
        if !is_listed_whole(shape) {
            let same = self.known.patterns.iter().filter(|entry| entry.shape == index);
            return Some(same.map(|entry| entry.pattern.clone()).collect());
        }
        let steps = Steps { reach, is_late: &is_late };
        let found = patterns_wanted(task, index, self.values, least, &steps, &|_| true);
        found.are_all.then_some(found.patterns)
    }
}

/// How far one shape's patterns are listed.
pub struct Steps<'a> {
    pub reach: Reach,
    /// Asked now and then: is it time to give up?
    pub is_late: &'a (dyn Fn() -> bool + Sync),
}

/// The patterns of a shape that are worth `least` and whose pieces are wanted, as far as they can be reached. Pieces that
/// are resawn are asked about as they lie on the board.
pub fn patterns_wanted(
    task: &Task<'_>,
    index: ShapeIndex,
    values: &Values,
    least: i64,
    steps: &Steps<'_>,
    are_wanted: &(dyn Fn(&Counts) -> bool + Sync),
) -> FoundPatterns {
    let shape = &task.instance.shapes[index];
    if !shape.blocks.is_empty() {
        let listed = with_defects(task, index, values, least, steps.reach.steps, steps.is_late);
        let are_all = listed.is_some();
        let mut patterns = listed.unwrap_or_default();
        patterns.retain(|pattern| are_wanted(&pattern.counts()));
        return FoundPatterns { patterns, are_all };
    }
    let (values, limits) = before_resawing(task.instance.blanks(index), values, &task.demand);
    let proper = Proper {
        pieces: &task.pieces_of(index),
        limits: &limits,
        values: &values,
        board: shape.rect,
        cutting: task.instance.cutting(index),
        threshold: least,
        budget: &mut steps.reach.steps.clone(),
        most: steps.reach.columns,
        is_late: steps.is_late,
    };
    wanted_patterns_worth(proper, are_wanted)
}

/// The value from which a column of an offer is within the gap.
fn least_worth_of(offer: &Offer, generated: &Generated, gap: i64) -> i64 {
    let place = generated.prices.binary_search_by_key(&offer.shape, |price| price.shape);
    let most_worth = place.map_or(0, |place| generated.prices[place].bound);
    let side = scaled(generated.duals.sides[offer.stock], generated.scale);
    let scarcity = match offer.available {
        Some(_) => (scaled(most_worth, generated.scale) + 1 + side - offer.cost).max(0),
        None => 0,
    };
    offer.cost + scarcity - side - gap - 2
}

/// All patterns of a board with defects that are worth the threshold, in both layouts; none if they are too many.
fn with_defects(
    task: &Task<'_>,
    shape: ShapeIndex,
    values: &Values,
    threshold: i64,
    steps: usize,
    is_late: &(dyn Fn() -> bool + Sync),
) -> Option<Vec<Pattern>> {
    let pieces = task.pieces_of(shape);
    let cutting = task.instance.cutting(shape);
    let (values, limits) = before_resawing(task.instance.blanks(shape), values, &task.demand);
    let Shape { rect, blocks, drawn, .. } = &task.instance.shapes[shape];
    let board = Blemished { rect: *rect, blocks: blocks.clone() };
    let wanted = ListTask { values: &values, limits: &limits, threshold, budget: steps, is_late };
    let mut patterns: BTreeMap<Counts, Pattern> = BTreeMap::new();
    for layout in cutting.family.layouts() {
        let listed = if *drawn {
            BetweenDefects::new(*layout, &pieces, std::slice::from_ref(&board), cutting).list(0, &wanted)?
        } else {
            AroundDefects::new(*layout, &pieces, &task.demand, *rect, blocks, cutting)?.list(&wanted)?
        };
        patterns.extend(listed.into_iter().map(|pattern| (pattern.counts(), pattern)));
    }
    Some(patterns.into_values().collect())
}

/// Drops a column where another of the same stock gives at least the same pieces.
pub fn without_covered(task: &Task<'_>, mut listed: Vec<Listed>) -> Vec<Listed> {
    let pieces = |counts: &[(SizeIndex, u32)]| counts.iter().map(|(_, n)| n).sum::<u32>();
    listed.sort_by_key(|column| {
        (column.stock, std::cmp::Reverse(pieces(&column.counts)), column.counts.clone())
    });
    let fields = Fields::new(&task.demand);
    let mut kept: Vec<(Listed, u128)> = Vec::new();
    // First of the columns kept for the stock at hand.
    let mut first = 0;
    for column in listed {
        if kept.get(first).is_some_and(|(other, _)| other.stock != column.stock) {
            first = kept.len();
        }
        let key = fields.as_ref().map_or(0, |fields| fields.key(&column.counts));
        let covered = |(by, by_key): &(Listed, u128)| match &fields {
            Some(fields) => fields.covers(*by_key, key),
            None => covers(&by.counts, &column.counts),
        };
        // The comparisons go with the square of the columns of a stock.
        let few = kept.len() - first <= tol::COVERED_AMONG;
        let is_covered = few && !column.counts.is_empty() && kept[first..].iter().any(covered);
        if !is_covered {
            kept.push((column, key));
        }
    }
    kept.into_iter().map(|(column, _)| column).collect()
}

fn covers(by: &Counts, counts: &Counts) -> bool {
    counts.iter().all(|(size, n)| by.iter().any(|(other, more)| other == size && more >= n))
}

/// The pieces of a column as one number: a field for each size, with a guard bit above it, so that one
/// subtraction compares all of them.
struct Fields {
    /// By size, the lowest bit of its field.
    shifts: TiVec<SizeIndex, u32>,
    guards: u128,
}

impl Fields {
    /// None where the fields do not fit.
    fn new(demand: &Limits) -> Option<Fields> {
        let mut fields = Fields { shifts: TiVec::with_capacity(demand.len()), guards: 0 };
        let mut bit = 0;
        for pieces in demand {
            fields.shifts.push(bit);
            if *pieces > 0 {
                bit += u32::BITS - pieces.leading_zeros();
                fields.guards |= 1u128.checked_shl(bit)?;
                bit += 1;
            }
        }
        (bit <= u128::BITS).then_some(fields)
    }

    fn key(&self, counts: &[(SizeIndex, u32)]) -> u128 {
        counts.iter().map(|(size, n)| u128::from(*n) << self.shifts[*size]).sum()
    }

    fn covers(&self, by: u128, key: u128) -> bool {
        ((by | self.guards) - key) & self.guards == self.guards
    }
}
