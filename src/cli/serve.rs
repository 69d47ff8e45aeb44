//! `ripwright serve JOB`

use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;

use super::common::{Failure, SolverArguments, print};
use crate::page::{Serving, serve};

/// Arguments of `serve`.
#[derive(Debug, Args)]
pub struct ServeArguments {
    /// The job: a folder, or a workbook
    job: PathBuf,
    /// Address and port to listen on: another than this machine's own, such as 0.0.0.0:4404, lets a phone in by an
    /// address with a random key
    #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1:4404")]
    listen: SocketAddr,
    #[command(flatten)]
    solver: SolverArguments,
}

/// Serves the page until it is interrupted.
pub fn run(arguments: &ServeArguments) -> Result<ExitCode, Failure> {
    let options = arguments.solver.options()?;
    let stop = options.interrupt.clone();
    let serving = Serving { job: arguments.job.clone(), listen: arguments.listen, options };
    let is_own = arguments.listen.ip().is_loopback();
    serve(&serving, &stop, |address| {
        let text = match is_own {
            true => format!("Open {address} in a browser of this machine. Ctrl-C closes it.\n"),
            false => {
                let code = QrCode::new(address).map(|code| code.render::<Dense1x2>().build() + "\n");
                format!(
                    "{}Open {address} on a phone in this network. Who has this address can change the job, and the line \
                     is not encrypted: use a network that you trust. Ctrl-C closes it.\n",
                    code.unwrap_or_default()
                )
            }
        };
        // A page whose address nobody reads is served all the same.
        let _ = print(&text);
    })?;
    Ok(ExitCode::SUCCESS)
}
