//! `ripwright demo DIR`

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::common::{Failure, print};
use crate::demo::Demo;
use crate::measure::Unit;
use crate::report::write_file;

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct DemoArguments {
    /// Folder to write the job to
    folder: PathBuf,
    /// Write over files of the same names that are not the demo's
    #[arg(long)]
    replace: bool,
    /// Unit of the demo job
    #[arg(long, value_enum, default_value_t = JobUnit::In)]
    unit: JobUnit,
    /// What the job makes
    #[arg(long, value_enum, default_value_t = Making::Furniture)]
    making: Making,
    /// Take bought boards as clear and of one size: [wood] defects = "none"
    #[arg(long)]
    clear: bool,
}

/// What a demo job makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Making {
    /// Nine products of solid wood
    Furniture,
    /// Five cabinets of sheets, with frames of lumber
    Cabinets,
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
    let text = |name: &str, content: &str| {
        let wood = if arguments.clear && name == "shop.toml" { "\n[wood]\ndefects = \"none\"\n" } else { "" };
        format!("{content}{wood}")
    };
    let files = crate::demo::files(
        match arguments.making {
            Making::Furniture => Demo::Furniture,
            Making::Cabinets => Demo::Cabinets,
        },
        arguments.unit.unit(),
    );
    // What a person has changed is not written over without a word.
    let changed = files.iter().find(|(name, content)| {
        let there = std::fs::read(arguments.folder.join(name));
        there.is_ok_and(|there| there != text(name, content).as_bytes())
    });
    if let (Some((name, _)), false) = (changed, arguments.replace) {
        let path = arguments.folder.join(name);
        let why = "is there already and is not the demo's: --replace writes over it; nothing was written";
        return Err(Failure::Usage(format!("{} {why}", path.display())));
    }
    for (name, content) in files {
        write_file(&arguments.folder, name, text(name, content).as_bytes())?;
    }
    let folder = arguments.folder.display();
    // A gap of one percent is met in seconds where boards are clear, and seldom where they are drawn.
    let gap = if arguments.clear { "" } else { " --gap 4" };
    print(&format!(
        "wrote a job to {folder}; plan it with: ripwright plan {folder}{gap} --out {folder}/plan\n"
    ))?;
    Ok(ExitCode::SUCCESS)
}
