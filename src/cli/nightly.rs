//! `ripwright nightly JOB --out DIR`

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant};

use clap::Args;
use jiff::civil::Date;

use super::common::{ConfidenceArguments, Failure, Format, SolveArguments, print};
use super::progress::ProgressLine;
use crate::nightly::{
    Asked, NamedWeek, Night, NightEnded, Stage, line_of_failure, note_attempt, recall, release,
    run as run_night, status,
};
use crate::rack::{Ledger, RackError};

/// An order book and where its result goes.
#[derive(Debug, Args)]
pub struct BookArguments {
    /// The job folder: shop, parts, prices and rack
    job: PathBuf,
    /// The order book; orders.csv of the job by default
    #[arg(long, value_name = "FILE")]
    book: Option<PathBuf>,
    /// Where runs are published (DIR/latest is the last whole one), or units are written
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Leave orders that are due later
    #[arg(long, value_name = "DATE")]
    until: Option<Date>,
    /// Any bad row stops it
    #[arg(long)]
    strict: bool,
}

impl BookArguments {
    /// What is asked for, with no weeks joined. A rack that a killed movement left behind is not planned with.
    pub fn asked(&self) -> Result<Asked, Failure> {
        Ledger::tells_the_last_movement(&self.job)?;
        Ok(Asked {
            job: self.job.clone(),
            book: self.book.clone().unwrap_or_else(|| self.job.join("orders.csv")),
            out: self.out.clone(),
            until: self.until,
            strict: self.strict,
            early_weeks: 0,
            carry_percent: 0.0,
            improve: false,
            at_least: 0,
            largest_drop: 100.0,
            keep_runs: KEEP_RUNS,
            confidence_percent: 0.0,
        })
    }
}

/// Older runs that are kept where nobody says otherwise.
const KEEP_RUNS: usize = 30;

/// How stages are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum LogFormat {
    /// An object a line, with the seconds since the start
    Json,
}

/// Arguments of `nightly`.
#[derive(Debug, Args)]
pub struct NightlyArguments {
    #[command(flatten)]
    book: BookArguments,
    /// Cut nothing more than so many weeks early to save lumber
    #[arg(long, value_name = "WEEKS", default_value_t = 4)]
    early: u32,
    /// What wood that is cut early costs, in percent of its price a year
    #[arg(long, value_name = "PERCENT", default_value_t = 12.0, value_parser = super::common::percent)]
    carry: f64,
    /// Try plans again that time stopped, and join weeks anew; else what was published stays as it is
    #[arg(long)]
    improve: bool,
    /// Publish nothing where fewer rows can be planned
    #[arg(long, value_name = "ROWS", default_value_t = 1)]
    at_least: u64,
    /// Publish nothing where so many percent fewer rows can be planned than in the last run
    #[arg(long, value_name = "PERCENT", default_value_t = 100.0, value_parser = super::common::percent)]
    largest_drop: f64,
    /// Keep so many older runs beside the latest
    #[arg(long, value_name = "RUNS", default_value_t = KEEP_RUNS)]
    keep_runs: usize,
    #[command(flatten)]
    confidence: ConfidenceArguments,
    /// Plan nothing: tell how the nights are doing, and end with 1 where somebody must look
    #[arg(long)]
    status: bool,
    /// Plan nothing: the plan of this week (a day of it) in the last run stays as it is, since its sheets are handed out
    #[arg(long, value_name = "WEEK", conflicts_with_all = ["status", "recall"])]
    release: Option<NamedWeek>,
    /// Plan nothing: take back what --release said of a week
    #[arg(long, value_name = "WEEK", conflicts_with = "status")]
    recall: Option<NamedWeek>,
    /// With --status, the hours that the last run may be old
    #[arg(long, value_name = "HOURS", default_value_t = 26.0, value_parser = hours)]
    within: f64,
    /// Tell each stage on standard error as it ends, a line each
    #[arg(long, value_enum, value_name = "FORMAT")]
    log: Option<LogFormat>,
    /// Rejected rows are no failure: end with 0 if all others are planned
    #[arg(long)]
    allow_rejects: bool,
    /// What is printed; json and csv print one line for a log
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    #[command(flatten)]
    solve: SolveArguments,
}

/// A line of the log.
#[derive(serde::Serialize)]
struct LogLine {
    seconds: f64,
    #[serde(flatten)]
    stage: Stage,
}

fn night(arguments: &NightlyArguments) -> Result<Night, Failure> {
    let options = arguments.solve.options()?;
    let asked = Asked {
        early_weeks: arguments.early,
        carry_percent: arguments.carry,
        improve: arguments.improve,
        at_least: arguments.at_least,
        largest_drop: arguments.largest_drop,
        keep_runs: arguments.keep_runs,
        confidence_percent: arguments.confidence.percent,
        ..arguments.book.asked()?
    };
    let progress = ProgressLine::new(arguments.solve.solver.quiet, false);
    let start = Instant::now();
    let told = |stage: Stage| {
        if matches!(stage, Stage::Read { .. }) {
            progress.note("planning the weeks");
        }
        if arguments.log == Some(LogFormat::Json) {
            let seconds = (start.elapsed().as_secs_f64() * 100.0).round() / 100.0;
            let line = serde_json::to_string(&LogLine { seconds, stage }).unwrap_or_default();
            let _ = writeln!(std::io::stderr(), "{line}");
        }
    };
    Ok(run_night(&asked, &options, &told)?)
}

fn hours(text: &str) -> Result<f64, String> {
    let hours = text.parse::<f64>().ok().filter(|hours| (0.0..=1e6).contains(hours));
    hours.ok_or_else(|| "it is no number of hours".to_string())
}

/// How the nights are doing, without planning anything.
fn tell_status(arguments: &NightlyArguments) -> Result<ExitCode, Failure> {
    let within = Duration::from_secs_f64(arguments.within * 3600.0);
    let status = status(&arguments.book.out, within);
    print(&match arguments.format {
        Format::Text => status.text(),
        Format::Json | Format::Csv => {
            serde_json::to_string(&status).map_err(crate::report::RenderError::from)? + "\n"
        }
    })?;
    Ok(if status.healthy { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Tells the rack's ledger of a job, where it has one.
fn tell_ledger(job: &Path, tell: impl FnOnce(&mut Ledger) -> Result<(), RackError>) -> Result<(), String> {
    let told = Ledger::of_job(job).and_then(|ledger| ledger.map_or(Ok(()), |mut ledger| tell(&mut ledger)));
    told.map_err(|error| error.to_string())
}

/// Plans an order book and publishes the run. Whatever happens, the last line is one of JSON.
pub fn run(arguments: &NightlyArguments) -> Result<ExitCode, Failure> {
    if arguments.status {
        return tell_status(arguments);
    }
    if let Some(week) = arguments.release {
        let asked = arguments.book.asked()?;
        let promise = |plan: &str| tell_ledger(&asked.job, |ledger| ledger.promise(plan).map(|_| ()));
        print(&release(&asked, week, &promise)?.text())?;
        return Ok(ExitCode::SUCCESS);
    }
    if let Some(week) = arguments.recall {
        let asked = arguments.book.asked()?;
        let give_back = |plan: &str| tell_ledger(&asked.job, |ledger| ledger.give_back(plan));
        print(&recall(&asked, week, &give_back)?.recalled_text())?;
        return Ok(ExitCode::SUCCESS);
    }
    let planned = night(arguments);
    let line = match &planned {
        Ok(night) => night.line(),
        Err(failure) => line_of_failure(&failure.to_string()),
    };
    // A run that found another one at work notes nothing: the other run notes its own end.
    // A note that cannot be written changes nothing, since a published run stays published.
    // The line printed below then stands alone.
    if !planned.as_ref().is_err_and(Failure::is_busy) {
        let _ = note_attempt(&arguments.book.out, &line);
    }
    let text = match (&planned, arguments.format) {
        (Ok(night), Format::Text) => format!("{}{}\n", night.text(), night.changes_text()),
        _ => String::new(),
    };
    print(&format!("{text}{line}"))?;
    let night = planned?;
    Ok(match night.ended() {
        NightEnded::Planned => ExitCode::SUCCESS,
        NightEnded::Rejects if arguments.allow_rejects && night.has_stopped_plans() => ExitCode::from(4),
        NightEnded::Rejects if arguments.allow_rejects => ExitCode::SUCCESS,
        NightEnded::Rejects => ExitCode::from(2),
        NightEnded::Unplanned => ExitCode::from(3),
        NightEnded::Stopped => ExitCode::from(4),
    })
}
