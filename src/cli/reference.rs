//! `ripwright reference`: what is generated from the program's own definitions.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, CommandFactory, Subcommand};
use clap_complete::Shell;

use super::common::{Failure, print};
use crate::document::Document;
use crate::report::{RenderError, write_file};

/// Arguments of `reference`.
#[derive(Debug, Args)]
pub struct ReferenceArguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// The JSON Schema of plan.json
    Schema,
    /// Completions for a shell
    Completions {
        /// The shell
        #[arg(value_enum)]
        shell: Shell,
    },
    /// Manual pages, one for each command
    Manual {
        /// Folder for the pages
        folder: PathBuf,
    },
}

/// Writes what is asked for.
pub fn run(arguments: &ReferenceArguments) -> Result<ExitCode, Failure> {
    match &arguments.what {
        What::Schema => {
            let schema = schemars::schema_for!(Document);
            print(&(serde_json::to_string_pretty(&schema).map_err(RenderError::Json)? + "\n"))?;
        }
        What::Completions { shell } => {
            let mut text = Vec::new();
            clap_complete::generate(*shell, &mut super::Arguments::command(), "ripwright", &mut text);
            print(&String::from_utf8_lossy(&text))?;
        }
        What::Manual { folder } => {
            let command = super::Arguments::command();
            let pages = command.get_subcommands().map(|sub| {
                let name = format!("ripwright-{}", sub.get_name());
                (name, sub.clone())
            });
            let own = ("ripwright".to_string(), command.clone());
            for (name, command) in pages.chain([own]) {
                let mut page = Vec::new();
                // Writing into memory cannot fail.
                clap_mangen::Man::new(command.display_name(name.clone()))
                    .render(&mut page)
                    .map_err(Failure::Output)?;
                write_file(folder, &format!("{name}.1"), &page)?;
            }
        }
    }
    Ok(ExitCode::SUCCESS)
}
