//! The program: parse, call, exit code; nothing else.

use std::process::ExitCode;

// A search makes and drops small things all the time, on every thread: this one is quicker at it than those of most
// systems, and gives back more of what large plans leave.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    ripwright::cli::run()
}
