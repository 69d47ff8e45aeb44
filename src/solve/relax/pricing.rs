//! The pricing of every shape, in parallel.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::prices::ShapePrice;
use crate::pattern::{AroundDefects, Block, Layout, MOST_PIECES, Pattern, Piece, Priced, Traced, TwoStage};
use crate::solve::problem::{Blanks, Offer, Task, before_resawing};

/// The pricing of every shape that a task's offers have, prepared once for the task.
#[derive(Debug)]
pub struct Pricer {
    tables: Vec<PricedTogether>,
    /// Boards with defects that are priced as if clean and then cut around them, by shape.
    quick: BTreeMap<usize, Vec<AroundDefects>>,
    /// What is resawn of those.
    blanks: BTreeMap<usize, Blanks>,
}

/// Shapes that offer the same wanted sizes, in one layout.
#[derive(Debug)]
struct PricedTogether {
    shapes: Vec<usize>,
    table: Table,
    /// Sizes of which a piece gives several blanks.
    blanks: Blanks,
    /// Has the layout patterns that no other one has? If not it only gives a second pattern.
    binds: bool,
}

/// What one table is made from.
struct Wanted {
    pieces: Vec<(u32, Piece)>,
    blanks: Blanks,
    blocks: Vec<Block>,
    shapes: Vec<usize>,
    layout: Layout,
    binds: bool,
}

#[derive(Debug)]
enum Table {
    /// Any number of clean boards.
    Clean(TwoStage),
    /// One board with defects.
    Around(AroundDefects),
}

impl Table {
    fn price(&self, values: &[i64], limits: &[u32], least_worth: &[i64]) -> Vec<Priced> {
        match self {
            Table::Clean(table) => table.price(values, limits, least_worth),
            Table::Around(table) => {
                let (bound, pattern, worth) = table.price(values, limits);
                let traced = Traced { relaxed: pattern.clone(), proper: (pattern, worth) };
                vec![Priced { board: 0, bound, patterns: (worth > least_worth[0]).then_some(traced) }]
            }
        }
    }
}

/// What boards that are priced together have in common: wanted sizes, what is resawn, defects.
type Common = (Vec<u32>, Blanks, Vec<Block>);

/// Boards that are priced together.
type Group = (Common, Vec<usize>);

/// Groups of clean boards that differ only in what is too large for some of them are priced together:
/// a knapsack leaves out what does not fit by itself.
fn joined(task: &Task<'_>, groups: BTreeMap<Common, Vec<usize>>) -> Vec<Group> {
    let instance = task.instance;
    let not_listed = |size: &u32, shape: &usize| {
        let (piece, rect) = (instance.sizes[*size as usize].piece, instance.shapes[*shape].rect);
        piece.length > rect.length || piece.width > rect.width
    };
    let mut largest_first: Vec<Group> = groups.into_iter().collect();
    largest_first.sort_by_key(|((sizes, ..), _)| std::cmp::Reverse(sizes.len()));
    let mut together: Vec<Group> = Vec::new();
    for ((sizes, blanks, blocks), shapes) in largest_first {
        let host = together.iter_mut().find(|((more, resawn, others), _)| {
            blocks.is_empty()
                && blanks == *resawn
                && others.is_empty()
                && sizes.iter().all(|size| more.binary_search(size).is_ok())
                && more
                    .iter()
                    .filter(|size| sizes.binary_search(size).is_err())
                    .all(|size| shapes.iter().all(|shape| not_listed(size, shape)))
        });
        match host {
            Some((_, hosted)) => hosted.extend(shapes),
            None => together.push(((sizes, blanks, blocks), shapes)),
        }
    }
    together
}

impl Pricer {
    /// Prepares the positions of all shapes on offer, in both layouts.
    pub fn new(task: &Task<'_>, offers: &[Offer]) -> Pricer {
        let instance = task.instance;
        let cutting = instance.cutting();
        let mut groups: BTreeMap<Common, Vec<usize>> = BTreeMap::new();
        let mut quick: BTreeMap<usize, Vec<AroundDefects>> = BTreeMap::new();
        for alike in offers.chunk_by(|one, other| one.shape == other.shape) {
            let shape = alike[0].shape;
            let mut blocks = instance.shapes[shape].blocks.clone();
            let sizes = task.wanted_of(shape);
            if !blocks.is_empty() && sizes.len() > MOST_PIECES {
                let pieces = task.pieces_of(shape);
                let board = instance.shapes[shape].rect;
                let around = cutting.family.layouts().iter().map(|layout| {
                    AroundDefects::new(*layout, &pieces, &task.demand, board, &blocks, cutting)
                });
                quick.insert(shape, around.collect());
                blocks.clear();
            }
            // Boards with defects are priced one by one.
            let wanted = |(size, _): &(u32, u32)| sizes.binary_search(size).is_ok();
            let blanks: Blanks = instance.blanks(shape).iter().copied().filter(wanted).collect();
            groups.entry((sizes, blanks, blocks)).or_default().push(shape);
        }
        let mut wanted = Vec::new();
        for ((sizes, blanks, blocks), shapes) in joined(task, groups) {
            let pieces: Vec<_> =
                sizes.iter().map(|size| (*size, instance.sizes[*size as usize].piece)).collect();
            let alone = if blocks.is_empty() { shapes.len() } else { 1 };
            for shapes in shapes.chunks(alone.max(1)) {
                for layout in cutting.family.layouts() {
                    let needs = |shape: &usize| {
                        !blocks.is_empty()
                            || cutting.layouts_for(&pieces, instance.shapes[*shape].rect).contains(layout)
                    };
                    let (needed, spare): (Vec<usize>, Vec<usize>) = shapes.iter().copied().partition(needs);
                    for (shapes, binds) in [(needed, true), (spare, false)] {
                        if !shapes.is_empty() {
                            let (pieces, blanks, blocks) = (pieces.clone(), blanks.clone(), blocks.clone());
                            wanted.push(Wanted { pieces, blanks, blocks, shapes, layout: *layout, binds });
                        }
                    }
                }
            }
        }
        let tables = wanted
            .into_par_iter()
            .map(|Wanted { pieces, blanks, blocks, shapes, layout, binds }| {
                let boards: Vec<_> = shapes.iter().map(|shape| instance.shapes[*shape].rect).collect();
                let table = if blocks.is_empty() {
                    Table::Clean(TwoStage::new(layout, &pieces, &boards, cutting))
                } else {
                    let board = boards[0];
                    Table::Around(AroundDefects::new(layout, &pieces, &task.demand, board, &blocks, cutting))
                };
                PricedTogether { shapes, table, blanks, binds }
            })
            .collect();
        let blanks = quick.keys().map(|shape| (*shape, instance.blanks(*shape).clone())).collect();
        Pricer { tables, quick, blanks }
    }

    /// Prices every shape, by rising shape. Patterns are given where they are worth more than
    /// `least_worth` (by shape).
    pub fn price(&self, values: &[i64], limits: &[u32], least_worth: &[i64]) -> Vec<ShapePrice> {
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
        let mut best: BTreeMap<usize, ShapePrice> = BTreeMap::new();
        for (together, boards) in priced {
            for board in boards {
                let shape = together.shapes[board.board];
                let entry = best.entry(shape).or_insert(ShapePrice { shape, bound: 0, patterns: Vec::new() });
                if together.binds {
                    entry.bound = entry.bound.max(board.bound);
                }
                if self.quick.contains_key(&shape) {
                    continue;
                }
                let Some(traced) = board.patterns else { continue };
                let (proper, worth) = traced.proper;
                if together.binds && traced.relaxed != proper {
                    entry.patterns.push((traced.relaxed, board.bound));
                }
                entry.patterns.push((proper, worth));
            }
        }
        let around: Vec<(usize, Pattern, i64)> = self
            .quick
            .par_iter()
            .filter(|(shape, _)| best.get(*shape).is_some_and(|price| price.bound > least_worth[**shape]))
            .flat_map_iter(|(shape, layouts)| layouts.iter().map(|around| (*shape, around)))
            .map(|(shape, around)| {
                let (values, limits) = before_resawing(&self.blanks[&shape], values, limits);
                let (pattern, worth) = around.quickly(&values, &limits);
                (shape, pattern, worth)
            })
            .collect();
        for (shape, pattern, worth) in around {
            if let Some(entry) = best.get_mut(&shape)
                && worth > least_worth[shape]
            {
                entry.patterns.push((pattern, worth));
            }
        }
        let mut prices: Vec<ShapePrice> = best.into_values().collect();
        for price in &mut prices {
            price.patterns.sort_by(|one, other| other.1.cmp(&one.1).then_with(|| one.0.cmp(&other.0)));
        }
        prices
    }
}
