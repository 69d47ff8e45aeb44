//! The command line: one file a command, each of which parses, calls and prints.
//!
//! What lives here: arguments, exit codes, the progress line. What never does: a computation.

mod check;
mod common;
mod compare;
mod demo;
mod new;
mod nightly;
mod plan;
mod progress;
mod rack;
mod reference;
#[cfg(feature = "page")]
mod serve;
mod units;
mod yard;

use std::io::Write;
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

pub use common::Failure;

/// Plans the buying and cutting of rough hardwood for small shops.
#[derive(Debug, Parser)]
#[command(name = "ripwright", version, about, arg_required_else_help = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Begin a job: two small products, or the parts of a list of your own
    New(new::NewArguments),
    /// Plan the cheapest buy and the cutting of a job folder
    Plan(plan::PlanArguments),
    /// Compare buying from each dealer alone, from every pair, and from all
    Compare(compare::CompareArguments),
    /// Plan what-if changes of a job and rank them by cost
    Scenarios(compare::ScenariosArguments),
    /// Plan an order book by weeks, unattended
    Nightly(nightly::NightlyArguments),
    /// Choose among boards measured at the yard, and plan their cutting
    #[command(mut_arg("time", |time| time.help("Stop after so many seconds; 1.8 where neither this nor --work is given")))]
    Yard(yard::YardArguments),
    /// Serve a local page: edit the job, plan it, and choose boards at the yard on a phone
    #[cfg(feature = "page")]
    Serve(serve::ServeArguments),
    /// Check a plan against its job: replay every cut, re-add every sum
    Check(check::CheckArguments),
    /// Split an order book into units, a week each, to be planned on several machines
    Split(units::SplitArguments),
    /// Plan one unit
    Solve(units::SolveUnitArguments),
    /// Join the results of all units
    Join(units::JoinArguments),
    /// Keep the ledger of the rack: what is promised, what was used, what came back
    Rack(rack::RackArguments),
    /// Print the schema of plan.json, shell completions, or write manual pages
    Reference(reference::ReferenceArguments),
    /// Write a runnable job of an invented shop
    Demo(demo::DemoArguments),
}

/// Runs the program; the exit codes are in the README.
pub fn run() -> ExitCode {
    end_with_a_code_where_memory_runs_out();
    let arguments =
        Arguments::from_arg_matches(&command().get_matches()).unwrap_or_else(|error| error.exit());
    let result = match &arguments.command {
        Command::New(arguments) => new::run(arguments),
        Command::Plan(arguments) => plan::run(arguments),
        Command::Compare(arguments) => compare::run(arguments),
        Command::Scenarios(arguments) => compare::run_scenarios(arguments),
        Command::Nightly(arguments) => nightly::run(arguments),
        Command::Yard(arguments) => yard::run(arguments),
        #[cfg(feature = "page")]
        Command::Serve(arguments) => serve::run(arguments),
        Command::Check(arguments) => check::run(arguments),
        Command::Split(arguments) => units::run_split(arguments),
        Command::Solve(arguments) => units::run_solve(arguments),
        Command::Join(arguments) => units::run_join(arguments),
        Command::Rack(arguments) => rack::run(arguments),
        Command::Reference(arguments) => reference::run(arguments),
        Command::Demo(arguments) => demo::run(arguments),
    };
    match result {
        Ok(code) => code,
        Err(failure) if failure.is_broken_pipe() => ExitCode::SUCCESS,
        Err(failure) => {
            // Nothing is left to be done if even the error cannot be written.
            let _ = writeln!(std::io::stderr(), "ripwright: {failure}");
            failure.exit_code()
        }
    }
}

/// The command line. A negative number behind an option is its value, so that the option says what it takes.
fn command() -> clap::Command {
    let named = |argument: clap::Arg| {
        let takes_a_value = argument.get_action().takes_values() && !argument.is_positional();
        argument.allow_negative_numbers(takes_a_value)
    };
    Arguments::command().mut_subcommands(|command| command.mut_args(named))
}

/// The standard library tells that memory ran out, and aborts. The process then ends like any other failure, so that what
/// watches it at night takes it for one.
fn end_with_a_code_where_memory_runs_out() {
    #[cfg(unix)]
    {
        let always = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(true));
        // Where that cannot be had, the process ends by the signal.
        let _ = signal_hook::flag::register_conditional_shutdown(signal_hook::consts::SIGABRT, 1, always);
    }
}
