//! `ripwright yard JOB --tally boards.csv`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{Failure, Format, SolveArguments, code_of, job_despite_bad_prices, print, publish};
use super::progress::Progress;
use crate::job::job_of_tally;
use crate::plan::build_plan;
use crate::report::{Report, TakeCsv, TakeList, write_file};
use crate::solve::solve;

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
    let job = job_despite_bad_prices(&arguments.job, arguments.solve.quiet)?;
    let job = job_of_tally(&job, &arguments.tally, arguments.dealer.as_deref())?;
    let options = arguments.solve.options()?;
    let solution = {
        let progress = Progress::new(arguments.solve.quiet, arguments.solve.progress);
        solve(&job, &options, &|cost, bound| progress.show(cost, bound))?
    };
    let plan = build_plan(&job, &solution, options.gap_percent)?;
    let text = publish(&plan, &job, arguments.out.as_deref())?;
    if let Some(folder) = &arguments.out {
        write_file(folder, TakeCsv.file_name(), TakeCsv.render(&plan, &job)?.as_bytes())?;
    }
    print(&match arguments.format {
        Format::Text => TakeList { bought: arguments.bought }.render(&plan, &job)?,
        Format::Json => text,
        Format::Csv => TakeCsv.render(&plan, &job)?,
    })?;
    Ok(code_of(&plan))
}
