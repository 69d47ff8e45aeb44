//! `ripwright plan JOB --out DIR`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{Failure, Format, SolveArguments, job, print, publish};
use super::progress::Progress;
use crate::plan::build_plan;
use crate::report::{BuyCsv, Report, Summary};
use crate::solve::{Status, solve};

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct PlanArguments {
    /// The job folder
    job: PathBuf,
    /// Folder for plan.json, buy.csv, cuts.csv, setups.csv and sheets.html; - writes no files and
    /// prints the plan (as JSON unless --format says otherwise)
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// What is printed
    #[arg(long, value_enum)]
    format: Option<Format>,
    #[command(flatten)]
    solve: SolveArguments,
}

/// Plans a job.
pub fn run(arguments: &PlanArguments) -> Result<ExitCode, Failure> {
    let job = job(&arguments.job, arguments.solve.quiet)?;
    let options = arguments.solve.options()?;
    let solution = {
        let progress = Progress::new(arguments.solve.quiet, arguments.solve.progress);
        solve(&job, &options, &|cost, bound| progress.show(cost, bound))?
    };
    let plan = build_plan(&job, &solution, options.gap_percent)?;
    let to_output = arguments.out.as_os_str() == "-";
    let text = publish(&plan, &job, (!to_output).then_some(arguments.out.as_path()))?;
    let format = arguments.format.unwrap_or(if to_output { Format::Json } else { Format::Text });
    print(&match format {
        Format::Text => Summary.render(&plan, &job)?,
        Format::Json => text,
        Format::Csv => BuyCsv.render(&plan, &job)?,
    })?;
    Ok(match plan.status {
        Status::Optimal | Status::WithinGap => ExitCode::SUCCESS,
        Status::Stopped => ExitCode::from(4),
    })
}
