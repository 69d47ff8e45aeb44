//! `ripwright plan JOB --out DIR`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{Failure, Format, SolveArguments, job, print};
use super::progress::Progress;
use crate::plan::document::Document;
use crate::plan::{build_plan, check::check};
use crate::report::{BuyCsv, PlanJson, Report, Summary, plan_files, write_file};
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
    // The check starts from the text that is written, as anybody else's would.
    let text = PlanJson.render(&plan, &job)?;
    let document: Document = serde_json::from_str(&text).map_err(crate::report::RenderError::Json)?;
    let faults = check(&document, &job);
    if !faults.is_empty() {
        let folder = if to_output { PathBuf::from(".") } else { arguments.out.clone() };
        let name = "rejected-plan.json";
        write_file(&folder, name, text.as_bytes())?;
        let faults = faults.iter().map(|fault| format!("  {fault}")).collect::<Vec<_>>().join("\n");
        return Err(Failure::Unsound { kept: folder.join(name), faults });
    }
    if !to_output {
        for report in plan_files() {
            write_file(&arguments.out, report.file_name(), report.render(&plan, &job)?.as_bytes())?;
        }
    }
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
