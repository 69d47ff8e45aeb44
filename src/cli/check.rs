//! `ripwright check DIR/plan.json --job JOB`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{BadRows, Failure, job, job_despite_bad_prices, plan_text, print};
use crate::check::{PlanFault, check};
use crate::document::Document;
use crate::intake::job_of_tally;
use crate::rack::Ledger;
use crate::report::{MANIFEST, not_of_one_set};

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArguments {
    /// The plan.json to check; - reads standard input
    plan: PathBuf,
    /// The job folder it was made for
    #[arg(long, value_name = "JOB")]
    job: PathBuf,
    /// The measured boards, if the plan is one of `yard`
    #[arg(long, value_name = "FILE")]
    tally: Option<PathBuf>,
    /// Whose sheet prices boards without a value, as for `yard`
    #[arg(long, value_name = "NAME", requires = "tally")]
    dealer: Option<String>,
    /// Print nothing for a sound plan
    #[arg(long)]
    quiet: bool,
}

/// Checks a plan; a plan with faults exits 1.
pub fn run(arguments: &CheckArguments) -> Result<ExitCode, Failure> {
    let text = plan_text(&arguments.plan)?;
    let unreadable = |why: String| Failure::Plan { path: arguments.plan.clone(), why };
    let document: Document = serde_json::from_str(&text).map_err(|error| unreadable(error.to_string()))?;
    // A plan that says so was made without the rows that cannot be read.
    let bad_rows = if document.left_out.is_empty() { BadRows::Refused } else { BadRows::LeftOut };
    let mut job = match &arguments.tally {
        None => job(&arguments.job, arguments.quiet, bad_rows)?,
        Some(tally) => {
            let job = job_despite_bad_prices(&arguments.job, arguments.quiet)?;
            job_of_tally(&job, tally, arguments.dealer.as_deref())?
        }
    };
    // Boards that are promised to this plan, or were used by it, are off the rack but not missing.
    if let Some(ledger) = Ledger::of_job(&arguments.job)? {
        for board in ledger.boards_of(&text)? {
            if job.rack.iter().all(|other| other.board != board.board) {
                job.rack.push(board);
            }
        }
    }
    let mut faults = check(&document, &job);
    let beside = arguments.plan.parent().filter(|_| arguments.plan.as_os_str() != "-");
    faults.extend(beside.map(not_of_one_set).unwrap_or_default().into_iter().map(|file| {
        let what = format!("is not the file that was written with the others of {MANIFEST}: plan again");
        PlanFault::new(&file, what)
    }));
    if faults.is_empty() {
        if !arguments.quiet {
            let boards: u32 = document.boards.iter().map(|board| board.copies).sum();
            let pieces: u64 = document.parts.iter().map(|part| part.cut).sum();
            print(&format!("sound: {boards} boards, {pieces} pieces, total {}\n", document.cost.total))?;
        }
        return Ok(ExitCode::SUCCESS);
    }
    let count = faults.len();
    let lines: String = faults.iter().map(|fault| format!("  {fault}\n")).collect();
    print(&format!("not sound: {count} fault{}\n{lines}", if count == 1 { "" } else { "s" }))?;
    Ok(ExitCode::from(1))
}
