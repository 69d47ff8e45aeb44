//! Parts that are glued: how many strips or layers each is made of is chosen by what the whole plan costs.
//!
//! The number is a decision beside the patterns: every combination of ways is a job of its own. Each is
//! given to the solver with the best plan so far to beat, and most of them end at their first bound.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use crate::job::{Job, Part, ways_of};
use crate::measure::Money;
use crate::solve::{Options, Progress, Solution, SolveError, solve};

/// Combinations of ways above which only those next to the first choice are tried.
const MOST_COMBINATIONS: usize = 200;

/// A job whose glued parts are made as the plan needs them, and its solution.
#[derive(Debug, Clone)]
pub struct Gluing {
    /// The job.
    pub job: Job,
    /// Its solution; the bound holds for every way of gluing where the job's parts say so.
    pub solution: Solution,
}

/// Plans a job, choosing among all ways to glue what no board gives whole.
///
/// # Errors
/// As [`solve`].
pub fn solve_every_way(job: &Job, options: &Options, progress: &Progress<'_>) -> Result<Gluing, SolveError> {
    let glued: Vec<usize> = (0..job.parts.len()).filter(|part| job.parts[*part].glued.is_some()).collect();
    if glued.is_empty() {
        return Ok(Gluing { job: job.clone(), solution: solve(job, options, progress)? });
    }
    let deadline = options.time.map(|time| Instant::now() + time);
    let half = Options { time: options.time.map(|time| time / 2), ..options.clone() };
    let mut best = Gluing { job: job.clone(), solution: solve(job, &half, progress)? };
    let ways: Vec<Vec<Part>> = glued.iter().map(|part| ways_of(job, *part)).collect();
    let all = ways.iter().try_fold(1_usize, |all, ways| all.checked_mul(ways.len()));
    let choices = match all.filter(|all| *all <= MOST_COMBINATIONS) {
        Some(all) => (0..all).map(|number| combination(number, &ways)).collect(),
        None => neighbours(job, &glued, &ways),
    };
    let mut bound = best.solution.bound;
    let mut tried_all = all.is_some_and(|all| all == choices.len());
    for choice in choices {
        let mut other = job.clone();
        for (part, way) in glued.iter().zip(choice) {
            other.parts[*part] = way;
        }
        if other.parts == job.parts {
            continue;
        }
        let left = deadline.map(|deadline| deadline.saturating_duration_since(Instant::now()));
        if left == Some(Duration::ZERO) {
            tried_all = false;
            break;
        }
        match beaten(&other, &best, &Options { time: left, ..options.clone() })? {
            Tried::Cheaper(solution) => {
                bound = bound.min(solution.bound);
                best = Gluing { job: other, solution };
            }
            Tried::NotCheaper(proven) => bound = bound.min(proven),
            Tried::Impossible => {}
        }
    }
    let cost = best.solution.incumbent.cost();
    if tried_all && proves(bound, cost, options) {
        best.solution.bound = bound.min(cost);
        for part in best.job.parts.iter_mut().filter_map(|part| part.glued.as_mut()) {
            part.of_all_ways = true;
        }
    }
    Ok(best)
}

/// What became of a way.
enum Tried {
    Cheaper(Solution),
    /// No plan of it is known to be cheaper; no plan of it costs less than this.
    NotCheaper(Money),
    Impossible,
}

/// Plans one way if it can beat the best plan so far. Where a short search proves too little, a whole one
/// follows.
fn beaten(job: &Job, best: &Gluing, options: &Options) -> Result<Tried, SolveError> {
    let cost = best.solution.incumbent.cost();
    let proven = Mutex::new(Money::ZERO);
    let note = |_, bound: Money| {
        let mut proven = proven.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        *proven = (*proven).max(bound);
    };
    let known = || *proven.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    for target in [Some(cost - Money::cents(1)), None] {
        match solve(job, &Options { target, ..options.clone() }, &note) {
            Ok(solution) if solution.incumbent.cost() < cost => return Ok(Tried::Cheaper(solution)),
            Ok(solution) => note(None, solution.bound),
            Err(SolveError::NotFound) => {}
            Err(SolveError::Short(_)) => return Ok(Tried::Impossible),
            Err(error) => return Err(error),
        }
        if proves(known(), cost, options) {
            break;
        }
    }
    Ok(Tried::NotCheaper(known()))
}

/// Is a bound within the gap asked for?
fn proves(bound: Money, cost: Money, options: &Options) -> bool {
    bound.to_f64() >= cost.to_f64() * (1.0 - options.gap_percent / 100.0) - 0.005
}

/// One way for each part, by number.
fn combination(number: usize, ways: &[Vec<Part>]) -> Vec<Part> {
    let mut left = number;
    let of_part = |ways: &Vec<Part>| {
        let way = ways[left % ways.len()].clone();
        left /= ways.len();
        way
    };
    ways.iter().map(of_part).collect()
}

/// The first choice with one part made in another way.
fn neighbours(job: &Job, glued: &[usize], ways: &[Vec<Part>]) -> Vec<Vec<Part>> {
    let first: Vec<Part> = glued.iter().map(|part| job.parts[*part].clone()).collect();
    let mut choices = Vec::new();
    for (place, ways) in ways.iter().enumerate() {
        for way in ways.iter().filter(|way| **way != first[place]) {
            let mut choice = first.clone();
            choice[place] = way.clone();
            choices.push(choice);
        }
    }
    choices.truncate(MOST_COMBINATIONS);
    choices
}
