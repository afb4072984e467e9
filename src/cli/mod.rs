//! The command line.

/// A line to standard output. A reader that has gone away (`| head`) ends the program quietly.
macro_rules! outln {
    ($($text:tt)*) => { $crate::cli::show::line(format_args!($($text)*)) };
}

mod args;
mod args_about;
mod args_bench;
mod args_devices;
mod args_manual;
mod args_shims;
mod args_sound;
mod args_units;
#[cfg(feature = "learn")]
mod args_voice;
mod bench;
mod check;
mod demo;
mod devices;
mod end;
mod engine;
#[cfg(test)]
mod every_face_tests;
mod faces;
mod findings;
mod forget;
mod hear;
mod inputs;
mod keys;
mod listen;
mod manual;
mod moment;
mod pages;
mod pedal;
mod phrases;
mod printer;
mod progress;
mod recover;
mod report;
mod review;
mod score;
mod sheet;
mod show;
mod turns;
#[cfg(feature = "learn")]
mod voice;

pub use args::Args;

use crate::app::in_words::in_words;
use crate::app::terminal;
use args::Command;
use std::process::ExitCode;

/// Does what was asked. Whatever stopped it is told in a sentence, with what was expected.
#[must_use]
pub fn run(args: Args) -> ExitCode {
    let done = match args.command {
        Command::Bench(a) => bench::run(&a),
        Command::Demo(a) => demo::run(&a),
        Command::New(a) => hear::new(&a),
        Command::Hear(a) => hear::hear(&a),
        Command::Say(a) => hear::say(&a),
        Command::Listen(a) => listen::run(&a),
        Command::Forget(a) => forget::run(&a),
        Command::Sheet(a) => sheet::sheet(&a),
        Command::Shims(a) => sheet::shims(&a),
        Command::Progress(a) => progress::run(&a),
        Command::Findings(a) => findings::findings(&a),
        Command::Cut(a) => findings::cut(&a),
        Command::Engine(a) => engine::run(&a),
        Command::Turns(a) => turns::run(&a),
        Command::Phrases(a) => phrases::run(&a),
        Command::Score(a) => score::run(&a),
        Command::Report(a) => report::run(&a),
        Command::Review(a) => review::run(&a),
        Command::Check(a) => check::run(&a),
        Command::Recover(a) => recover::run(&a),
        Command::Devices(a) => devices::run(&a),
        #[cfg(feature = "learn")]
        Command::Voice(a) => voice::run(&a),
        Command::Manual(a) => manual::run(&a),
    };
    match done {
        Ok(_) if show::is_incomplete() => ExitCode::FAILURE,
        Ok(code) => code,
        Err(error) => {
            terminal::tell(&in_words(&error));
            ExitCode::FAILURE
        }
    }
}
