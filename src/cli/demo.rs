//! `ripwright demo DIR`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{Failure, print};
use crate::measure::Unit;
use crate::report::write_file;

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct DemoArguments {
    /// Folder to write the job to; files of the same names are replaced
    folder: PathBuf,
    /// Unit of the demo job
    #[arg(long, value_enum, default_value_t = JobUnit::In)]
    unit: JobUnit,
    /// Take bought boards as clear and of one size: [wood] defects = "none"
    #[arg(long)]
    clear: bool,
}

/// Unit of a job that is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum JobUnit {
    /// Inches
    In,
    /// Millimetres
    Mm,
}

impl JobUnit {
    /// The same for the library.
    pub fn unit(self) -> Unit {
        match self {
            JobUnit::In => Unit::Inch,
            JobUnit::Mm => Unit::Millimetre,
        }
    }
}

/// Writes the demo.
pub fn run(arguments: &DemoArguments) -> Result<ExitCode, Failure> {
    for (name, content) in crate::demo::files(arguments.unit.unit()) {
        let wood =
            if arguments.clear && *name == "shop.toml" { "\n[wood]\ndefects = \"none\"\n" } else { "" };
        write_file(&arguments.folder, name, format!("{content}{wood}").as_bytes())?;
    }
    let folder = arguments.folder.display();
    // A gap of one percent is met in seconds where boards are clear, and seldom where they are drawn.
    let gap = if arguments.clear { "" } else { " --gap 4" };
    print(&format!(
        "wrote a job to {folder}; plan it with: ripwright plan {folder}{gap} --out {folder}/plan\n"
    ))?;
    Ok(ExitCode::SUCCESS)
}
