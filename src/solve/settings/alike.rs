//! Fewer different patterns for the same boards: more of them are cut alike.
//!
//! Two patterns become one, three two, or four three, wherever the same number of boards of the same stock
//! still gives every piece, and none more (Foerster and Wascher, "Pattern reduction in one-dimensional
//! cutting stock problems", International Journal of Production Research 38(7), 2000, 1657-1676, whose
//! moves these are). Nothing is bought or paid differently.

use std::collections::BTreeMap;

use crate::index::{LineIndex, ShapeIndex, SizeIndex, ti_vec};
use crate::measure::Area;
use crate::pattern::{Cutting, Pattern, Proper, Rect, patterns_worth};
use crate::solve::incumbent::CutBoards;
use crate::solve::problem::{Counts, Instance, Supply};
use crate::solve::tolerances as tol;

/// Boards of one stock cut alike.
#[derive(Clone)]
struct AlikeGroup {
    counts: Counts,
    pattern: Pattern,
    copies: u32,
}

/// The same boards with fewer different patterns; what is not bought is left as it is.
pub fn more_alike(instance: &Instance, boards: Vec<CutBoards>) -> Vec<CutBoards> {
    let mut by_line: BTreeMap<LineIndex, Vec<CutBoards>> = BTreeMap::new();
    let mut out = Vec::new();
    for board in boards {
        match &board.source {
            Supply::Line(line) => by_line.entry(*line).or_default().push(board),
            Supply::Drawn(..) | Supply::Rack(_) => out.push(board),
        }
    }
    let mut bought = Vec::new();
    for (line, boards) in by_line {
        let stock = instance.stocks.iter().find(|stock| stock.source == Supply::Line(line));
        let Some(shape) = stock.map(|stock| stock.shape) else {
            bought.extend(boards);
            continue;
        };
        let mut stock = StockOfLine {
            instance,
            shape,
            rect: instance.shapes[shape].rect,
            cutting: Cutting { stages: 2, ..instance.cutting(shape) },
            groups: merged(boards),
            steps: tol::ALIKE_STEPS,
        };
        stock.reduce();
        bought.extend(stock.groups.into_iter().map(|group| CutBoards {
            source: Supply::Line(line),
            pattern: group.pattern,
            copies: group.copies,
        }));
    }
    bought.extend(out);
    bought
}

/// Different patterns, each board of the rack being one of its kind.
pub fn different(boards: &[CutBoards]) -> usize {
    let mut seen: Vec<(&Supply, Counts)> =
        boards.iter().map(|board| (&board.source, board.pattern.counts())).collect();
    seen.sort();
    seen.dedup();
    seen.len()
}

/// Boards that give the same pieces are one group; the most copies come first.
fn merged(boards: Vec<CutBoards>) -> Vec<AlikeGroup> {
    let mut groups: Vec<AlikeGroup> = Vec::new();
    for board in boards {
        let counts = board.pattern.counts();
        match groups.iter_mut().find(|group| group.counts == counts) {
            Some(group) => group.copies += board.copies,
            None => groups.push(AlikeGroup { counts, pattern: board.pattern, copies: board.copies }),
        }
    }
    groups.sort_by_key(|group| std::cmp::Reverse(group.copies));
    groups
}

struct StockOfLine<'a> {
    instance: &'a Instance,
    shape: ShapeIndex,
    rect: Rect,
    cutting: Cutting,
    groups: Vec<AlikeGroup>,
    /// Steps that are left: it settles for what it has at none.
    steps: usize,
}

/// How the pieces of one size may be shared out to a few patterns.
struct SharedOut {
    size: SizeIndex,
    area: i128,
    /// How many in each pattern, so that all boards together give what is wanted, and no more.
    ways: Vec<Vec<u32>>,
}

impl StockOfLine<'_> {
    fn reduce(&mut self) {
        while self.two_to_one() || self.spare_one(3) || self.spare_one(4) {}
    }

    fn two_to_one(&mut self) -> bool {
        for one in 0..self.groups.len() {
            for other in one + 1..self.groups.len() {
                let Some(steps) = self.steps.checked_sub(1) else { return false };
                self.steps = steps;
                let wanted = self.wanted(&[one, other]);
                let copies = self.groups[one].copies + self.groups[other].copies;
                let shared = wanted.iter().map(|(size, n)| (n % copies == 0).then_some((*size, n / copies)));
                let Some(counts) = shared.collect::<Option<Counts>>() else { continue };
                if let Some(pattern) = self.fitting(&counts) {
                    self.groups.remove(other);
                    self.groups[one] = AlikeGroup { counts, pattern, copies };
                    return true;
                }
            }
        }
        false
    }

    /// Looks for `many` groups whose pieces can be cut with one pattern fewer, and cuts them so. Tells whether
    /// it found such groups.
    fn spare_one(&mut self, many: usize) -> bool {
        let mut chosen: Vec<usize> = (0..many).collect();
        if many > self.groups.len() {
            return false;
        }
        loop {
            if self.steps == 0 {
                return false;
            }
            if let Some(fewer) = self.one_less(&chosen) {
                for (place, group) in chosen.iter().zip(fewer) {
                    self.groups[*place] = group;
                }
                self.groups.remove(chosen[many - 1]);
                return true;
            }
            // The next choice in order.
            let Some(place) = (0..many).rev().find(|place| chosen[*place] + many - place < self.groups.len())
            else {
                return false;
            };
            let next = chosen[place] + 1;
            chosen[place..].iter_mut().zip(next..).for_each(|(chosen, next)| *chosen = next);
        }
    }

    /// Pieces that some groups give together.
    fn wanted(&self, groups: &[usize]) -> Counts {
        let mut sum: BTreeMap<SizeIndex, u32> = BTreeMap::new();
        for group in groups.iter().map(|group| &self.groups[*group]) {
            for (size, n) in &group.counts {
                *sum.entry(*size).or_insert(0) += n * group.copies;
            }
        }
        sum.into_iter().collect()
    }

    /// Cuts the pieces of some groups with one pattern fewer, from the same number of boards; none if that cannot
    /// be done.
    fn one_less(&mut self, groups: &[usize]) -> Option<Vec<AlikeGroup>> {
        let wanted = self.wanted(groups);
        let boards: u32 = groups.iter().map(|group| self.groups[*group].copies).sum();
        if boards > tol::ALIKE_BOARDS {
            return None;
        }
        for copies in splits(boards, groups.len() - 1) {
            self.steps = self.steps.checked_sub(1)?;
            let Some(shared) = self.shared(&wanted, &copies) else { continue };
            let room = vec![self.area_of_board(); copies.len()];
            if let Some(found) = self.share_out(&shared, room, &mut Vec::new()) {
                let group = |((counts, pattern), copies)| AlikeGroup { counts, pattern, copies };
                return Some(found.into_iter().zip(copies).map(group).collect());
            }
        }
        None
    }

    /// The ways of every size, largest first, or `None` if one has none.
    fn shared(&self, wanted: &Counts, copies: &[u32]) -> Option<Vec<SharedOut>> {
        let of_size = |(size, n): &(SizeIndex, u32)| {
            let mut ways = Vec::new();
            let area = self.area(*size);
            let most = u32::try_from(self.area_of_board() / area).unwrap_or(u32::MAX);
            ways_of(copies, *n, most, &mut Vec::new(), &mut ways);
            (!ways.is_empty()).then_some(SharedOut { size: *size, area, ways })
        };
        let mut all = wanted.iter().map(of_size).collect::<Option<Vec<SharedOut>>>()?;
        all.sort_by_key(|shared| std::cmp::Reverse(shared.area));
        Some(all)
    }

    /// Tries every combination of the ways of all sizes whose areas fit, and looks for the patterns of each.
    fn share_out(
        &mut self,
        left: &[SharedOut],
        room: Vec<i128>,
        taken: &mut Vec<(SizeIndex, Vec<u32>)>,
    ) -> Option<Vec<(Counts, Pattern)>> {
        self.steps = self.steps.checked_sub(1)?;
        let Some((shared, rest)) = left.split_first() else {
            let counts = |place: usize| -> Counts {
                let own = taken.iter().map(|(size, way)| (*size, way[place]));
                let mut counts: Counts = own.filter(|(_, n)| *n > 0).collect();
                counts.sort_unstable();
                counts
            };
            let all = (0..room.len()).map(counts);
            return all.map(|counts| self.fitting(&counts).map(|pattern| (counts, pattern))).collect();
        };
        for way in &shared.ways {
            let room: Vec<i128> =
                room.iter().zip(way).map(|(room, n)| room - shared.area * i128::from(*n)).collect();
            if room.iter().any(|room| *room < 0) {
                continue;
            }
            taken.push((shared.size, way.clone()));
            let found = self.share_out(rest, room, taken);
            taken.pop();
            if found.is_some() {
                return found;
            }
        }
        None
    }

    /// A piece with its kerfs: boards with theirs are filled by such areas at most.
    fn area(&self, size: SizeIndex) -> i128 {
        let piece = self.instance.sizes[size].piece;
        let (rip, crosscut) = self.cutting.kerfs;
        Area::of(piece.length + crosscut, piece.width + rip).base()
    }

    fn area_of_board(&self) -> i128 {
        let (rip, crosscut) = self.cutting.kerfs;
        Area::of(self.rect.length + crosscut, self.rect.width + rip).base()
    }

    /// A pattern that gives just these pieces, if there is one.
    fn fitting(&mut self, counts: &Counts) -> Option<Pattern> {
        let area: i128 = counts.iter().map(|(size, n)| self.area(*size) * i128::from(*n)).sum();
        if counts.is_empty() || area > self.area_of_board() {
            return None;
        }
        let sizes: Vec<SizeIndex> = counts.iter().map(|(size, _)| *size).collect();
        let pieces = self.instance.pieces_of(self.shape, &sizes);
        let mut limits = ti_vec![0; self.instance.sizes.len()];
        let mut values = ti_vec![0; self.instance.sizes.len()];
        for (size, n) in counts {
            limits[*size] = *n;
            values[*size] = 1;
        }
        let found = patterns_worth(Proper {
            pieces: &pieces,
            limits: &limits,
            values: &values,
            board: self.rect,
            cutting: self.cutting,
            threshold: counts.iter().map(|(_, n)| i64::from(*n)).sum(),
            budget: &mut self.steps,
            most: usize::MAX,
            is_late: &|| false,
        });
        match found {
            Some(patterns) => patterns.into_iter().next(),
            None => {
                self.steps = 0;
                None
            }
        }
    }
}

/// Ways to split boards into so many lots, each as large as the one before or larger.
fn splits(boards: u32, lots: usize) -> Vec<Vec<u32>> {
    fn extend(left: u32, lots: usize, least: u32, split: &mut Vec<u32>, out: &mut Vec<Vec<u32>>) {
        if lots == 1 {
            split.push(left);
            out.push(split.clone());
            split.pop();
            return;
        }
        for lot in least..=left / lots as u32 {
            split.push(lot);
            extend(left - lot, lots - 1, lot, split, out);
            split.pop();
        }
    }
    let mut out = Vec::new();
    extend(boards, lots, 1, &mut Vec::new(), &mut out);
    out
}

/// Ways to get just `wanted` pieces from patterns with so many copies each, of which none holds more than
/// `most`.
fn ways_of(copies: &[u32], wanted: u32, most: u32, way: &mut Vec<u32>, out: &mut Vec<Vec<u32>>) {
    let [copies, rest @ ..] = copies else {
        if wanted == 0 {
            out.push(way.clone());
        }
        return;
    };
    for n in 0..=most.min(wanted / copies) {
        way.push(n);
        ways_of(rest, wanted - n * copies, most, way, out);
        way.pop();
    }
}
