//! What several commands share: failures with their exit codes, options, output.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use clap::{Args, ValueEnum};

use crate::buying::BuyingError;
use crate::job::{Job, JobError, read_job, read_job_despite_bad_prices};
use crate::nightly::{JoinError, NightlyError};
use crate::plan::check::check;
use crate::plan::document::Document;
use crate::plan::{BuildError, FewerError, Plan};
use crate::rack::RackError;
use crate::report::{PlanJson, RenderError, Report, WriteError, plan_files, write_file};
use crate::solve::{Backend, Options, SolveError, Status};

/// Why a command did not do its work.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// The job cannot be read, or cannot be met.
    #[error(transparent)]
    Job(#[from] JobError),
    /// No plan.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// A decision about the buy could not be worked out.
    #[error(transparent)]
    Buying(#[from] BuyingError),
    /// Units without a result.
    #[error(transparent)]
    Join(#[from] JoinError),
    /// The search for fewer settings failed.
    #[error(transparent)]
    Fewer(#[from] FewerError),
    /// The unattended run published nothing.
    #[error(transparent)]
    Nightly(#[from] NightlyError),
    /// The solution does not make a plan.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// A report could not be made.
    #[error(transparent)]
    Render(#[from] RenderError),
    /// A file could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// A plan file cannot be read.
    #[error("{path} is not a readable plan: {why}", path = path.display())]
    Plan {
        /// The file.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// The command line asks for something that cannot be.
    #[error("{0}")]
    Usage(String),
    /// A plan that does not pass its own check: a bug.
    #[error("the plan failed its own check and was not written; this is a bug. It is kept in {kept}, please report it with the job:\n{faults}", kept = kept.display())]
    Unsound {
        /// Where the rejected plan is kept.
        kept: PathBuf,
        /// What is wrong with it.
        faults: String,
    },
    /// The rack's ledger did not move.
    #[error(transparent)]
    Rack(#[from] RackError),
    /// Standard output.
    #[error("standard output cannot be written: {0}")]
    Output(std::io::Error),
}

impl Failure {
    /// Whoever read the output has seen enough.
    pub fn is_broken_pipe(&self) -> bool {
        matches!(self, Failure::Output(error) if error.kind() == std::io::ErrorKind::BrokenPipe)
    }

    /// 2 for bad usage or input, 3 where no plan can meet the demand, 1 otherwise.
    pub fn exit_code(&self) -> ExitCode {
        match self {
            Failure::Job(JobError::Unobtainable(_)) | Failure::Solve(SolveError::Short(_)) => {
                ExitCode::from(3)
            }
            Failure::Nightly(NightlyError::Job(_) | NightlyError::Strict(..)) => ExitCode::from(2),
            Failure::Join(JoinError::NoUnits(_)) => ExitCode::from(2),
            Failure::Rack(RackError::Database { .. } | RackError::Render(_) | RackError::Write(_)) => {
                ExitCode::from(1)
            }
            Failure::Rack(_) => ExitCode::from(2),
            Failure::Job(_) | Failure::Usage(_) | Failure::Plan { .. } => ExitCode::from(2),
            _ => ExitCode::from(1),
        }
    }
}

/// Format of what is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// A summary for people.
    Text,
    /// The plan document.
    Json,
    /// The buy as a table.
    Csv,
}

/// Which program solves the small integer programs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Solver {
    /// Pure Rust, always built.
    Microlp,
    /// HiGHS, where it was built with the feature `highs`.
    Highs,
}

/// Options of every command that solves.
#[derive(Debug, Args)]
pub struct SolveArguments {
    /// Stop after so many seconds with the best complete plan
    #[arg(long, value_name = "SECONDS", default_value_t = 60.0, value_parser = seconds)]
    pub time: f64,
    /// Stop once this gap is proven
    #[arg(long, value_name = "PERCENT", default_value_t = 1.0, value_parser = percent)]
    pub gap: f64,
    /// Threads; 0 takes all cores
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub threads: usize,
    /// Seed of everything random
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Solver of the small integer programs
    #[arg(long, value_enum, default_value_t = Solver::Microlp)]
    pub solver: Solver,
    /// Write a line to standard error whenever the plan or the bound improves
    #[arg(long)]
    pub progress: bool,
    /// No progress line and no warnings
    #[arg(long)]
    pub quiet: bool,
}

fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if value > 0.0 && value <= 1e7 => Ok(value),
        _ => Err("expected a number of seconds above 0".to_string()),
    }
}

pub fn percent(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (0.0..=100.0).contains(&value) => Ok(value),
        _ => Err("expected a percentage from 0 to 100".to_string()),
    }
}

impl SolveArguments {
    /// The library's options; Ctrl-C sets the interrupt.
    pub fn options(&self) -> Result<Options, Failure> {
        let backend = match self.solver {
            Solver::Microlp => Backend::Microlp,
            #[cfg(feature = "highs")]
            Solver::Highs => Backend::Highs,
            #[cfg(not(feature = "highs"))]
            Solver::Highs => {
                let text = "this program was built without HiGHS: build it with --features highs";
                return Err(Failure::Usage(text.to_string()));
            }
        };
        let interrupt: Arc<AtomicBool> = Arc::default();
        let flag = interrupt.clone();
        // A second handler in one process would be refused: the first one then still works.
        let _ = ctrlc::set_handler(move || {
            if flag.swap(true, Ordering::Relaxed) {
                // Asked twice: the person does not want to wait for the plan so far.
                std::process::exit(130);
            }
        });
        Ok(Options {
            time: Some(Duration::from_secs_f64(self.time)),
            gap_percent: self.gap,
            threads: self.threads,
            seed: self.seed,
            backend,
            family: crate::pattern::Family::Any,
            target: None,
            interrupt,
        })
    }
}

/// Checks a plan as written and writes its files, where there is a folder for them; gives plan.json.
pub fn publish(plan: &Plan, job: &Job, out: Option<&Path>) -> Result<String, Failure> {
    // The check starts from the text that is written, as anybody else's would.
    let text = PlanJson.render(plan, job)?;
    let document: Document = serde_json::from_str(&text).map_err(RenderError::Json)?;
    let faults = check(&document, job);
    if !faults.is_empty() {
        let folder = out.unwrap_or(Path::new("."));
        let name = "rejected-plan.json";
        write_file(folder, name, text.as_bytes())?;
        let faults = faults.iter().map(|fault| format!("  {fault}")).collect::<Vec<_>>().join("\n");
        return Err(Failure::Unsound { kept: folder.join(name), faults });
    }
    if let Some(folder) = out {
        for report in plan_files() {
            write_file(folder, report.file_name(), report.render(plan, job)?.as_bytes())?;
        }
    }
    Ok(text)
}

/// 0 for a plan within the gap, 4 for one that was stopped outside it.
pub fn code_of(plan: &Plan) -> ExitCode {
    match plan.status {
        Status::Optimal | Status::WithinGap => ExitCode::SUCCESS,
        Status::Stopped => ExitCode::from(4),
    }
}

/// Reads a job and shows its warnings.
pub fn job(folder: &Path, quiet: bool) -> Result<Job, Failure> {
    let show = |warnings: &[crate::job::Warning]| {
        if !quiet {
            for warning in warnings {
                let _ = writeln!(std::io::stderr(), "ripwright: warning: {warning}");
            }
        }
    };
    match read_job(folder) {
        Ok(job) => {
            show(&job.warnings);
            Ok(job)
        }
        Err(error) => {
            if let JobError::Faults { warnings, .. } = &error {
                show(warnings);
            }
            Err(error.into())
        }
    }
}

/// Reads a job for a comparison: bad rows of price sheets are shown and left out.
pub fn job_despite_bad_prices(folder: &Path, quiet: bool) -> Result<Job, Failure> {
    let (job, left_out) = read_job_despite_bad_prices(folder)?;
    for fault in &left_out {
        // Even a quiet run says that a price was not counted.
        let _ = writeln!(std::io::stderr(), "ripwright: left out: {fault}");
    }
    if !quiet {
        for warning in &job.warnings {
            let _ = writeln!(std::io::stderr(), "ripwright: warning: {warning}");
        }
    }
    Ok(job)
}

/// The text of a plan.json; - is standard input.
pub fn plan_text(path: &Path) -> Result<String, Failure> {
    let text = match path.as_os_str() == "-" {
        true => std::io::read_to_string(std::io::stdin()),
        false => std::fs::read_to_string(path),
    };
    text.map_err(|error| Failure::Plan { path: path.to_path_buf(), why: error.to_string() })
}

/// Writes to standard output.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(Failure::Output)
}
