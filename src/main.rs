//! Starts the command line.

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    match benchcall::cli::run(benchcall::cli::Args::parse()) {
        Ok(code) => code,
        Err(error) => {
            eprintln!("benchcall: {error:#}");
            ExitCode::FAILURE
        }
    }
}
