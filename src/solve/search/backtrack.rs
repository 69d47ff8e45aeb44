//! The dive with backtracking: limited discrepancy search over which column is rounded up.
//!
//! Sadykov, Vanderbeck, Pessoa, Tahiri and Uchoa, "Primal heuristics for branch and price", INFORMS
//! Journal on Computing 31(2), 2019, section 4: a node fixes the whole part of its linear program, then
//! one column rounded up; the columns tried first are tabu in the later branches. Each node is priced
//! afresh and left as soon as its bound shows that nothing below it beats the incumbent.

use fastrand::Rng;
use rayon::prelude::*;

use super::aim::Aim;
use super::dive::top_up;
use super::engine::{AtHand, Engine, Slice};
use super::exact::{Exactly, exactly};
use super::mip::Backend;
use crate::index::{PatternIndex, StockIndex};
use crate::solve::problem::{Counts, Cut, Task, cost, merged};
use crate::solve::relax::{Duals, Generated, Pool, generate_from};
use crate::solve::stop::Stop;
use crate::solve::tolerances as tol;

/// The search's state between two slices.
#[derive(Debug, Clone)]
pub struct Backtrack {
    seed: u64,
    round: u32,
}

impl Backtrack {
    /// Nothing tried yet.
    pub fn new(seed: u64) -> Backtrack {
        Backtrack { seed, round: 0 }
    }
}

impl Engine for Backtrack {
    fn is_idle(&self) -> bool {
        self.round >= tol::BACKTRACK_ROUNDS
    }

    /// One round, wider than the last.
    fn slice(&mut self, on: AtHand<'_>) -> Slice {
        let now = on.cost();
        let AtHand { task, pool, aim: Aim { backend, .. }, stop, .. } = on;
        let round = self.round;
        self.round += 1;
        let known: &Pool = pool;
        let lanes = 0..tol::BACKTRACK_LANES;
        let found: Vec<(Option<Vec<Cut>>, Pool)> = lanes
            .into_par_iter()
            .map(|lane| {
                let number = u64::from(round) * u64::from(tol::BACKTRACK_LANES) + u64::from(lane);
                let width = Width {
                    nodes: tol::BACKTRACK_NODES << round.min(tol::BACKTRACK_DOUBLINGS),
                    depth: 2 + 2 * round as usize,
                    discrepancies: 1 + round,
                    // The first lane of the first round follows the linear program to the letter.
                    noise: if number == 0 { 0.0 } else { tol::BACKTRACK_NOISE },
                    seed: self.seed.wrapping_add(number),
                };
                let mut local = known.clone();
                let cuts = search_below(task, &mut local, now, width, backend, stop);
                (cuts, local)
            })
            .collect();
        let mut best: Option<Vec<Cut>> = None;
        let mut to_beat = now;
        for (cuts, local) in found {
            let Some(cuts) = cuts else { continue };
            let spent = cost(task.market, &cuts);
            if spent < to_beat {
                to_beat = spent;
                let adopted =
                    cuts.into_iter().map(|cut| Cut { pattern: pool.adopt(&local, cut.pattern), ..cut });
                best = Some(merged(adopted.collect()));
            }
        }
        Slice { plan: best, bound: None }
    }
}

/// How widely one search looks around.
#[derive(Debug, Clone, Copy)]
pub struct Width {
    /// Nodes that may be opened.
    pub nodes: u64,
    /// Depth down to which other columns than the first are tried.
    pub depth: usize,
    /// How often a path may leave the first column.
    pub discrepancies: u32,
    /// How much chance may change the order of the columns.
    pub noise: f64,
    /// Seed of that chance.
    pub seed: u64,
}

/// The cheapest plan found that costs less than `to_beat` ticks.
pub fn search_below(
    task: &Task<'_>,
    pool: &mut Pool,
    to_beat: i64,
    width: Width,
    backend: Backend,
    stop: &Stop,
) -> Option<Vec<Cut>> {
    let mut search = Descent {
        pool,
        random: Rng::with_seed(width.seed),
        noise: width.noise,
        best: None,
        to_beat,
        nodes: width.nodes,
        depth: width.depth,
        root: task,
        backend,
        stop,
    };
    search.descend(task.clone(), None, &mut Vec::new(), &mut Vec::new(), 0, width.discrepancies);
    search.best
}

/// A column by what it is, since its number changes from node to node.
type Tabu = (StockIndex, Counts);

struct Descent<'a> {
    pool: &'a mut Pool,
    random: Rng,
    noise: f64,
    best: Option<Vec<Cut>>,
    /// Cost of the best plan known.
    to_beat: i64,
    /// Nodes that may still be opened.
    nodes: u64,
    /// Depth down to which other columns than the first are tried.
    depth: usize,
    root: &'a Task<'a>,
    backend: Backend,
    stop: &'a Stop,
}

impl Descent<'_> {
    fn descend(
        &mut self,
        mut rest: Task<'_>,
        parent: Option<&Duals>,
        cuts: &mut Vec<Cut>,
        tabu: &mut Vec<Tabu>,
        level: usize,
        discrepancies: u32,
    ) {
        if self.stop.is_due() || self.nodes == 0 {
            return;
        }
        self.nodes -= 1;
        if !rest.is_open() {
            self.take(rest, cuts);
            return;
        }
        let spent = cost(self.root.market, &merged(cuts.clone()));
        // Rows are rounded one by one: half a cent covers what adding them up may differ.
        let room = self.to_beat - tol::HALF_A_CENT - spent;
        let generated = generate_from(&rest, self.pool, parent, room, self.stop);
        if generated.unmet || generated.bound > room {
            return;
        }
        if self.ends_exactly(&rest, &generated, room, cuts) {
            return;
        }
        let values = Some(&generated.duals);
        let kept = cuts.len();
        let mut ranked = self.fix_whole_part(&mut rest, &generated, cuts);
        if !rest.is_open() {
            self.take(rest, cuts);
            cuts.truncate(kept);
            return;
        }
        ranked.retain(|(_, column, _)| !tabu.contains(column) && rest.takes_whole(&column.1));
        ranked.sort_by(|one, other| other.0.total_cmp(&one.0).then_with(|| one.1.cmp(&other.1)));
        if ranked.is_empty() && cuts.len() > kept {
            // The whole part alone changed what is left: look again.
            self.descend(rest.clone(), values, cuts, tabu, level, discrepancies);
        }
        let branches = if level < self.depth { discrepancies as usize + 1 } else { 1 };
        let known = tabu.len();
        for (branch, (_, column, pattern)) in ranked.into_iter().take(branches).enumerate() {
            let mut child = rest.clone();
            if child.take(column.0, &column.1) {
                cuts.push(Cut { stock: column.0, pattern, copies: 1 });
                self.descend(child, values, cuts, tabu, level + 1, discrepancies - branch as u32);
                cuts.pop();
            }
            tabu.push(column);
        }
        tabu.truncate(known);
        cuts.truncate(kept);
    }

    /// Ends a node of few pieces by the exact end, if that can tell.
    fn ends_exactly(
        &mut self,
        rest: &Task<'_>,
        generated: &Generated,
        room: i64,
        cuts: &mut Vec<Cut>,
    ) -> bool {
        if rest.demand.iter().sum::<u32>() > tol::BACKTRACK_EXACT_PIECES {
            return false;
        }
        let finish =
            exactly(rest, generated, self.pool, Some(room), tol::EXACT_NODES, self.backend, self.stop);
        match finish {
            Exactly::Plan(finish) => {
                let kept = cuts.len();
                cuts.extend(finish);
                self.offer(cuts);
                cuts.truncate(kept);
                true
            }
            Exactly::NothingCheaper => true,
            Exactly::NotListed | Exactly::GaveUp => false,
        }
    }

    /// Cuts the whole part of the linear program; gives the columns of which a part is left, each with its score.
    fn fix_whole_part(
        &mut self,
        rest: &mut Task<'_>,
        generated: &Generated,
        cuts: &mut Vec<Cut>,
    ) -> Vec<(f64, Tabu, PatternIndex)> {
        let mut ranked = Vec::new();
        for (number, value) in &generated.used {
            let column = &generated.columns[*number];
            let counts = rest.cut_down(&self.pool.patterns[column.pattern].counts);
            let mut whole = (value + tol::WHOLE).floor();
            let mut copies = 0;
            while whole >= 1.0 && rest.takes_whole(&counts) && rest.take(column.stock, &counts) {
                whole -= 1.0;
                copies += 1;
            }
            if copies > 0 {
                cuts.push(Cut { stock: column.stock, pattern: column.pattern, copies });
            }
            let fraction = value - f64::from(copies);
            if fraction > tol::WHOLE {
                let score = fraction * (1.0 + self.noise * self.random.f64());
                ranked.push((score, (column.stock, counts), column.pattern));
            }
        }
        ranked
    }

    /// Takes a complete plan, with what a break or a minimum order still lacks.
    fn take(&mut self, mut rest: Task<'_>, cuts: &[Cut]) {
        let mut cuts = cuts.to_vec();
        if top_up(&mut rest, self.pool, &mut cuts).is_some() {
            self.offer(&cuts);
        }
    }

    fn offer(&mut self, cuts: &[Cut]) {
        let cuts = merged(cuts.to_vec());
        let spent = cost(self.root.market, &cuts);
        if spent < self.to_beat {
            self.to_beat = spent;
            self.best = Some(cuts);
        }
    }
}
