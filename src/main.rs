//! Starts the command line.

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    benchcall::cli::run(benchcall::cli::Args::parse())
}
