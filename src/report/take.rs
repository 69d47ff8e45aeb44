//! At the yard: which of the measured boards to take.

use std::collections::BTreeMap;

use super::csv::{safe, table};
use super::measured::{unit_of_volume, volume as measured};
use super::needed::Needed;
use super::table::{Align, aligned};
use super::{RenderError, Report};
use crate::index::RackIndex;
use crate::job::{Job, RackBoard};
use crate::measure::{Area, Money, Volume};
use crate::plan::{BoardSource, Plan};
use crate::planning::Checked;
use crate::trade::grading::below_what_is_sold;

/// The boards with what is cut from each, for a person.
pub struct TakeList<'p> {
    /// The plan.
    pub checked: &'p Checked,
    /// Are the boards paid for already?
    pub bought: bool,
}

/// The boards with a yes or no, for machines.
pub struct TakeCsv<'p>(pub &'p Checked);

/// A board of the rack or the tally, and what is cut from it.
struct Entry<'a> {
    board: &'a RackBoard,
    cut: Option<&'a crate::plan::Board>,
}

fn entries<'a>(plan: &'a Plan, job: &'a Job) -> Vec<Entry<'a>> {
    let cut_from = |index: RackIndex| {
        plan.boards.iter().find(|board| matches!(&board.source, BoardSource::Rack(at, _) if *at == index))
    };
    job.rack.iter_enumerated().map(|(index, board)| Entry { board, cut: cut_from(index) }).collect()
}

fn feet(board: &RackBoard) -> Volume {
    Area::of(board.length, board.width).times(board.quarter.tallied())
}

/// Pieces by part, as words.
fn pieces(board: &crate::plan::Board, job: &Job) -> String {
    let counts = board.pieces_by_part().into_iter();
    let words: Vec<String> =
        counts.map(|(part, count)| format!("{count} {}", job.parts[part].part)).collect();
    words.join(", ")
}

/// Boards whose measured defects leave less than the grade they are sold as.
fn below_grade(job: &Job) -> String {
    let line = |board: &RackBoard| {
        let graded = below_what_is_sold(board.grade, board.length, board.width, &board.defects)?;
        let made = match graded.grade {
            Some(grade) => {
                let (units, cuttings) = (graded.units(), graded.cuttings.len());
                let plural = if cuttings == 1 { "" } else { "s" };
                let all = graded.measure * 12;
                format!("makes {grade} ({units} of {all} units in {cuttings} cutting{plural})")
            }
            None => "makes no grade of the rules".to_string(),
        };
        Some(format!("  {}: sold as {}; as measured it {made}\n", board.board, board.grade))
    };
    // Offcuts of the rack were never graded as boards.
    let whole = job.rack.iter().filter(|board| !board.defects.is_empty());
    let lines: String = whole.filter_map(line).collect();
    if lines.is_empty() {
        return lines;
    }
    format!("Below their grade, by the defects as measured (grading is the inspector's work)\n{lines}")
}

/// What the boards do not give, by part, with the least board that gives one blank of it.
fn still_needed(checked: &Checked) -> String {
    let (needed, unit) = (Needed::of(checked.plan(), checked.job()), checked.plan().unit);
    if needed.is_empty() {
        return String::new();
    }
    use Align::{Left, Right};
    let columns = [
        ("species", Left),
        ("class", Right),
        ("grade", Left),
        ("width from", Right),
        ("length from", Right),
        (unit_of_volume(unit), Right),
        ("for", Left),
    ];
    let mut volume: BTreeMap<(&str, &str), f64> = BTreeMap::new();
    for one in &needed {
        *volume.entry((&one.species, &one.class)).or_insert(0.0) += one.feet;
    }
    let sums: Vec<String> = volume
        .iter()
        .map(|((species, class), feet)| {
            format!("{} {} of {species} {class}", measured(*feet, unit), unit_of_volume(unit))
        })
        .collect();
    let cells = |one: &Needed| {
        let feet = measured(one.feet, unit);
        let Needed { species, class, grade, width, length, what, .. } = one.clone();
        vec![species, class, grade, width, length, feet, what]
    };
    let rows: Vec<Vec<String>> = needed.iter().map(cells).collect();
    format!(
        "This stack is not enough; still needed are {}, and what is lost in cutting beside it:\n{}",
        sums.join(", "),
        aligned(&columns, &rows, "  ")
    )
}

impl Report for TakeList<'_> {
    fn file_name(&self) -> &'static str {
        "take.txt"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let (plan, job) = (self.checked.plan(), self.checked.job());
        use Align::{Left, Right};
        let columns = [
            ("board", Left),
            ("species", Left),
            ("class", Right),
            ("grade", Left),
            ("width", Right),
            ("length", Right),
            ("value", Right),
            ("cut from it", Left),
        ];
        let all = entries(plan, job);
        let rows: Vec<Vec<String>> = all
            .iter()
            .filter_map(|entry| {
                let cut = entry.cut?;
                let board = entry.board;
                Some(vec![
                    board.board.clone(),
                    board.species.clone(),
                    board.quarter.to_string(),
                    board.grade.to_string(),
                    board.width.display(plan.unit).to_string(),
                    board.length.display_feet(plan.unit).to_string(),
                    board.value.to_string(),
                    pieces(cut, job),
                ])
            })
            .collect();
        let (taken, left): (Vec<&Entry<'_>>, Vec<&Entry<'_>>) =
            all.iter().partition(|entry| entry.cut.is_some());
        let volume: Volume = taken.iter().map(|entry| feet(entry.board)).sum();
        let (verb, rest) = if self.bought { ("Cut", "Stay whole") } else { ("Take", "Leave") };
        let mut text = format!(
            "{verb} {} of {} boards, {} {}\n{}\n",
            taken.len(),
            all.len(),
            measured(volume.board_feet_f64(), plan.unit),
            unit_of_volume(plan.unit),
            aligned(&columns, &rows, "  ")
        );
        let names: Vec<&str> = left.iter().map(|entry| entry.board.board.as_str()).collect();
        if !names.is_empty() {
            text.push_str(&format!("{rest}: {}\n", names.join(", ")));
        }
        let for_as_much = if plan.still_needed.is_empty() { "" } else { " for as much" };
        text.push_str(&format!(
            "They cost {} {}; no choice of these boards costs less than {}{for_as_much} (gap {:.2} %).\n",
            plan.cost.rack, plan.currency, plan.cost.lower_bound, plan.cost.gap_percent
        ));
        text.push_str(&below_grade(job));
        text.push_str(&still_needed(self.checked));
        Ok(text.into_bytes())
    }
}

impl Report for TakeCsv<'_> {
    fn file_name(&self) -> &'static str {
        "take.csv"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let (plan, job) = (self.0.plan(), self.0.job());
        let header = ["board", "take", "species", "quarter", "grade", "width", "length", "value", "pieces"];
        let row = |entry: &Entry<'_>| {
            let board = entry.board;
            vec![
                safe(&board.board),
                if entry.cut.is_some() { "yes" } else { "no" }.to_string(),
                safe(&board.species),
                board.quarter.to_string(),
                board.grade.to_string(),
                board.width.to_f64(plan.unit).to_string(),
                board.length.to_f64(plan.unit).to_string(),
                if board.value == Money::ZERO { "0.00".to_string() } else { board.value.price() },
                entry.cut.map_or(0, |cut| cut.pieces.len()).to_string(),
            ]
        };
        table(&header, entries(plan, job).iter().map(row).collect())
    }
}
