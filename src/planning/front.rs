//! The front door: a request comes in, events are told on the way, a checked plan goes out.

use std::sync::atomic::Ordering;
use std::time::Instant;

use super::checked::Checked;
use super::confidence::{before_fresh_lots, raised};
use super::error::PlanningError;
use super::fewer::with_fewer_settings;
use super::gluing::solve_every_way;
use super::matching::with_sets_whole;
use crate::job::{Job, JobError, StillNeeded};
use crate::measure::Money;
use crate::plan::{Plan, build_plan};
use crate::solve::{Options, Planner, solve};

/// What is asked for.
#[derive(Debug, Clone, Default)]
#[non_exhaustive]
pub struct Request {
    /// Time, gap, threads, seed.
    pub options: Options,
    /// Are the other ways to glue parts weighed by the whole plan's cost?
    pub weigh_gluing: bool,
    /// Percent of fresh lots of boards not yet seen that must give every part; none are tried where it is 0.
    pub confidence_percent: f64,
    /// Percent that lumber may cost more if fewer settings are then made; none where it is 0.
    pub setup_tolerance_percent: f64,
    /// Are sets of matched pieces cut whole from one board, where the shop would pay for it?
    pub matches_sets: bool,
}

impl Request {
    /// The cheapest plan for the job as it stands.
    pub fn new(options: Options) -> Request {
        Request { options, ..Request::default() }
    }

    /// The same as a shop plans its own job: gluing weighed, spare boards for lots that come otherwise, sets of matched
    /// pieces whole, and a little more lumber where it saves settings.
    pub fn as_for_a_shop(self) -> Request {
        self.weighing_gluing()
            .matching_sets()
            .with_confidence(Request::CONFIDENCE_PERCENT)
            .with_setup_tolerance(Request::SETUP_TOLERANCE_PERCENT)
    }

    /// Percent of fresh lots that give every part, where nobody asks for another share.
    pub const CONFIDENCE_PERCENT: f64 = 90.0;

    /// Percent that lumber may cost more for fewer settings, where nobody asks for another share.
    pub const SETUP_TOLERANCE_PERCENT: f64 = 0.5;

    /// The same, with the other ways to glue parts weighed.
    pub fn weighing_gluing(self) -> Request {
        Request { weigh_gluing: true, ..self }
    }

    /// The same, with sets of matched pieces cut whole from one board where the shop would pay for it.
    pub fn matching_sets(self) -> Request {
        Request { matches_sets: true, ..self }
    }

    /// The same, with spare boards until so many percent of fresh lots give every part.
    pub fn with_confidence(self, percent: f64) -> Request {
        Request { confidence_percent: percent, ..self }
    }

    /// The same, where lumber may cost so many percent more if fewer settings are then made.
    pub fn with_setup_tolerance(self, percent: f64) -> Request {
        Request { setup_tolerance_percent: percent, ..self }
    }
}

/// What is told while a plan is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Event {
    /// The plan or the bound has improved.
    Improved {
        /// Cost of the best plan so far, in lumber, delivery and rack value.
        cost: Option<Money>,
        /// No plan costs less.
        bound: Money,
    },
    /// The cheapest plan is found; now it is tried on fresh lots of boards.
    TryingFreshLots,
    /// The cheapest plan is found; now one with fewer settings is looked for.
    LookingForFewerSettings,
}

/// Plans a job.
///
/// # Errors
/// If there is no plan, a number is too large to be held exactly, or (a bug) the plan does not pass the check.
pub fn plan(job: &Job, request: &Request, events: &(dyn Fn(Event) + Sync)) -> Result<Checked, PlanningError> {
    plan_leaving(job, &[], request, events)
}

/// Plans what can be planned of a job: parts that nothing on offer gives are left open, with the reason.
///
/// # Errors
/// As [`plan`], and if nothing is left to plan.
pub fn plan_what_can_be(
    job: &Job,
    request: &Request,
    events: &(dyn Fn(Event) + Sync),
) -> Result<Checked, PlanningError> {
    let open = job.unobtainable();
    if !open.is_empty() && open.len() == job.parts.len() {
        return Err(JobError::Unobtainable(job.shortfalls()).into());
    }
    plan_leaving(job, &open, request, events)
}

/// Plans a job of which some parts are left open.
///
/// # Errors
/// As [`plan`].
pub fn plan_leaving(
    as_read: &Job,
    still_needed: &[StillNeeded],
    request: &Request,
    events: &(dyn Fn(Event) + Sync),
) -> Result<Checked, PlanningError> {
    let job = &as_read.leaving(still_needed);
    let options = &request.options;
    let start = Instant::now();
    let progress = |cost, bound| events(Event::Improved { cost, bound });
    let searching = before_fresh_lots(job, request.confidence_percent, options);
    let solution = if request.weigh_gluing {
        solve_every_way(job, &searching, &progress)?
    } else {
        solve(job, &searching, &progress)?
    };
    let interrupted = options.interrupt.load(Ordering::Relaxed);
    if request.confidence_percent > 0.0 && !interrupted {
        events(Event::TryingFreshLots);
    }
    let (solution, confidence) = raised(solution, request.confidence_percent, options)?;
    let mut plan = build_plan(&solution)?;
    let tolerance = request.setup_tolerance_percent;
    // Boards that nobody has seen come differently: fewer settings for them would be fewer on paper only, and so would
    // be whole sets.
    if plan.has_drawn_boards() {
        // What a person interrupts is tried on no fresh lots.
        plan.searched.repeatable &= !interrupted || request.confidence_percent <= 0.0;
    } else {
        // No time left for what follows is the clock's doing as well.
        plan.searched.cut_short |= options.time.is_some_and(|time| start.elapsed() >= time);
    }
    // A search that was cut short is followed by nothing: as many turns would not give the same plan again.
    let goes_on = |plan: &Plan| {
        let is_asked_to_stop = options.interrupt.load(Ordering::Relaxed);
        !plan.has_drawn_boards() && !plan.searched.cut_short && !is_asked_to_stop
    };
    let half_of_what_is_left = |plan: &Plan| {
        let left = options.time.map(|time| time.saturating_sub(start.elapsed()));
        options.after(plan.searched, left.map(|left| left / 2))
    };
    if request.matches_sets && goes_on(&plan) {
        let options = half_of_what_is_left(&plan);
        plan = with_sets_whole(plan, &solution, &options)?;
    }
    let matching = plan.matching;
    let is_paid = matching.is_some_and(|matching| matching.is_paid);
    if tolerance > 0.0 && !is_paid && goes_on(&plan) {
        events(Event::LookingForFewerSettings);
        let options = half_of_what_is_left(&plan);
        plan = with_fewer_settings(plan, &solution, tolerance, &options)?;
    }
    // Plans that were built anew on the way know nothing of these.
    let plan = Plan { confidence, still_needed: still_needed.to_vec(), matching, ..plan };
    Ok(Checked::new(as_read, solution.job().clone(), plan)?)
}

/// Plans a job as it stands on the threads it is called on, for those who plan several side by side, with spare boards
/// until so many percent of fresh lots give every part.
///
/// # Errors
/// As [`plan`].
pub fn plan_here(job: &Job, options: &Options, confidence_percent: f64) -> Result<Checked, PlanningError> {
    let searching = before_fresh_lots(job, confidence_percent, options);
    let solution = Planner::new(job.clone()).solve(&[], &searching, &|_, _| ())?;
    let (solution, confidence) = raised(solution, confidence_percent, options)?;
    let plan = Plan { confidence, ..build_plan(&solution)? };
    Ok(Checked::new(job, job.clone(), plan)?)
}
