//! Every pattern of one board between its defects that is worth a threshold.
//!
//! A depth-first search over positions, strips and the contents of their spans. What can still be gained is bounded
//! by the table of [`super::BetweenDefects`], which relaxes the limits between spans. A pattern that another one covers
//! is left out: every span is filled until no piece that is still wanted fits.

use std::collections::BTreeMap;

use super::{BetweenDefects, Placed, PlacedStrip, Span, Spans, Stretch, Worth, pattern_of};
use crate::pattern::Pattern;
use crate::pattern::budget::StepBudget;
use crate::pattern::defects::ListTask;

impl BetweenDefects {
    /// All patterns of a board within the limits that are worth the threshold and that no other one covers, one for
    /// each multiset of pieces; `None` if the budget ran out.
    pub fn list(&self, board: usize, task: &ListTask<'_>) -> Option<Vec<Pattern>> {
        let worth = self.worth(task.values, task.limits, 0..self.runs.len());
        let spans = &self.boards[board];
        let rest = self.values_from(spans, &spans.positions, &worth).0;
        let mut search = Listing {
            table: self,
            spans,
            worth: &worth,
            rest,
            task,
            budget: StepBudget::new(task.budget, task.is_late),
            wanted: self.pieces.iter().map(|piece| task.limits[piece.index]).collect(),
            held: vec![0; self.pieces.len()],
            strips: Vec::new(),
            seen: BTreeMap::new(),
            found: BTreeMap::new(),
        };
        search.strips_from(0, 0)?;
        let made = |strips: &Vec<PlacedStrip>| {
            pattern_of(self.layout, self.kerfs, &self.pieces, strips, task.values, task.limits).0
        };
        Some(search.found.values().map(made).collect())
    }
}

struct Listing<'a> {
    table: &'a BetweenDefects,
    spans: &'a Spans,
    worth: &'a Worth,
    /// By position: what can be gained from there on at most.
    rest: Vec<i64>,
    task: &'a ListTask<'a>,
    budget: StepBudget<'a>,
    /// Copies still wanted and held, by place among the pieces.
    wanted: Vec<u32>,
    held: Vec<u32>,
    strips: Vec<PlacedStrip>,
    /// By what is held: the first position from which it was gone on.
    seen: BTreeMap<Vec<u32>, usize>,
    found: BTreeMap<Vec<u32>, Vec<PlacedStrip>>,
}

/// Where the filling of a strip has come to: a stretch, the way that it is filled, and a span of that.
#[derive(Clone, Copy)]
struct StripPlace<'a> {
    stretch: usize,
    way: &'a [Span],
    span: usize,
}

/// A span that is begun.
#[derive(Clone, Copy)]
struct OpenStrip {
    /// Where its next piece begins.
    at: i64,
    /// What is left of it, with a kerf.
    room: i64,
    /// The first piece that may come.
    next: usize,
    /// What can be gained after it.
    later: i64,
}

/// A strip being filled.
#[derive(Clone, Copy)]
struct SpanFilling<'a> {
    stretches: &'a [Stretch],
    /// Of its widest piece, as an index.
    extent: usize,
    /// The first position after it.
    after: usize,
}

impl<'a> Listing<'a> {
    /// Goes on with strips from a position on; `value` is what is held so far.
    fn strips_from(&mut self, from: usize, value: i64) -> Option<()> {
        self.budget.step()?;
        if let Some(before) = self.seen.get(&self.held)
            && *before <= from
        {
            return Some(());
        }
        self.seen.insert(self.held.clone(), from);
        let mut extended = false;
        for place in from..self.spans.positions.len() {
            if value + self.rest[place] < self.task.threshold {
                break;
            }
            let at = self.spans.positions[place];
            for extent in 0..self.table.extents.len() {
                let main = self.table.extents[extent].0;
                if at + main > self.spans.main_room {
                    break;
                }
                let meets = &self.spans.meets[extent];
                let set = meets[meets.partition_point(|(from, _)| *from <= at) - 1].1;
                let end = at + main + self.table.kerfs.0;
                let after = self.spans.positions.partition_point(|position| *position < end);
                let strip = SpanFilling { stretches: &self.spans.clear[set], extent, after };
                self.strips.push((at, main, Vec::new()));
                let done = self.fill_stretch(strip, 0, value, &mut extended);
                self.strips.pop();
                done?;
            }
        }
        // A board of pieces that are worth nothing may come in turn with others, and then they are cut from it.
        if !extended && value >= self.task.threshold && !self.strips.is_empty() {
            let strips = self.strips.clone();
            self.found.entry(self.held.clone()).or_insert(strips);
        }
        Some(())
    }

    /// What a span of a strip can be worth at most: as much as one of the widest strip that is no wider and worth
    /// trying for its value.
    fn span_worth(&self, strip: SpanFilling<'a>, span: &Span) -> i64 {
        let level = self.worth.levels.partition_point(|(extent, _)| *extent <= strip.extent);
        level.checked_sub(1).map_or(0, |level| self.worth.levels[level].1[span.place as usize].value)
    }

    /// What the spans after one can be worth at most, in its stretch as it is filled and in those that follow.
    fn later_worth(&self, strip: SpanFilling<'a>, place: StripPlace<'a>) -> i64 {
        let sum = |way: &[Span]| way.iter().map(|span| self.span_worth(strip, span)).sum::<i64>();
        let most = |ways: &Stretch| ways.iter().map(|way| sum(way)).max().unwrap_or(0);
        let here = sum(&place.way[place.span + 1..]);
        here + strip.stretches[place.stretch + 1..].iter().map(most).sum::<i64>()
    }

    /// Fills a stretch of a strip and those that follow, in every way.
    fn fill_stretch(
        &mut self,
        strip: SpanFilling<'a>,
        stretch: usize,
        value: i64,
        extended: &mut bool,
    ) -> Option<()> {
        let Some(ways) = strip.stretches.get(stretch) else {
            let is_widest =
                |cell: &Placed| self.table.pieces[cell.piece].main == self.table.extents[strip.extent].0;
            if self.strips.last().is_some_and(|(_, _, cells)| cells.iter().any(is_widest)) {
                *extended = true;
                return self.strips_from(strip.after, value);
            }
            return Some(());
        };
        for way in ways {
            self.fill(strip, StripPlace { stretch, way, span: 0 }, None, value, extended)?;
        }
        Some(())
    }

    /// Fills the spans of a strip from one on; `open` is none where the span is not begun.
    fn fill(
        &mut self,
        strip: SpanFilling<'a>,
        place: StripPlace<'a>,
        open: Option<&OpenStrip>,
        value: i64,
        extended: &mut bool,
    ) -> Option<()> {
        self.budget.step()?;
        let Some(span) = place.way.get(place.span) else {
            return self.fill_stretch(strip, place.stretch + 1, value, extended);
        };
        let (OpenStrip { at, room, next, later }, here) = match open {
            Some(open) => (*open, self.worth.knapsacks[span.demand as usize].best(open.room).value),
            None => {
                let later = self.later_worth(strip, place) + self.rest[strip.after];
                let room = self.table.runs[self.table.run_of(span)];
                (OpenStrip { at: span.from, room, next: 0, later }, self.span_worth(strip, span))
            }
        };
        if value + here + later < self.task.threshold {
            return Some(());
        }
        let demand = self.table.demands[span.demand as usize];
        let pieces =
            self.table.extents.get(strip.extent + 1).map_or(self.table.pieces.len(), |(_, first)| *first);
        let mut full = true;
        for number in 0..pieces {
            let piece = self.table.pieces[number];
            let worth = self.task.values[piece.index];
            let taken = piece.run + self.table.kerfs.1;
            if self.wanted[number] == 0 || taken > room || piece.clear < demand {
                continue;
            }
            full = false;
            // Pieces of a span come in one order only.
            if number < next {
                continue;
            }
            self.wanted[number] -= 1;
            self.held[number] += 1;
            if let Some((_, _, cells)) = self.strips.last_mut() {
                cells.push(Placed { piece: number, at, lift: 0 });
            }
            let open = OpenStrip { at: at + taken, room: room - taken, next: number, later };
            let done = self.fill(strip, place, Some(&open), value + worth, extended);
            if let Some((_, _, cells)) = self.strips.last_mut() {
                cells.pop();
            }
            self.held[number] -= 1;
            self.wanted[number] += 1;
            done?;
        }
        if full {
            self.fill(strip, StripPlace { span: place.span + 1, ..place }, None, value, extended)?;
        }
        Some(())
    }
}
