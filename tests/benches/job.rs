//! What one typed utterance costs as a job grows: the conversation and the read model, in memory.
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

fn main() {
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
}
