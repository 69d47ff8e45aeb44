//! Boards cut one by one as they come, without knowing the next.
//!
//! What a shop does with a pile of random widths: look at a board, cut the most valuable pattern of
//! what is still wanted. Large pieces are worth more than their area, since small ones fit anywhere
//! (value correction after Belov and Scheithauer, Operations Research Letters 35(5), 2007, in one step).

use super::problem::{Blanks, Instance, Source, before_resawing, blanks_in, blanks_of};
use crate::job::Job;
use crate::measure::Area;
use crate::pattern::{BetweenDefects, Blemished, Block, Layout, Pattern, Piece, Rect, TwoStage};

/// How much more a piece is worth for each whole share of the longest and widest piece.
const PREFER_LARGE: f64 = 0.5;

/// The pieces of a job and which price line offers which.
#[derive(Debug)]
pub struct Arrival<'j> {
    instance: Instance<'j>,
    /// Value of each size.
    values: Vec<i64>,
    /// Sizes that each price line offers at its largest board.
    sizes: Vec<Vec<u32>>,
}

impl<'j> Arrival<'j> {
    /// Groups a job whose lines are at the largest boards they may bring.
    pub fn new(largest: &'j Job) -> Arrival<'j> {
        let instance = Instance::new(largest);
        let pieces = || instance.sizes.iter().map(|size| size.piece);
        let longest = pieces().map(|piece| piece.length.base()).max().unwrap_or(1) as f64;
        let widest = pieces().map(|piece| piece.width.base()).max().unwrap_or(1) as f64;
        let value = |piece: Piece| {
            let share = piece.length.base() as f64 / longest + piece.width.base() as f64 / widest;
            let area = Area::of(piece.length, piece.width).base() as f64;
            let unit = Area::of(crate::measure::Length::inches(1), crate::measure::Length::inches(1));
            (area / unit.base() as f64 * (1.0 + PREFER_LARGE * share) * 1e4) as i64
        };
        let values = pieces().map(value).collect();
        let mut sizes = vec![Vec::new(); largest.lines.len()];
        for stock in &instance.stocks {
            if let Source::Line(line) = stock.source {
                sizes[line] = instance.kinds[instance.shapes[stock.shape].kind].sizes.clone();
            }
        }
        Arrival { instance, values, sizes }
    }

    /// Pieces wanted, by size, beside those of each part (by index) that are already cut.
    pub fn demand_beside(&self, cut: &[u32]) -> Vec<u32> {
        let wanted = |parts: &[(usize, u32)]| {
            parts.iter().map(|(part, pieces)| pieces.saturating_sub(cut[*part])).sum::<u32>()
        };
        self.instance.sizes.iter().map(|size| wanted(&size.parts)).collect()
    }

    /// Is anything of what is left offered by a line?
    pub fn wants(&self, line: usize, left: &[u32]) -> bool {
        self.sizes[line].iter().any(|size| left[*size as usize] > 0)
    }

    /// Cuts one board of a line, given its usable rectangle and the boxes in it to be cut around; what
    /// it gives is taken off `left`. False if nothing was cut.
    pub fn cut(&self, line: usize, rect: Rect, blocks: &[Block], left: &mut [u32]) -> bool {
        let wanted = self.sizes[line].iter().filter(|size| left[**size as usize] > 0);
        let pieces: Vec<(u32, Piece)> =
            wanted.map(|size| (*size, self.instance.sizes[*size as usize].piece)).collect();
        let cutting = self.instance.cutting();
        let job = self.instance.job;
        let blanks = |size: u32| {
            blanks_of(job, job.lines[line].quarter, &job.parts[self.instance.sizes[size as usize].parts[0].0])
        };
        let resawn: Blanks = pieces.iter().map(|(size, _)| (*size, blanks(*size))).collect();
        let (values, limits) = before_resawing(&resawn, &self.values, left);
        let mut best: Option<(i64, Pattern)> = None;
        for layout in Layout::ALL {
            let found = if blocks.is_empty() {
                let table = TwoStage::new(layout, &pieces, &[rect], cutting);
                table
                    .price(&values, &limits, &[0])
                    .pop()
                    .and_then(|priced| priced.patterns)
                    .map(|traced| traced.proper)
            } else {
                let board = Blemished { rect, blocks: blocks.to_vec() };
                let between = BetweenDefects::new(layout, &pieces, &[board], cutting);
                between
                    .price(&values, &limits, &[0])
                    .pop()
                    .and_then(|priced| priced.patterns)
                    .map(|traced| traced.proper)
            };
            if let Some((pattern, worth)) = found
                && worth > 0
                && best.as_ref().is_none_or(|(most, _)| worth > *most)
            {
                best = Some((worth, pattern));
            }
        }
        let Some((_, pattern)) = best else { return false };
        for (size, n) in pattern.counts() {
            left[size as usize] = left[size as usize].saturating_sub(n * blanks_in(&resawn, size));
        }
        true
    }
}
