//! `ripwright lots JOB`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{Failure, Format, SolveArguments, job_despite_bad_prices, show};
use super::progress::Counter;
use crate::planning::{Asked, buy_lots};
use crate::report::{LotsCsv, LotsJson, LotsText};

/// Arguments of `lots`.
#[derive(Debug, Args)]
pub struct LotsArguments {
    /// The job folder
    job: PathBuf,
    /// Percent of fresh samples in which the boards must be enough
    #[arg(long, value_name = "PERCENT", default_value_t = 90.0, value_parser = share)]
    confidence: f64,
    /// Fresh samples on which the buy is tried
    #[arg(long, value_name = "N", default_value_t = 300, value_parser = clap::value_parser!(u64).range(20..=100_000))]
    samples: u64,
    /// Take boards not yet seen to be clean
    #[arg(long)]
    clean: bool,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    #[command(flatten)]
    solve: SolveArguments,
}

fn share(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (1.0..=99.9).contains(&value) => Ok(value),
        _ => Err("expected a percentage from 1 to 99.9".to_string()),
    }
}

/// Finds how many boards of random sizes are enough.
pub fn run(arguments: &LotsArguments) -> Result<ExitCode, Failure> {
    let job = job_despite_bad_prices(&arguments.job, arguments.solve.quiet)?;
    if job.lines.iter().all(|line| line.upper.is_none()) {
        let text = "no price line has a range of widths or lengths: use plan, which knows every board";
        return Err(Failure::Usage(text.to_string()));
    }
    let options = arguments.solve.options()?;
    let samples = arguments.samples as usize;
    let counter = Counter::new(samples + samples / 5, arguments.solve.quiet);
    let asked = Asked { confidence: arguments.confidence, samples, defects: !arguments.clean };
    let buy = buy_lots(&job, asked, &options, &|| counter.done())?;
    drop(counter);
    match arguments.format {
        Format::Text => show(&LotsText(&buy))?,
        Format::Json => show(&LotsJson(&buy))?,
        Format::Csv => show(&LotsCsv(&buy))?,
    }
    Ok(if buy.interval.0 >= arguments.confidence { ExitCode::SUCCESS } else { ExitCode::from(4) })
}
