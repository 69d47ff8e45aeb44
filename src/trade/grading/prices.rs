//! What so few clear rectangles that do not meet can cover at most, by prices of the ground that they compete for.
//!
//! The largest clear rectangles part the board into cells. No ground is cut twice: instead of that rule each cell has a
//! price for a square inch. Whatever the prices, all cuttings together cover no more than what all ground costs, and for
//! each cutting the most that a rectangle covers beyond what its ground costs (Lagrangian relaxation). Subgradient steps
//! move the prices to where that is least (Held, Wolfe and Crowder, Mathematical Programming 6, 1974). The same prices
//! rule out single cuttings that with the best ones beside them are too little.

use super::face::{Rectangle, in_order};
use crate::measure::Length;

/// Steps after which the prices stay.
const STEPS: usize = 60;

/// Steps aim at a little less than what is needed, so that they do not end just above it.
const AIMED_AT: f64 = 0.99;

/// Rectangles of cells beyond which no prices are looked for: a board with more defects than anyone measures.
const MOST_BLOCKS: usize = 50_000;

/// Sums of square inches in floating point are right to far more than this share.
const ROUNDING: f64 = 1e-9;

/// Prices of ground, and what cuttings are worth beyond them. Worths are in square inches.
pub(super) struct Prices {
    cells: Cells,
    /// By cell, of a square inch.
    of_cells: Vec<f64>,
    /// What all ground costs.
    ground: f64,
    /// The most that a cutting is worth beyond its ground.
    most: f64,
}

impl Prices {
    /// Prices that show, if any do, that so many cuttings have less area than is needed. Each lies in one of the largest
    /// clear rectangles, and none meet.
    pub(super) fn new(largest: &[Rectangle], cuttings: usize, needed: i128) -> Prices {
        let cells = Cells::new(largest);
        let needed = square_inches(needed);
        let count = cuttings as f64;
        let mut trial = vec![0.0; cells.areas.len()];
        let mut prices = Prices { of_cells: trial.clone(), ground: 0.0, most: 0.0, cells };
        let mut least = f64::INFINITY;
        for _ in 0..STEPS {
            let (block, most) = prices.cells.worth_most(&trial);
            let ground = prices.cells.cost(&trial);
            let bound = ground + count * most;
            if bound < least {
                least = bound;
                prices = Prices { of_cells: trial.clone(), ground, most, ..prices };
            }
            let is_open = bound >= needed * (1.0 - ROUNDING) && prices.cells.are_parted;
            let Some(block) = block.filter(|_| is_open) else { break };
            // More cuttings want the ground of the best one than may have it; nobody wants the rest.
            let gains: Vec<f64> = (0..trial.len())
                .map(|cell| match prices.cells.is_in(cell, &block) {
                    true => count - 1.0,
                    false if trial[cell] > 0.0 => -1.0,
                    false => 0.0,
                })
                .collect();
            let areas = &prices.cells.areas;
            let square: f64 = gains.iter().zip(areas).map(|(gain, area)| area * gain * gain).sum();
            if square <= 0.0 {
                break;
            }
            let step = (bound - needed * AIMED_AT) / square;
            for (price, gain) in trial.iter_mut().zip(gains) {
                *price = (*price + step * gain).max(0.0);
            }
        }
        prices
    }

    /// What cuttings of so much area are worth together, at least.
    pub(super) fn least(&self, area: i128) -> f64 {
        square_inches(area) * (1.0 - ROUNDING) - self.ground
    }

    /// The most that one cutting is worth.
    pub(super) fn most(&self) -> f64 {
        self.most
    }

    /// What ground between some lines is worth.
    pub(super) fn between(&self, xs: &[Length], ys: &[Length]) -> GroundWorth {
        let Cells { xs: sides, ys: edges, .. } = &self.cells;
        let GroundWorth { up_to: corners, .. } = self.cells.worth(&self.of_cells);
        let columns: Vec<(usize, f64)> = xs.iter().map(|x| line_before(sides, *x)).collect();
        let across = sides.len();
        let mut up_to = Vec::with_capacity(xs.len() * ys.len());
        for y in ys {
            let (row, share) = line_before(edges, *y);
            let next = (row + 1).min(edges.len() - 1);
            let mix = |low: f64, high: f64, share: f64| low + share * (high - low);
            let at = |x: usize| mix(corners[row * across + x], corners[next * across + x], share);
            let along: Vec<f64> = (0..across).map(at).collect();
            let crossing =
                |(x, share): &(usize, f64)| mix(along[*x], along[(*x + 1).min(across - 1)], *share);
            up_to.extend(columns.iter().map(crossing));
        }
        GroundWorth { across: xs.len(), up_to }
    }
}

/// The last line at or before a place, and the share of the way from it to the next.
fn line_before(lines: &[Length], at: Length) -> (usize, f64) {
    let line = lines.partition_point(|line| *line <= at).saturating_sub(1);
    match lines.get(line + 1) {
        Some(next) if at > lines[line] => {
            (line, (at - lines[line]).base() as f64 / (*next - lines[line]).base() as f64)
        }
        _ => (line, 0.0),
    }
}

/// An area in square inches.
fn square_inches(area: i128) -> f64 {
    let inch = Length::inches(1).base() as f64;
    area as f64 / (inch * inch)
}

/// The cells of a board, and the clear rectangles made of whole cells.
struct Cells {
    /// The lines across the board.
    xs: Vec<Length>,
    /// The lines along it.
    ys: Vec<Length>,
    /// By cell, row by row from the lower edge, in square inches.
    areas: Vec<f64>,
    /// Where a cutting can be worth most: all that lie in the largest clear ones.
    blocks: Vec<Block>,
    /// Are the largest parted into smaller ones? If not they are right for ground that costs nothing only.
    are_parted: bool,
}

/// A rectangle between lines, by their numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Block {
    pub x0: usize,
    pub x1: usize,
    pub y0: usize,
    pub y1: usize,
}

/// What ground is worth beyond its price, in square inches.
pub(super) struct GroundWorth {
    /// Lines across the board.
    across: usize,
    /// At every crossing of two lines, of the ground to the left and below: row by row from the lower edge.
    up_to: Vec<f64>,
}

impl GroundWorth {
    /// Of a block of it.
    pub(super) fn of(&self, block: &Block) -> f64 {
        let at = |x: usize, y: usize| self.up_to[y * self.across + x];
        at(block.x1, block.y1) - at(block.x0, block.y1) - at(block.x1, block.y0) + at(block.x0, block.y0)
    }
}

impl Block {
    /// Every block within it.
    fn parts(self) -> impl Iterator<Item = Block> {
        let pairs = |low: usize, high: usize| {
            (low..high).flat_map(move |from| (from + 1..=high).map(move |to| (from, to)))
        };
        pairs(self.x0, self.x1)
            .flat_map(move |(x0, x1)| pairs(self.y0, self.y1).map(move |(y0, y1)| Block { x0, x1, y0, y1 }))
    }

    fn count_of_parts(self) -> usize {
        let pairs = |low: usize, high: usize| (high - low) * (high - low + 1) / 2;
        pairs(self.x0, self.x1) * pairs(self.y0, self.y1)
    }
}

impl Cells {
    fn new(largest: &[Rectangle]) -> Cells {
        let xs = in_order(largest.iter().flat_map(|one| [one.x0, one.x1]));
        let ys = in_order(largest.iter().flat_map(|one| [one.y0, one.y1]));
        let inch = Length::inches(1).base() as f64;
        let wide = |ends: &[Length]| (ends[1] - ends[0]).base() as f64 / inch;
        let areas = ys.windows(2).flat_map(|y| xs.windows(2).map(move |x| wide(x) * wide(y))).collect();
        let place = |lines: &[Length], at: Length| lines.partition_point(|line| *line < at);
        let block = |one: &Rectangle| Block {
            x0: place(&xs, one.x0),
            x1: place(&xs, one.x1),
            y0: place(&ys, one.y0),
            y1: place(&ys, one.y1),
        };
        let mut blocks: Vec<Block> = largest.iter().map(block).collect();
        let are_parted = blocks.iter().map(|block| block.count_of_parts()).sum::<usize>() <= MOST_BLOCKS;
        if are_parted {
            blocks = blocks.into_iter().flat_map(Block::parts).collect();
            blocks.sort_unstable();
            blocks.dedup();
        }
        Cells { xs, ys, areas, blocks, are_parted }
    }

    fn is_in(&self, cell: usize, block: &Block) -> bool {
        let across = self.xs.len() - 1;
        let (x, y) = (cell % across, cell / across);
        (block.x0..block.x1).contains(&x) && (block.y0..block.y1).contains(&y)
    }

    /// What all ground costs.
    fn cost(&self, prices: &[f64]) -> f64 {
        prices.iter().zip(&self.areas).map(|(price, area)| price * area).sum()
    }

    /// What they are worth.
    fn worth(&self, prices: &[f64]) -> GroundWorth {
        let across = self.xs.len();
        let mut up_to = vec![0.0; across * self.ys.len()];
        for y in 1..self.ys.len() {
            let mut row = 0.0;
            for x in 1..across {
                let cell = (y - 1) * (across - 1) + x - 1;
                row += self.areas[cell] * (1.0 - prices[cell]);
                up_to[y * across + x] = up_to[(y - 1) * across + x] + row;
            }
        }
        GroundWorth { across, up_to }
    }

    /// The block that is worth most, with its worth.
    fn worth_most(&self, prices: &[f64]) -> (Option<Block>, f64) {
        let ground = self.worth(prices);
        let mut best = (None, 0.0);
        for block in &self.blocks {
            let worth = ground.of(block);
            if worth > best.1 {
                best = (Some(*block), worth);
            }
        }
        best
    }
}
