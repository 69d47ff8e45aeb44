//! Writes the integer program of a small job, all columns listed beforehand, for `scripts/proper.py` to give to another solver.
//!
//! `cargo bench --bench columns -- JOB COST FILE`: every column that a plan of that cost or less can need.

use std::path::Path;

use ripwright::intake::read_job_as_it_is;
use ripwright::internals::listed_program;
use ripwright::measure::Money;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    let [job, cost, file] = &words[..] else {
        println!("cargo bench --bench columns -- JOB COST FILE");
        return;
    };
    let job = read_job_as_it_is(Path::new(job)).expect("a job");
    let cost = Money::parse(cost).expect("an amount of money");
    let Some(program) = listed_program(job, cost).expect("prices that can be held") else {
        println!("too many columns");
        return;
    };
    let json = serde_json::json!({ "pieces": program.pieces, "columns": program.columns });
    std::fs::write(file, json.to_string()).expect("a file that can be written");
    println!("{} columns, {} sizes", program.columns.len(), program.pieces.len());
}
