//! What several commands share: failures with their exit codes, options, output.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use clap::{Args, ValueEnum};

use crate::intake::{read_job_as_it_is, read_job_despite_bad_prices, read_job_despite_bad_rows};
use crate::job::{Fault, Job, JobError, Warning};
use crate::nightly::{JoinError, NightlyError, PlaceError};
#[cfg(feature = "page")]
use crate::page::ServeError;
use crate::planning::{Checked, PlanningError, Request, Unsound};
use crate::rack::{Ledger, RackError};
use crate::report::{Printing, RenderError, Report, WriteError, plan_files, write_file, write_set};
use crate::solve::{Backend, Options, SolveError, Status};

/// Why a command did not do its work.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// The job cannot be read, or cannot be met.
    #[error(transparent)]
    Job(#[from] JobError),
    /// No plan, or no decision.
    #[error(transparent)]
    Planning(PlanningError),
    /// Units without a result.
    #[error(transparent)]
    Join(#[from] JoinError),
    /// The unattended run published nothing.
    #[error(transparent)]
    Nightly(#[from] NightlyError),
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
    #[error("{why}\nIt was not written; it is kept in {kept}", kept = kept.display())]
    Unsound {
        /// Where the rejected plan is kept.
        kept: PathBuf,
        /// What is wrong with it.
        why: Box<Unsound>,
    },
    /// The page is not served.
    #[cfg(feature = "page")]
    #[error(transparent)]
    Serve(#[from] ServeError),
    /// The rack's ledger did not move.
    #[error(transparent)]
    Rack(#[from] RackError),
    /// Standard output.
    #[error("standard output cannot be written: {0}")]
    Output(std::io::Error),
}

impl Failure {
    /// Was nothing done because another run is on?
    pub fn is_busy(&self) -> bool {
        matches!(self, Failure::Nightly(NightlyError::Place(PlaceError::Busy(_))))
    }

    /// Whoever read the output has seen enough.
    pub fn is_broken_pipe(&self) -> bool {
        matches!(self, Failure::Output(error) if error.kind() == std::io::ErrorKind::BrokenPipe)
    }

    /// 2 for bad usage or input, 3 where no plan can meet the demand, 1 otherwise.
    pub fn exit_code(&self) -> ExitCode {
        match self {
            Failure::Job(JobError::Unobtainable(_))
            | Failure::Planning(
                PlanningError::Solve(SolveError::Short(_)) | PlanningError::Job(JobError::Unobtainable(_)),
            ) => ExitCode::from(3),
            Failure::Planning(PlanningError::Job(_)) => ExitCode::from(2),
            Failure::Nightly(
                NightlyError::Job(_)
                | NightlyError::Strict(..)
                | NightlyError::TooFew { .. }
                | NightlyError::NoSuchWeek { .. }
                | NightlyError::ReleasedAlready(_)
                | NightlyError::NotReleased { .. }
                | NightlyError::TakesLeftovers { .. }
                | NightlyError::LeftoversTaken { .. }
                | NightlyError::NotPromised { .. }
                | NightlyError::NotKept(_),
            ) => ExitCode::from(2),
            Failure::Join(JoinError::NoUnits(_)) => ExitCode::from(2),
            Failure::Rack(RackError::Database { .. } | RackError::Render(_) | RackError::Write(_)) => {
                ExitCode::from(1)
            }
            Failure::Rack(_) => ExitCode::from(2),
            #[cfg(feature = "page")]
            Failure::Serve(ServeError::Listen { .. } | ServeError::Job { .. }) => ExitCode::from(2),
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

/// Options of every command that solves: how long, how well, and how.
#[derive(Debug, Args)]
pub struct SolveArguments {
    /// Stop after so many seconds with the best complete plan; 60 where neither this nor --work is given
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub time: Option<f64>,
    /// Stop after so many turns of the search: the same plan on a machine of any speed, unless --time ends it first
    #[arg(long, value_name = "TURNS")]
    pub work: Option<u64>,
    /// Stop once this gap is proven
    #[arg(long, value_name = "PERCENT", default_value_t = 1.0, value_parser = percent)]
    pub gap: f64,
    #[command(flatten)]
    pub solver: SolverArguments,
    /// Write a line to standard error whenever the plan or the bound improves
    #[arg(long)]
    pub progress: bool,
}

/// How sure a buy of boards that nobody has seen must be.
#[derive(Debug, Args)]
pub struct ConfidenceArguments {
    /// Buy spare boards until so many percent of fresh lots of boards give every part; 0 buys none
    #[arg(long = "confidence", value_name = "PERCENT", default_value_t = Request::CONFIDENCE_PERCENT, value_parser = percent)]
    pub percent: f64,
}

/// How it is solved.
#[derive(Debug, Args)]
pub struct SolverArguments {
    /// Threads; 0 takes all cores
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = threads)]
    pub threads: usize,
    /// Seed of everything random
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Solver of the small integer programs
    #[arg(long, value_enum, default_value_t = Solver::Microlp)]
    pub solver: Solver,
    /// No progress line and no warnings
    #[arg(long)]
    pub quiet: bool,
}

/// Seconds after which a search ends where nothing is said.
const USUAL_SECONDS: f64 = 60.0;

fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if value > 0.0 && value <= 1e7 => Ok(value),
        _ => Err("expected a number of seconds above 0".to_string()),
    }
}

/// More threads than any machine of a shop has would only take it down.
const MOST_THREADS: usize = 1_024;

/// Threads for each core above which more of them only stand in each other's way.
const THREADS_A_CORE: usize = 4;

fn threads(text: &str) -> Result<usize, String> {
    match text.parse::<usize>() {
        Ok(value) if value <= MOST_THREADS => Ok(value),
        _ => Err(format!("expected a whole number of threads up to {MOST_THREADS}; 0 takes all cores")),
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
        self.options_within(USUAL_SECONDS)
    }

    /// The same where a command usually takes no longer than so many seconds.
    pub fn options_within(&self, seconds: f64) -> Result<Options, Failure> {
        let usual = if self.work.is_some() { None } else { Some(seconds) };
        let time = self.time.or(usual).map(Duration::from_secs_f64);
        Ok(Options { time, work: self.work, gap_percent: self.gap, ..self.solver.options()? })
    }
}

impl SolverArguments {
    /// The library's options, with its own time and gap; Ctrl-C sets the interrupt.
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
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let threads = self.threads.min(cores * THREADS_A_CORE);
        if threads < self.threads && !self.quiet {
            let asked = self.threads;
            let text = format!("{asked} threads on {cores} cores would be slower: {threads} are used");
            let _ = writeln!(std::io::stderr(), "ripwright: warning: {text}");
        }
        let interrupt: Arc<AtomicBool> = Arc::default();
        let flag = interrupt.clone();
        // A second handler in one process would be refused: the first one then still works.
        let _ = ctrlc::set_handler(move || {
            if flag.swap(true, Ordering::Relaxed) {
                // Asked twice: the person does not want to wait for the plan so far.
                std::process::exit(130);
            }
        });
        Ok(Options { threads, seed: self.seed, backend, interrupt, ..Options::default() })
    }
}

impl From<PlanningError> for Failure {
    /// A plan that does not pass its check is kept where a person finds it.
    fn from(error: PlanningError) -> Failure {
        match error {
            PlanningError::Unsound(why) => {
                let (folder, name) = (Path::new("."), "rejected-plan.json");
                match write_file(folder, name, why.text.as_bytes()) {
                    Ok(()) => Failure::Unsound { kept: folder.join(name), why },
                    Err(error) => error.into(),
                }
            }
            other => Failure::Planning(other),
        }
    }
}

impl From<SolveError> for Failure {
    fn from(error: SolveError) -> Failure {
        Failure::Planning(error.into())
    }
}

/// Writes a plan's files.
pub fn write_plan(checked: &Checked, folder: &Path, printing: Printing) -> Result<(), Failure> {
    write_set(&plan_files(checked, printing), folder)
}

/// 0 for a plan within the gap, 4 for one that was stopped outside it; 2 for one without rows that cannot be read, 3 for one
/// without parts that no board gives.
pub fn code_of(checked: &Checked) -> ExitCode {
    if !checked.job().left_out.is_empty() {
        return ExitCode::from(2);
    }
    // Where measured boards are too few there is nothing wrong with the job.
    if checked.plan().still_needed.iter().any(|open| open.reason.is_some()) {
        return ExitCode::from(3);
    }
    match checked.plan().status {
        Status::Optimal | Status::WithinGap => ExitCode::SUCCESS,
        Status::Stopped => ExitCode::from(4),
    }
}

/// What becomes of rows that cannot be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadRows {
    /// They are left out, and named.
    LeftOut,
    /// There is no job then.
    Refused,
}

/// Reads a job and shows its warnings, and the rows that are left out.
pub fn job(folder: &Path, quiet: bool, bad_rows: BadRows) -> Result<Job, Failure> {
    Ledger::tells_the_last_movement(folder)?;
    let read = match bad_rows {
        BadRows::LeftOut => read_job_despite_bad_rows,
        BadRows::Refused => read_job_as_it_is,
    };
    match read(folder) {
        Ok(job) => {
            tell_left_out(&job.left_out);
            tell_warnings(&job.warnings, quiet);
            Ok(job)
        }
        Err(error) => {
            if let JobError::Faults { warnings, .. } = &error {
                tell_warnings(warnings, quiet);
            }
            Err(error.into())
        }
    }
}

fn tell_warnings(warnings: &[Warning], quiet: bool) {
    for warning in warnings.iter().filter(|_| !quiet) {
        let _ = writeln!(std::io::stderr(), "ripwright: warning: {warning}");
    }
}

/// Even a quiet run says what was not counted.
fn tell_left_out(faults: &[Fault]) {
    for fault in faults {
        let _ = writeln!(std::io::stderr(), "ripwright: left out: {fault}");
    }
}

/// Reads a job for a comparison: bad rows of price sheets are shown and left out.
pub fn job_despite_bad_prices(folder: &Path, quiet: bool) -> Result<Job, Failure> {
    Ledger::tells_the_last_movement(folder)?;
    let (job, left_out) = read_job_despite_bad_prices(folder)?;
    tell_left_out(&left_out);
    tell_warnings(&job.warnings, quiet);
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

/// Prints a report.
pub fn show(report: &dyn Report) -> Result<(), Failure> {
    print_bytes(&report.bytes()?)
}

/// Writes to standard output.
pub fn print(text: &str) -> Result<(), Failure> {
    print_bytes(text.as_bytes())
}

fn print_bytes(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    out.write_all(bytes).and_then(|()| out.flush()).map_err(Failure::Output)
}
