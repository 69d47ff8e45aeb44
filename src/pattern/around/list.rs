//! Every pattern of one measured board around its defects that is worth a threshold.
//!
//! A depth-first search over positions, strips and the pieces along each strip. What can still be gained is bounded by
//! the tables of [`super::AroundDefects`], which relax the limits. The same pieces held nearer to the board's corner
//! leave more room, so each multiset is gone on from its first place only, within a strip and between strips.

use std::collections::{BTreeMap, BTreeSet};

use super::{AroundDefects, StripFrom};
use crate::pattern::budget::StepBudget;
use crate::pattern::defects::{ListTask, PlacedStrip, pattern_of};
use crate::pattern::model::Pattern;

/// Copies of each piece that are held, in a field of bits for each.
type Held = [u64; 4];

/// By piece, one copy of it in its field; `None` where the fields are too many.
fn copies(limits: impl Iterator<Item = u32>) -> Option<Vec<Held>> {
    let mut bit = 0;
    let mut word = 0;
    let mut copies = Vec::new();
    for limit in limits {
        let bits = u32::BITS - limit.leading_zeros();
        if bit + bits > u64::BITS {
            (word, bit) = (word + 1, 0);
        }
        let mut copy = Held::default();
        *copy.get_mut(word)? = 1u64.checked_shl(bit).unwrap_or(0);
        copies.push(copy);
        bit += bits;
    }
    Some(copies)
}

fn plus(held: Held, copy: Held) -> Held {
    std::array::from_fn(|word| held[word] + copy[word])
}

impl AroundDefects {
    /// All patterns within the limits that are worth the threshold and that no other one covers, one for each multiset
    /// of pieces, and some that others cover; `None` if the budget ran out or the pieces are too many.
    pub fn list(&self, task: &ListTask<'_>) -> Option<Vec<Pattern>> {
        let along: Vec<Vec<i64>> =
            self.fillings.iter().map(|filling| self.values_along(filling, task.values, |_, _| ())).collect();
        let worth: Vec<i64> = along.iter().map(|values| values[0]).collect();
        let mut search = Listing {
            table: self,
            rest: self.values_from(&worth).0,
            along,
            task,
            budget: StepBudget::new(task.budget, task.is_late),
            wanted: self.pieces.iter().map(|piece| task.limits[piece.index]).collect(),
            copies: copies(self.pieces.iter().map(|piece| task.limits[piece.index]))?,
            held: Held::default(),
            strips: Vec::new(),
            seen: BTreeMap::new(),
            found: BTreeMap::new(),
        };
        search.strips_from(0, 0)?;
        let kerfs = (self.main_kerf, self.run_kerf);
        let made = |strips: &Vec<PlacedStrip>| {
            pattern_of(self.layout, kerfs, &self.pieces, strips, task.values, task.limits).0
        };
        Some(search.found.values().map(made).collect())
    }
}

struct Listing<'a> {
    table: &'a AroundDefects,
    /// By filling: what a strip of it can still gain from each place along the run on at most.
    along: Vec<Vec<i64>>,
    /// By place of a strip: what can be gained from there on at most.
    rest: Vec<i64>,
    task: &'a ListTask<'a>,
    budget: StepBudget<'a>,
    /// Copies still wanted, and one copy, by place among the pieces.
    wanted: Vec<u32>,
    copies: Vec<Held>,
    held: Held,
    strips: Vec<PlacedStrip>,
    /// By what is held: the first place from which it was gone on.
    seen: BTreeMap<Held, usize>,
    found: BTreeMap<Held, Vec<PlacedStrip>>,
}

/// A strip being filled.
struct OpenFilling {
    strip: StripFrom,
    /// The first place of a strip after it.
    after: usize,
    /// By what is held: the first place along the run from which it was gone on.
    seen: BTreeMap<Held, usize>,
}

impl Listing<'_> {
    /// Goes on with strips from a place on; `value` is what is held so far.
    fn strips_from(&mut self, from: usize, value: i64) -> Option<()> {
        self.budget.step()?;
        if self.seen.get(&self.held).is_some_and(|before| *before <= from) {
            return Some(());
        }
        self.seen.insert(self.held, from);
        let mut extended = false;
        let table = self.table;
        // Further on, a strip of the same filling gives the same pieces and leaves less room.
        let mut tried: BTreeSet<(i64, usize)> = BTreeSet::new();
        for place in from..table.strips_at.len() {
            if value + self.rest[place] < self.task.threshold {
                break;
            }
            for strip in table.strips_from(place) {
                if !tried.insert((strip.main, strip.filling)) {
                    continue;
                }
                let at = table.strips_at[place];
                self.strips.push((at, strip.main, Vec::new()));
                let mut filling = OpenFilling {
                    strip: *strip,
                    after: table.place_after(at + strip.main),
                    seen: BTreeMap::new(),
                };
                let done = self.fill(&mut filling, 0, value, &mut extended);
                self.strips.pop();
                done?;
            }
        }
        if !extended && value >= self.task.threshold && !self.strips.is_empty() {
            let strips = self.strips.clone();
            self.found.entry(self.held).or_insert(strips);
        }
        Some(())
    }

    /// Fills a strip from a place along the run on. A strip that takes one more piece that is wanted is covered by the one
    /// with that piece.
    fn fill(
        &mut self,
        filling: &mut OpenFilling,
        from: usize,
        value: i64,
        extended: &mut bool,
    ) -> Option<()> {
        self.budget.step()?;
        if filling.seen.get(&self.held).is_some_and(|before| *before <= from) {
            return Some(());
        }
        filling.seen.insert(self.held, from);
        let strip = filling.strip;
        if value + self.along[strip.filling][from] + self.rest[filling.after] < self.task.threshold {
            return Some(());
        }
        let table = self.table;
        let open = &table.fillings[strip.filling].open;
        let mut full = true;
        // Each piece is tried at its first place only.
        let mut tried = vec![false; table.pieces.len()];
        for (turn, (first, pieces)) in open.iter().enumerate() {
            let place = from.max(*first);
            let end = open.get(turn + 1).map_or(table.pieces_at.len(), |(next, _)| *next);
            if place >= end {
                continue;
            }
            for number in pieces {
                if self.wanted[*number] == 0 || std::mem::replace(&mut tried[*number], true) {
                    continue;
                }
                full = false;
                let piece = table.pieces[*number];
                let at = table.pieces_at[place];
                let next = table.pieces_at.partition_point(|other| *other < at + piece.run + table.run_kerf);
                self.wanted[*number] -= 1;
                let before = self.held;
                self.held = plus(before, self.copies[*number]);
                if let Some((low, _, cells)) = self.strips.last_mut() {
                    cells.push(table.placed(*number, at, (*low, strip.main)));
                }
                let done = self.fill(filling, next, value + self.task.values[piece.index], extended);
                if let Some((_, _, cells)) = self.strips.last_mut() {
                    cells.pop();
                }
                self.held = before;
                self.wanted[*number] += 1;
                done?;
            }
        }
        if full && self.strips.last().is_some_and(|(_, _, cells)| !cells.is_empty()) {
            *extended = true;
            return self.strips_from(filling.after, value);
        }
        Some(())
    }
}
