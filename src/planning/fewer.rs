//! A plan with fewer settings, for a little more lumber at most.
//!
//! Which sizes are cut is given, so every piece needs its rip and its stop once. What can be saved is
//! the settings that are made again: for every further layout, where one is sawn after the other, and in
//! every further round, where all boards go through together. So plans whose layouts need fewer settings,
//! and then kinds of patterns that need fewer rounds, are tried within a tolerance of the cost and within
//! the gap that was asked for, so that what is proven about the cost still holds.

use std::time::Instant;

use super::error::PlanningError;
use crate::measure::Money;
use crate::pattern::Family;
use crate::plan::{Plan, build_plan};
use crate::solve::{Options, Searched, Solution, SolveError, fewer_settings, solve};

/// Share of the settings that must be saved before the whole tolerance may be spent. Fewer settings saved may
/// spend less in proportion: a tenth of a percent of the lumber is too much for one setting.
const SAVED_FOR_ALL: f64 = 0.15;

/// The plan with the fewest settings that costs at most `tolerance_percent` of its lumber more than `plan`
/// and stays within the gap; `plan` itself if there is none with fewer. It tells of what was searched for it as well.
///
/// # Errors
/// If a number is too large to be held exactly, or the threads cannot be started.
pub fn with_fewer_settings(
    plan: Plan,
    solution: &Solution,
    tolerance_percent: f64,
    options: &Options,
) -> Result<Plan, PlanningError> {
    let (start, of_plan) = (Instant::now(), plan.searched);
    let before = plan.settings_made.0;
    let cost = solution.cost();
    let more = plan.cost.lumber.to_f64() * tolerance_percent / 100.0;
    let within = solution.bound.to_f64() / (1.0 - options.gap_percent / 100.0).max(0.01);
    // A cent of room for the rounding of the gap that is shown.
    let most = (cost.to_f64() + more).min(within.max(cost.to_f64() + 0.01) - 0.01).max(cost.to_f64());
    let most = Money::cents((most * 100.0 + 1e-6).floor() as i64).max(cost);
    let by_layout = plan.settings_by_layout.0;
    let each = Money::cents((more * 100.0 / (by_layout as f64 * SAVED_FOR_ALL).max(1.0)) as i64);
    // The solver's limit knows nothing of the credit for offcuts, which other boards may lose.
    let most_in_all = plan.cost.total.to_f64() + more + 0.005;
    let dearer = |changed: &Plan, best: &Plan| {
        let within = changed.cost.total.to_f64() <= most_in_all;
        changed.cost.total > best.cost.total && (changed.cost.gap_percent > options.gap_percent || !within)
    };
    // Both ways to saw count, since either may be followed.
    let charged = |plan: &Plan| {
        let settings = plan.settings_by_layout.0 + plan.settings_made.0;
        plan.cost.total.to_f64() + each.to_f64() * settings as f64
    };
    let mut best = plan;
    // Fewer settings where layouts are sawn one after the other come first.
    let (found, mut searched) = fewer_settings(solution, most, each, options)?;
    for incumbent in found {
        let changed = build_plan(&solution.with_plan(incumbent))?;
        let better = charged(&changed) < charged(&best) && changed.settings_made.0 <= before;
        if better && !dearer(&changed, &best) {
            best = changed;
        }
    }
    if best.settings_made.0 == best.setups.len() {
        // No setting is made twice.
        return Ok(told(best, of_plan.and(searched), before, by_layout));
    }
    let deadline = options.time.map(|time| start + time);
    for family in [Family::Even, Family::RipFirst] {
        let left = deadline.map(|deadline| deadline.saturating_duration_since(Instant::now()));
        searched.cut_short |= left.is_some_and(|left| left.is_zero());
        if searched.cut_short {
            break;
        }
        let Some(options) = options.after(searched, left).for_another_plan() else { break };
        let narrowed = Options { family, target: Some(most), ..options };
        let found = match solve(solution.job(), &narrowed, &|_, _| ()) {
            Ok(found) => found,
            Err(SolveError::NotFound | SolveError::Short(_)) => continue,
            Err(error) => return Err(error.into()),
        };
        searched = searched.and(found.searched.of_another_plan());
        if !found.searched.repeatable || found.cost() > most {
            continue;
        }
        // What is proven is proven for all patterns.
        let changed = build_plan(&solution.with_plan(found.incumbent))?;
        let fewer = changed.settings_made.0 < best.settings_made.0;
        if fewer && charged(&changed) < charged(&best) && !dearer(&changed, &best) {
            best = changed;
        }
    }
    Ok(told(best, of_plan.and(searched), before, by_layout))
}

/// The plan with what was searched for it, and the settings that another one needed before, where they are more.
fn told(plan: Plan, searched: Searched, before: usize, by_layout: usize) -> Plan {
    let since = |now: usize, before: usize| (now, (before != now).then_some(before));
    Plan {
        searched,
        settings_made: since(plan.settings_made.0, before),
        settings_by_layout: since(plan.settings_by_layout.0, by_layout),
        ..plan
    }
}
