//! The job as the method sees it: piece sizes, kinds of stock, shapes and stock.
//!
//! Parts that any board takes or refuses alike and that are cut to one size are one *size*. Boards
//! that offer the same sizes are of one *kind*; boards of one kind and one usable rectangle are of
//! one *shape* and share their patterns, whoever sells them.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::index::{
    KindIndex, LineIndex, LotIndex, PartIndex, RackIndex, ShapeIndex, SizeIndex, StockIndex, SupplierIndex,
    TiVec,
};
use crate::job::{Job, Offered, Sawing};
use crate::measure::Area;
use crate::pattern::{AroundDefects, Block, Cutting, Family, Layout, Piece, Rect};
use crate::trade::{Quarter, Turns};

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
pub enum Supply {
    /// A price line, by index.
    Line(LineIndex),
    /// A drawn board of a price line, both by index.
    Drawn(LineIndex, usize),
    /// Rack boards that are alike, by index.
    Rack(Vec<RackIndex>),
}

impl Supply {
    /// Are boards of the other source, which may be a few of a group on the rack, from this one?
    fn holds(&self, other: &Supply) -> bool {
        match (self, other) {
            (Supply::Rack(group), Supply::Rack(boards)) => boards.iter().all(|board| group.contains(board)),
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
            Supply::Line(line) | Supply::Drawn(line, _) => job.lines[*line].offered(),
            Supply::Rack(boards) => job.rack[boards[0]].offered(),
        }
    }
}

/// Boards of one size from one source.
#[derive(Debug, Clone)]
pub struct Stock {
    /// Where it comes from.
    pub source: Supply,
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
    /// Has it been measured, with defects that can be searched around in short time?
    pub searched_around: bool,
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
    /// The largest strip of them that one person lifts, by its area.
    pub largest_strip: Option<Area>,
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
    /// The drawn boards of each price line that has some, in the order they are drawn. The boards bought of a line
    /// are the first ones in this order; after the last one it begins again.
    pub lots: TiVec<LotIndex, Vec<StockIndex>>,
    /// Sizes that share no board with sizes of another set: each set can be planned apart.
    pub sets: Vec<Vec<SizeIndex>>,
    /// By size, the set it is in.
    pub set_of_size: TiVec<SizeIndex, usize>,
    /// Which patterns are allowed.
    pub family: Family,
}

/// Blanks that one piece of a size gives.
pub fn blanks_in(blanks: &Blanks, size: SizeIndex) -> u32 {
    blanks.binary_search_by_key(&size, |(size, _)| *size).map_or(1, |place| blanks[place].1)
}

impl Instance {
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
        let Kind { sawing, sheets, largest_strip, .. } = self.kinds[self.shapes[shape].kind];
        self.cutting_by(sawing, sheets, largest_strip)
    }

    /// How boards of a class are cut.
    pub fn cutting_of(&self, class: Quarter) -> Cutting {
        let shop = &self.job.shop;
        self.cutting_by(shop.sawing(class), class.is_sheet(), shop.largest_strip(class))
    }

    fn cutting_by(&self, sawing: Sawing, sheets: bool, largest_strip: Option<Area>) -> Cutting {
        let exact = self.job.shop.sheet_saw.is_exact();
        let family = match sheets {
            true if exact => Family::Exact,
            true => Family::Any,
            false => self.family,
        };
        let kerfs = (sawing.rip_kerf, sawing.crosscut_kerf);
        Cutting { kerfs, stages: sawing.stages, family, largest_strip }
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
    pub fn stock_of(&self, boards: &Supply) -> Option<StockIndex> {
        let mut stocks = self.stocks.iter_enumerated();
        stocks.find(|(_, stock)| stock.source.holds(boards)).map(|(stock, _)| stock)
    }

    /// The supplier of a stock, if it is bought.
    pub fn supplier(&self, stock: StockIndex) -> Option<SupplierIndex> {
        match &self.stocks[stock].source {
            Supply::Line(line) | Supply::Drawn(line, _) => Some(self.job.lines[*line].supplier),
            Supply::Rack(_) => None,
        }
    }

    /// Sizes of which a piece of a shape is resawn into several blanks.
    pub fn blanks(&self, shape: ShapeIndex) -> &Blanks {
        &self.kinds[self.shapes[shape].kind].blanks
    }

    /// Can the patterns of a measured board of some kind be searched around its defects in short time?
    pub(super) fn is_searched_around(&self, kind: KindIndex, rect: Rect, blocks: &[Block]) -> bool {
        let Kind { sizes, turns, sawing, sheets, largest_strip, .. } = &self.kinds[kind];
        let cutting = self.cutting_by(*sawing, *sheets, *largest_strip);
        let lying: Vec<(SizeIndex, Turns)> = sizes.iter().copied().zip(turns.iter().copied()).collect();
        let pieces = self.pieces_lying(&lying);
        let demand = self.demand();
        let searched =
            |layout: &Layout| AroundDefects::new(*layout, &pieces, &demand, rect, blocks, cutting).is_some();
        cutting.stages == 2 && cutting.family.layouts().iter().all(searched)
    }

    /// Sizes that share no board with others, in sets.
    pub(super) fn independent_sets(&self) -> Vec<Vec<SizeIndex>> {
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
