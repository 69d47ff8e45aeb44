//! `ripwright new DIR`

use std::collections::BTreeMap;
use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{Failure, print};
use super::demo::JobUnit;
use crate::begin::{EXAMPLES, new_job, new_job_asking};
use crate::report::write_file;

/// Arguments of `new`.
#[derive(Debug, Args)]
pub struct NewArguments {
    /// Folder to write the job to; it must not hold a job yet
    folder: PathBuf,
    /// Unit of bare numbers
    #[arg(long, value_enum, default_value_t = JobUnit::In)]
    unit: JobUnit,
    /// Take the parts over from a list with headings of its own: CSV, or a sheet of a workbook
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// Which heading of that list stands for a column, such as length="Finished L"; or what all rows have in it, such
    /// as species="=red oak"
    #[arg(long, value_name = "COLUMN=HEADING", requires = "from", value_parser = mapped)]
    map: Vec<(String, String)>,
}

fn mapped(text: &str) -> Result<(String, String), String> {
    let (column, heading) = text.split_once('=').ok_or("expected COLUMN=HEADING")?;
    Ok((column.trim().to_lowercase(), heading.trim().to_string()))
}

/// Asks which heading stands for a column, where there is a person at a terminal.
fn ask(column: &str, headings: &[String]) -> Option<String> {
    let mut out = std::io::stderr();
    if !(std::io::stdin().is_terminal() && out.is_terminal()) {
        return None;
    }
    for (number, heading) in headings.iter().enumerate() {
        writeln!(out, "  {:>2} {heading}", number + 1).ok()?;
    }
    write!(out, "Which of these is the {column}? A number, a heading, or =TEXT for all rows: ").ok()?;
    out.flush().ok()?;
    let mut answer = String::new();
    std::io::stdin().read_line(&mut answer).ok()?;
    let answer = answer.trim();
    (!answer.is_empty()).then(|| answer.to_string())
}

/// Writes the job.
pub fn run(arguments: &NewArguments) -> Result<ExitCode, Failure> {
    let unit = arguments.unit.unit();
    let (files, taken) = match &arguments.from {
        None => (new_job(unit), None),
        Some(list) => {
            let named: BTreeMap<String, String> = arguments.map.iter().cloned().collect();
            let taken = new_job_asking(list, unit, &named, &mut ask);
            let (files, taken) = taken.map_err(|error| Failure::Usage(error.to_string()))?;
            (files, Some(taken))
        }
    };
    // Nobody's work is written over.
    if let Some((name, _)) = files.iter().find(|(name, _)| arguments.folder.join(name).exists()) {
        let there = arguments.folder.join(name);
        return Err(Failure::Usage(format!("{} is there already; nothing was written", there.display())));
    }
    for (name, content) in &files {
        write_file(&arguments.folder, name, content)?;
    }
    let folder = arguments.folder.display();
    if let Some(taken) = taken {
        print(&format!("took over {} rows of parts:\n", taken.rows))?;
        for (column, heading) in &taken.from {
            print(&format!("  {column:<10} from \"{heading}\"\n"))?;
        }
        for (column, text) in &taken.filled {
            print(&format!("  {column:<10} is \"{text}\" in every row\n"))?;
        }
        if !taken.left.is_empty() {
            print(&format!("  left: {}\n", taken.left.join(", ")))?;
        }
    }
    print(&format!(
        "wrote a job to {folder}: look through orders.csv, parts.csv and prices/, and put your dealers' prices there;\n\
         files that may be added are in {folder}/{EXAMPLES}, and shop.toml has every setting.\n\
         Plan it with: ripwright plan {folder}\n"
    ))?;
    Ok(ExitCode::SUCCESS)
}
