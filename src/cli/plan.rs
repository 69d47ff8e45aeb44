//! `ripwright plan JOB --out DIR`

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::atomic::Ordering;
use std::time::Instant;

use clap::Args;

use super::common::{Failure, Format, SolveArguments, code_of, job, print, publish};
use super::progress::Progress;
use crate::buying::{Gluing, solve_every_way};
use crate::plan::{build_plan, with_fewer_settings};
use crate::rack::Ledger;
use crate::report::{BuyCsv, Drawing, Report, Summary};
use crate::solve::Options;

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct PlanArguments {
    /// The job folder
    job: PathBuf,
    /// Folder for plan.json, buy.csv, cuts.csv, setups.csv and sheets.html; - writes no files and
    /// prints the plan (as JSON unless --format says otherwise)
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Draw every board with characters after the summary
    #[arg(long)]
    draw: bool,
    /// Pay up to this much more for lumber if fewer settings are then made at the saws
    #[arg(long, value_name = "PERCENT", default_value_t = 0.5, value_parser = super::common::percent)]
    setup_tolerance: f64,
    /// Promise the rack boards of the plan to it in the rack's ledger
    #[arg(long)]
    reserve: bool,
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
    let start = Instant::now();
    let Gluing { job, solution } = {
        let progress = Progress::new(arguments.solve.quiet, arguments.solve.progress);
        solve_every_way(&job, &options, &|cost, bound| progress.show(cost, bound))?
    };
    let mut plan = build_plan(&job, &solution, options.gap_percent)?;
    let left = options.time.map(|time| time.saturating_sub(start.elapsed()));
    let interrupted = options.interrupt.load(Ordering::Relaxed);
    if arguments.setup_tolerance > 0.0 && !interrupted && left.is_none_or(|left| !left.is_zero()) {
        let options = Options { time: left.map(|left| left / 2), ..options };
        plan = with_fewer_settings(&job, plan, &solution, arguments.setup_tolerance, &options)?;
    }
    let to_output = arguments.out.as_os_str() == "-";
    let text = publish(&plan, &job, (!to_output).then_some(arguments.out.as_path()))?;
    if arguments.reserve {
        Ledger::open(&arguments.job)?.reserve(&text)?;
    }
    let format = arguments.format.unwrap_or(if to_output { Format::Json } else { Format::Text });
    print(&match format {
        Format::Text if arguments.draw => {
            Summary.render(&plan, &job)? + "\n" + &Drawing.render(&plan, &job)?
        }
        Format::Text => Summary.render(&plan, &job)?,
        Format::Json => text,
        Format::Csv => BuyCsv.render(&plan, &job)?,
    })?;
    Ok(code_of(&plan))
}
