//! `ripwright compare JOB` and `ripwright scenarios JOB`

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::common::{ConfidenceArguments, Failure, Format, SolveArguments, job_despite_bad_prices, show};
use super::progress::Counter;
use crate::intake::read_scenarios;
use crate::planning::{Outcome, Request, compare, rank, ways};
use crate::report::{Decision, DecisionCsv, DecisionJson, DecisionText, write_reports};
use crate::solve::Status;

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct CompareArguments {
    /// The job folder
    job: PathBuf,
    /// Folder for compare.json, compare.csv and compare.html
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    #[command(flatten)]
    confidence: ConfidenceArguments,
    #[command(flatten)]
    solve: SolveArguments,
}

/// Arguments of `scenarios`.
#[derive(Debug, Args)]
pub struct ScenariosArguments {
    /// The job folder
    job: PathBuf,
    /// The scenarios; scenarios.csv of the job by default
    #[arg(long, value_name = "FILE")]
    file: Option<PathBuf>,
    /// Folder for scenarios.json, scenarios.csv and scenarios.html
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    #[command(flatten)]
    confidence: ConfidenceArguments,
    #[command(flatten)]
    solve: SolveArguments,
}

/// Compares each dealer alone, every pair and all.
pub fn run(arguments: &CompareArguments) -> Result<ExitCode, Failure> {
    let job = job_despite_bad_prices(&arguments.job, arguments.solve.solver.quiet)?;
    let request = Request::new(arguments.solve.options()?).with_confidence(arguments.confidence.percent);
    let counter = Counter::new(ways(job.suppliers.len()).len(), arguments.solve.solver.quiet);
    let comparison = compare(&job, &request, &|| counter.done())?;
    drop(counter);
    let decision = Decision::of_dealers(&comparison, &job);
    tell(&decision, arguments.out.as_deref(), arguments.format)?;
    Ok(exit_code(comparison.alternatives.iter().map(|one| &one.outcome)))
}

/// Plans every scenario and ranks them.
pub fn run_scenarios(arguments: &ScenariosArguments) -> Result<ExitCode, Failure> {
    let job = job_despite_bad_prices(&arguments.job, arguments.solve.solver.quiet)?;
    let request = Request::new(arguments.solve.options()?).with_confidence(arguments.confidence.percent);
    let file = arguments.file.clone().unwrap_or_else(|| arguments.job.join("scenarios.csv"));
    let scenarios = read_scenarios(&file, &job)?;
    let counter = Counter::new(scenarios.len() + 1, arguments.solve.solver.quiet);
    let ranked = rank(&job, &scenarios, &request, &|| counter.done())?;
    drop(counter);
    let decision = Decision::of_scenarios(&ranked, &job);
    tell(&decision, arguments.out.as_deref(), arguments.format)?;
    Ok(exit_code(ranked.scenarios.iter().map(|one| &one.outcome)))
}

fn tell(decision: &Decision, out: Option<&Path>, format: Format) -> Result<(), Failure> {
    if let Some(folder) = out {
        write_reports::<Failure>(&decision.files(), folder)?;
    }
    match format {
        Format::Text => show(&DecisionText(decision)),
        Format::Json => show(&DecisionJson(decision)),
        Format::Csv => show(&DecisionCsv(decision)),
    }
}

/// 0 if every plan is within the gap, 4 if one was stopped, 3 if there is no plan at all.
fn exit_code<'o>(outcomes: impl Iterator<Item = &'o Outcome>) -> ExitCode {
    let (mut planned, mut stopped) = (false, false);
    for outcome in outcomes {
        match outcome {
            Outcome::Planned(plan) => {
                planned = true;
                stopped |= plan.plan().status == Status::Stopped;
            }
            Outcome::NotFound => stopped = true,
            Outcome::Missing(_) => {}
        }
    }
    match (planned, stopped) {
        (true, false) => ExitCode::SUCCESS,
        (false, false) => ExitCode::from(3),
        (_, true) => ExitCode::from(4),
    }
}
