//! `ripwright rack import|list|reserve|release|commit|undo|export|history|backup`

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::common::{Failure, job_despite_bad_prices, plan_text, print};
use crate::intake::job_of_tally;
use crate::rack::{Came, Ledger, Moved, SEEN, what_came};
use crate::report::aligned_text;

/// Arguments of `rack`.
#[derive(Debug, Args)]
pub struct RackArguments {
    #[command(subcommand)]
    command: RackCommand,
}

#[derive(Debug, Subcommand)]
enum RackCommand {
    /// Bring the ledger to what rack.csv says, or begin one
    Import(Import),
    /// Show the boards that are free
    List(JobFolder),
    /// Promise a plan's rack boards to it
    Reserve(PlanFile),
    /// Give the boards promised to a plan back
    Release(PlanFile),
    /// A plan was cut: its rack boards are gone, its kept offcuts are on the rack
    Commit(CutPlan),
    /// Take back the last movement that is not yet undone
    Undo(JobFolder),
    /// Write rack.csv with the boards that are free
    Export(JobFolder),
    /// Show every movement
    History(JobFolder),
    /// Copy the ledger to a new file, while others go on using it
    Backup(Backup),
}

#[derive(Debug, Args)]
struct Backup {
    /// The job folder
    job: PathBuf,
    /// The new file
    file: PathBuf,
}

#[derive(Debug, Args)]
struct JobFolder {
    /// The job folder
    job: PathBuf,
}

#[derive(Debug, Args)]
struct Import {
    /// The job folder
    job: PathBuf,
    /// The rack is empty: every board that rack.csv lacks is gone
    #[arg(long)]
    allow_empty: bool,
}

#[derive(Debug, Args)]
struct CutPlan {
    #[command(flatten)]
    file: PlanFile,
    /// The measured boards, if the plan is one of `yard`: those that were cut go into boards-seen.csv
    #[arg(long, value_name = "FILE")]
    tally: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct PlanFile {
    /// The plan.json; - reads standard input
    plan: PathBuf,
    /// The job folder it was made for
    #[arg(long, value_name = "JOB")]
    job: PathBuf,
}

/// Moves the ledger, or shows it.
pub fn run(arguments: &RackArguments) -> Result<ExitCode, Failure> {
    let moved = match &arguments.command {
        RackCommand::Import(Import { job, allow_empty: true }) => Ledger::import_whatever(job)?,
        RackCommand::Import(Import { job, allow_empty: false }) => Ledger::import(job)?,
        RackCommand::Reserve(file) => Ledger::open(&file.job)?.reserve(&plan_text(&file.plan)?)?,
        RackCommand::Release(file) => Ledger::open(&file.job)?.release(&plan_text(&file.plan)?)?,
        RackCommand::Commit(CutPlan { file, tally }) => {
            let boards = match tally {
                None => Vec::new(),
                Some(tally) => {
                    let job = job_despite_bad_prices(&file.job, true)?;
                    job_of_tally(&job, tally, None)?.rack.raw.split_off(job.rack.len())
                }
            };
            let (moved, came) = Ledger::open(&file.job)?.commit_with(&plan_text(&file.plan)?, &boards)?;
            print(&came_text(&what_came(&came)))?;
            moved
        }
        RackCommand::Undo(folder) => Ledger::open(&folder.job)?.undo()?,
        RackCommand::Export(folder) => {
            Ledger::open(&folder.job)?.export()?;
            return Ok(ExitCode::SUCCESS);
        }
        RackCommand::List(folder) => return list(&folder.job),
        RackCommand::History(folder) => return history(&folder.job),
        RackCommand::Backup(Backup { job, file }) => {
            let bytes = Ledger::open(job)?.back_up(file)?;
            print(&format!("{} holds the ledger, {bytes} bytes\n", file.display()))?;
            return Ok(ExitCode::SUCCESS);
        }
    };
    let Moved { number, added, taken } = moved;
    print(&format!(
        "movement {number}: {added} onto the rack, {taken} off it; rack.csv shows what is free\n"
    ))?;
    Ok(ExitCode::SUCCESS)
}

/// What came beside what was expected, for a person.
fn came_text(came: &[Came]) -> String {
    if came.is_empty() {
        return String::new();
    }
    let row = |one: &Came| {
        vec![
            one.kind.0.clone(),
            one.kind.1.to_string(),
            one.kind.2.to_string(),
            one.boards.to_string(),
            format!("{:.1} %", one.defects_percent),
            format!("{:.1} %", one.expected_percent),
            one.below_grade.to_string(),
        ]
    };
    let rows: Vec<Vec<String>> = came.iter().map(row).collect();
    let heads = ["species", "class", "grade", "boards", "defects", "expected", "below their grade"];
    format!("Boards that came, now in {SEEN}:\n{}", aligned_text(&heads, &rows))
}

fn list(job: &Path) -> Result<ExitCode, Failure> {
    let ledger = Ledger::open(job)?;
    let unit = ledger.unit();
    let rows = ledger.free()?.into_iter().map(|board| {
        let size = format!("{} x {}", board.width.display(unit), board.length.display_feet(unit));
        let (class, grade) = (board.quarter.to_string(), board.grade.to_string());
        vec![board.board, board.species, class, grade, size, board.value.price()]
    });
    print(&aligned_text(
        &["board", "species", "class", "grade", "size", "value"],
        &rows.collect::<Vec<_>>(),
    ))?;
    Ok(ExitCode::SUCCESS)
}

fn history(job: &Path) -> Result<ExitCode, Failure> {
    let rows = Ledger::open(job)?.history()?.into_iter().map(|one| {
        let undoes = one.undoes.map_or(String::new(), |number| format!("undoes {number}"));
        vec![one.number.to_string(), one.at, one.kind, one.plan, one.boards.to_string(), undoes]
    });
    print(&aligned_text(&["movement", "at", "kind", "plan", "boards", ""], &rows.collect::<Vec<_>>()))?;
    Ok(ExitCode::SUCCESS)
}
