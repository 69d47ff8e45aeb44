//! What a pattern is.

use crate::index::{SizeIndex, TiSlice};
use crate::measure::{Area, Length};
use crate::trade::{Clear, DefectKind, Turns};

/// A piece size as the pattern sees it: what the saw must leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Piece {
    /// Along the grain, with allowances.
    pub length: Length,
    /// Across the grain, with allowances.
    pub width: Length,
    /// Which defects it may hold.
    pub clear: Clear,
    /// Is it turned by a quarter? Then the length along the board is the part's width.
    pub turned: bool,
}

impl Piece {
    /// A piece that is clear.
    pub fn new(length: Length, width: Length) -> Piece {
        Piece { length, width, clear: Clear::Yes, turned: false }
    }

    /// Its area in square millimetres, rounded down.
    pub fn area(self) -> i64 {
        i64::try_from(Area::of(self.length, self.width).square_millimetres()).unwrap_or(i64::MAX >> 20)
    }

    /// The same piece turned by a quarter.
    pub fn turn(self) -> Piece {
        Piece { length: self.width, width: self.length, turned: !self.turned, ..self }
    }

    /// The piece in every way in which it may lie.
    pub fn lying(self, turns: Turns) -> impl Iterator<Item = Piece> {
        let straight = turns.allows_straight().then_some(self);
        straight.into_iter().chain(turns.allows_turned().then(|| self.turn()))
    }
}

/// A piece as it lies in a pattern: an index into the pieces of the problem, and whether it is turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Laid(u32);

impl Laid {
    /// The bit that marks a turned piece: no problem has so many pieces.
    const TURNED: u32 = 1 << 31;

    /// A piece that is not turned, by its index.
    pub fn straight(index: SizeIndex) -> Laid {
        Laid(index.bits())
    }

    /// A piece by its index, lying as one that was given in every way in which it may lie.
    pub fn like(index: SizeIndex, piece: &Piece) -> Laid {
        Laid(index.bits() | if piece.turned { Laid::TURNED } else { 0 })
    }

    /// Index into the pieces of the problem.
    pub fn index(self) -> SizeIndex {
        SizeIndex::from_bits(self.0 & !Laid::TURNED)
    }

    /// Is it turned by a quarter?
    pub fn is_turned(self) -> bool {
        self.0 & Laid::TURNED != 0
    }

    /// The same way of lying for another piece.
    pub fn with_index(self, index: SizeIndex) -> Laid {
        Laid(index.bits() | self.0 & Laid::TURNED)
    }

    /// What the saw leaves, of a piece that is not turned as it is given.
    pub fn piece(self, straight: Piece) -> Piece {
        if self.is_turned() { straight.turn() } else { straight }
    }
}

/// Pieces by size, with their number, by rising size.
pub type Counts = Vec<(SizeIndex, u32)>;

/// What a piece of each size is worth.
pub type Values = TiSlice<SizeIndex, i64>;

/// Pieces of each size, at most.
pub type Limits = TiSlice<SizeIndex, u32>;

/// A board's usable rectangle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rect {
    /// Along the grain.
    pub length: Length,
    /// Across the grain.
    pub width: Length,
}

/// A box of a board that not every piece may hold, from the usable rectangle's lower left corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Block {
    /// Start along the board.
    pub x0: Length,
    /// End along the board.
    pub x1: Length,
    /// Start across.
    pub y0: Length,
    /// End across.
    pub y1: Length,
    /// What it does to the wood.
    pub kind: DefectKind,
}

/// Which cuts come first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Layout {
    /// Full-length strips, each crosscut.
    RipFirst,
    /// Full-width sections, each ripped.
    CrosscutFirst,
}

impl Layout {
    /// Both layouts.
    pub const ALL: [Layout; 2] = [Layout::RipFirst, Layout::CrosscutFirst];

    /// As `plan.json` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Layout::RipFirst => "rip-first",
            Layout::CrosscutFirst => "crosscut-first",
        }
    }

    /// (main, run) extents of a length and a width.
    pub fn axes(self, length: Length, width: Length) -> (Length, Length) {
        match self {
            Layout::RipFirst => (width, length),
            Layout::CrosscutFirst => (length, width),
        }
    }
}

/// What one cell of a strip holds.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cell {
    /// Wood skipped before it, from where the last kerf ends.
    pub gap: Length,
    /// Extent along the run.
    pub run: Length,
    /// How far its first piece lies above the strip's lower side.
    pub lift: Length,
    /// Pieces stacked along the main axis. Two stages allow one.
    pub pieces: Vec<Laid>,
}

/// A strip (rip-first) or a section (crosscut-first).
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Strip {
    /// Wood skipped before it, from where the last kerf ends.
    pub gap: Length,
    /// Extent along the main axis.
    pub main: Length,
    /// Cells, in the order they lie.
    pub cells: Vec<Cell>,
}

/// Which patterns are allowed, beyond what the saw can do: fewer kinds mean fewer settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Family {
    /// All of them.
    #[default]
    Any,
    /// Every board is ripped first: no board comes back to the rip fence after its crosscuts but to have
    /// a piece trimmed.
    RipFirst,
    /// Every board is ripped first into strips of one width of piece: no board comes back at all.
    Even,
    /// No piece is trimmed: every strip has pieces of one width, every section pieces of one length.
    Exact,
}

impl Family {
    /// The layouts it has.
    pub fn layouts(self) -> &'static [Layout] {
        match self {
            Family::Any | Family::Exact => &Layout::ALL,
            Family::RipFirst | Family::Even => &[Layout::RipFirst],
        }
    }

    /// Has a strip pieces of its own extent only?
    pub fn is_even(self) -> bool {
        matches!(self, Family::Even | Family::Exact)
    }
}

/// How boards are cut: what all pricing has in common.
#[derive(Debug, Clone, Copy)]
pub struct Cutting {
    /// (rip, crosscut).
    pub kerfs: (Length, Length),
    /// 2 or 3.
    pub stages: u8,
    /// Which patterns are allowed.
    pub family: Family,
    /// The largest strip or section that may be lifted off the board to be cut up, by its area.
    pub largest_strip: Option<Area>,
}

impl Cutting {
    /// How wide a strip may be whose run is so long.
    pub fn widest_strip(&self, run: Length) -> Option<Length> {
        let area = self.largest_strip?.base();
        let widest = area / i128::from(run.base()).max(1);
        Some(Length::from_base(i64::try_from(widest).unwrap_or(i64::MAX)))
    }

    /// The layouts that a clean board needs for these pieces. Where a single strip fits across, or a
    /// single section along, one layout has all patterns of the other; and since a piece is limited in
    /// each strip alone, the layout with the single one also limits the pieces of the whole board.
    pub fn layouts_for(&self, pieces: &[(SizeIndex, Piece)], board: Rect) -> &'static [Layout] {
        let least = |size: fn(&Piece) -> Length| pieces.iter().map(|(_, piece)| size(piece)).min();
        let single = |least: Option<Length>, kerf: Length, room: Length| {
            least.is_some_and(|least| least * 2 + kerf > room)
        };
        // A strip of one layout may be too heavy where a section of the other is not.
        if self.family != Family::Any || self.largest_strip.is_some() {
            self.family.layouts()
        } else if single(least(|piece| piece.width), self.kerfs.0, board.width) {
            &[Layout::RipFirst]
        } else if single(least(|piece| piece.length), self.kerfs.1, board.length) {
            &[Layout::CrosscutFirst]
        } else {
            &Layout::ALL
        }
    }
}

/// A way to cut one board.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Pattern {
    /// Which cuts come first.
    pub layout: Layout,
    /// Strips, in the order they lie.
    pub strips: Vec<Strip>,
}

impl Cell {
    /// A cell of one piece right after the last kerf.
    pub fn of(run: Length, piece: Laid) -> Cell {
        Cell { gap: Length::ZERO, run, lift: Length::ZERO, pieces: vec![piece] }
    }
}

impl Pattern {
    /// A board that is not cut.
    pub fn empty() -> Pattern {
        Pattern { layout: Layout::RipFirst, strips: Vec::new() }
    }

    /// All pieces, in the order in which they lie.
    pub fn pieces(&self) -> impl Iterator<Item = Laid> {
        self.strips.iter().flat_map(|strip| &strip.cells).flat_map(|cell| cell.pieces.iter().copied())
    }

    /// Pieces by index with their number, sorted by index.
    pub fn counts(&self) -> Counts {
        let mut pieces: Vec<SizeIndex> = self.pieces().map(Laid::index).collect();
        pieces.sort_unstable();
        let mut counts = Counts::new();
        for piece in pieces {
            match counts.last_mut() {
                Some(last) if last.0 == piece => last.1 += 1,
                _ => counts.push((piece, 1)),
            }
        }
        counts
    }

    /// The same pattern for a saw whose kerfs (rip, crosscut) are thinner by so much: what begins beyond a gap stays where it
    /// is, since there may be a defect before it, and what follows right after a kerf moves up to it.
    pub fn with_thinner_kerfs(&self, by: (Length, Length)) -> Pattern {
        let (main, run) = self.layout.axes(by.1, by.0);
        let mut pattern = self.clone();
        stay(pattern.strips.iter_mut().map(|strip| &mut strip.gap), main);
        for strip in &mut pattern.strips {
            stay(strip.cells.iter_mut().map(|cell| &mut cell.gap), run);
        }
        pattern
    }

    /// Drops pieces beyond `allowed`, which is used up. Strips left without a piece go, and the others
    /// become as narrow as what they still hold; `size` gives the size of a piece that is not turned, by index. On a
    /// board with defects everything stays where it is: what slides could come to lie on one.
    pub fn trimmed_to(
        &self,
        allowed: &mut Limits,
        has_defects: bool,
        size: &dyn Fn(SizeIndex) -> Piece,
    ) -> Pattern {
        let main_of = |laid: &Laid| {
            let piece = laid.piece(size(laid.index()));
            self.layout.axes(piece.length, piece.width).0
        };
        let mut strips = Vec::new();
        for strip in &self.strips {
            let mut cells = Vec::new();
            for cell in &strip.cells {
                let kept: Vec<Laid> = cell
                    .pieces
                    .iter()
                    .copied()
                    .filter(|piece| {
                        let left = &mut allowed[piece.index()];
                        let keep = *left > 0;
                        *left -= u32::from(keep);
                        keep
                    })
                    .collect();
                if !kept.is_empty() || has_defects {
                    cells.push(Cell { pieces: kept, ..cell.clone() });
                }
            }
            if has_defects {
                strips.push(Strip { cells, ..strip.clone() });
            } else if !cells.is_empty() {
                let widest =
                    cells.iter().filter(|cell| cell.pieces.len() == 1).map(|cell| main_of(&cell.pieces[0]));
                let stacked = cells.iter().any(|cell| cell.pieces.len() > 1);
                let main = if stacked { strip.main } else { widest.max().unwrap_or(strip.main) };
                strips.push(Strip { gap: strip.gap, main, cells });
            }
        }
        let trimmed = Pattern { layout: self.layout, strips };
        if trimmed.counts().is_empty() { Pattern::empty() } else { trimmed }
    }
}

/// Widens gaps by what the kerfs since the last gap took less.
fn stay<'g>(gaps: impl Iterator<Item = &'g mut Length>, thinner: Length) {
    let mut moved = Length::ZERO;
    for (place, gap) in gaps.enumerate() {
        if place > 0 {
            moved += thinner;
        }
        if *gap > Length::ZERO {
            *gap += moved;
            moved = Length::ZERO;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::index::{TiVec, ti_vec};

    /// Two pieces, a defect, and a piece behind it: with a kerf that is thinner by an eighth the second piece moves up, and
    /// the third stays.
    #[test]
    fn what_lies_behind_a_gap_stays_where_it_is() {
        let inches = Length::inches;
        let eighth = Length::inch_128ths(16);
        let cell = |gap: Length| Cell { gap, ..Cell::of(inches(10), Laid::straight(SizeIndex::from(0))) };
        let cells = vec![cell(Length::ZERO), cell(Length::ZERO), cell(inches(3))];
        let strip = Strip { gap: inches(1), main: inches(2), cells };
        let pattern = Pattern { layout: Layout::RipFirst, strips: vec![strip] };
        let thinner = pattern.with_thinner_kerfs((Length::ZERO, eighth));
        let gaps: Vec<Length> = thinner.strips[0].cells.iter().map(|cell| cell.gap).collect();
        assert_eq!(gaps, [Length::ZERO, Length::ZERO, inches(3) + eighth + eighth]);
        assert_eq!(thinner.strips[0].gap, inches(1));
    }

    /// A strip that lost its widest piece became narrower, and the next one slid onto a defect.
    #[test]
    fn on_a_board_with_defects_nothing_slides_when_a_piece_goes() {
        let inches = Length::inches;
        let sizes = [4, 2].map(|width| Piece::new(inches(10), inches(width)));
        let sizes: TiVec<SizeIndex, Piece> = sizes.into_iter().collect();
        let strip = |main: i64, pieces: &[usize]| Strip {
            gap: Length::ZERO,
            main: inches(main),
            cells: pieces
                .iter()
                .map(|piece| Cell::of(inches(10), Laid::straight(SizeIndex::from(*piece))))
                .collect(),
        };
        let pattern = Pattern { layout: Layout::RipFirst, strips: vec![strip(4, &[0, 1]), strip(2, &[1])] };
        let size = |piece: SizeIndex| sizes[piece];
        let main =
            |has_defects: bool| pattern.trimmed_to(&mut ti_vec![0, 2], has_defects, &size).strips[0].main;
        assert_eq!(main(false), inches(2));
        assert_eq!(main(true), inches(4));
    }
}
