//! `ripwright split JOB --out DIR`, `ripwright solve UNIT` and `ripwright join DIR`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{
    ConfidenceArguments, Failure, SolveArguments, code_of, job_despite_bad_prices, print, write_plan,
};
use super::nightly::BookArguments;
use crate::nightly::{join, result_of, split};
use crate::planning::{Request, plan};
use crate::report::Printing;

/// Arguments of `split`.
#[derive(Debug, Args)]
pub struct SplitArguments {
    #[command(flatten)]
    book: BookArguments,
}

/// Arguments of `solve`.
#[derive(Debug, Args)]
pub struct SolveUnitArguments {
    /// The unit's folder
    unit: PathBuf,
    /// Folder for the result; by default where `join` looks for it
    #[arg(long, value_name = "RESULT")]
    out: Option<PathBuf>,
    #[command(flatten)]
    confidence: ConfidenceArguments,
    #[command(flatten)]
    solve: SolveArguments,
}

/// Arguments of `join`.
#[derive(Debug, Args)]
pub struct JoinArguments {
    /// The folder of the units
    folder: PathBuf,
}

/// Splits a book and prints the units' folders, one a line.
pub fn run_split(arguments: &SplitArguments) -> Result<ExitCode, Failure> {
    let units = split(&arguments.book.asked()?)?;
    print(&units.iter().map(|unit| format!("{}\n", unit.display())).collect::<String>())?;
    Ok(ExitCode::SUCCESS)
}

/// Plans one unit.
pub fn run_solve(arguments: &SolveUnitArguments) -> Result<ExitCode, Failure> {
    let job = job_despite_bad_prices(&arguments.unit, arguments.solve.solver.quiet)?;
    let request = Request::new(arguments.solve.options()?).with_confidence(arguments.confidence.percent);
    let checked = plan(&job, &request, &|_| ())?;
    let out = arguments.out.clone().unwrap_or_else(|| result_of(&arguments.unit));
    write_plan(&checked, &out, Printing::default())?;
    Ok(code_of(&checked))
}

/// Joins the results of all units.
pub fn run_join(arguments: &JoinArguments) -> Result<ExitCode, Failure> {
    print(&join(&arguments.folder)?)?;
    Ok(ExitCode::SUCCESS)
}
