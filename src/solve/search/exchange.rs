//! Exchange: free the pieces of a few boards and cut them better.
//!
//! A large-neighbourhood search (Shaw, CP 1998): boards that waste most against the dual values are
//! freed together with others that hold the same kinds of pieces, and the small problem is solved by
//! its own column generation, dive and exact end. Only equal or cheaper plans are taken. Where few pieces are wanted the
//! small problem is closed by a tree of its own, over proper patterns and with cuts.

use fastrand::Rng;
use rayon::prelude::*;

use super::backtrack::{Width, search_below};
use super::engine::{AtHand, Engine, Slice};
use super::exact::{Exactly, exactly, gap_below, proves};
use super::listing::Reach;
use super::mip::Backend;
use super::tree::Tree;
use crate::index::{LotIndex, PatternIndex, StockIndex, TiSlice, TiVec, ti_vec};
use crate::solve::problem::{Counts, Cut, Task, can_be_had, cost, merged, worth};
use crate::solve::relax::{Generated, Pool, generate, generate_proper};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// One board of the incumbent with the pieces that are really needed from it.
#[derive(Debug, Clone)]
struct FreedBoard {
    stock: StockIndex,
    pattern: PatternIndex,
    counts: Counts,
}

/// The exchange's state between two slices.
#[derive(Debug, Clone)]
pub struct Exchange {
    random: Rng,
    /// Batches since the last gain.
    idle: usize,
    /// Index into the numbers of boards that are freed at once; of few pieces it goes round.
    reach: usize,
    /// Is each exchange closed by a tree?
    closes: bool,
}

/// How the pieces of freed boards are cut anew.
#[derive(Debug, Clone, Copy)]
enum Effort {
    /// By many short searches.
    Short,
    /// By a tree, whose columns are listed so many times twice as far.
    Closing { doublings: usize },
}

impl Exchange {
    /// Nothing tried yet.
    pub fn new(task: &Task<'_>, seed: u64) -> Exchange {
        // Boards that come in turn can be saved one a lot: there many short searches gain more.
        let closes = task.instance.lots.is_empty() && task.has_few_pieces();
        Exchange { random: Rng::with_seed(seed), idle: 0, reach: 0, closes }
    }

    fn effort(&self) -> Effort {
        if self.closes {
            Effort::Closing { doublings: self.reach.min(tol::CLOSING_DOUBLINGS) }
        } else {
            Effort::Short
        }
    }
}

impl Engine for Exchange {
    /// Improves the plan for a slice of batches, or until it costs what the bound says.
    fn slice(&mut self, on: AtHand<'_>) -> Slice {
        let AtHand { task, generated, pool, plan, bound, aim, stop } = on;
        let mut current = plan.to_vec();
        let (batches, idle) = match self.closes {
            true => (tol::CLOSING_BATCHES_IN_A_SLICE, tol::CLOSING_IDLE_BATCHES),
            false => (tol::BATCHES_IN_A_SLICE, tol::IDLE_BATCHES),
        };
        for _ in 0..batches {
            if self.is_idle() || cost(task.market, &current) <= bound || stop.is_due() {
                break;
            }
            let boards = boards(task, pool, &current);
            if boards.len() < 2 {
                self.reach = usize::MAX;
                break;
            }
            let many = &tol::EXCHANGE_BOARDS[self.reach % tol::EXCHANGE_BOARDS.len()];
            let next = next_in_turn(task, &boards);
            let last = last_in_turn(task, &boards, &next);
            let batches = choose(task, generated, &boards, &last, many, &mut self.random);
            let found: Vec<Option<(Vec<Cut>, Pool)>> = batches
                .par_iter()
                .map(|chosen| {
                    let freed = Freed::new(task, pool, &boards, &next, chosen);
                    freed.recut(self.effort(), aim.backend, stop)
                })
                .collect();
            let before = cost(task.market, &current);
            current = apply(task, pool, &boards, &batches, found, current);
            self.idle = if cost(task.market, &current) < before { 0 } else { self.idle + 1 };
            if self.idle >= idle {
                // Nothing more to gain from so few boards: free more of them at once.
                self.reach += 1;
                self.idle = 0;
            }
        }
        Slice { plan: Some(current), bound: None }
    }

    fn is_idle(&self) -> bool {
        let rounds = if self.closes { tol::CLOSING_ROUNDS } else { 1 };
        self.reach >= rounds * tol::EXCHANGE_BOARDS.len()
    }
}

/// Takes every exchange that does not make the plan dearer or ask for boards that are not to be had.
fn apply(
    task: &Task<'_>,
    pool: &mut Pool,
    boards: &[FreedBoard],
    batches: &[Vec<usize>],
    found: Vec<Option<(Vec<Cut>, Pool)>>,
    current: Vec<Cut>,
) -> Vec<Cut> {
    let mut best = current;
    let mut replaced: Vec<bool> = vec![false; boards.len()];
    let mut added: Vec<Cut> = Vec::new();
    for (chosen, found) in batches.iter().zip(found) {
        let Some((cuts, local)) = found else { continue };
        let before = replaced.clone();
        chosen.iter().for_each(|place| replaced[*place] = true);
        let kept_until = added.len();
        added.extend(cuts.into_iter().map(|cut| Cut { pattern: pool.adopt(&local, cut.pattern), ..cut }));
        let kept = boards.iter().zip(&replaced).filter(|(_, replaced)| !**replaced);
        let kept = kept.map(|(board, _)| Cut { stock: board.stock, pattern: board.pattern, copies: 1 });
        let next = merged(kept.chain(added.iter().copied()).collect());
        if cost(task.market, &next) <= cost(task.market, &best) && can_be_had(task, &next) {
            best = next;
        } else {
            replaced = before;
            added.truncate(kept_until);
        }
    }
    best
}

/// The boards of a plan one by one, each with the pieces that still count.
fn boards(task: &Task<'_>, pool: &Pool, cuts: &[Cut]) -> Vec<FreedBoard> {
    let mut left = task.demand.clone();
    let mut boards = Vec::new();
    for cut in cuts {
        for _ in 0..cut.copies {
            let mut counts = Counts::new();
            for (size, n) in &pool.patterns[cut.pattern].counts {
                let needed = (*n).min(left[*size]);
                left[*size] -= needed;
                if needed > 0 {
                    counts.push((*size, needed));
                }
            }
            boards.push(FreedBoard { stock: cut.stock, pattern: cut.pattern, counts });
        }
    }
    boards
}

/// Sets of boards to free, most wasteful first with some chance.
fn choose(
    task: &Task<'_>,
    generated: &Generated,
    boards: &[FreedBoard],
    last: &[usize],
    many: &std::ops::RangeInclusive<usize>,
    random: &mut Rng,
) -> Vec<Vec<usize>> {
    let waste = |board: &FreedBoard| -> f64 {
        let worth = worth(&generated.duals.sizes, &board.counts);
        let cost = task.market.costs[board.stock].unwrap_or(0) - generated.duals.sides[board.stock];
        (cost - worth).max(0) as f64
    };
    let set_of = |board: &FreedBoard| board.counts.first().map(|(size, _)| task.instance.set_of_size[*size]);
    let sets: Vec<Option<usize>> = boards.iter().map(set_of).collect();
    let wastes: Vec<f64> = boards.iter().map(waste).collect();
    let total: f64 = wastes.iter().sum();
    let weighted = |random: &mut Rng| -> usize {
        if total <= 0.0 || random.u8(..) < 64 {
            return random.usize(..boards.len());
        }
        let mut left = random.f64() * total;
        wastes
            .iter()
            .position(|waste| {
                left -= waste;
                left <= 0.0
            })
            .unwrap_or(boards.len() - 1)
    };
    let mut taken = vec![false; boards.len()];
    let mut batches = Vec::new();
    for _ in 0..tol::EXCHANGES_AT_ONCE {
        let many = random.usize(many.clone());
        let mut chosen: Vec<usize> = Vec::new();
        // Of drawn boards only the last of a lot can be saved.
        if !last.is_empty() {
            let place = last[random.usize(..last.len())];
            if !taken[place] {
                taken[place] = true;
                chosen.push(place);
            }
        }
        for _ in 0..12 * many {
            if chosen.len() >= many {
                break;
            }
            let other = weighted(random);
            // Boards that share no size cannot help each other.
            let related = chosen.first().is_none_or(|first| sets[*first] == sets[other]);
            if related && !taken[other] {
                taken[other] = true;
                chosen.push(other);
            }
        }
        if chosen.len() > 1 {
            chosen.sort_unstable();
            batches.push(chosen);
        }
    }
    batches
}

/// By lot, the place of the board that comes next in turn.
fn next_in_turn(task: &Task<'_>, boards: &[FreedBoard]) -> TiVec<LotIndex, usize> {
    let mut whole = task.elsewhere.clone();
    boards.iter().for_each(|board| whole[board.stock] += 1);
    task.next_in_turn(&whole)
}

/// The boards (by place) that can be left out of their lots.
fn last_in_turn(task: &Task<'_>, boards: &[FreedBoard], next: &TiSlice<LotIndex, usize>) -> Vec<usize> {
    let before =
        task.instance.lots.iter().zip(next).map(|(lot, next)| lot[(next + lot.len() - 1) % lot.len()]);
    before.filter_map(|stock| boards.iter().position(|board| board.stock == stock)).collect()
}

/// The pieces of the chosen boards, as a task of their own.
struct Freed<'a> {
    small: Task<'a>,
    /// What those boards cost, in ticks.
    now: i64,
    /// Are those all boards of the plan?
    all: bool,
    /// Their patterns.
    pool: Pool,
}

impl<'a> Freed<'a> {
    fn new(
        task: &Task<'a>,
        pool: &Pool,
        boards: &[FreedBoard],
        next: &TiSlice<LotIndex, usize>,
        chosen: &[usize],
    ) -> Freed<'a> {
        let mut small = Task { demand: ti_vec![0; task.demand.len()], ..task.clone() };
        let mut now = 0;
        let mut local = pool.emptied();
        for (place, board) in boards.iter().enumerate() {
            if chosen.contains(&place) {
                now += task.market.costs[board.stock].unwrap_or(0);
                for (size, n) in &board.counts {
                    small.demand[*size] += n;
                }
                let entry = &pool.patterns[board.pattern];
                local.take(entry.shape, entry.pattern.clone());
            } else {
                small.elsewhere[board.stock] += 1;
                if let Some(left) = &mut small.available[board.stock] {
                    *left = left.saturating_sub(1);
                }
                for (side, amount) in task.market.sides_of(board.stock) {
                    small.side_least[*side] -= amount;
                }
            }
        }
        // Of the drawn boards only those that are cut anew and the next of each lot can change anything: the
        // others come in turn.
        for (lot, next) in task.instance.lots.iter().zip(next) {
            for (place, stock) in lot.iter().enumerate() {
                let freed = chosen.iter().any(|place| boards[*place].stock == *stock);
                if place != *next && !freed {
                    small.available[*stock] = Some(0);
                }
            }
        }
        Freed { small, now, all: chosen.len() == boards.len(), pool: local }
    }

    /// A cheaper (or as cheap and different) way to cut the pieces.
    fn recut(mut self, effort: Effort, backend: Backend, stop: &Stop) -> Option<(Vec<Cut>, Pool)> {
        let now = self.now;
        let generated = generate(&self.small, &mut self.pool, stop);
        if generated.unmet || generated.bound > now + tol::HALF_A_CENT {
            return None;
        }
        if generated.bound < now - tol::HALF_A_CENT {
            let exactly = match effort {
                Effort::Short => {
                    let nodes = tol::RECUT_EXACT_NODES;
                    exactly(&self.small, &generated, &mut self.pool, Some(now), nodes, backend, stop)
                }
                // That is what the exact end does, where it can prove anything.
                Effort::Closing { .. } if self.all && proves(&self.small, &self.small.offers()) => {
                    return None;
                }
                Effort::Closing { doublings } => self.closed(&generated, doublings, backend, stop),
            };
            match exactly {
                Exactly::Plan(cuts) => return Some((cuts, self.pool)),
                Exactly::NothingCheaper => return None,
                Exactly::NotListed | Exactly::GaveUp => {}
            }
        }
        // A plan as cheap is taken too: it may lead to a cheaper one.
        let width = Width { nodes: tol::RECUT_NODES, depth: 2, discrepancies: 1, noise: 0.0, seed: 0 };
        let cuts = search_below(&self.small, &mut self.pool, now + tol::CENT, width, backend, stop)?;
        (cost(self.small.market, &cuts) <= now).then_some((cuts, self.pool))
    }

    /// A cheaper way by a tree over the columns within the gap, or within a share of it.
    fn closed(&mut self, generated: &Generated, doublings: usize, backend: Backend, stop: &Stop) -> Exactly {
        let (task, now) = (&self.small, self.now);
        let proper = generate_proper(task, &mut self.pool, generated, stop);
        let generated = proper.as_ref().unwrap_or(generated);
        let whole = gap_below(task, &task.offers(), generated, now);
        let gaps = tol::GAP_SHARES.iter().take(doublings + 1).map(|share| whole / share);
        let reach = Reach { steps: tol::LISTING_STEPS << doublings, columns: tol::MIP_COLUMNS };
        let Some(tree) = Tree::plant(task, generated, &self.pool, gaps, reach, stop) else {
            return Exactly::NotListed;
        };
        let mut tree = tree.helping(tol::CLOSING_NODES);
        let grown = tree.grow(task, &mut self.pool, now, tol::CLOSING_NODES, backend, stop);
        match grown.plan {
            Some(cuts) => Exactly::Plan(cuts),
            None if grown.bound > now - tol::HALF_A_CENT => Exactly::NothingCheaper,
            None => Exactly::GaveUp,
        }
    }
}
