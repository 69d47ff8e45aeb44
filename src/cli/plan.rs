//! `ripwright plan JOB`

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, ValueEnum};

use super::common::{
    BadRows, ConfidenceArguments, Failure, Format, SolveArguments, code_of, job, print, show, write_plan,
};
use super::progress::ProgressLine;
use crate::intake::folder_of;
use crate::job::JobError;
use crate::planning::{Checked, Request, plan_what_can_be};
use crate::rack::Ledger;
use crate::report::{BuyCsv, Detail, Drawing, LabelEach, PLAN_FOLDER, PlanJson, Printing, Summary, today};

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct PlanArguments {
    /// The job: a folder, or a workbook
    job: PathBuf,
    /// Folder for plan.json, buy.csv, cuts.csv, setups.csv, sheets.html and labels.html; - writes no files and prints
    /// the plan (as JSON unless --format says otherwise) [default: the folder plan in the job's folder, or beside the workbook]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Tell the buy board by board, and what is glued and resawn
    #[arg(long)]
    boards: bool,
    /// Tell every setting of the saws, and how cost and wood add up
    #[arg(long)]
    settings: bool,
    /// Tell all of that
    #[arg(long)]
    all: bool,
    /// Plan nothing where a row cannot be read, or where there is a part that no board gives
    #[arg(long)]
    strict: bool,
    /// Draw every board with characters after the summary
    #[arg(long)]
    draw: bool,
    /// Pay up to this much more for lumber if fewer settings are then made at the saws
    #[arg(long, value_name = "PERCENT", default_value_t = Request::SETUP_TOLERANCE_PERCENT, value_parser = super::common::percent)]
    setup_tolerance: f64,
    #[command(flatten)]
    confidence: ConfidenceArguments,
    /// Promise the rack boards of the plan to it in the rack's ledger
    #[arg(long)]
    reserve: bool,
    /// What one label of labels.html is stuck on
    #[arg(long, value_enum, default_value = "pile")]
    labels: LabelChoice,
    /// What is printed
    #[arg(long, value_enum)]
    format: Option<Format>,
    #[command(flatten)]
    solve: SolveArguments,
}

/// What one label is stuck on.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum LabelChoice {
    /// Every finished part
    Piece,
    /// The pile of a part
    Pile,
    /// The pile of a part of one order
    Order,
}

/// A machine that reads the output is told on standard error what the plan lacks.
fn tell_left_out(checked: &Checked) {
    for open in &checked.document().still_needed {
        let why = open.reason.as_deref().unwrap_or_default();
        let _ = writeln!(std::io::stderr(), "ripwright: left out: {} / {}: {why}", open.product, open.part);
    }
}

impl PlanArguments {
    fn detail(&self) -> Detail {
        Detail { boards: self.boards || self.all, settings: self.settings || self.all }
    }

    /// What to open next, and what more can be told.
    fn where_it_is(&self, out: &Path) -> String {
        let more = match self.detail() {
            Detail { boards: true, settings: true } => String::new(),
            _ => " More here: --boards, --settings, --all.".to_string(),
        };
        format!("Print {}; the order is in buy.csv beside it.{more}\n", out.join("sheets.html").display())
    }

    fn printing(&self) -> Printing {
        let labels = match self.labels {
            LabelChoice::Piece => LabelEach::Piece,
            LabelChoice::Pile => LabelEach::Pile,
            LabelChoice::Order => LabelEach::Order,
        };
        Printing { dated: Some(today()), labels }
    }
}

/// Plans a job.
pub fn run(arguments: &PlanArguments) -> Result<ExitCode, Failure> {
    let bad_rows = if arguments.strict { BadRows::Refused } else { BadRows::LeftOut };
    let job = job(&arguments.job, arguments.solve.solver.quiet, bad_rows)?;
    if arguments.strict {
        let missing = job.shortfalls();
        if !missing.is_empty() {
            return Err(JobError::Unobtainable(missing).into());
        }
    }
    let request = Request::new(arguments.solve.options()?)
        .weighing_gluing()
        .matching_sets()
        .with_confidence(arguments.confidence.percent)
        .with_setup_tolerance(arguments.setup_tolerance);
    let checked = {
        let progress = ProgressLine::new(arguments.solve.solver.quiet, arguments.solve.progress);
        plan_what_can_be(&job, &request, &|event| progress.tell(event))?
    };
    let out = arguments.out.clone().unwrap_or_else(|| folder_of(&arguments.job).join(PLAN_FOLDER));
    let to_output = out.as_os_str() == "-";
    if !to_output {
        write_plan(&checked, &out, arguments.printing())?;
    }
    tell_left_out(&checked);
    if arguments.reserve {
        Ledger::open(&arguments.job)?.reserve(checked.text())?;
    }
    match arguments.format.unwrap_or(if to_output { Format::Json } else { Format::Text }) {
        Format::Text => {
            show(&Summary(&checked, arguments.detail()))?;
            if !to_output {
                print(&arguments.where_it_is(&out))?;
            }
            if arguments.draw {
                print("\n")?;
                show(&Drawing(&checked))?;
            }
        }
        Format::Json => show(&PlanJson(&checked))?,
        Format::Csv => show(&BuyCsv(&checked))?,
    }
    Ok(code_of(&checked))
}
