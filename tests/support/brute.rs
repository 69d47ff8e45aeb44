//! The cheapest plan of a tiny job by trying everything, in plain integers.
//!
//! It shares nothing with the library: every way to share the pieces out over boards, every board for
//! every share, every way to stack a share in strips.

/// A rectangle in ticks of 1/16 in: (length, width).
pub type Size = (i64, i64);

/// A board on offer. `dealer` is none for the rack.
#[derive(Debug, Clone)]
pub struct Offer {
    pub usable: Size,
    /// Hundredths of the currency for one board.
    pub cents: i64,
    pub available: Option<usize>,
    pub dealer: Option<usize>,
    /// Hundredths of a board foot that the dealer counts.
    pub feet: i64,
    /// Defects of the usable rectangle.
    pub defects: Vec<Hole>,
}

/// A rectangle that no piece may touch, along and across a board.
#[derive(Debug, Clone, Copy)]
pub struct Hole {
    pub along: (i64, i64),
    pub across: (i64, i64),
}

/// Terms of a dealer in hundredths.
#[derive(Debug, Clone, Copy, Default)]
pub struct Terms {
    pub delivery: i64,
    pub minimum: i64,
    /// (from hundredths of a board foot, percent off).
    pub step: Option<(i64, i64)>,
}

/// A tiny job: each piece once, with the offers it may come from.
#[derive(Debug, Clone)]
pub struct Tiny {
    pub pieces: Vec<Size>,
    pub allowed: Vec<Vec<bool>>,
    /// By piece and offer, may it lie straight, and turned by a quarter? Empty where none may turn.
    pub turns: Vec<Vec<(bool, bool)>>,
    /// May a cell of a strip be cut once more into several pieces?
    pub third_stage: bool,
    /// Are all pieces of a strip as wide as it is?
    pub exact: bool,
    /// The largest strip, by its area.
    pub largest_strip: Option<i64>,
    pub offers: Vec<Offer>,
    pub terms: Vec<Terms>,
    /// (rip, crosscut).
    pub kerfs: (i64, i64),
    /// Boards bought beyond those that are cut, to reach a minimum or a break.
    pub extra: usize,
}

impl Tiny {
    /// The least cost in hundredths, or none if the pieces cannot be cut.
    pub fn least_cost(&self) -> Option<i64> {
        let all = 1usize << self.pieces.len();
        let fits: Vec<Vec<bool>> = (0..self.offers.len())
            .map(|offer| (0..all).map(|share| share != 0 && self.fits(offer, share)).collect())
            .collect();
        let mut best = None;
        let mut counts = vec![0; self.offers.len()];
        self.share_out(all - 1, &fits, &mut counts, &mut best);
        best
    }

    fn share_out(&self, left: usize, fits: &[Vec<bool>], counts: &mut Vec<usize>, best: &mut Option<i64>) {
        if left == 0 {
            self.with_extra(0, self.extra, counts, best);
            return;
        }
        let lowest = left & left.wrapping_neg();
        let mut share = left;
        while share != 0 {
            if share & lowest != 0 {
                for offer in 0..self.offers.len() {
                    let most = self.offers[offer].available.unwrap_or(usize::MAX);
                    if fits[offer][share] && counts[offer] < most {
                        counts[offer] += 1;
                        self.share_out(left & !share, fits, counts, best);
                        counts[offer] -= 1;
                    }
                }
            }
            share = (share - 1) & left;
        }
    }

    fn with_extra(&self, from: usize, extra: usize, counts: &mut Vec<usize>, best: &mut Option<i64>) {
        if let Some(cost) = self.cost(counts)
            && best.is_none_or(|best| cost < best)
        {
            *best = Some(cost);
        }
        if extra == 0 {
            return;
        }
        for offer in from..self.offers.len() {
            let most = self.offers[offer].available.unwrap_or(usize::MAX);
            if self.offers[offer].dealer.is_some() && counts[offer] < most {
                counts[offer] += 1;
                self.with_extra(offer, extra - 1, counts, best);
                counts[offer] -= 1;
            }
        }
    }

    fn cost(&self, counts: &[usize]) -> Option<i64> {
        let mut total = 0;
        for (offer, count) in self.offers.iter().zip(counts).filter(|(offer, _)| offer.dealer.is_none()) {
            total += offer.cents * *count as i64;
        }
        for (dealer, terms) in self.terms.iter().enumerate() {
            let his = || {
                self.offers
                    .iter()
                    .zip(counts)
                    .filter(move |(offer, count)| offer.dealer == Some(dealer) && **count > 0)
            };
            let feet: i64 = his().map(|(offer, count)| offer.feet * *count as i64).sum();
            let off = terms.step.filter(|(from, _)| feet >= *from).map_or(0, |(_, percent)| percent);
            // Each row is rounded half up to a cent once.
            let spent: i64 = his()
                .map(|(offer, count)| (offer.cents * *count as i64 * (100 - off) + 50).div_euclid(100))
                .sum();
            if his().next().is_some() {
                if spent < terms.minimum {
                    return None;
                }
                total += spent + terms.delivery;
            }
        }
        Some(total)
    }

    /// Can one board of the offer give all pieces of the share, in either layout?
    fn fits(&self, offer: usize, share: usize) -> bool {
        let pieces: Vec<usize> = (0..self.pieces.len()).filter(|piece| share >> piece & 1 == 1).collect();
        if !pieces.iter().all(|piece| self.allowed[*piece][offer]) {
            return false;
        }
        let lies = |piece: usize| self.turns.get(piece).map_or((true, false), |of| of[offer]);
        (0usize..1 << pieces.len()).any(|turned| {
            let is_turned = |place: usize| turned >> place & 1 == 1;
            let allowed = |(place, piece): (usize, &usize)| {
                let (straight, turns) = lies(*piece);
                if is_turned(place) { turns } else { straight }
            };
            let size = |(place, piece): (usize, &usize)| {
                let (length, width) = self.pieces[*piece];
                if is_turned(place) { (width, length) } else { (length, width) }
            };
            pieces.iter().enumerate().all(allowed)
                && self.lie_on(&self.offers[offer], &pieces.iter().enumerate().map(size).collect::<Vec<_>>())
        })
    }

    /// Can pieces that lie as they do be cut from a board, in either layout?
    fn lie_on(&self, offer: &Offer, along: &[Size]) -> bool {
        let (length, width) = offer.usable;
        let (rip, crosscut) = self.kerfs;
        let across: Vec<Size> = along.iter().map(|(length, width)| (*width, *length)).collect();
        if !offer.defects.is_empty() {
            let exchanged: Vec<Hole> =
                offer.defects.iter().map(|hole| Hole { along: hole.across, across: hole.along }).collect();
            return around(along, (length, width), (crosscut, rip), &offer.defects)
                || around(&across, (width, length), (rip, crosscut), &exchanged);
        }
        let rules = StripRules { exact: self.exact, largest: self.largest_strip };
        let cut = if self.third_stage { in_three } else { in_strips };
        cut(along, (length, width), (crosscut, rip), rules)
            || cut(&across, (width, length), (rip, crosscut), rules)
    }
}

/// The same with a third stage: pieces of one run may first be put one above the other into one cell.
fn in_three(pieces: &[Size], board: Size, kerfs: Size, rules: StripRules) -> bool {
    fn merge(pieces: &[Size], cells: &mut Vec<Size>, board: Size, kerfs: Size, rules: StripRules) -> bool {
        let Some((first, rest)) = pieces.split_first() else {
            return in_strips(cells, board, kerfs, StripRules { exact: false, ..rules });
        };
        for cell in 0..cells.len() {
            if cells[cell].0 == first.0 {
                let before = cells[cell];
                cells[cell].1 += kerfs.1 + first.1;
                if merge(rest, cells, board, kerfs, rules) {
                    return true;
                }
                cells[cell] = before;
            }
        }
        cells.push(*first);
        let fits = merge(rest, cells, board, kerfs, rules);
        cells.pop();
        fits
    }
    merge(pieces, &mut Vec::new(), board, kerfs, rules)
}

/// Can rectangles (run, main) be cut in strips of a board (run, main) with (run, main) kerfs?
fn in_strips(pieces: &[Size], board: Size, kerfs: Size, rules: StripRules) -> bool {
    fn place(pieces: &[Size], board: Size, kerfs: Size, strips: &mut Vec<Size>, rules: StripRules) -> bool {
        let Some((first, rest)) = pieces.split_first() else {
            if strips.iter().any(|strip| rules.largest.is_some_and(|most| strip.1 * board.0 > most)) {
                return false;
            }
            let main: i64 = strips.iter().map(|strip| strip.1 + kerfs.1).sum();
            return main <= board.1 + kerfs.1;
        };
        for strip in 0..=strips.len() {
            if strip == strips.len() {
                strips.push((0, 0));
            }
            let before = strips[strip];
            let run = if before.0 == 0 { first.0 } else { before.0 + kerfs.0 + first.0 };
            let may_join = before.0 == 0 || !rules.exact || before.1 == first.1;
            if run <= board.0 && may_join {
                strips[strip] = (run, before.1.max(first.1));
                if place(rest, board, kerfs, strips, rules) {
                    return true;
                }
                strips[strip] = before;
            }
            if before == (0, 0) {
                strips.pop();
            }
        }
        false
    }
    place(pieces, board, kerfs, &mut Vec::new(), rules)
}

/// What strips must be like.
#[derive(Clone, Copy)]
struct StripRules {
    /// As wide as each of their pieces.
    exact: bool,
    /// No larger, by their area.
    largest: Option<i64>,
}

/// Can rectangles (run, main) be cut in strips of a board (run, main) whose defects no piece touches? A piece lies at the
/// lower or at the upper side of its strip, which may be wider than all of them. Of each set of strips, and of each set of pieces in a strip, only how far it
/// reaches matters, and all orders are tried.
fn around(pieces: &[Size], board: Size, kerfs: Size, defects: &[Hole]) -> bool {
    let all = 1usize << pieces.len();
    let main_of = |set: usize| (0..pieces.len()).filter(|at| set >> at & 1 == 1).map(|at| pieces[at].1).max();
    // A piece at a place of a strip at a height, at either side.
    let is_clear = |piece: Size, at: i64, low: i64| {
        !defects.iter().any(|hole| {
            hole.along.0 < at + piece.0
                && at < hole.along.1
                && hole.across.0 < low + piece.1
                && low < hole.across.1
        })
    };
    let strip_fits = |set: usize, low: i64, main: i64| {
        let mut ends: Vec<Option<i64>> = vec![None; all];
        ends[0] = Some(0);
        for part in (1..=set).filter(|part| part & !set == 0) {
            let after = |last: usize| {
                let from = ends[part & !(1 << last)]?;
                let piece = pieces[last];
                let mut places = from..=board.0 - piece.0;
                let at = places
                    .find(|at| is_clear(piece, *at, low) || is_clear(piece, *at, low + main - piece.1))?;
                Some(at + piece.0 + kerfs.0)
            };
            ends[part] = (0..pieces.len()).filter(|last| part >> last & 1 == 1).filter_map(after).min();
        }
        ends[set].is_some()
    };
    let mut reached: Vec<Option<i64>> = vec![None; all];
    reached[0] = Some(0);
    for held in 1..all {
        for strip in (1..=held).filter(|strip| strip & !held == 0) {
            let (Some(from), Some(least)) = (reached[held & !strip], main_of(strip)) else { continue };
            // A strip may be wider than its pieces: then one of them at its upper side just clears a defect.
            let tops: Vec<i64> = defects
                .iter()
                .flat_map(|hole| pieces.iter().map(|piece| hole.across.1 + piece.1))
                .filter(|top| *top <= board.1)
                .collect();
            for low in from..=board.1 - least {
                let wider = tops.iter().map(|top| top - low).filter(|main| *main > least);
                for main in wider.chain([least]) {
                    let end = low + main + kerfs.1;
                    let is_better = reached[held].is_none_or(|before| end < before);
                    if is_better && strip_fits(strip, low, main) {
                        reached[held] = Some(end);
                    }
                }
            }
        }
    }
    reached[all - 1].is_some()
}
