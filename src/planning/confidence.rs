//! How sure a buy is to be enough, and the spare boards that make it so.
//!
//! A plan for drawn boards is the cheapest one for that sample (sample average approximation: Kleywegt, Shapiro and
//! Homem-de-Mello, SIAM Journal on Optimization 12(2), 2002). Other boards will come, so the buy is tried on fresh
//! lots of as many boards, cut one board at a time as they come, and raised where it is cheapest until enough of the
//! lots give every part. What is reported is the share of lots that the raise has not seen.

use std::collections::BTreeMap;
use std::sync::atomic::Ordering;

use fastrand::Rng;

use super::error::PlanningError;
use crate::index::{LineIndex, SizeIndex, TiVec};
use crate::job::{Job, share_of};
use crate::measure::{Money, Overflow, Volume};
use crate::pattern::{Limits, Pattern};
use crate::plan::{Confidence, Spare};
use crate::solve::{
    CutBoards, Incumbent, Instance, Options, Purchase, Recourse, Solution, SolveError, Supply, blanks_of,
    side_by_side,
};

/// Boards of all lots together that are opened.
const BOARDS_OF_A_TRIAL: u64 = 100_000;

/// Lots after which it is seen whether too many have failed.
const LOTS_AT_ONCE: usize = 20;

/// Changes of the seed by which other boards come: in the lots that the share is told of, and in those that a buy is judged
/// by afterwards.
const OTHER_BOARDS: [u64; 2] = [0x5bd1_e995_9d2c_5680, 0x27d4_eb2f_1656_67c5];

/// Fewest and most lots.
const LOTS: (u64, u64) = (100, 1_000);

/// Share of the time that is left for fresh lots, as one of so many parts.
const TIME_FOR_LOTS: u32 = 4;

/// The options of a search after which fresh lots are tried: those take a part of its time.
pub fn before_fresh_lots(job: &Job, percent: f64, options: &Options) -> Options {
    let are_tried = percent > 0.0 && job.lines.iter().any(|line| !line.drawn.is_empty());
    let most = |time| if are_tried { time / TIME_FOR_LOTS * (TIME_FOR_LOTS - 1) } else { time };
    Options { time: options.time.map(most), ..options.clone() }
}

/// Raises a buy of drawn boards until so many percent of fresh lots give every part. No lot is tried where no board is
/// drawn, nothing is asked for, or a person interrupted the search.
///
/// # Errors
/// If a sum is too large to be held exactly, or threads cannot be started.
pub fn raised(
    solution: Solution,
    percent: f64,
    options: &Options,
) -> Result<(Solution, Option<Confidence>), PlanningError> {
    let job = solution.job();
    let rows = solution.incumbent.purchase.rows.iter();
    let bought: Vec<(LineIndex, u64)> =
        rows.filter(|row| !job.lines[row.line].drawn.is_empty()).map(|row| (row.line, row.boards)).collect();
    if bought.is_empty() || percent <= 0.0 || options.interrupt.load(Ordering::Relaxed) {
        return Ok((solution, None));
    }
    let pool = |seed: u64| Recourse::new(solution.instance(), &bought, &solution.incumbent.values, seed);
    // Lots that spares were not chosen by are of other boards as well: the best of a few boards are never quite as good again.
    let (recourse, others) = (pool(options.seed), pool(options.seed ^ OTHER_BOARDS[0]));
    let demand = beside_what_is_known(solution.instance(), &solution.incumbent);
    let all: u64 = bought.iter().map(|(_, boards)| boards).sum();
    let many = (BOARDS_OF_A_TRIAL / all.max(1)).clamp(LOTS.0, LOTS.1);
    let limits = bought.iter().map(|(line, boards)| {
        job.lines[*line].available.map_or(u64::MAX, |most| most.saturating_sub(*boards))
    });
    let limits: Vec<u64> = limits.collect();
    let prices = recourse.prices();
    let seen = Lots::open(&recourse, &demand, options, 0, many)?;
    let fresh = Lots::open(&others, &demand, options, many, many)?;
    let wanted = (percent / 100.0 * many as f64).ceil() as usize;
    let mut more = seen.mean_lack(&limits)?;
    seen.raise(&mut more, wanted, &prices, &limits)?;
    seen.take_off(&mut more, wanted, &prices)?;
    let mut met = fresh.enough(&more)?;
    // What is enough for the lots that are seen is short for others: more of those must then have enough.
    let mut of_seen = wanted;
    while met < wanted && of_seen < many as usize {
        of_seen = (of_seen + wanted - met).min(many as usize);
        seen.raise(&mut more, of_seen, &prices, &limits)?;
        met = fresh.enough(&more)?;
    }
    let fewer = match dearest(&more, &prices) {
        Some(place) => {
            let mut less = more.clone();
            less[place] -= 1;
            Some(fresh.enough(&less)?)
        }
        None => None,
    };
    let interval = wilson(met, many as usize);
    let curve = curve(job, &bought, &more, &fresh, &limits, met)?;
    let share = |met: usize| met as f64 / many as f64 * 100.0;
    let spares = bought.iter().zip(&more).filter(|(_, spare)| **spare > 0);
    let spares: Vec<Spare> =
        spares.map(|((line, _), boards)| Spare { line: *line, boards: *boards }).collect();
    let (solution, cost) = with_spares(solution, &spares)?;
    let confidence = Confidence {
        asked: percent,
        enough: share(met),
        interval: (interval.0 * 100.0, interval.1 * 100.0),
        lots: many,
        one_fewer: fewer.map(share),
        curve: curve.into_iter().map(|(feet, met)| (feet, share(met))).collect(),
        spares,
        cost,
    };
    Ok((solution, Some(confidence)))
}

/// Of so many lots that no plan has seen, the share in percent that gives every part when so many boards of each line are
/// bought, cut one by one by the values of `solution`.
///
/// # Errors
/// If the threads cannot be started.
pub fn share_of_unseen_lots(
    solution: &Solution,
    bought: &[(LineIndex, u64)],
    lots: u64,
    options: &Options,
) -> Result<f64, PlanningError> {
    let seed = options.seed ^ OTHER_BOARDS[1];
    let recourse = Recourse::new(solution.instance(), bought, &solution.incumbent.values, seed);
    let demand = beside_what_is_known(solution.instance(), &solution.incumbent);
    let opened = Lots::open(&recourse, &demand, options, 0, lots)?;
    let none = vec![0; bought.len()];
    Ok(opened.enough(&none)? as f64 / lots.max(1) as f64 * 100.0)
}

/// Quarters of the spare boards at which the curve is looked at.
const QUARTERS_OF_SPARES: [u64; 5] = [0, 1, 2, 3, 5];

/// The curve of confidence: board feet of drawn boards, with the number of fresh lots of that size that give
/// every part. It is looked at without spares, with some, with all of them (which `met` lots meet), and with
/// more.
fn curve(
    job: &Job,
    bought: &[(LineIndex, u64)],
    spares: &[u64],
    fresh: &Lots<'_>,
    limits: &[u64],
    met: usize,
) -> Result<Vec<(Volume, usize)>, PlanningError> {
    let feet = |spares: &[u64]| -> Result<Volume, Overflow> {
        let lines = bought.iter().zip(spares).map(|((line, boards), spare)| {
            let line = &job.lines[*line];
            line.tally_of(&job.suppliers[line.supplier], boards + spare)
        });
        lines.sum()
    };
    let mut curve = vec![(feet(spares)?, met)];
    for quarters in QUARTERS_OF_SPARES {
        let share = |(spare, most): (&u64, &u64)| (spare * quarters).div_ceil(4).min(*most);
        let some: Vec<u64> = spares.iter().zip(limits).map(share).collect();
        let feet = feet(&some)?;
        if curve.iter().all(|(known, _)| *known != feet) {
            curve.push((feet, fresh.enough(&some)?));
        }
    }
    curve.sort_unstable();
    Ok(curve)
}

/// Pieces wanted, by size, beside those that the plan cuts from the rack and from sheets: those are known.
fn beside_what_is_known(instance: &Instance, incumbent: &Incumbent) -> TiVec<SizeIndex, u32> {
    let job = &*instance.job;
    let mut left = instance.demand();
    for board in &incumbent.boards {
        if matches!(board.source, Supply::Drawn(..)) {
            continue;
        }
        for (size, n) in board.pattern.counts() {
            let part = &job.parts[instance.sizes[size].parts[0].0];
            let blanks = blanks_of(job, board.source.quarter(job), part).max(1);
            let pieces = &mut left[size];
            *pieces = pieces.saturating_sub(n * board.copies * blanks);
        }
    }
    left
}

/// Lots that were opened once, with what each left wanted.
struct Lots<'t> {
    recourse: &'t Recourse,
    options: &'t Options,
    left: Vec<(u64, TiVec<SizeIndex, u32>)>,
}

impl<'t> Lots<'t> {
    /// The same lots for the same numbers, whatever the threads.
    fn open(
        recourse: &'t Recourse,
        demand: &Limits,
        options: &'t Options,
        first: u64,
        many: u64,
    ) -> Result<Lots<'t>, SolveError> {
        let numbers = (first..first + many).map(|lot| Rng::with_seed(options.seed ^ (lot << 20)).u64(..));
        let numbers: Vec<u64> = numbers.collect();
        let left = side_by_side(options, &numbers, |lot, _| (*lot, recourse.open(*lot, demand)))?;
        Ok(Lots { recourse, options, left })
    }

    /// What lots lack on the mean, by line, rounded down.
    fn mean_lack(&self, limits: &[u64]) -> Result<Vec<u64>, SolveError> {
        let none = vec![0; limits.len()];
        let lacking = side_by_side(self.options, &self.left, |(lot, left), _| {
            self.recourse.lacking(*lot, left, &none, limits)
        })?;
        let lacking: Vec<Vec<u64>> = lacking.into_iter().flatten().collect();
        let mean =
            |place: usize| lacking.iter().map(|lot| lot[place]).sum::<u64>() / lacking.len().max(1) as u64;
        Ok((0..limits.len()).map(mean).collect())
    }

    /// Lots that give every part with so many spare boards of each line.
    fn enough(&self, more: &[u64]) -> Result<usize, SolveError> {
        let filled = side_by_side(self.options, &self.left, |lot, _| self.is_filled(lot, more))?;
        Ok(filled.into_iter().filter(|filled| *filled).count())
    }

    /// Do so many lots give every part with so many spare boards? It stops where too many have failed.
    fn are_enough(&self, more: &[u64], wanted: usize) -> Result<bool, SolveError> {
        let (mut met, mut tried) = (0, 0);
        for lots in self.left.chunks(LOTS_AT_ONCE) {
            let filled = side_by_side(self.options, lots, |lot, _| self.is_filled(lot, more))?;
            tried += lots.len();
            met += filled.into_iter().filter(|filled| *filled).count();
            if met >= wanted || tried - met > self.left.len() - wanted {
                break;
            }
        }
        Ok(met >= wanted)
    }

    fn is_filled(&self, (lot, left): &(u64, TiVec<SizeIndex, u32>), more: &[u64]) -> bool {
        self.recourse.after_spares(*lot, left, more).iter().all(|pieces| *pieces == 0)
    }

    /// Buys what the lot lacks that lacks least in money, again and again, until enough of them give every part.
    fn raise(
        &self,
        more: &mut [u64],
        wanted: usize,
        prices: &[f64],
        limits: &[u64],
    ) -> Result<(), SolveError> {
        loop {
            let spares = more.to_vec();
            let lacking = side_by_side(self.options, &self.left, |(lot, left), _| {
                let left = self.recourse.after_spares(*lot, left, &spares);
                self.recourse.lacking(*lot, &left, &spares, limits)
            })?;
            let open = lacking.into_iter().flatten().map(|lot| (worth(&lot, prices), lot));
            let (met, open): (Vec<_>, Vec<_>) = open.partition(|(money, _)| *money == 0.0);
            if met.len() >= wanted {
                return Ok(());
            }
            let nearest = open.into_iter().min_by(|one, other| one.0.total_cmp(&other.0));
            let Some((_, nearest)) = nearest else { return Ok(()) };
            more.iter_mut().zip(nearest).for_each(|(more, lacked)| *more += lacked);
        }
    }

    /// Takes spare boards off again, dearest first, as long as enough lots give every part.
    fn take_off(&self, more: &mut [u64], wanted: usize, prices: &[f64]) -> Result<(), SolveError> {
        let mut places: Vec<usize> = (0..more.len()).collect();
        places.sort_by(|one, other| prices[*other].total_cmp(&prices[*one]));
        for place in places {
            // The fewest of this line, the others as they are: more boards never lower the share by much.
            let (mut too_few, mut enough) = (0, more[place]);
            more[place] = 0;
            if enough == 0 || self.are_enough(more, wanted)? {
                continue;
            }
            while enough - too_few > 1 {
                more[place] = (too_few + enough) / 2;
                if self.are_enough(more, wanted)? { enough = more[place] } else { too_few = more[place] }
            }
            more[place] = enough;
        }
        Ok(())
    }
}

fn dearest(more: &[u64], prices: &[f64]) -> Option<usize> {
    let spare = (0..more.len()).filter(|place| more[*place] > 0);
    spare.max_by(|one, other| prices[*one].total_cmp(&prices[*other]))
}

fn worth(boards: &[u64], prices: &[f64]) -> f64 {
    boards.iter().zip(prices).map(|(boards, price)| *boards as f64 * price).sum()
}

/// The same solution with the spare boards added, and what they cost. They follow the boards that are cut,
/// and nothing is cut from them. What is proven of the sample's solution holds for the new one with these
/// boards added.
fn with_spares(solution: Solution, spares: &[Spare]) -> Result<(Solution, Money), PlanningError> {
    if spares.is_empty() {
        return Ok((solution, Money::ZERO));
    }
    let job = solution.job();
    let before = solution.cost();
    let mut boards = solution.incumbent.boards.clone();
    let mut lines: BTreeMap<LineIndex, u64> =
        solution.incumbent.purchase.rows.iter().map(|row| (row.line, row.boards)).collect();
    for spare in spares {
        let bought = lines.entry(spare.line).or_insert(0);
        let draws = job.lines[spare.line].drawn.len();
        for place in 0..draws {
            let copies = share_of(*bought + spare.boards, place, draws) - share_of(*bought, place, draws);
            if copies > 0 {
                let source = Supply::Drawn(spare.line, place);
                boards.push(CutBoards { source, pattern: Pattern::empty(), copies: copies as u32 });
            }
        }
        *bought += spare.boards;
    }
    boards.sort_by(|one, other| one.source.cmp(&other.source));
    let purchase = Purchase::new(job, &lines)?;
    let incumbent = Incumbent { boards, purchase, ..solution.incumbent.clone() };
    let cost = incumbent.cost() - before;
    let mut raised = solution.with_plan(incumbent);
    raised.bound += cost;
    Ok((raised, cost))
}

/// The score interval of Wilson, Journal of the American Statistical Association 22(158), 1927.
fn wilson(met: usize, of: usize) -> (f64, f64) {
    /// Two-sided 95 percent of the normal distribution.
    const Z: f64 = 1.959_964;
    let (n, p) = (of as f64, met as f64 / of as f64);
    let middle = (p + Z * Z / (2.0 * n)) / (1.0 + Z * Z / n);
    let half = Z / (1.0 + Z * Z / n) * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wilson_s_interval_is_that_of_a_worked_example() {
        // 8 of 10 at 95 percent: 0.490 to 0.943 (common worked example of the score interval).
        let (low, high) = wilson(8, 10);
        assert!((low - 0.4902).abs() < 5e-4 && (high - 0.9433).abs() < 5e-4, "{low} {high}");
    }
}
