//! What one typed utterance costs as a job grows: the conversation and the read model in memory, then a
//! job on the disk, opened and added to.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

#[path = "session.rs"]
mod session;

use benchcall::app::assets::english;
use benchcall::app::job::Job;
use benchcall::event::{Event, Outcome};
use benchcall::measure::LengthUnit;
use benchcall::session::{Hearing, Interpretations, Interpreter, State, step};
use session::LINES;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

const ASKED: [(&str, &str); 5] = [
    ("reading", "two inlet left fifteen goes eighteen wont"),
    (
        "correction",
        "correction three exhaust left twenty goes twenty two wont",
    ),
    ("disregard", "disregard"),
    ("what's next", "whats next"),
    ("which shim", "which shim two inlet left"),
];
/// Tells this program to open that folder instead: in a process of its own no memory is left of how the
/// job was made.
const OPEN: &str = "BENCHCALL_BENCH_OPEN";
/// Of so many runs the median is printed.
const RUNS: usize = 21;

/// What those words do, parsed and all.
fn said(job: &Job, state: &State, text: &str) -> Event {
    let known = Interpretations::default();
    let meant = Interpreter::new(&job.setup, state, &known).of(text);
    step(&job.setup, state, Hearing::typed(text.to_owned(), meant, 0))
}

fn median(job: &Job, text: &str) -> Duration {
    let mut times: Vec<Duration> = (0..RUNS)
        .map(|_| {
            // The clone stands for the job at that length, with room for more events as after any
            // other; it is not timed.
            let mut state = job.state.clone();
            state.apply(&said(job, &state, "what a din"));
            let begun = Instant::now();
            let event = said(job, &state, text);
            state.apply(&event);
            black_box(state.view.next(state.open));
            let took = begun.elapsed();
            assert_eq!(event.outcome, Outcome::Stored, "{text}: {}", event.why);
            took
        })
        .collect();
    times.sort_unstable();
    times[RUNS / 2]
}

/// Memory of this process, in MB; not a number where there is no `/proc`.
fn memory_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let resident = status.split("VmRSS:").nth(1).unwrap_or_default();
    let kb = resident
        .split_whitespace()
        .next()
        .and_then(|kb| kb.parse().ok());
    kb.unwrap_or(f64::NAN) / 1_000.0
}

/// Opens a job as the program does, and adds to it.
fn open(folder: &Path) {
    let before = memory_mb();
    let begun = Instant::now();
    let mut job = Job::open(folder).unwrap();
    let (took, after) = (begun.elapsed(), memory_mb());
    let (reading, text) = ASKED[0];
    let mut times: Vec<Duration> = (0..RUNS)
        .map(|_| {
            let begun = Instant::now();
            let event = job.say(text).unwrap();
            let took = begun.elapsed();
            assert_eq!(event.outcome, Outcome::Stored, "{}", event.why);
            took
        })
        .collect();
    times.sort_unstable();
    let events = job.state.events().len() - RUNS;
    println!(
        "{events:>8} events opened in {} ms, memory {before:.0} to {after:.0} MB; a {reading} to the disk {} us",
        took.as_millis(),
        times[RUNS / 2].as_micros()
    );
}

/// The same job in a folder, without sounds.
fn kept() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path().join("job");
    let mut job = Job::create(&folder, "triple", LengthUnit::Millimetre, Vec::new()).unwrap();
    for events in [1_000, 20_000] {
        while job.state.events().len() < events {
            let line = LINES[job.state.events().len() % LINES.len()];
            job.say(line).unwrap();
        }
        drop(job);
        let mut program = Command::new(std::env::current_exe().unwrap());
        assert!(program.env(OPEN, &folder).status().unwrap().success());
        job = Job::open(&folder).unwrap();
    }
}

fn main() {
    if let Some(folder) = std::env::var_os(OPEN) {
        return open(Path::new(&folder));
    }
    let mut job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
    println!("microseconds an utterance, median of {RUNS}");
    print!("{:>8}", "events");
    ASKED.iter().for_each(|(name, _)| print!("{name:>14}"));
    println!();
    for events in [100, 1_000, 5_000, 20_000] {
        while job.state.events().len() < events {
            let line = LINES[job.state.events().len() % LINES.len()];
            job.say(line).unwrap();
        }
        print!("{events:>8}");
        for (_, text) in ASKED {
            print!("{:>14}", median(&job, text).as_micros());
        }
        println!();
    }
    kept();
}
