//! What one typed utterance costs as a job grows: the conversation and the read model, in memory.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

use benchcall::app::assets::english;
use benchcall::app::job::Job;
use benchcall::measure::LengthUnit;
use benchcall::session::step;
use criterion::{BatchSize, BenchmarkId, Criterion, criterion_group, criterion_main};
use std::hint::black_box;

/// A bench session of that many events: readings, shims, talk, notes and corrections.
const LINES: [&str; 10] = [
    "three exhaust left fifteen goes eighteen wont",
    "one inlet right",
    "clearance again thirteen goes fifteen wont",
    "what a din",
    "two exhaust right again twenty goes twenty three wont",
    "note the bucket is scuffed",
    "correction eighteen goes twenty wont",
    "one inlet left shim two sixty",
    "affirm",
    "spare shim two sixty five",
];

fn utterances(c: &mut Criterion) {
    let mut group = c.benchmark_group("one utterance");
    group.sample_size(20);
    let mut job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
    for events in [100, 1_000, 5_000, 20_000] {
        while job.state.events().len() < events {
            let line = LINES[job.state.events().len() % LINES.len()];
            job.say(line).unwrap();
        }
        for (name, said) in [
            ("reading", "two inlet left again fifteen goes eighteen wont"),
            (
                "correction",
                "correction three exhaust left twenty goes twenty three wont",
            ),
            ("disregard", "disregard"),
            ("whats next", "whats next"),
            ("which shim", "which shim two inlet left"),
        ] {
            // The clone of the state stands for the job at that length, with room for more events
            // as after any other; it is not timed.
            let at_that_length = || {
                let mut state = job.state.clone();
                state.apply(&step(&job.desk, &state, Job::typed("what a din")));
                state
            };
            group.bench_with_input(BenchmarkId::new(name, events), &said, |b, said| {
                b.iter_batched(
                    at_that_length,
                    |mut state| {
                        let event = step(&job.desk, &state, Job::typed(said));
                        state.apply(&event);
                        black_box(state.view.next(state.open));
                        state
                    },
                    BatchSize::PerIteration,
                );
            });
        }
    }
    group.finish();
}

criterion_group!(benches, utterances);
criterion_main!(benches);
