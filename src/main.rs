//! The program: parse, call, exit code; nothing else.

use std::process::ExitCode;

fn main() -> ExitCode {
    ripwright::cli::run()
}
