//! `ripwright nightly JOB --out DIR`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use jiff::civil::Date;

use super::common::{Failure, Format, SolveArguments, print};
use super::progress::Progress;
use crate::nightly::{Asked, Ended, run as run_night};

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
    /// What is asked for, with weeks joined as told.
    pub fn asked(&self, early_weeks: u32, carry_percent: f64) -> Asked {
        Asked {
            job: self.job.clone(),
            book: self.book.clone().unwrap_or_else(|| self.job.join("orders.csv")),
            out: self.out.clone(),
            until: self.until,
            strict: self.strict,
            early_weeks,
            carry_percent,
        }
    }
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
    /// What is printed; json and csv print one line for a log
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    #[command(flatten)]
    solve: SolveArguments,
}

/// Plans an order book and publishes the run.
pub fn run(arguments: &NightlyArguments) -> Result<ExitCode, Failure> {
    let options = arguments.solve.options()?;
    let asked = arguments.book.asked(arguments.early, arguments.carry);
    let night = {
        let progress = Progress::new(arguments.solve.solver.quiet, false);
        run_night(&asked, &options, &|| progress.note("planning the weeks"))?
    };
    print(&match arguments.format {
        Format::Text => format!("{}\n{}", night.text(), night.line()),
        Format::Json | Format::Csv => night.line(),
    })?;
    Ok(match night.ended() {
        Ended::Planned => ExitCode::SUCCESS,
        Ended::Rejects => ExitCode::from(2),
        Ended::Unplanned => ExitCode::from(3),
        Ended::Stopped => ExitCode::from(4),
    })
}
