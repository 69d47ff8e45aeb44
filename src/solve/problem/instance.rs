//! The job as the method sees it: piece sizes, kinds of stock, shapes and stock.
//!
//! Parts that any board takes or refuses alike and that are cut to one size are one *size*. Boards
//! that offer the same sizes are of one *kind*; boards of one kind and one usable rectangle are of
//! one *shape* and share their patterns, whoever sells them.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::index::{
    KindIndex, LineIndex, LotIndex, PartIndex, RackIndex, ShapeIndex, SizeIndex, StockIndex, SupplierIndex,
    TiSlice, TiVec, ti_vec,
};
use crate::job::{Job, Offered, Part, PriceLine, RackBoard, Sawing, Shop, share_of, turns};
use crate::measure::Length;
use crate::pattern::{Block, Cutting, Family, Piece, Rect};
use crate::trade::{Defect, Grade, PartGrain, Quarter, Turns, same_species, species_key};

/// A piece size and how many are wanted.
#[derive(Debug, Clone)]
pub struct Size {
    /// What the saw leaves.
    pub piece: Piece,
    /// Pieces wanted.
    pub demand: u32,
    /// Indices of the job's parts that are cut to it, each with its demand.
    pub parts: Vec<(PartIndex, u32)>,
}

/// Where a board comes from.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// A price line, by index.
    Line(LineIndex),
    /// A drawn board of a price line, both by index.
    Drawn(LineIndex, usize),
    /// Rack boards that are alike, by index.
    Rack(Vec<RackIndex>),
}

impl Source {
    /// Are boards of the other source, which may be a few of a group on the rack, from this one?
    fn holds(&self, other: &Source) -> bool {
        match (self, other) {
            (Source::Rack(group), Source::Rack(boards)) => boards.iter().all(|board| group.contains(board)),
            (one, other) => one == other,
        }
    }

    /// The class of its boards.
    pub fn quarter(&self, job: &Job) -> Quarter {
        self.offered(job).quarter
    }

    /// One of its boards; of drawn ones as the line sells them.
    pub fn offered<'j>(&self, job: &'j Job) -> Offered<'j> {
        match self {
            Source::Line(line) | Source::Drawn(line, _) => job.lines[*line].offered(),
            Source::Rack(boards) => job.rack[boards[0]].offered(),
        }
    }
}

/// Boards of one size from one source.
#[derive(Debug, Clone)]
pub struct Stock {
    /// Where it comes from.
    pub source: Source,
    /// Index of its shape.
    pub shape: ShapeIndex,
    /// Boards that can be had.
    pub available: Option<u32>,
    /// The lot that it is a drawn board of, by index.
    pub lot: Option<LotIndex>,
}

/// A kind and a usable rectangle.
#[derive(Debug, Clone)]
pub struct Shape {
    /// Index of its kind.
    pub kind: KindIndex,
    /// What pieces may be cut from.
    pub rect: Rect,
    /// Boxes in it that not every piece may hold.
    pub blocks: Vec<Block>,
    /// Is it a board that nobody has seen? Then it is cut between its defects, and no piece lies beside one
    /// within a strip.
    pub drawn: bool,
    /// Stock of this shape.
    pub stocks: Vec<StockIndex>,
}

/// Sizes, rising, of which a piece gives more than one blank, with their number.
pub type Blanks = Vec<(SizeIndex, u32)>;

/// A set of sizes that some boards offer.
#[derive(Debug, Clone)]
pub struct Kind {
    /// Sizes, rising.
    pub sizes: Vec<SizeIndex>,
    /// How pieces of each of them may lie.
    pub turns: Vec<Turns>,
    /// How its boards are sawn.
    pub sawing: Sawing,
    /// Are they sheets?
    pub sheets: bool,
    /// Sizes of which one piece is resawn into several blanks, with their number.
    pub blanks: Blanks,
    /// Shapes of this kind.
    pub shapes: Vec<ShapeIndex>,
}

/// The whole of it.
#[derive(Debug, Clone)]
pub struct Instance {
    /// The job it was made from.
    pub job: Arc<Job>,
    /// Piece sizes.
    pub sizes: TiVec<SizeIndex, Size>,
    /// Kinds of stock.
    pub kinds: TiVec<KindIndex, Kind>,
    /// Shapes of stock.
    pub shapes: TiVec<ShapeIndex, Shape>,
    /// All stock.
    pub stocks: TiVec<StockIndex, Stock>,
    /// The drawn boards of each line that has some, as stock in the order they are drawn. Boards that are bought
    /// of a line are the first of a sequence that goes around them.
    pub lots: TiVec<LotIndex, Vec<StockIndex>>,
    /// Sizes that share no board with sizes of another set: each set can be planned apart.
    pub sets: Vec<Vec<SizeIndex>>,
    /// By size, the set it is in.
    pub set_of_size: TiVec<SizeIndex, usize>,
    /// Which patterns are allowed.
    pub family: Family,
}

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

/// Blanks that one piece of a size gives.
pub fn blanks_in(blanks: &Blanks, size: SizeIndex) -> u32 {
    blanks.binary_search_by_key(&size, |(size, _)| *size).map_or(1, |place| blanks[place].1)
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

    /// Are a pattern's shape and sizes, by number, the same there as here?
    pub fn has_patterns_of(&self, other: &Instance) -> bool {
        let pieces = |one: &Instance| one.sizes.iter().map(|size| size.piece).collect::<Vec<_>>();
        let shape = |one: &Instance, shape: &Shape| {
            let kind = &one.kinds[shape.kind];
            (kind.sizes.clone(), kind.turns.clone(), kind.sawing, shape.rect, shape.blocks.clone())
        };
        let shapes = |one: &Instance| one.shapes.iter().map(|it| shape(one, it)).collect::<Vec<_>>();
        let saw = |one: &Instance| one.job.shop.saw.clone();
        let blanks = |one: &Instance| one.kinds.iter().map(|kind| kind.blanks.clone()).collect::<Vec<_>>();
        blanks(self) == blanks(other)
            && pieces(self) == pieces(other)
            && shapes(self) == shapes(other)
            && saw(self) == saw(other)
    }

    /// How boards of a shape are cut. Sheets are cut at their own saw, where every kind of pattern takes the same
    /// settings.
    pub fn cutting(&self, shape: ShapeIndex) -> Cutting {
        let Kind { sawing, sheets, .. } = self.kinds[self.shapes[shape].kind];
        self.cutting_by(sawing, sheets)
    }

    /// How boards of a class are cut.
    pub fn cutting_of(&self, class: Quarter) -> Cutting {
        self.cutting_by(self.job.shop.sawing(class), class.is_sheet())
    }

    fn cutting_by(&self, sawing: Sawing, sheets: bool) -> Cutting {
        let family = if sheets { Family::Any } else { self.family };
        Cutting { kerfs: (sawing.rip_kerf, sawing.crosscut_kerf), stages: sawing.stages, family }
    }

    /// Demand of every size.
    pub fn demand(&self) -> TiVec<SizeIndex, u32> {
        self.sizes.iter().map(|size| size.demand).collect()
    }

    /// How a piece of a size may lie on boards of a shape.
    pub fn turns(&self, shape: ShapeIndex, size: SizeIndex) -> Turns {
        let kind = &self.kinds[self.shapes[shape].kind];
        kind.sizes.binary_search(&size).map_or(Turns::Never, |place| kind.turns[place])
    }

    /// The pieces that some sizes are cut as from a shape, each in every way in which it may lie there.
    pub fn pieces_of(&self, shape: ShapeIndex, sizes: &[SizeIndex]) -> Vec<(SizeIndex, Piece)> {
        let lying: Vec<(SizeIndex, Turns)> =
            sizes.iter().map(|size| (*size, self.turns(shape, *size))).collect();
        self.pieces_lying(&lying)
    }

    /// The pieces that some sizes are cut as, each in every way in which it may lie.
    pub fn pieces_lying(&self, sizes: &[(SizeIndex, Turns)]) -> Vec<(SizeIndex, Piece)> {
        let of = |(size, turns): &(SizeIndex, Turns)| {
            let size = *size;
            self.sizes[size].piece.lying(*turns).map(move |piece| (size, piece))
        };
        sizes.iter().flat_map(of).collect()
    }

    /// The piece that each of some sizes is cut as, not turned.
    pub fn pieces(&self, sizes: &[SizeIndex]) -> Vec<(SizeIndex, Piece)> {
        sizes.iter().map(|size| (*size, self.sizes[*size].piece)).collect()
    }

    /// The stock that boards of a plan are from.
    pub fn stock_of(&self, boards: &Source) -> Option<StockIndex> {
        let mut stocks = self.stocks.iter_enumerated();
        stocks.find(|(_, stock)| stock.source.holds(boards)).map(|(stock, _)| stock)
    }

    /// The supplier of a stock, if it is bought.
    pub fn supplier(&self, stock: StockIndex) -> Option<SupplierIndex> {
        match &self.stocks[stock].source {
            Source::Line(line) | Source::Drawn(line, _) => Some(self.job.lines[*line].supplier),
            Source::Rack(_) => None,
        }
    }

    /// Sizes of which a piece of a shape is resawn into several blanks.
    pub fn blanks(&self, shape: ShapeIndex) -> &Blanks {
        &self.kinds[self.shapes[shape].kind].blanks
    }

    fn independent_sets(&self) -> Vec<Vec<SizeIndex>> {
        let mut leader: Vec<usize> = (0..self.sizes.len()).collect();
        fn find(leader: &mut [usize], mut at: usize) -> usize {
            while leader[at] != at {
                leader[at] = leader[leader[at]];
                at = leader[at];
            }
            at
        }
        for kind in &self.kinds {
            for pair in kind.sizes.windows(2) {
                let (one, other) = (find(&mut leader, pair[0].into()), find(&mut leader, pair[1].into()));
                leader[one.max(other)] = one.min(other);
            }
        }
        let mut sets: BTreeMap<usize, Vec<SizeIndex>> = BTreeMap::new();
        for size in 0..self.sizes.len() {
            let first = find(&mut leader, size);
            sets.entry(first).or_default().push(SizeIndex::from(size));
        }
        sets.into_values().collect()
    }
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

/// Blanks of a part that a piece of a class gives, no more than are wanted.
pub fn blanks_of(job: &Job, quarter: Quarter, part: &Part) -> u32 {
    let wanted = u32::try_from(part.blanks_wanted()).unwrap_or(u32::MAX);
    job.shop.blanks(quarter, part.blank.thickness, part.blank.cut_length).min(wanted)
}

struct Builder<'j> {
    job: &'j Arc<Job>,
    sizes: TiVec<SizeIndex, Size>,
    kinds: BTreeMap<(Vec<SizeIndex>, Vec<Turns>, bool, Blanks), KindIndex>,
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
            if self.is_worth_having(&Source::Line(index), &sizes, available) {
                self.add(Source::Line(index), sizes, (rect, Vec::new()), available, None);
            }
        }
        for group in alike(&self.job.rack) {
            let board = &self.job.rack[group[0]];
            let Some(rect) = self.usable(&board.offered()) else { continue };
            let sizes = self.eligible(&board.offered());
            let available = Some(group.len() as u32);
            let blocks = blocks_of(&self.job.shop, board.quarter, &board.defects, rect);
            let source = Source::Rack(group);
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
                let blocks = blocks_of(&self.job.shop, line.quarter, &board.defects, rect);
                (self.eligible(&offered), rect, blocks)
            })
            .collect();
        let available = line.available.map(|boards| u32::try_from(boards).unwrap_or(u32::MAX));
        let first = Source::Drawn(index, 0);
        if !boards.iter().any(|(sizes, ..)| self.is_worth_having(&first, sizes, available)) {
            return;
        }
        let mut stocks = Vec::with_capacity(draws);
        for (place, (sizes, rect, blocks)) in boards.into_iter().enumerate() {
            let share = available.map(|boards| share_of(u64::from(boards), place, draws) as u32);
            stocks.push(self.add(Source::Drawn(index, place), sizes, (rect, blocks), share, Some(lot)));
        }
        self.out.as_mut().expect("set at the start of build").lots.push(stocks);
    }

    /// A board that gives nothing wanted may still be worth buying to reach a break or a minimum.
    fn is_worth_having(&self, source: &Source, sizes: &[SizeIndex], available: Option<u32>) -> bool {
        let counts = match source {
            Source::Line(line) | Source::Drawn(line, _) => {
                let supplier = &self.job.suppliers[self.job.lines[*line].supplier];
                !supplier.breaks.is_empty() || !supplier.minimum_order.is_zero()
            }
            Source::Rack(_) => false,
        };
        (!sizes.is_empty() || counts) && available != Some(0)
    }

    /// Takes boards of one size from one source; gives their index among the stock.
    fn add(
        &mut self,
        source: Source,
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
        let key = (sizes, turns, sheets, blanks);
        let kind = *self.kinds.entry(key).or_insert_with_key(|(sizes, turns, sheets, blanks)| {
            out.kinds.push_and_get_key(Kind {
                sizes: sizes.clone(),
                turns: turns.clone(),
                sawing,
                sheets: *sheets,
                blanks: blanks.clone(),
                shapes: Vec::new(),
            })
        });
        let drawn = lot.is_some() && !blocks.is_empty();
        let shape =
            *self.shapes.entry((kind, rect, blocks, drawn)).or_insert_with_key(|(_, _, blocks, _)| {
                let shape = Shape { kind, rect, blocks: blocks.clone(), drawn, stocks: Vec::new() };
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
pub fn blocks_of(shop: &Shop, class: Quarter, defects: &[Defect], rect: Rect) -> Vec<Block> {
    let Sawing { end_trim: end, edge_trim: edge, .. } = shop.sawing(class);
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
