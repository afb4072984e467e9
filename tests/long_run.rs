//! Hours at the bench, faster than they pass: sound through the voice detection, a scripted recogniser, the
//! conversation and the disk.
//!
//! Memory may not grow but with the record itself, times in the sound may not drift, and the last
//! utterances may not take longer than the first.
#![cfg(target_os = "linux")]

use benchcall::app::job::Job;
use benchcall::audio::RATE_HZ;
use benchcall::audio::read_clip;
use benchcall::event::Outcome;
use benchcall::grammar::Grammar;
use benchcall::measure::LengthUnit;
use benchcall::recognise::{Candidate, Error, Recogniser, Scripted, Transcript};
use benchcall::understand::{Listener, Recognised};
use std::path::Path;

const MINUTES: &str = "BENCHCALL_LONG_RUN_MINUTES";
/// Every so often something is said, in milliseconds. A prime, so that it falls everywhere in the
/// detector's frames.
const EVERY_MS: usize = 9_973;

/// Hears one phrase after the other; each utterance by its length is told from the next by a change
/// of the sound, so two passes over one utterance hear the same.
struct Told {
    phrases: Vec<&'static str>,
    at: usize,
    last: Vec<u32>,
    now: Scripted,
}

impl Told {
    fn new(phrases: &[&'static str]) -> Self {
        Self {
            phrases: phrases.to_vec(),
            at: 0,
            last: Vec::new(),
            now: Scripted::default(),
        }
    }
}

impl Recogniser for Told {
    fn weights(&self) -> &'static str {
        "scripted"
    }

    fn hear(&mut self, sound: &[f32]) -> Result<Transcript, Error> {
        // The first half second of an utterance is the same in every pass over it.
        let key: Vec<u32> = sound
            .iter()
            .skip(4_800)
            .take(400)
            .map(|s| s.to_bits())
            .collect();
        if key != self.last {
            self.last = key;
            self.at += 1;
        }
        let phrase = self.phrases[self.at % self.phrases.len()];
        self.now = Scripted::of_texts([phrase]);
        self.now.hear(sound)
    }

    fn hear_shifted(&mut self, _: &[f32], _: i32) -> Result<Transcript, Error> {
        let phrase = self.phrases[self.at % self.phrases.len()];
        self.now = Scripted::of_texts([phrase]);
        self.now.hear(&[])
    }

    fn score(&mut self, phrases: &[&str]) -> Result<Vec<f32>, Error> {
        self.now.score(phrases)
    }

    fn shortfalls(&mut self, phrase: &str) -> Result<Vec<f32>, Error> {
        self.now.shortfalls(phrase)
    }

    fn legal(
        &mut self,
        grammar: &Grammar,
        least: f32,
        steps: usize,
    ) -> Result<Vec<Candidate>, Error> {
        self.now.legal(grammar, least, steps)
    }
}

/// Memory in use by this process, in bytes (proc(5), statm, second field in pages of 4096).
fn memory_bytes() -> f64 {
    let statm = std::fs::read_to_string("/proc/self/statm").unwrap();
    statm.split(' ').nth(1).unwrap().parse::<f64>().unwrap() * 4_096.0
}

/// Least-squares slope of `y` over `x`.
fn slope(points: &[(f64, f64)]) -> f64 {
    let n = points.len() as f64;
    let mean = |get: fn(&(f64, f64)) -> f64| points.iter().map(get).sum::<f64>() / n;
    let (mx, my) = (mean(|p| p.0), mean(|p| p.1));
    let over = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum::<f64>();
    over / points.iter().map(|p| (p.0 - mx).powi(2)).sum::<f64>()
}

fn p99(heard: &[(u64, u64)]) -> u64 {
    let mut all: Vec<u64> = heard.iter().map(|h| h.1).collect();
    all.sort_unstable();
    all[(all.len() * 99).div_ceil(100) - 1]
}

fn bench_time(minutes: usize) {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/recogniser");
    let spoken = read_clip(&fixtures.join("three_exhaust_left_point_two_five.wav")).unwrap();
    let dir = tempfile::TempDir::new().unwrap();
    let folder = dir.path().join("job");
    let mut job = Job::create(&folder, "triple", LengthUnit::Millimetre, Vec::new()).unwrap();
    let told = Told::new(&[
        "three exhaust left fifteen goes eighteen wont",
        "one inlet right",
        "thirteen goes fifteen wont",
        "what a din",
        "note the bucket is scuffed",
        "disregard",
    ]);
    let mut listener = Listener::new(Box::new(told));
    let every = EVERY_MS * RATE_HZ as usize / 1_000;
    let utterances = minutes * 60_000 / EVERY_MS;
    let (mut heard, mut memory) = (Vec::new(), Vec::new());
    let (mut sound, mut noise) = (vec![0.0_f32; every], 1_u32);
    let mut ended_ms = Vec::new();
    for n in 0..utterances {
        for sample in &mut sound {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *sample = ((noise >> 16) as f32 / 32_768.0 - 1.0) * 0.001;
        }
        // Spoken two seconds into each stretch.
        for (to, from) in sound[2 * RATE_HZ as usize..]
            .iter_mut()
            .zip(&spoken.samples)
        {
            *to += from;
        }
        // In tenths of a second, as a microphone gives it.
        for part in sound.chunks(RATE_HZ as usize / 10) {
            for one in listener.feed(part, &mut job).unwrap() {
                let Recognised { event, timing, .. } = one;
                let offset_ms = timing.speech_end_ms as i64 - (n * EVERY_MS) as i64;
                ended_ms.push((n as f64, offset_ms as f64));
                heard.push((event.id, timing.compute_ms));
            }
        }
        if n % 8 == 7 {
            memory.push((n as f64, memory_bytes()));
        }
    }
    assert_eq!(heard.len(), utterances, "each was heard once");
    let events = job.state.events().to_vec();
    drop(job);
    let again = Job::look(&folder).unwrap();
    assert_eq!(again.state.events(), events, "all of it is on the disk");
    assert!(
        events
            .iter()
            .filter(|e| e.outcome == Outcome::Stored)
            .count()
            > utterances / 2
    );

    let quarter = utterances / 4;
    let (first, last) = (p99(&heard[..quarter]), p99(&heard[3 * quarter..]));
    // The allocator settles in the first half.
    let grows = slope(&memory[memory.len() / 2..]);
    let drift_ms = slope(&ended_ms) * utterances as f64;
    let spread = ended_ms.iter().map(|p| p.1);
    let spread = spread.clone().fold(f64::MIN, f64::max) - spread.fold(f64::MAX, f64::min);
    println!(
        "{minutes} minutes, {utterances} utterances: {grows:.0} bytes of memory an utterance; end of \
         speech drifts by {drift_ms:.2} ms over all, spread {spread:.0} ms; p99 of computing {first} ms in \
         the first quarter, {last} ms in the last"
    );
    assert!(grows < 40_000.0, "{grows} bytes an utterance");
    assert!(
        drift_ms.abs() < 20.0 && spread < 100.0,
        "{drift_ms} {spread}"
    );
    assert!(last <= 3 * first + 30, "{first} ms, later {last} ms");
}

/// In a process of its own, whose memory no other test shares.
fn alone(minutes: usize) {
    let output = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "long_run::child", "--ignored", "--nocapture"])
        .env(MINUTES, minutes.to_string())
        .output()
        .unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    println!("{}", text(&output.stdout));
    assert!(output.status.success(), "{}", text(&output.stderr));
}

/// The child.
#[test]
#[ignore = "run by the tests beside it"]
fn child() {
    if let Ok(minutes) = std::env::var(MINUTES) {
        bench_time(minutes.parse().unwrap());
    }
}

#[test]
fn twenty_minutes_leave_no_trace_but_the_record() {
    alone(20);
}

#[test]
#[ignore = "a measurement of some minutes"]
fn four_hours() {
    alone(240);
}

/// The clock of the machine is put back, and forward, in the middle of a job: the order of the
/// events, and so what counts, is by their numbers.
#[test]
fn a_clock_that_jumps_changes_nothing_that_counts() {
    let dir = tempfile::TempDir::new().unwrap();
    let folder = dir.path().join("job");
    let mut job = Job::create(&folder, "triple", LengthUnit::Millimetre, Vec::new()).unwrap();
    let jumps = [1_000_000, -3_600_000, 9_000_000_000_000, 5, -1];
    let said = [
        "fifteen goes eighteen wont",
        "affirm",
        "twenty",
        "affirm",
        "disregard",
    ];
    job.say("three exhaust left").unwrap();
    for (at_ms, text) in jumps.into_iter().zip(said) {
        let hearing = benchcall::session::Hearing {
            at_ms,
            ..job.typed(text)
        };
        job.take(hearing, None).unwrap();
    }
    let ids: Vec<u64> = job.state.events().iter().map(|e| e.id).collect();
    assert_eq!(ids, (1..=7).collect::<Vec<_>>());
    let (open, reading) = (job.state.open, job.state.counting().last_reading());
    drop(job);
    let again = Job::open(&folder).unwrap();
    assert_eq!(
        (again.state.open, again.state.counting().last_reading()),
        (open, reading)
    );
    assert_eq!(
        again.state.events()[3].at_ms,
        -3_600_000,
        "as the clock said"
    );
}
