//! The second half of the search: boards of strips.

use super::{Candidate, Filled, Left, MOST_SEEN, PatternsFound, ProperSearch, StripGroup, highest};
use crate::measure::Length;
use crate::pattern::{Cell, Pattern, Strip};

impl ProperSearch<'_> {
    /// What can be gained at most by strips of a group from one of its candidates on, and of those behind it.
    fn gain(&self, group: usize, from: usize, room: i64) -> i64 {
        let StripGroup { main, end, .. } = self.groups[group];
        let behind = &self.rest_of_board[group + 1];
        let (mut best, mut room, mut value) = (highest(behind, room), room, 0);
        for candidate in &self.candidates[from..end] {
            for _ in 0..self.copies(candidate) {
                if room < main {
                    return best;
                }
                room -= main;
                value += candidate.value;
                best = best.max(value + highest(behind, room));
            }
        }
        best
    }

    /// Puts strips on a board, from its group and candidate on; `wanted` is what is left of each piece.
    pub(super) fn boards(
        &mut self,
        board: Filled,
        wanted: &mut Vec<u32>,
        held: &mut Vec<usize>,
        left: &mut Left<'_>,
        found: &mut PatternsFound<'_>,
    ) -> Option<()> {
        left.steps.step()?;
        if self.was_seen(&board) {
            return Some(());
        }
        if board.value + board.charge >= left.threshold && !held.is_empty() {
            self.take(&board, wanted, held, left, found);
            if found.list.as_ref().is_some_and(|list| list.patterns.len() > self.task.most) {
                return None;
            }
        }
        let mut from = board.from;
        for group in board.group..self.groups.len() {
            let StripGroup { main, start, end } = self.groups[group];
            if board.value + highest(&self.rest_of_board[group], board.room) < self.least(left) {
                return Some(());
            }
            if main > board.room {
                continue;
            }
            for place in from.max(start)..end {
                left.steps.step()?;
                if board.value + self.gain(group, place, board.room) < self.least(left) {
                    break;
                }
                let candidate = &self.candidates[place];
                if self.wants_more(&candidate.held, wanted) {
                    continue;
                }
                candidate.held.iter().for_each(|(piece, n)| wanted[self.pieces[*piece].own] -= n);
                held.push(place);
                let next = Filled {
                    group,
                    from: place,
                    room: board.room - main,
                    value: board.value + candidate.value,
                    charge: board.charge + candidate.charge,
                    key: board.key + self.key(&candidate.held),
                };
                let done = self.boards(next, wanted, held, left, found);
                held.pop();
                let candidate = &self.candidates[place];
                candidate.held.iter().for_each(|(piece, n)| wanted[self.pieces[*piece].own] += n);
                done?;
            }
            from = end;
        }
        Some(())
    }

    /// Does a strip hold a piece, one way round or the other, more often than it is still wanted?
    fn wants_more(&self, held: &[(usize, u32)], wanted: &[u32]) -> bool {
        let own = |place: usize| self.pieces[place].own;
        held.iter().any(|(place, n)| {
            let twin = held.iter().filter(|(other, _)| other != place && own(*other) == own(*place));
            wanted[own(*place)] < n + twin.map(|(_, n)| n).sum::<u32>()
        })
    }

    fn key(&self, held: &[(usize, u32)]) -> u128 {
        let Some(bits) = &self.key_bits else { return 0 };
        let shift = |place: usize| bits[..self.pieces[place].own].iter().sum::<u32>();
        held.iter().map(|(place, n)| u128::from(*n) << shift(*place)).sum()
    }

    /// Was a board with the same pieces, as much room and as many strips to come gone on from before?
    fn was_seen(&mut self, board: &Filled) -> bool {
        if self.key_bits.is_none() || board.key == 0 {
            return false;
        }
        match self.seen.get_mut(&board.key) {
            Some((room, from)) if *room >= board.room && *from <= board.from => true,
            Some(known) => {
                if board.room >= known.0 && board.from <= known.1 {
                    *known = (board.room, board.from);
                }
                false
            }
            None => {
                if self.seen.len() < MOST_SEEN {
                    self.seen.insert(board.key, (board.room, board.from));
                }
                false
            }
        }
    }

    /// Takes a board, unless one piece more could be cut from it: then that board covers it.
    fn take(
        &self,
        board: &Filled,
        wanted: &[u32],
        held: &[usize],
        left: &mut Left<'_>,
        found: &mut PatternsFound<'_>,
    ) {
        let Some(list) = &mut found.list else {
            let worth = board.value + board.charge;
            left.threshold = worth + 1;
            found.best = Some((self.pattern(held), worth));
            return;
        };
        let mut open = self.pieces.iter().filter(|piece| wanted[piece.own] > 0);
        let even = self.task.cutting.family.is_even();
        let extended = open.any(|piece| {
            let fits = |strip: &Candidate| {
                let across = if even { piece.main == strip.main } else { piece.main <= strip.main };
                across && piece.run <= strip.room
            };
            piece.main <= board.room || held.iter().any(|place| fits(&self.candidates[*place]))
        });
        if !extended {
            let pattern = self.pattern(held);
            let counts = pattern.counts();
            if (list.are_wanted)(&counts) {
                list.patterns.entry(counts).or_insert(pattern);
            }
        }
    }

    fn pattern(&self, held: &[usize]) -> Pattern {
        let strip = |place: &usize| {
            let candidate = &self.candidates[*place];
            let cells = candidate.held.iter().flat_map(|(place, copies)| {
                let piece = &self.pieces[*place];
                let run = Length::from_base(piece.run - self.run_kerf);
                std::iter::repeat_n(Cell::of(run, piece.laid), *copies as usize)
            });
            let main = Length::from_base(candidate.main - self.main_kerf);
            Strip { gap: Length::ZERO, main, cells: cells.collect() }
        };
        Pattern { layout: self.layout, strips: held.iter().map(strip).collect() }
    }
}
