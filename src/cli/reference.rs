//! `ripwright reference`: what is generated from the program's own definitions.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, CommandFactory, Subcommand};
use clap_complete::Shell;

use super::common::{Failure, print};
use crate::document::Document;
use crate::intake::{FILES, SETTINGS, SettingReference};
use crate::measure::Unit;
use crate::report::{RenderError, aligned_text, write_file};

/// Arguments of `reference`.
#[derive(Debug, Args)]
pub struct ReferenceArguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// The files of a job and their columns
    Files,
    /// The keys of shop.toml, their defaults, and why one would change them
    Settings,
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
        What::Files => {
            for file in &FILES {
                let needed = if file.needed { "needed" } else { "may be missing" };
                print(&format!("{} ({needed}): {}\n", file.name, file.what))?;
                let rows: Vec<Vec<String>> = file
                    .columns()
                    .map(|(name, required, meaning)| {
                        vec![format!("{name}{}", if required { " *" } else { "" }), meaning.to_string()]
                    })
                    .collect();
                print(&format!("{}\n", aligned_text(&["column", "what it holds"], &rows)))?;
            }
            print(
                "* is required. A workbook has a sheet for each file, such as \"parts\" and \"prices yard\".\n",
            )?;
        }
        What::Settings => {
            for settings in SETTINGS.chunk_by(|one, other| one.section == other.section) {
                if !settings[0].section.is_empty() {
                    print(&format!("[{}]\n", settings[0].section))?;
                }
                let row = |setting: &SettingReference| {
                    let default = |unit| setting.default_in(unit).trim_matches('"').to_string();
                    let key = setting.key.to_string();
                    vec![key, default(Unit::Inch), default(Unit::Millimetre), setting.why.to_string()]
                };
                let rows: Vec<Vec<String>> = settings.iter().map(row).collect();
                print(&format!(
                    "{}\n",
                    aligned_text(&["key", "in inches", "in mm", "what it is for"], &rows)
                ))?;
            }
        }
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
