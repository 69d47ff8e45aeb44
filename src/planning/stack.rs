//! What a stack of measured boards gives, also where it is not enough for the whole order.
//!
//! A stack that is not enough is planned beside a dealer who does not exist: he sells every blank as a board that
//! it just fills, and asks far more for it than any real board costs. So the plan cuts as much of what is wanted
//! from the stack as it can, by volume. What it would buy of him is still needed; the rest is planned as any job.

use std::time::Instant;

use num_bigint::BigInt;
use num_rational::BigRational;

use super::checked::Checked;
use super::error::PlanningError;
use super::front::{Event, Request, plan};
use crate::index::{PartIndex, TiVec};
use crate::job::{Job, LeastBoard, Part, Per, PriceLine, RackBoard, Sheet, StillNeeded, Supplier};
use crate::measure::{Area, Money, Overflow};
use crate::plan::{Board, BoardSource, Plan, build_plan};
use crate::solve::{Options, SolveError, solve, solve_from_rack};
use crate::trade::{Quarter, SheetGrain};

/// A board that is missing costs so many times what the dearest board of the stack costs by volume.
const DEARER: i64 = 10;

/// Plans a job that is cut from its rack alone. Where that is not enough, the plan gives what it can and says what
/// is still needed.
///
/// # Errors
/// As [`plan`].
pub fn plan_stack(
    job: &Job,
    request: &Request,
    events: &(dyn Fn(Event) + Sync),
) -> Result<Checked, PlanningError> {
    let start = Instant::now();
    match plan(job, request, events) {
        Err(PlanningError::Solve(SolveError::Short(_) | SolveError::NotFound)) => {}
        planned => return planned,
    }
    // A search that found nothing has used the time up.
    let whole = request.options.time;
    let half = whole.map(|whole| whole.saturating_sub(start.elapsed()).max(whole / 4) / 2);
    let options = Options { time: half, ..request.options.clone() };
    let beside = beside_a_dealer_of_all(job)?;
    let solution = solve(&beside, &options, &|_, _| ())?;
    let still_needed = not_cut(job, &build_plan(&solution)?);
    // What that plan cuts from the stack is a plan for the rest: the search begins with it.
    let rest = job.leaving(&still_needed);
    let solution = solve_from_rack(&rest, &solution, &options)?;
    let plan = build_plan(&solution)?;
    Ok(Checked::new(job, rest, Plan { still_needed, ..plan })?)
}

/// The job with a dealer of boards for every part; of a part for which there is no class all is left out.
pub fn beside_a_dealer_of_all(job: &Job) -> Result<Job, Overflow> {
    let mut beside = job.clone();
    let feet =
        |length, width, quarter: Quarter| Area::of(length, width).times(quarter.tallied()).board_feet();
    let on_rack = job.rack.iter().map(|board| {
        let RackBoard { length, width, quarter, .. } = *board;
        board.value.to_ratio() / feet(length, width, quarter)
    });
    let mut dearest: Vec<BigRational> = on_rack.collect();
    for line in &job.lines {
        let price = line.price_of_board(&job.suppliers[line.supplier])?;
        dearest.push(price / feet(line.length, line.width, line.quarter));
    }
    let least = BigRational::from_integer(BigInt::from(1));
    let rate =
        dearest.into_iter().fold(least, std::cmp::Ord::max) * BigRational::from_integer(BigInt::from(DEARER));
    beside.suppliers.push(Supplier::new("still needed"));
    for (index, part) in job.parts.iter_enumerated().filter(|(_, part)| part.required > 0) {
        let least = LeastBoard::of(&job.shop, part);
        let Some(quarter) = least.quarter else {
            beside.parts[index].required = 0;
            continue;
        };
        let price = Money::round_half_up(&(least.volume(part).board_feet() * &rate))?;
        let (sizes, price) = ([least.length, least.width], (price.max(Money::cents(1)), Per::Piece));
        let dealer = beside.suppliers.len() - 1;
        let mut line = PriceLine::new(dealer, &part.species, quarter, part.grade, sizes, price);
        if let Some(asked) = &part.sheet {
            line.sheet = Sheet { core: asked.core.clone(), grain: SheetGrain::None, real: None };
        }
        beside.lines.push(line);
    }
    Ok(beside)
}

/// Parts that a plan cuts neither from the rack nor from sheets that are sold, whole ones.
fn not_cut(job: &Job, plan: &Plan) -> Vec<StillNeeded> {
    let mut left: TiVec<PartIndex, u64> = job.parts.iter().map(Part::blanks_wanted).collect();
    let is_there = |board: &&Board| match &board.source {
        BoardSource::Rack(..) => true,
        BoardSource::Buy(row) => plan.buy[*row].line < job.lines.next_key(),
    };
    for board in plan.boards.iter().filter(is_there) {
        for piece in &board.pieces {
            let cut = u64::from(board.copies) * u64::from(piece.blanks);
            left[piece.part] = left[piece.part].saturating_sub(cut);
        }
    }
    let parts = job.parts.iter_enumerated().zip(left).filter(|(_, left)| *left > 0);
    let whole = |part: &Part, left: u64| left.div_ceil(u64::from(part.blank.make.pieces()));
    parts
        .map(|((index, part), left)| StillNeeded { part: index, parts: whole(part, left), reason: None })
        .collect()
}
