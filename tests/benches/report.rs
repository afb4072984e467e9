//! What the report costs as a job grows: gathered, and written in each form.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

#[path = "session.rs"]
mod session;

use benchcall::app::assets::english;
use benchcall::app::job::Job;
use benchcall::app::report;
use benchcall::measure::LengthUnit;
use benchcall::report::write;
use session::LINES;
use std::collections::BTreeMap;
use std::hint::black_box;
use std::time::{Duration, Instant};

/// Of so many runs the median is printed.
const RUNS: usize = 21;

fn median(mut what: impl FnMut() -> usize) -> (Duration, usize) {
    let mut bytes = 0;
    let mut times: Vec<Duration> = (0..RUNS)
        .map(|_| {
            let begun = Instant::now();
            bytes = black_box(what());
            begun.elapsed()
        })
        .collect();
    times.sort_unstable();
    (times[RUNS / 2], bytes)
}

fn main() {
    let mut job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
    println!("milliseconds (bytes), median of {RUNS}");
    for utterances in [100, 1_716, 5_000] {
        while job.state.events().len() <= utterances {
            let line = LINES[job.state.events().len() % LINES.len()];
            job.say(line).unwrap();
        }
        println!("{utterances} utterances");
        let show = |name: &str, (time, bytes): (Duration, usize)| {
            println!("{name:>10} {:>9.3} ({bytes})", time.as_secs_f64() * 1_000.0);
        };
        show("gathered", median(|| report::of(&job).valves.len()));
        let record = report::of(&job);
        show("HTML", median(|| report::html(&record, None).len()));
        show("CSV", median(|| record.csv().len()));
        let json = || {
            let events = report::bodies(job.state.events()).unwrap();
            write(&record, None, &events, &BTreeMap::new())
                .unwrap()
                .len()
        };
        show("JSON", median(json));
    }
}
