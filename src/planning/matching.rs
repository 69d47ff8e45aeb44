//! Sets of matched pieces from one board each, for a little more money.
//!
//! All pieces of a set, one after the other along a strip, are planned as one long piece; its boards are then cut into
//! the set's pieces. Such a plan is a plan of the job, so what is proven of the job holds for it. It is taken where it
//! costs no more than the shop allows, and stays within the gap that was asked for.

use std::collections::BTreeMap;
use std::time::Duration;

use super::error::PlanningError;
use crate::index::{PartIndex, SizeIndex, TiSlice, TiVec};
use crate::job::{Blank, Fit, Job, Make, MatchedSet, Part};
use crate::measure::{Length, Money};
use crate::pattern::{Cell, Family, Laid, Pattern};
use crate::plan::{MatchingCost, Plan, build_plan};
use crate::solve::{CutBoards, Incumbent, Options, Searched, Solution, SolveError, solve};

/// Kinds of sets that may share a plan: more are left to chance.
const MOST_SETS: usize = 200;

/// How long a plan with whole sets is looked for where the search has no end of its own.
const LONGEST: Duration = Duration::from_secs(30);

/// The plan in which sets come whole from one board, if that costs little enough; else `plan`, with what it would cost.
///
/// # Errors
/// If a number is too large to be held exactly, or the threads cannot be started.
pub fn with_sets_whole(plan: Plan, solution: &Solution, options: &Options) -> Result<Plan, PlanningError> {
    let matching = solution.job().shop.matching;
    let (named, panels) = (matching.percent, matching.panel_percent);
    let is_asked = |set: &MatchedSet| if set.is_panel { !panels.is_zero() } else { true };
    let asked: Vec<MatchedSet> = solution.job().sets().into_iter().filter(is_asked).take(MOST_SETS).collect();
    let whole = |plan: &Plan| -> u64 { plan.sets.iter().map(|count| count.whole).sum() };
    let missing = plan.sets.iter().any(|count| is_asked(&count.set) && count.whole < count.set.wanted);
    if !missing {
        return Ok(plan);
    }
    // Where work is counted, nothing depends on the clock.
    let longest = if options.work.is_some() { None } else { Some(LONGEST) };
    let half = Options { time: options.time.map(|time| time / 2).or(longest), ..options.clone() };
    let has_more = |found: &Plan| whole(found) > whole(&plan);
    // In one row, or else in two of half the length.
    let (found, mut searched) = planned_whole(solution, &asked, 1, &half)?;
    let mut found = found.filter(has_more);
    if found.is_none() && !searched.cut_short {
        let (in_two_rows, more) = planned_whole(solution, &asked, 2, &half.after(searched, half.time))?;
        searched = searched.and(more);
        found = in_two_rows.filter(has_more);
    }
    let searched = plan.searched.and(searched);
    let Some(found) = found else { return Ok(Plan { searched, ..plan }) };
    let percent = if asked.iter().any(|set| set.is_panel) { named + panels } else { named };
    let most = plan.cost.total.to_f64() * (1.0 + percent.to_f64() / 100.0) + 0.005;
    let within_gap = found.cost.gap_percent <= options.gap_percent.max(plan.cost.gap_percent);
    let is_paid = found.cost.total.to_f64() <= most && within_gap;
    let cost =
        if found.cost.total > plan.cost.total { found.cost.total - plan.cost.total } else { Money::ZERO };
    let matching = Some(MatchingCost { whole: whole(&found), cost, is_paid });
    Ok(if is_paid { Plan { matching, searched, ..found } } else { Plan { matching, searched, ..plan } })
}

/// A plan in which each set is cut in so many rows, with what was searched for it.
fn planned_whole(
    solution: &Solution,
    sets: &[MatchedSet],
    rows: u64,
    options: &Options,
) -> Result<(Option<Plan>, Searched), PlanningError> {
    let Some(joined) = Joined::of(solution.job(), sets, rows) else { return Ok((None, Searched::NONE)) };
    let Some(options) = options.for_another_plan() else { return Ok((None, Searched::NONE)) };
    let options = Options { family: Family::RipFirst, ..options };
    let found = match solve(&joined.job, &options, &|_, _| ()) {
        Ok(found) => found,
        Err(SolveError::NotFound | SolveError::Short(_)) => return Ok((None, Searched::NONE)),
        Err(error) => return Err(error.into()),
    };
    let searched = found.searched.of_another_plan();
    let apart = Some(&found).filter(|found| found.searched.repeatable);
    let Some(incumbent) = apart.and_then(|found| joined.taken_apart(found, solution)) else {
        return Ok((None, searched));
    };
    Ok((Some(build_plan(&solution.with_plan(incumbent))?), searched))
}

/// A job in which the pieces of a set are one long piece.
struct Joined {
    job: Job,
    /// What each such piece is taken apart into, by its index.
    rows: BTreeMap<PartIndex, Vec<PartIndex>>,
}

impl Joined {
    /// `None` if there is nothing to join.
    fn of(job: &Job, sets: &[MatchedSet], rows: u64) -> Option<Joined> {
        let mut joined = Joined { job: job.clone(), rows: BTreeMap::new() };
        // What lies one after the other in a strip is parted by crosscuts alone.
        joined.job.shop.saw.stages = 2;
        for set in
            sets.iter().filter(|set| set.members.iter().all(|(part, _)| job.parts[*part].sheet.is_none()))
        {
            let mut pieces: Vec<PartIndex> = Vec::new();
            for (part, each) in &set.members {
                pieces.extend(std::iter::repeat_n(*part, usize::try_from(*each).ok()?));
            }
            if pieces.len() as u64 <= rows {
                continue;
            }
            for (part, _) in &set.members {
                joined.job.parts[*part].required = 0;
            }
            for row in pieces.chunks(pieces.len().div_ceil(rows as usize)) {
                let part = in_one(job, set, row, joined.rows.len());
                joined.rows.insert(joined.job.parts.push_and_get_key(part), row.to_vec());
            }
        }
        (!joined.rows.is_empty()).then_some(joined)
    }

    /// The same boards with the long pieces taken apart; `None` where a long piece cannot be told from another part.
    fn taken_apart(&self, found: &Solution, solution: &Solution) -> Option<Incumbent> {
        let mut size_of: BTreeMap<PartIndex, SizeIndex> = BTreeMap::new();
        for (index, size) in solution.instance().sizes.iter_enumerated() {
            size_of.extend(size.parts.iter().map(|(part, _)| (*part, index)));
        }
        let mut becomes: TiVec<SizeIndex, Vec<SizeIndex>> = TiVec::new();
        for size in &found.instance().sizes {
            let row_of = |part: PartIndex| -> Option<Vec<SizeIndex>> {
                let row = self.rows.get(&part).cloned().unwrap_or_else(|| vec![part]);
                row.iter().map(|part| size_of.get(part).copied()).collect()
            };
            let mut rows = size.parts.iter().map(|(part, _)| row_of(*part));
            let first = rows.next()??;
            if !rows.all(|row| row.as_ref() == Some(&first)) {
                return None;
            }
            becomes.push(first);
        }
        let length = |size: SizeIndex| solution.instance().sizes[size].piece.length;
        let boards = found
            .incumbent
            .boards
            .iter()
            .map(|board| CutBoards { pattern: apart(&board.pattern, &becomes, &length), ..board.clone() });
        Some(Incumbent { boards: boards.collect(), values: Default::default(), ..found.incumbent.clone() })
    }
}

/// A pattern in which long pieces are taken apart: a cell of one becomes a cell for each of its pieces.
fn apart(
    pattern: &Pattern,
    becomes: &TiSlice<SizeIndex, Vec<SizeIndex>>,
    length: &dyn Fn(SizeIndex) -> Length,
) -> Pattern {
    let mut pattern = pattern.clone();
    for strip in &mut pattern.strips {
        let mut cells: Vec<Cell> = Vec::new();
        for cell in std::mem::take(&mut strip.cells) {
            let row = |laid: &Laid| &becomes[laid.index()];
            match &cell.pieces[..] {
                [laid] if row(laid).len() > 1 => {
                    let own = row(laid).iter().enumerate().map(|(place, size)| Cell {
                        gap: if place == 0 { cell.gap } else { Length::ZERO },
                        run: length(*size),
                        lift: cell.lift,
                        pieces: vec![Laid::straight(*size)],
                    });
                    cells.extend(own);
                }
                _ => {
                    let pieces = cell.pieces.iter().map(|laid| laid.with_index(row(laid)[0])).collect();
                    cells.push(Cell { pieces, ..cell });
                }
            }
        }
        strip.cells = cells;
    }
    pattern
}

/// Pieces of a set, one after the other, as one part.
fn in_one(job: &Job, set: &MatchedSet, row: &[PartIndex], number: usize) -> Part {
    let parts = || row.iter().map(|part| &job.parts[*part]);
    let first = &job.parts[row[0]];
    let kerf = job.shop.saw.crosscut_kerf;
    let cut_length = parts().fold(Length::ZERO, |sum, part| sum + part.blank.cut_length + kerf) - kerf;
    let largest = |size: fn(&Part) -> Length| parts().map(size).max().unwrap_or(Length::ZERO);
    let blank = Blank {
        make: Make::Whole,
        width: largest(|part| part.blank.width),
        thickness: largest(|part| part.blank.thickness),
        cut_length,
        cut_width: largest(|part| part.blank.cut_width),
        of_all_ways: false,
    };
    Part {
        part: format!("{} {number}", set.name),
        required: set.wanted,
        length: cut_length,
        width: blank.width,
        thickness: blank.thickness,
        grade: parts().map(|part| part.grade).min().unwrap_or(first.grade),
        fit: Fit::Stop,
        glue_up: false,
        clear: parts().map(|part| part.clear).min().unwrap_or(first.clear),
        matched: String::new(),
        blank,
        ..first.clone()
    }
}
