//! Parts that are glued: how many strips or layers each is made of is chosen by what the whole plan costs.
//!
//! The number is a decision beside the patterns: every combination of ways is a job of its own. Each is
//! given to the solver with the best plan so far to beat, and most of them end at their first bound.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use crate::index::{PartIndex, TiVec};
use crate::job::{Job, Part, joints_must_save, ways_of};
use crate::measure::Money;
use crate::solve::{Options, Progress, Solution, SolveError, solve};

/// Combinations of ways above which one part is changed at a time.
const MOST_COMBINATIONS: usize = 200;

/// Plans a job, and chooses among all ways to glue the parts that may be glued. Gives a solution of the job
/// in which they are glued the chosen way. If the solution says that it is proven for all ways, its bound
/// holds for every way of gluing; otherwise it holds for the chosen way.
///
/// # Errors
/// As [`solve`].
pub fn solve_every_way(
    job: &Job,
    options: &Options,
    progress: &Progress<'_>,
) -> Result<Solution, SolveError> {
    let ways: TiVec<PartIndex, Vec<Part>> = job.parts.keys().map(|part| ways_of(job, part)).collect();
    let open: Vec<PartIndex> = ways.keys().filter(|part| ways[*part].len() > 1).collect();
    if open.is_empty() && job.parts.iter().all(|part| !part.blank.make.is_glued()) {
        return solve(job, options, progress);
    }
    let deadline = options.time.map(|time| Instant::now() + time);
    let half = Options { time: options.time.map(|time| time / 2), ..options.clone() };
    let first = solve(job, &half, progress)?;
    let (bound, must_save) = (first.bound, joints_must_save(job)?);
    let mut search = Trials { bound, best: first, must_save, options, deadline, in_time: true };
    let all = open.iter().try_fold(1_usize, |all, part| all.checked_mul(ways[*part].len()));
    let few = all.filter(|all| *all <= MOST_COMBINATIONS);
    match few {
        Some(all) => {
            for number in 0..all {
                let mut left = number;
                let choice = open.iter().map(|part| {
                    let way = &ways[*part][left % ways[*part].len()];
                    left /= ways[*part].len();
                    (*part, way)
                });
                search.attempt(&choice.collect::<Vec<_>>())?;
            }
        }
        // Part by part, until no part is better made in another way.
        None => {
            let mut gained = true;
            while gained {
                gained = false;
                for part in &open {
                    for way in &ways[*part] {
                        gained |= search.attempt(&[(*part, way)])?;
                    }
                }
            }
        }
    }
    let Trials { mut best, bound, in_time, .. } = search;
    // The ways have turns of their own each.
    best.searched.repeatable &= in_time && !best.searched.cut_short;
    let cost = best.cost();
    let proven = few.is_some() && in_time && proves(bound, cost, options);
    Ok(if proven { best.proven_for_all_ways(bound.min(cost)) } else { best })
}

/// What became of a way.
enum Tried {
    Better(Solution),
    /// No plan of it is known to be better; no plan of it costs less than this.
    NotBetter(Money),
    Impossible,
}

struct Trials<'o> {
    best: Solution,
    /// What its joints must save.
    must_save: Money,
    /// No plan of any way tried costs less.
    bound: Money,
    options: &'o Options,
    deadline: Option<Instant>,
    in_time: bool,
}

impl Trials<'_> {
    /// Tries the best job with some parts made in another way; was it better?
    fn attempt(&mut self, choice: &[(PartIndex, &Part)]) -> Result<bool, SolveError> {
        let mut other = self.best.job().clone();
        for (part, way) in choice {
            other.parts[*part] = (*way).clone();
        }
        if other.parts == self.best.job().parts {
            return Ok(false);
        }
        let left = self.deadline.map(|deadline| deadline.saturating_duration_since(Instant::now()));
        if left == Some(Duration::ZERO) {
            self.in_time = false;
            return Ok(false);
        }
        let must_save = joints_must_save(&other)?;
        let goal = self.best.cost() + self.must_save - must_save;
        match beaten(&other, goal, &Options { time: left, ..self.options.clone() })? {
            Tried::Better(solution) => {
                self.bound = self.bound.min(solution.bound);
                (self.best, self.must_save) = (solution, must_save);
                return Ok(true);
            }
            Tried::NotBetter(proven) => self.bound = self.bound.min(proven),
            Tried::Impossible => {}
        }
        Ok(false)
    }
}

/// Plans one way if it can be had for less than `cost`. Where a short search proves too little, a whole one
/// follows.
fn beaten(job: &Job, cost: Money, options: &Options) -> Result<Tried, SolveError> {
    if cost <= Money::ZERO {
        return Ok(Tried::NotBetter(Money::ZERO));
    }
    let proven = Mutex::new(Money::ZERO);
    let note = |_, bound: Money| {
        let mut proven = proven.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        *proven = (*proven).max(bound);
    };
    let known = || *proven.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    for target in [Some(cost - Money::cents(1)), None] {
        match solve(job, &Options { target, ..options.clone() }, &note) {
            Ok(solution) if solution.cost() < cost => return Ok(Tried::Better(solution)),
            Ok(solution) => note(None, solution.bound),
            Err(SolveError::NotFound) => {}
            Err(SolveError::Short(_)) => return Ok(Tried::Impossible),
            Err(error) => return Err(error),
        }
        if proves(known(), cost, options) {
            break;
        }
    }
    Ok(Tried::NotBetter(known()))
}

/// Is a bound within the gap asked for?
fn proves(bound: Money, cost: Money, options: &Options) -> bool {
    bound.to_f64() >= cost.to_f64() * (1.0 - options.gap_percent / 100.0) - 0.005
}
