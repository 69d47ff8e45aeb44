//! `ripwright plan JOB --out DIR`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};

use super::common::{Failure, Format, SolveArguments, code_of, job, print, show, today, write_plan};
use super::progress::Progress;
use crate::planning::{Request, plan};
use crate::rack::Ledger;
use crate::report::{BuyCsv, Drawing, LabelEach, PlanJson, Printing, Summary};

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
    /// Buy spare boards until so many percent of fresh lots of boards give every part; 0 buys none
    #[arg(long, value_name = "PERCENT", default_value_t = 90.0, value_parser = super::common::percent)]
    confidence: f64,
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

impl PlanArguments {
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
    let job = job(&arguments.job, arguments.solve.quiet)?;
    let request = Request::new(arguments.solve.options()?)
        .weighing_gluing()
        .with_confidence(arguments.confidence)
        .with_setup_tolerance(arguments.setup_tolerance);
    let checked = {
        let progress = Progress::new(arguments.solve.quiet, arguments.solve.progress);
        plan(&job, &request, &|event| progress.tell(event))?
    };
    let to_output = arguments.out.as_os_str() == "-";
    if !to_output {
        write_plan(&checked, &arguments.out, arguments.printing())?;
    }
    if arguments.reserve {
        Ledger::open(&arguments.job)?.reserve(checked.text())?;
    }
    match arguments.format.unwrap_or(if to_output { Format::Json } else { Format::Text }) {
        Format::Text => {
            show(&Summary(&checked))?;
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
