//! The pricing of every shape, in parallel.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::prices::ShapePrice;
use crate::index::{ShapeIndex, SizeIndex, TiSlice};
use crate::pattern::{
    AroundDefects, BetweenDefects, Blemished, Block, Layout, Limits, Piece, Priced, TwoStage, Values,
};
use crate::solve::problem::{Blanks, Offer, Shape, Task, before_resawing};
use crate::trade::Turns;

/// The pricing of every shape that a task's offers have, prepared once for the task.
#[derive(Debug)]
pub struct Pricer {
    tables: Vec<PricedTogether>,
}

/// Shapes that offer the same wanted sizes, in one layout.
#[derive(Debug)]
struct PricedTogether {
    shapes: Vec<ShapeIndex>,
    table: PricingTable,
    /// Sizes of which a piece gives several blanks.
    blanks: Blanks,
    gives: AskedFor,
}

/// What a table is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum AskedFor {
    /// A bound and the pattern that reaches it.
    Both,
    /// A bound: of a board as if it were clean.
    Bound,
    /// A pattern: another table bounds these boards.
    Pattern,
}

/// How boards with defects are priced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum PricedBy {
    /// There are no defects, or the board is taken as if there were none.
    Clean,
    /// Around its defects, one board at a time; as if it were clean, where that takes too long.
    Around,
    /// Between the defects, together with others.
    Between,
}

/// What one table is made from.
struct Wanted {
    common: Common,
    shapes: Vec<ShapeIndex>,
    layout: Layout,
    gives: AskedFor,
}

#[derive(Debug)]
enum PricingTable {
    /// Any number of clean boards.
    Clean(TwoStage),
    /// One board with defects.
    Around(AroundDefects),
    /// One board that takes too long to search around its defects: nothing is known of it.
    TooLong,
    /// Any number of boards with defects.
    Between(BetweenDefects),
}

impl PricingTable {
    fn price(&self, values: &Values, limits: &Limits, least_worth: &[i64]) -> Vec<Priced> {
        match self {
            PricingTable::Clean(table) => table.price(values, limits, least_worth),
            PricingTable::Around(table) => {
                let (bound, traced) = table.price(values, limits);
                vec![Priced { board: 0, bound, patterns: (bound > least_worth[0]).then_some(traced) }]
            }
            PricingTable::TooLong => vec![Priced { board: 0, bound: i64::MAX, patterns: None }],
            PricingTable::Between(table) => table.price(values, limits, least_worth),
        }
    }

    fn is_of_one(&self) -> bool {
        matches!(self, PricingTable::Around(_) | PricingTable::TooLong)
    }
}

/// What boards that are priced together have in common: how, wanted sizes and how they may lie, what is resawn, and
/// the defects of one that is priced alone.
type Common = (PricedBy, Vec<(SizeIndex, Turns)>, Blanks, Vec<Block>);

/// Boards that are priced together.
type PricedGroup = (Common, Vec<ShapeIndex>);

/// Groups of boards that differ only in what is too large for some of them are priced together, unless one is
/// priced alone: a knapsack leaves out what does not fit by itself.
fn joined(task: &Task<'_>, groups: BTreeMap<Common, Vec<ShapeIndex>>) -> Vec<PricedGroup> {
    let instance = task.instance;
    let not_listed = |(size, turns): &(SizeIndex, Turns), shape: &ShapeIndex| {
        let (piece, rect) = (instance.sizes[*size].piece, instance.shapes[*shape].rect);
        let too_large = |piece: Piece| piece.length > rect.length || piece.width > rect.width;
        piece.lying(*turns).all(too_large)
    };
    let saw = |shapes: &[ShapeIndex]| {
        shapes.first().map(|shape| instance.kinds[instance.shapes[*shape].kind].sheets)
    };
    let mut largest_first: Vec<PricedGroup> = groups.into_iter().collect();
    largest_first.sort_by_key(|((_, sizes, ..), _)| std::cmp::Reverse(sizes.len()));
    let mut together: Vec<PricedGroup> = Vec::new();
    for ((manner, sizes, blanks, blocks), shapes) in largest_first {
        let host = together.iter_mut().find(|((other, more, resawn, _), hosted)| {
            manner != PricedBy::Around
                && saw(hosted) == saw(&shapes)
                && manner == *other
                && blanks == *resawn
                && sizes.iter().all(|size| more.binary_search(size).is_ok())
                && more
                    .iter()
                    .filter(|size| sizes.binary_search(size).is_err())
                    .all(|size| shapes.iter().all(|shape| not_listed(size, shape)))
        });
        match host {
            Some((_, hosted)) => hosted.extend(shapes),
            None => together.push(((manner, sizes, blanks, blocks), shapes)),
        }
    }
    together
}

/// The tables of some shapes. A layout whose patterns another one has as well only gives a second pattern.
fn in_every_layout(task: &Task<'_>, common: &Common, shapes: &[ShapeIndex], gives: AskedFor) -> Vec<Wanted> {
    let instance = task.instance;
    let Some(first) = shapes.first() else { return Vec::new() };
    let cutting = instance.cutting(*first);
    let (manner, sizes, ..) = common;
    let pieces = instance.pieces_lying(sizes);
    let mut wanted = Vec::new();
    for layout in cutting.family.layouts() {
        let needs = |shape: &ShapeIndex| {
            *manner != PricedBy::Clean
                || cutting.layouts_for(&pieces, instance.shapes[*shape].rect).contains(layout)
        };
        let (needed, spare): (Vec<ShapeIndex>, Vec<ShapeIndex>) = shapes.iter().copied().partition(needs);
        let spare = if gives == AskedFor::Bound { Vec::new() } else { spare };
        for (shapes, gives) in [(needed, gives), (spare, AskedFor::Pattern)] {
            if !shapes.is_empty() {
                wanted.push(Wanted { common: common.clone(), shapes, layout: *layout, gives });
            }
        }
    }
    wanted
}

/// The table that prices some shapes together in one layout.
fn priced_together(task: &Task<'_>, wanted: Wanted) -> PricedTogether {
    let instance = task.instance;
    let Wanted { common: (manner, sizes, blanks, blocks), shapes, layout, gives } = wanted;
    let pieces = instance.pieces_lying(&sizes);
    let cutting = instance.cutting(shapes[0]);
    let rects = shapes.iter().map(|shape| instance.shapes[*shape].rect);
    let table = match manner {
        PricedBy::Clean => {
            PricingTable::Clean(TwoStage::new(layout, &pieces, &rects.collect::<Vec<_>>(), cutting))
        }
        PricedBy::Around => {
            let board = instance.shapes[shapes[0]].rect;
            AroundDefects::new(layout, &pieces, &task.demand, board, &blocks, cutting)
                .map_or(PricingTable::TooLong, PricingTable::Around)
        }
        PricedBy::Between => {
            let blemished = shapes.iter().map(|shape| {
                let Shape { rect, blocks, .. } = &instance.shapes[*shape];
                Blemished { rect: *rect, blocks: blocks.clone() }
            });
            let boards: Vec<Blemished> = blemished.collect();
            PricingTable::Between(BetweenDefects::new(layout, &pieces, &boards, cutting))
        }
    };
    PricedTogether { shapes, table, blanks, gives }
}

impl Pricer {
    /// Prepares the positions of all shapes on offer, in both layouts.
    pub fn new(task: &Task<'_>, offers: &[Offer]) -> Pricer {
        let instance = task.instance;
        let mut groups: BTreeMap<(AskedFor, Common), Vec<ShapeIndex>> = BTreeMap::new();
        for alike in offers.chunk_by(|one, other| one.shape == other.shape) {
            let shape = alike[0].shape;
            let entry = &instance.shapes[shape];
            let sizes = task.wanted_of(shape);
            let wanted = |(size, _): &(SizeIndex, u32)| sizes.binary_search(size).is_ok();
            let blanks: Blanks = instance.blanks(shape).iter().copied().filter(wanted).collect();
            let manners: &[(AskedFor, PricedBy)] = if entry.blocks.is_empty() {
                &[(AskedFor::Both, PricedBy::Clean)]
            } else if entry.drawn {
                &[(AskedFor::Both, PricedBy::Between)]
            } else if instance.cutting(shape).stages > 2 {
                // Two stages are cut around defects; the bound must hold for a third.
                &[
                    (AskedFor::Bound, PricedBy::Clean),
                    (AskedFor::Pattern, PricedBy::Around),
                    (AskedFor::Pattern, PricedBy::Between),
                ]
            } else {
                // Both bounds hold: one keeps to the limits within a strip, the other to the defects.
                &[
                    (AskedFor::Bound, PricedBy::Clean),
                    (AskedFor::Both, PricedBy::Around),
                    (AskedFor::Pattern, PricedBy::Between),
                ]
            };
            for (gives, manner) in manners {
                let blocks = if *manner == PricedBy::Around { entry.blocks.clone() } else { Vec::new() };
                let lying = sizes.iter().map(|size| (*size, instance.turns(shape, *size))).collect();
                let common = (*manner, lying, blanks.clone(), blocks);
                groups.entry((*gives, common)).or_default().push(shape);
            }
        }
        let mut wanted = Vec::new();
        for gives in [AskedFor::Both, AskedFor::Bound, AskedFor::Pattern] {
            let mine = groups.iter().filter(|((other, _), _)| *other == gives);
            let mine = mine.map(|((_, common), shapes)| (common.clone(), shapes.clone()));
            for (common, shapes) in joined(task, mine.collect()) {
                let alone = if common.0 == PricedBy::Around { 1 } else { shapes.len() };
                for shapes in shapes.chunks(alone.max(1)) {
                    wanted.extend(in_every_layout(task, &common, shapes, gives));
                }
            }
        }
        let tables = wanted.into_par_iter().map(|wanted| priced_together(task, wanted)).collect();
        Pricer { tables }
    }

    /// Prices every shape, by rising shape. Patterns are given where they are worth more than
    /// `least_worth` (by shape).
    pub fn price(
        &self,
        values: &Values,
        limits: &Limits,
        least_worth: &TiSlice<ShapeIndex, i64>,
    ) -> Vec<ShapePrice> {
        let priced: Vec<(&PricedTogether, Vec<Priced>)> = self
            .tables
            .par_iter()
            .map(|together| {
                let least: Vec<i64> = together.shapes.iter().map(|shape| least_worth[*shape]).collect();
                if together.blanks.is_empty() {
                    return (together, together.table.price(values, limits, &least));
                }
                let (values, limits) = before_resawing(&together.blanks, values, limits);
                (together, together.table.price(&values, &limits, &least))
            })
            .collect();
        let mut best: BTreeMap<ShapeIndex, ShapePrice> = BTreeMap::new();
        let mut around: BTreeMap<ShapeIndex, i64> = BTreeMap::new();
        for (together, boards) in priced {
            for board in boards {
                let shape = together.shapes[board.board];
                let entry = best.entry(shape).or_insert(ShapePrice { shape, bound: 0, patterns: Vec::new() });
                if together.gives != AskedFor::Pattern {
                    // No layout is worth more, and each board that is priced in two ways is worth no more than either says.
                    let bound = if together.table.is_of_one() {
                        around.entry(shape).or_insert(0)
                    } else {
                        &mut entry.bound
                    };
                    *bound = board.bound.max(*bound);
                }
                let Some(traced) = board.patterns.filter(|_| together.gives != AskedFor::Bound) else {
                    continue;
                };
                let (proper, worth) = traced.proper;
                if together.gives == AskedFor::Both && traced.relaxed != proper {
                    entry.patterns.push((traced.relaxed, board.bound));
                }
                entry.patterns.push((proper, worth));
            }
        }
        let mut prices: Vec<ShapePrice> = best.into_values().collect();
        for price in &mut prices {
            price.bound = around.get(&price.shape).map_or(price.bound, |bound| price.bound.min(*bound));
            price.patterns.sort_by(|one, other| other.1.cmp(&one.1).then_with(|| one.0.cmp(&other.0)));
        }
        prices
    }
}
