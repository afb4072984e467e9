//! Any input may be refused, none may make the program panic: inputs are changed at random and tried.
//!
//! A few seconds for each target in every test run, `BENCHCALL_FUZZ_SECONDS` for longer. Built with
//! counters, on the stable toolchain too, it sees which code an input reaches, and goes on from those
//! that reached more:
//!
//! ```text
//! cargo test --config tests/fuzz/guided.toml --test main fuzz -- --test-threads 1
//! ```
//!
//! With `BENCHCALL_FUZZ_KEEP=1` such inputs are kept in `fixtures/fuzz/`, if they are short; every
//! later run begins from them. An input that made a target panic or take long is written to
//! `target/tmp` and named: put into that folder it is tried first ever after.

mod corpus;
mod coverage;
mod mutate;
mod targets;

use corpus::{corpus, kept};
use coverage::Coverage;
use mutate::{Dice, changed};
use std::panic::catch_unwind;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use targets::{TARGETS, Target};

/// Seconds for each target.
const SECONDS: u64 = 5;
/// An input may not take longer than this; the machine may be busy.
const LONGEST: Duration = Duration::from_secs(10);
/// Runs that are spent on making one input shorter.
const TRIMS: usize = 300;
/// The longest input that is kept, in bytes.
const MOST_KEPT: usize = 2_000;

/// Runs one input; where it goes wrong, says where it was written.
fn survives(target: &Target, input: &[u8]) {
    let begun = Instant::now();
    let result = catch_unwind(|| (target.run)(input));
    let took = begun.elapsed();
    if result.is_err() || took > LONGEST {
        let name = benchcall::store::sha256_hex(input);
        let file = format!("fuzz-{}-{}", target.name, &name[..16]);
        let file = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(file);
        std::fs::write(&file, input).unwrap();
        panic!("{}: {} ({took:?})", target.name, file.display());
    }
}

/// Where fuzzing has been.
struct Reached {
    coverage: Coverage,
    counters: Vec<u64>,
}

impl Reached {
    /// The regions that the inputs since the last call were the first to enter.
    fn new_regions(&mut self) -> Vec<usize> {
        let now = self.coverage.counters();
        let new = |i: &usize| now[*i] > 0 && self.counters[*i] == 0;
        let regions = (0..now.len()).filter(new).collect();
        self.counters = now;
        regions
    }

    fn count(&self) -> usize {
        self.counters.iter().filter(|c| **c > 0).count()
    }

    /// An input without what is not needed to enter these regions.
    fn trimmed(&mut self, target: &Target, mut input: Vec<u8>, regions: &[usize]) -> Vec<u8> {
        let (mut length, mut tries) = (input.len() / 2, 0);
        while length > 0 && tries < TRIMS {
            let mut at = 0;
            while at < input.len() && tries < TRIMS {
                let end = (at + length).min(input.len());
                let shorter = [&input[..at], &input[end..]].concat();
                let before = self.coverage.counters();
                survives(target, &shorter);
                let after = self.coverage.counters();
                if regions.iter().all(|i| after[*i] > before[*i]) {
                    input = shorter;
                } else {
                    at = end;
                }
                tries += 1;
            }
            length /= 2;
        }
        self.counters = self.coverage.counters();
        input
    }
}

fn keep(target: &Target, input: &[u8]) {
    if input.len() <= MOST_KEPT {
        let name = benchcall::store::sha256_hex(input);
        std::fs::create_dir_all(kept(target)).unwrap();
        std::fs::write(kept(target).join(&name[..16]), input).unwrap();
    }
}

fn fuzz(name: &str) {
    let target = TARGETS.iter().find(|t| t.name == name).unwrap();
    let seconds = std::env::var("BENCHCALL_FUZZ_SECONDS").map_or(SECONDS, |s| s.parse().unwrap());
    let keeping = std::env::var_os("BENCHCALL_FUZZ_KEEP").is_some();
    let mut pool = corpus(target);
    pool.iter().for_each(|input| survives(target, input));
    let mut reached = Coverage::of_this_process().map(|coverage| Reached {
        counters: coverage.counters(),
        coverage,
    });
    let from = reached.as_ref().map(Reached::count);
    let seed = u64::from(
        std::time::SystemTime::UNIX_EPOCH
            .elapsed()
            .unwrap()
            .subsec_nanos(),
    );
    let (begun, mut dice, mut inputs) = (Instant::now(), Dice(seed), 0_u64);
    while begun.elapsed() < Duration::from_secs(seconds) {
        let input = changed(&pool, target, &mut dice);
        survives(target, &input);
        inputs += 1;
        let Some(reached) = &mut reached else {
            continue;
        };
        let regions = reached.new_regions();
        if regions.is_empty() {
            continue;
        }
        if keeping {
            keep(target, &reached.trimmed(target, input.clone(), &regions));
        }
        pool.push(input);
    }
    print!("{name}: {inputs} inputs in {seconds} s (seed {seed})");
    match (from, &reached) {
        (Some(from), Some(to)) => println!(", {from} regions reached at first, {} now", to.count()),
        _ => println!(),
    }
    assert!(inputs > 20, "{name}: only {inputs} inputs");
}

#[test]
fn talk() {
    fuzz("spoken");
}

#[test]
fn grammars() {
    fuzz("grammar");
}

#[test]
fn engines() {
    fuzz("engine");
}

#[test]
fn sounds() {
    fuzz("sound");
}

#[test]
fn wav_files() {
    fuzz("wav");
}

#[test]
fn events() {
    fuzz("event");
}

#[test]
fn reports() {
    fuzz("report");
}

#[test]
fn frames() {
    fuzz("frame");
}
