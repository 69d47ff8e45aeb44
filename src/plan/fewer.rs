//! A plan with fewer settings, for a little more lumber at most.
//!
//! Which sizes are cut is given, so every piece needs its rip and its stop once. What can be saved is
//! the settings that are made again because boards come back to a saw in another round. Kinds of
//! patterns that need fewer rounds are planned instead, within a tolerance of the cost and within the
//! gap that was asked for, so that what is proven about the cost still holds.

use super::build::{BuildError, build_plan};
use super::model::Plan;
use crate::job::Job;
use crate::measure::Money;
use crate::pattern::Family;
use crate::solve::{Options, Solution, SolveError, solve};

/// The plan with the fewest settings made that costs at most `tolerance_percent` of its lumber more
/// than `plan`, and stays within the gap. It is `plan` itself if there is none.
///
/// # Errors
/// If a number is too large to be held exactly, or the threads cannot be started.
pub fn with_fewer_settings(
    job: &Job,
    plan: Plan,
    solution: &Solution,
    tolerance_percent: f64,
    options: &Options,
) -> Result<Plan, FewerError> {
    let before = plan.settings_made.0;
    let cost = solution.incumbent.cost();
    let more = plan.cost.lumber.to_f64() * tolerance_percent / 100.0;
    let within = solution.bound.to_f64() / (1.0 - options.gap_percent / 100.0).max(0.01);
    // A cent of room for the rounding of the gap that is shown.
    let most = (cost.to_f64() + more).min(within.max(cost.to_f64() + 0.01) - 0.01).max(cost.to_f64());
    let most = Money::cents((most * 100.0 + 1e-6).floor() as i64).max(cost);
    let mut best = plan;
    if before == best.setups.len() {
        // No setting is made twice.
        return Ok(best);
    }
    for family in [Family::Even, Family::RipFirst] {
        let narrowed = Options { family, target: Some(most), ..options.clone() };
        let found = match solve(job, &narrowed, &|_, _| ()) {
            Ok(found) if found.incumbent.cost() <= most => found,
            Ok(_) | Err(SolveError::NotFound | SolveError::Short(_)) => continue,
            Err(error) => return Err(error.into()),
        };
        // What is proven is proven for all patterns.
        let found = Solution { bound: solution.bound, ..found };
        let changed = build_plan(job, &found, options.gap_percent)?;
        let dearer = changed.cost.total > best.cost.total && changed.cost.gap_percent > options.gap_percent;
        if changed.settings_made.0 < best.settings_made.0 && !dearer {
            best = Plan { settings_made: (changed.settings_made.0, Some(before)), ..changed };
        }
    }
    Ok(best)
}

/// Why the search for fewer settings failed.
#[derive(Debug, thiserror::Error)]
pub enum FewerError {
    /// No plan, for want of threads or of exact numbers.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// A solution does not make a plan.
    #[error(transparent)]
    Build(#[from] BuildError),
}
