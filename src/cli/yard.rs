//! `ripwright yard JOB --tally boards.csv`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{Failure, Format, SolveArguments, code_of, job_despite_bad_prices, show, write_plan};
use super::progress::ProgressLine;
use crate::intake::job_of_tally;
use crate::planning::{Request, plan_stack};
use crate::report::{PlanJson, Printing, Report, TakeCsv, TakeList, today, write_file};

/// A person waits at the stack.
const USUAL_SECONDS: f64 = 1.8;

/// Arguments of `yard`.
#[derive(Debug, Args)]
pub struct YardArguments {
    /// The job folder
    job: PathBuf,
    /// The measured boards, in the rack's columns; a board without a value costs what the sheet asks
    #[arg(long, value_name = "FILE")]
    tally: PathBuf,
    /// Whose sheet prices boards without a value; the cheapest by default
    #[arg(long, value_name = "NAME")]
    dealer: Option<String>,
    /// The boards are bought: plan the cutting from them and the rack
    #[arg(long)]
    bought: bool,
    /// Folder for take.csv and the plan's files
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    #[command(flatten)]
    solve: SolveArguments,
}

/// Chooses boards and plans their cutting.
pub fn run(arguments: &YardArguments) -> Result<ExitCode, Failure> {
    let job = job_despite_bad_prices(&arguments.job, arguments.solve.solver.quiet)?;
    let job = job_of_tally(&job, &arguments.tally, arguments.dealer.as_deref())?;
    let options = arguments.solve.options_within(USUAL_SECONDS)?;
    let checked = {
        let progress = ProgressLine::new(arguments.solve.solver.quiet, arguments.solve.progress);
        plan_stack(&job, &Request::new(options).matching_sets(), &|event| progress.tell(event))?
    };
    if let Some(folder) = &arguments.out {
        write_plan(&checked, folder, Printing { dated: Some(today()), ..Printing::default() })?;
        write_file(folder, TakeCsv(&checked).file_name(), &TakeCsv(&checked).bytes()?)?;
    }
    match arguments.format {
        Format::Text => show(&TakeList { checked: &checked, bought: arguments.bought })?,
        Format::Json => show(&PlanJson(&checked))?,
        Format::Csv => show(&TakeCsv(&checked))?,
    }
    // A stack that is not enough is no failure: the list says what is still needed.
    let is_enough = checked.plan().still_needed.is_empty();
    Ok(if is_enough { code_of(&checked) } else { ExitCode::SUCCESS })
}
