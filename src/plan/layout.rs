//! A pattern laid out on its board: pieces, leftovers and cuts, in the order a person would saw.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::model::{CutKind, Offcut, SawCut, SetupKind};
use crate::job::{Fit, Sawing, Shop};
use crate::measure::Length;
use crate::pattern::{Layout, Pattern};
use crate::trade::Quarter;

/// A piece's size and fit, as the layout needs them.
#[derive(Debug, Clone, Copy)]
pub struct PieceFacts {
    /// Cut size along the board.
    pub length: Length,
    /// Cut size across the board.
    pub width: Length,
    /// How it is brought to its length.
    pub fit: Fit,
}

/// A board laid out.
#[derive(Debug, Clone, Default)]
pub struct LaidOut {
    /// For each piece of the pattern in its order: where it lies.
    pub pieces: Vec<(Length, Length)>,
    /// Leftovers.
    pub offcuts: Vec<Offcut>,
    /// Cuts in order.
    pub cuts: Vec<SawCut>,
}

/// A rectangle in (main, run) coordinates of the layout, from the board's corner.
#[derive(Debug, Clone, Copy)]
struct Field {
    main: Length,
    run: Length,
    main_size: Length,
    run_size: Length,
    /// The last cut that was made on it or freed it.
    after: Option<usize>,
}

struct Bench<'s> {
    shop: &'s Shop,
    quarter: Quarter,
    sawing: Sawing,
    layout: Layout,
    out: LaidOut,
    /// For each cut, the one that must be made before it.
    after: Vec<Option<usize>>,
}

/// Which direction a cut divides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Divides {
    Main,
    Run,
}

/// Lays `pattern` out on a board of a class, sawn in some way, of a length and a width; `facts` gives each piece's size, in
/// the order of the pattern.
pub fn lay_out(
    shop: &Shop,
    (quarter, sawing): (Quarter, Sawing),
    [length, width]: [Length; 2],
    pattern: &Pattern,
    facts: &[PieceFacts],
) -> LaidOut {
    let mut bench =
        Bench { shop, quarter, sawing, layout: pattern.layout, out: LaidOut::default(), after: Vec::new() };
    if pattern.strips.is_empty() {
        // A board that is not cut goes back whole, less the trims that its next user will take.
        let (x, y) = (sawing.end_trim, sawing.edge_trim);
        if let Some((length, width)) = sawing.usable(length, width) {
            bench.leave(Field { main: y, run: x, main_size: width, run_size: length, after: None });
        }
        return bench.out;
    }
    bench.trims(length, width);
    let (main_origin, run_origin) = match pattern.layout {
        Layout::RipFirst => (sawing.edge_trim, sawing.end_trim),
        Layout::CrosscutFirst => (sawing.end_trim, sawing.edge_trim),
    };
    let (main_room, run_room) =
        pattern.layout.axes(length - sawing.end_trim * 2, width - sawing.edge_trim * 2);
    let after = bench.out.cuts.len().checked_sub(1);
    let whole = Field { main: main_origin, run: run_origin, main_size: main_room, run_size: run_room, after };
    let strips = strips(&mut bench, whole, pattern, facts);
    let mut next = 0;
    for (strip, mut strip_rest) in pattern.strips.iter().zip(strips) {
        for cell in &strip.cells {
            let cell_facts = &facts[next..next + cell.pieces.len()];
            let to_stop = cell_facts.iter().any(|piece| piece.fit != Fit::ToWork);
            let frees = if cell_facts.is_empty() { Frees::Waste } else { Frees::Pieces { to_stop } };
            bench.skip(&mut strip_rest, Divides::Run, cell.gap);
            let mut cell_rest = bench.divide(&mut strip_rest, Divides::Run, cell.run, frees);
            bench.skip(&mut cell_rest, Divides::Main, cell.lift);
            for piece in cell_facts {
                let main = pattern.layout.axes(piece.length, piece.width).0;
                let to_stop = piece.fit != Fit::ToWork;
                let at = bench.divide(&mut cell_rest, Divides::Main, main, Frees::Pieces { to_stop });
                let place = bench.place(at.main, at.run);
                bench.out.pieces.push(place);
            }
            bench.leave(cell_rest);
            next += cell.pieces.len();
        }
        bench.leave(strip_rest);
    }
    bench.queue();
    bench.out
}

/// Cuts the whole board into its strips.
fn strips(bench: &mut Bench<'_>, mut rest: Field, pattern: &Pattern, facts: &[PieceFacts]) -> Vec<Field> {
    let mut strips = Vec::new();
    let mut next = 0;
    for strip in &pattern.strips {
        let held: Vec<&PieceFacts> = strip
            .cells
            .iter()
            .flat_map(|cell| &cell.pieces)
            .map(|_| {
                next += 1;
                &facts[next - 1]
            })
            .collect();
        // A section is cut to a stop unless only pieces left long for the work reach its end.
        let to_stop = held.iter().any(|piece| {
            let full = pattern.layout.axes(piece.length, piece.width).0 == strip.main;
            full && piece.fit != Fit::ToWork
        });
        bench.skip(&mut rest, Divides::Main, strip.gap);
        let frees = if held.is_empty() { Frees::Waste } else { Frees::Pieces { to_stop } };
        strips.push(bench.divide(&mut rest, Divides::Main, strip.main, frees));
    }
    bench.leave(rest);
    strips
}

/// What a cut frees.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Frees {
    /// Pieces, and is a crosscut made against the stop?
    Pieces { to_stop: bool },
    /// Wood beside a defect, or in which nothing more is wanted.
    Waste,
}

impl Bench<'_> {
    /// Board coordinates (x, y) of (main, run).
    fn place(&self, main: Length, run: Length) -> (Length, Length) {
        match self.layout {
            Layout::RipFirst => (run, main),
            Layout::CrosscutFirst => (main, run),
        }
    }

    /// Ends first, so that a checked end cannot run into the rip; then the edges.
    fn trims(&mut self, length: Length, width: Length) {
        let (end, edge) = (self.sawing.end_trim, self.sawing.edge_trim);
        let crosscut = self.sawing.crosscut_kerf.min(end);
        let rip = self.sawing.rip_kerf.min(edge);
        let zero = Length::ZERO;
        if end > zero {
            self.trim((end - crosscut, zero), (end, width));
            self.trim((length - end, zero), (length - end + crosscut, width));
        }
        if edge > zero {
            self.trim((end, edge - rip), (length - end, edge));
            self.trim((end, width - edge), (length - end, width - edge + rip));
        }
    }

    /// Trims are made in the order in which they stand.
    fn trim(&mut self, from: (Length, Length), to: (Length, Length)) {
        self.cut(CutKind::Trim, from, to, None, self.out.cuts.len().checked_sub(1));
    }

    fn cut(
        &mut self,
        kind: CutKind,
        from: (Length, Length),
        to: (Length, Length),
        setting: Option<(SetupKind, Length)>,
        after: Option<usize>,
    ) {
        let step = self.out.cuts.len() as u32 + 1;
        // A cut the other way than the one before it is of the next stage.
        let (stage, before) = match after.map(|before| &self.out.cuts[before]) {
            Some(before) => (before.stage, before.kind),
            None => (0, CutKind::Trim),
        };
        let stage = stage + u8::from(kind != before);
        self.after.push(after);
        self.out.cuts.push(SawCut { step, kind, stage, x0: from.0, y0: from.1, x1: to.0, y1: to.1, setting });
    }

    /// Cuts a field of `size` off the near side of `rest`. The kerf comes off what is left. If nothing is
    /// left over, no cut is made.
    fn divide(&mut self, rest: &mut Field, divides: Divides, size: Length, frees: Frees) -> Field {
        let rips = (self.layout == Layout::RipFirst) == (divides == Divides::Main);
        let (kind, kerf) = if rips {
            (CutKind::Rip, self.sawing.rip_kerf)
        } else {
            (CutKind::Crosscut, self.sawing.crosscut_kerf)
        };
        let mut freed = *rest;
        let room = match divides {
            Divides::Main => {
                freed.main_size = size;
                rest.main_size
            }
            Divides::Run => {
                freed.run_size = size;
                rest.run_size
            }
        };
        let over = room.saturating_sub(size);
        let kerf = kerf.min(over);
        if over > Length::ZERO {
            let (from, to) = match divides {
                Divides::Main => {
                    let at = rest.main + size;
                    (self.place(at, rest.run), self.place(at + kerf, rest.run + rest.run_size))
                }
                Divides::Run => {
                    let at = rest.run + size;
                    (self.place(rest.main, at), self.place(rest.main + rest.main_size, at + kerf))
                }
            };
            let setting = match (kind, frees) {
                (_, Frees::Pieces { .. }) if self.quarter.is_sheet() => Some((SetupKind::Sheet, size)),
                (CutKind::Rip, Frees::Pieces { .. }) => Some((SetupKind::Rip, size)),
                (CutKind::Crosscut, Frees::Pieces { to_stop: true }) => Some((SetupKind::Stop, size)),
                // Beside a defect the saw follows a line.
                _ => None,
            };
            self.cut(kind, from, to, setting, rest.after);
            rest.after = Some(self.out.cuts.len() - 1);
            freed.after = rest.after;
        }
        match divides {
            Divides::Main => {
                rest.main += size + kerf;
                rest.main_size = over - kerf;
            }
            Divides::Run => {
                rest.run += size + kerf;
                rest.run_size = over - kerf;
            }
        }
        freed
    }

    /// Cuts away the wood before the next piece: the blade takes its far side.
    fn skip(&mut self, rest: &mut Field, divides: Divides, gap: Length) {
        if gap == Length::ZERO {
            return;
        }
        let rips = (self.layout == Layout::RipFirst) == (divides == Divides::Main);
        let kerf = if rips { self.sawing.rip_kerf } else { self.sawing.crosscut_kerf };
        let waste = self.divide(rest, divides, gap.saturating_sub(kerf), Frees::Waste);
        self.leave(waste);
        // The blade stood partly outside where the gap is narrower than a kerf.
        let over = kerf.saturating_sub(gap);
        if over > Length::ZERO
            && let Some(cut) = self.out.cuts.last_mut()
        {
            match (self.layout == Layout::RipFirst) == (divides == Divides::Main) {
                true => cut.y1 -= over,
                false => cut.x1 -= over,
            }
            match divides {
                Divides::Main => {
                    rest.main -= over;
                    rest.main_size += over;
                }
                Divides::Run => {
                    rest.run -= over;
                    rest.run_size += over;
                }
            }
        }
    }

    /// Puts the cuts into the order in which they are made. A cut comes after the one that frees its wood. Cuts at the
    /// setting that stands come first, then others at the same saw, so that the board changes saws as seldom as it can.
    /// Of those the largest setting is next, so that what falls off may serve a smaller one.
    fn queue(&mut self) {
        let cuts = std::mem::take(&mut self.out.cuts);
        let mut frees: Vec<Vec<usize>> = vec![Vec::new(); cuts.len()];
        let mut ready: BTreeMap<CutKind, BTreeSet<ReadyCut>> = BTreeMap::new();
        let mut queued: Vec<SawCut> = Vec::with_capacity(cuts.len());
        for (place, after) in self.after.iter().enumerate() {
            match after {
                Some(before) => frees[*before].push(place),
                None => drop(ready.entry(cuts[place].kind).or_default().insert(of(&cuts, place))),
            }
        }
        while let Some((kind, next)) = next_cut(&ready, queued.last()) {
            ready.entry(kind).or_default().remove(&next);
            let place = next.1.0;
            queued.push(SawCut { step: queued.len() as u32 + 1, ..cuts[place].clone() });
            for freed in &frees[place] {
                ready.entry(cuts[*freed].kind).or_default().insert(of(&cuts, *freed));
            }
        }
        self.out.cuts = queued;
    }

    fn leave(&mut self, rest: Field) {
        if rest.main_size <= Length::ZERO || rest.run_size <= Length::ZERO {
            return;
        }
        let (x, y) = self.place(rest.main, rest.run);
        let (length, width) = self.place(rest.main_size, rest.run_size);
        let keep = self.shop.keeps(self.quarter, length, width);
        self.out.offcuts.push(Offcut { x, y, length, width, keep });
    }
}

/// A cut whose wood is free: its setting, and its place among the cuts, of which the first is the largest.
type ReadyCut = (Option<(SetupKind, Length)>, Reverse<usize>);

fn of(cuts: &[SawCut], place: usize) -> ReadyCut {
    (cuts[place].setting, Reverse(place))
}

/// The cut that comes after the last one, and its saw.
fn next_cut(
    ready: &BTreeMap<CutKind, BTreeSet<ReadyCut>>,
    last: Option<&SawCut>,
) -> Option<(CutKind, ReadyCut)> {
    let at_same_saw = last.and_then(|last| {
        let own = ready.get(&last.kind)?;
        let mut alike = own.range((last.setting, Reverse(usize::MAX))..=(last.setting, Reverse(0)));
        Some((last.kind, *alike.next_back().or(own.last())?))
    });
    at_same_saw.or_else(|| {
        let largest = ready.iter().filter_map(|(kind, own)| Some((*kind, *own.last()?)));
        largest.max_by_key(|(_, (setting, place))| (setting.map(|(_, size)| size), *place))
    })
}
