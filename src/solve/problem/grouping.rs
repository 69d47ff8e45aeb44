//! The grouping of a job: parts into sizes, boards into kinds, shapes and stock.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::instance::{Blanks, Instance, Kind, Shape, Size, Stock, Supply};
use crate::index::{
    KindIndex, LineIndex, LotIndex, PartIndex, RackIndex, ShapeIndex, SizeIndex, StockIndex, TiSlice, TiVec,
    ti_vec,
};
use crate::job::{Job, Offered, Part, PriceLine, RackBoard, Sawing, share_of, turns};
use crate::measure::{Area, Length};
use crate::pattern::{Block, Family, Piece, Rect};
use crate::trade::{Defect, Grade, PartGrain, Quarter, Turns, same_species, species_key};

/// What decides which boards a part may come from.
#[derive(PartialEq, Eq, PartialOrd, Ord, Clone)]
struct Eligibility {
    species: String,
    /// Blanks that a piece of each class on offer gives: none where it is too thin.
    blanks: Vec<u32>,
    grade: Grade,
    /// Of a part of a sheet its core, its grain and its thickness.
    sheet: Option<(String, PartGrain, Length)>,
    /// A part that may be resawn is a size of its own: a piece is resawn into blanks of one part.
    resawn: Option<PartIndex>,
}

fn group_sizes(job: &Job) -> TiVec<SizeIndex, Size> {
    let quarters = job.quarters();
    let mut groups: BTreeMap<(Eligibility, Piece), Size> = BTreeMap::new();
    for (index, part) in job.parts.iter_enumerated() {
        let blanks: Vec<u32> = quarters.iter().map(|class| blanks_of(job, *class, part)).collect();
        let eligibility = Eligibility {
            species: species_key(&part.species),
            resawn: blanks.iter().any(|blanks| *blanks > 1).then_some(index),
            blanks,
            grade: part.grade,
            sheet: part
                .sheet
                .as_ref()
                .map(|sheet| (species_key(&sheet.core), sheet.grain, part.blank.thickness)),
        };
        let [length, width] = [part.blank.cut_length, part.blank.cut_width];
        let piece = Piece { clear: part.clear, ..Piece::new(length, width) };
        // Demand was limited when the job was read, so it fits 32 bits.
        let demand = part.blanks_wanted() as u32;
        let size = groups.entry((eligibility, piece)).or_insert(Size { piece, demand: 0, parts: Vec::new() });
        size.demand += demand;
        size.parts.push((index, demand));
    }
    groups.into_values().collect()
}

impl Instance {
    /// Groups the job's parts and stock.
    pub fn new(job: impl Into<Arc<Job>>) -> Instance {
        let job = job.into();
        let sizes = group_sizes(&job);
        let mut builder =
            Builder { job: &job, sizes, kinds: BTreeMap::new(), shapes: BTreeMap::new(), out: None };
        let mut instance = builder.build();
        instance.sets = instance.independent_sets();
        instance.set_of_size = ti_vec![0; instance.sizes.len()];
        for (number, sizes) in instance.sets.iter().enumerate() {
            sizes.iter().for_each(|size| instance.set_of_size[*size] = number);
        }
        instance
    }
}

/// Blanks of a part that a piece of a class gives, no more than are wanted.
pub fn blanks_of(job: &Job, quarter: Quarter, part: &Part) -> u32 {
    let wanted = u32::try_from(part.blanks_wanted()).unwrap_or(u32::MAX);
    job.shop.blanks(quarter, part.blank.thickness, part.blank.cut_length).min(wanted)
}

/// Sizes, how they may lie, whether the boards are sheets, their largest strip, and what is resawn.
type KindKey = (Vec<SizeIndex>, Vec<Turns>, bool, Option<Area>, Blanks);

struct Builder<'j> {
    job: &'j Arc<Job>,
    sizes: TiVec<SizeIndex, Size>,
    kinds: BTreeMap<KindKey, KindIndex>,
    shapes: BTreeMap<(KindIndex, Rect, Vec<Block>, bool), ShapeIndex>,
    out: Option<Instance>,
}

impl<'j> Builder<'j> {
    fn build(&mut self) -> Instance {
        self.out = Some(Instance {
            job: Arc::clone(self.job),
            sizes: std::mem::take(&mut self.sizes),
            kinds: TiVec::new(),
            shapes: TiVec::new(),
            stocks: TiVec::new(),
            lots: TiVec::new(),
            sets: Vec::new(),
            set_of_size: TiVec::new(),
            family: Family::Any,
        });
        for (index, line) in self.job.lines.iter_enumerated() {
            if !line.drawn.is_empty() {
                self.add_lot(index, line);
                continue;
            }
            let Some(rect) = self.usable(&line.offered()) else { continue };
            let sizes = self.eligible(&line.offered());
            let available = line.available.map(|boards| u32::try_from(boards).unwrap_or(u32::MAX));
            if self.is_worth_having(&Supply::Line(index), &sizes, available) {
                self.add(Supply::Line(index), sizes, (rect, Vec::new()), available, None);
            }
        }
        for group in alike(&self.job.rack) {
            let board = &self.job.rack[group[0]];
            let Some(rect) = self.usable(&board.offered()) else { continue };
            let sizes = self.eligible(&board.offered());
            let available = Some(group.len() as u32);
            let blocks =
                blocks_of(self.job.shop.sawing_of(board.quarter, board.trimmed), &board.defects, rect);
            let source = Supply::Rack(group);
            if self.is_worth_having(&source, &sizes, available) {
                self.add(source, sizes, (rect, blocks), available, None);
            }
        }
        self.out.take().expect("set at the start of build")
    }

    fn usable(&self, board: &Offered<'_>) -> Option<Rect> {
        self.job.shop.usable(board).map(|(length, width)| Rect { length, width })
    }

    /// Sizes that a board may be cut into.
    fn eligible(&self, board: &Offered<'_>) -> Vec<SizeIndex> {
        let sizes = &self.out.as_ref().expect("set at the start of build").sizes;
        let part_of = |size: SizeIndex| &self.job.parts[sizes[size].parts[0].0];
        sizes.keys().filter(|size| self.job.shop.serves(board, part_of(*size)).is_ok()).collect()
    }

    /// All drawn boards of a line, also those that give nothing: whoever buys the others gets them too.
    fn add_lot(&mut self, index: LineIndex, line: &PriceLine) {
        let draws = line.drawn.len();
        let lot = self.out.as_ref().expect("set at the start of build").lots.next_key();
        let boards: Vec<(Vec<SizeIndex>, Rect, Vec<Block>)> = line
            .drawn
            .iter()
            .map(|board| {
                let offered = Offered { length: board.length, width: board.width, ..line.offered() };
                let nothing = Rect { length: Length::ZERO, width: Length::ZERO };
                let rect = self.usable(&offered).unwrap_or(nothing);
                let blocks = blocks_of(self.job.shop.sawing(line.quarter), &board.defects, rect);
                (self.eligible(&offered), rect, blocks)
            })
            .collect();
        let available = line.available.map(|boards| u32::try_from(boards).unwrap_or(u32::MAX));
        let first = Supply::Drawn(index, 0);
        if !boards.iter().any(|(sizes, ..)| self.is_worth_having(&first, sizes, available)) {
            return;
        }
        let mut stocks = Vec::with_capacity(draws);
        for (place, (sizes, rect, blocks)) in boards.into_iter().enumerate() {
            let share = available.map(|boards| share_of(u64::from(boards), place, draws) as u32);
            stocks.push(self.add(Supply::Drawn(index, place), sizes, (rect, blocks), share, Some(lot)));
        }
        self.out.as_mut().expect("set at the start of build").lots.push(stocks);
    }

    /// A board that gives nothing wanted may still be worth buying to reach a break or a minimum.
    fn is_worth_having(&self, source: &Supply, sizes: &[SizeIndex], available: Option<u32>) -> bool {
        let counts = match source {
            Supply::Line(line) | Supply::Drawn(line, _) => {
                let supplier = &self.job.suppliers[self.job.lines[*line].supplier];
                !supplier.breaks.is_empty() || !supplier.minimum_order.is_zero()
            }
            Supply::Rack(_) => false,
        };
        (!sizes.is_empty() || counts) && available != Some(0)
    }

    /// Takes boards of one size from one source; gives their index among the stock.
    fn add(
        &mut self,
        source: Supply,
        sizes: Vec<SizeIndex>,
        (rect, blocks): (Rect, Vec<Block>),
        available: Option<u32>,
        lot: Option<LotIndex>,
    ) -> StockIndex {
        let out = self.out.as_mut().expect("set at the start of build");
        let quarter = source.quarter(self.job);
        let turns: Vec<Turns> = {
            let offered = source.offered(self.job);
            let part = |size: &SizeIndex| &self.job.parts[out.sizes[*size].parts[0].0];
            let of = |size: &SizeIndex| {
                let Piece { length, width, .. } = out.sizes[*size].piece;
                // A square is the same either way.
                match turns(&offered, part(size)) {
                    Turns::Either if length == width => Turns::Never,
                    turns => turns,
                }
            };
            sizes.iter().map(of).collect()
        };
        let (sawing, sheets) = (self.job.shop.sawing(quarter), quarter.is_sheet());
        let blanks = sizes.iter().map(|size| {
            let part = &self.job.parts[out.sizes[*size].parts[0].0];
            (*size, blanks_of(self.job, quarter, part))
        });
        let blanks: Blanks = blanks.filter(|(_, blanks)| *blanks > 1).collect();
        let largest_strip = self.job.shop.largest_strip(quarter);
        let key = (sizes, turns, sheets, largest_strip, blanks);
        let kind = *self.kinds.entry(key).or_insert_with_key(|(sizes, turns, sheets, _, blanks)| {
            out.kinds.push_and_get_key(Kind {
                sizes: sizes.clone(),
                turns: turns.clone(),
                sawing,
                sheets: *sheets,
                largest_strip,
                blanks: blanks.clone(),
                shapes: Vec::new(),
            })
        });
        let drawn = lot.is_some() && !blocks.is_empty();
        let shape =
            *self.shapes.entry((kind, rect, blocks, drawn)).or_insert_with_key(|(_, _, blocks, _)| {
                let searched_around =
                    !drawn && !blocks.is_empty() && out.is_searched_around(kind, rect, blocks);
                let blocks = blocks.clone();
                let shape = Shape { kind, rect, blocks, drawn, searched_around, stocks: Vec::new() };
                let shape = out.shapes.push_and_get_key(shape);
                out.kinds[kind].shapes.push(shape);
                shape
            });
        let stock = out.stocks.push_and_get_key(Stock { source, shape, available, lot });
        out.shapes[shape].stocks.push(stock);
        stock
    }
}

/// Defects as boxes of the usable rectangle; those in the trim do not matter.
pub fn blocks_of(sawing: Sawing, defects: &[Defect], rect: Rect) -> Vec<Block> {
    let Sawing { end_trim: end, edge_trim: edge, .. } = sawing;
    let blocks = defects.iter().map(|defect| Block {
        x0: defect.x0.saturating_sub(end),
        x1: defect.x1.saturating_sub(end).min(rect.length),
        y0: defect.y0.saturating_sub(edge),
        y1: defect.y1.saturating_sub(edge).min(rect.width),
        kind: defect.kind,
    });
    let mut blocks: Vec<Block> = blocks.filter(|block| block.x0 < block.x1 && block.y0 < block.y1).collect();
    blocks.sort_unstable();
    blocks
}

/// Rack boards that no plan tells apart, in groups; one with defects stands alone.
fn alike(rack: &TiSlice<RackIndex, RackBoard>) -> Vec<Vec<RackIndex>> {
    let mut groups: Vec<Vec<RackIndex>> = Vec::new();
    for (index, board) in rack.iter_enumerated() {
        let twin = groups.iter_mut().find(|group| {
            let other = &rack[group[0]];
            board.defects.is_empty()
                && other.defects.is_empty()
                && same_species(&board.species, &other.species)
                && board.sheet == other.sheet
                && board.trimmed == other.trimmed
                && (board.quarter, board.grade, board.length, board.width, board.value)
                    == (other.quarter, other.grade, other.length, other.width, other.value)
        });
        match twin {
            Some(group) => group.push(index),
            None => groups.push(vec![index]),
        }
    }
    groups
}
