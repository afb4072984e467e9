//! A job killed (SIGKILL) while it is being made, the speed of an append, and a disk that is really full.
//!
//! Kills in the middle of a job are in `session_crash.rs`.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)]

use benchcall::event::{Event, Fact, Outcome, Sound};
use benchcall::measure::{LengthUnit, Unit};
use benchcall::store::{Error, JobFolder, Store, sha256_hex};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const FOLDER: &str = "BENCHCALL_CRASH_FOLDER";

/// The sound of an event: 1 to 40 kB that follow from its id. Every seventh is typed instead.
fn clip(id: u64) -> Option<Vec<u8>> {
    let length = 1_000 + (id * 7_919) % 39_000;
    (id % 7 != 1).then(|| {
        (0..length)
            .map(|i| u8::try_from((i * 31 + id * 17) % 251).unwrap())
            .collect()
    })
}

fn event(id: u64) -> Event {
    let begun = Fact::Begun {
        engine: "crash-triple".to_owned(),
        unit: LengthUnit::Millimetre,
        profile: "# invented".to_owned(),
        blades_nm: Vec::new(),
        gauge: Unit::Bar,
        wrench: Unit::NewtonMetre,
        language: "en".to_owned(),
    };
    let note = Fact::Note {
        position: None,
        text: format!("number {id}"),
    };
    Event {
        id,
        at_ms: i64::try_from(id).unwrap(),
        said: format!("note number {id}"),
        outcome: Outcome::Stored,
        why: String::new(),
        spoken: "noted".to_owned(),
        command: None,
        subject: None,
        confidence: 1.0,
        rival: None,
        sound: clip(id).map(|bytes| Sound {
            sha256: sha256_hex(&bytes),
            length_ms: 10,
            overruns: 0,
            model: String::new(),
        }),
        grammar: String::new(),
        facts: vec![if id == 1 { begun } else { note }],
    }
}

/// The child: appends until it is killed.
#[test]
#[ignore = "run by the test beside it"]
fn child() {
    let Some(folder) = std::env::var_os(FOLDER).map(PathBuf::from) else {
        return;
    };
    println!("\ngo");
    let mut job = JobFolder::create(&folder, &event(1)).unwrap();
    let mut last = job.events().unwrap().last().unwrap().id;
    println!("\nack {last}");
    loop {
        last += 1;
        job.append(&event(last), clip(last).as_deref()).unwrap();
        println!("\nack {last}");
    }
}

/// Lets a child work in `folder` for a while, kills it, and tells the last id it acknowledged.
fn killed_after(folder: &Path, time: Duration) -> u64 {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "store_crash::child", "--ignored", "--nocapture"])
        .env(FOLDER, folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let output = BufReader::new(child.stdout.take().unwrap());
    let mut lines = output.lines().map_while(Result::ok);
    assert!(lines.any(|line| line == "go"), "the child did not start");
    let reader = std::thread::spawn(move || {
        let acknowledged = lines.filter_map(|line| line.strip_prefix("ack ")?.parse().ok());
        acknowledged.last().unwrap_or(0)
    });
    std::thread::sleep(time);
    let ended = child.try_wait().unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    if ended.is_some() {
        let errors = std::io::read_to_string(child.stderr.take().unwrap()).unwrap();
        panic!("the child ended by itself: {errors}");
    }
    reader.join().unwrap()
}

/// Moments up to `most_ms`, different in every run (the process id and clock seed them).
fn moments(most_ms: u64) -> impl Iterator<Item = Duration> {
    let now = std::time::SystemTime::UNIX_EPOCH.elapsed().unwrap();
    let mut state = u64::from(now.subsec_nanos()) ^ (u64::from(std::process::id()) << 32);
    std::iter::repeat_with(move || {
        // Knuth's MMIX generator.
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        Duration::from_micros((state >> 33) % (most_ms * 1_000))
    })
}

#[test]
fn a_job_killed_in_the_making_is_whole_or_says_so() {
    let dir = tempfile::TempDir::new().unwrap();
    let (mut whole, mut unfinished, mut nothing) = (0, 0, 0);
    for (i, moment) in moments(30).take(20).enumerate() {
        let folder = dir.path().join(i.to_string());
        let acknowledged = killed_after(&folder, moment);
        match JobFolder::open(&folder) {
            Ok(job) => {
                let events = job.events().unwrap();
                assert_eq!(events[0], event(1));
                assert!(u64::try_from(events.len()).unwrap() >= acknowledged);
                whole += 1;
            }
            Err(Error::Unfinished { .. }) if acknowledged == 0 => unfinished += 1,
            Err(Error::Missing { .. } | Error::NoJob { .. }) if acknowledged == 0 => nothing += 1,
            Err(error) => panic!("{acknowledged} acknowledged, then: {error}"),
        }
    }
    eprintln!("killed in the making: {whole} whole, {unfinished} unfinished, {nothing} not begun");
}

/// Milliseconds from call to return of one append with a clip of 64 kB (two seconds of sound).
#[test]
#[ignore = "a measurement"]
fn speed() {
    let place = std::env::var_os("BENCHCALL_SPEED_FOLDER");
    let dir = place.map_or_else(tempfile::TempDir::new, tempfile::TempDir::new_in);
    let dir = dir.unwrap();
    let mut job = JobFolder::create(&dir.path().join("job"), &event(1)).unwrap();
    let mut times_ms = [Vec::new(), Vec::new()];
    for id in 2..402 {
        let bytes = vec![u8::try_from(id % 251).unwrap(); 64_044 + usize::try_from(id).unwrap()];
        let heard = id % 2 == 0;
        let mut one = event(id);
        one.sound = heard.then(|| Sound {
            sha256: sha256_hex(&bytes),
            length_ms: 2_000,
            overruns: 0,
            model: String::new(),
        });
        let start = Instant::now();
        job.append(&one, heard.then_some(&bytes)).unwrap();
        times_ms[usize::from(heard)].push(start.elapsed().as_secs_f64() * 1_000.0);
    }
    for (what, times) in ["typed", "heard"].iter().zip(&mut times_ms) {
        times.sort_by(f64::total_cmp);
        let at = |share: usize| times[(times.len() - 1) * share / 100];
        eprintln!(
            "{what}: p50 {:.2} ms, p95 {:.2} ms, p99 {:.2} ms, most {:.2} ms",
            at(50),
            at(95),
            at(99),
            at(100)
        );
    }
    let start = Instant::now();
    let events = job.events().unwrap().len();
    eprintln!("reading {events} events: {:?}", start.elapsed());
    drop(job);
    let start = Instant::now();
    JobFolder::open(&dir.path().join("job")).unwrap();
    eprintln!("opening and checking them: {:?}", start.elapsed());
}

/// A disk that is really full; needs the path of a small one (1 MB or so), which it fills.
#[test]
#[ignore = "needs BENCHCALL_SMALL_DISK, the path of a small file system"]
fn a_full_disk_keeps_what_was_stored() {
    let place = PathBuf::from(std::env::var_os("BENCHCALL_SMALL_DISK").unwrap());
    let ballast = place.join("ballast");
    std::fs::write(&ballast, vec![7; 200_000]).unwrap();
    let folder = place.join("job");
    let mut job = JobFolder::create(&folder, &event(1)).unwrap();
    let mut next = 2;
    let error = loop {
        match job.append(&event(next), clip(next).as_deref()) {
            Ok(()) => next += 1,
            Err(error) => break error,
        }
    };
    eprintln!("event {next}: {error}");
    assert!(matches!(error, Error::DiskFull { .. }), "{error:?}");
    // Typed events take less: until the database has no room either.
    let typed = |id| Event {
        sound: None,
        ..event(id)
    };
    let stored = next;
    let error = loop {
        match job.append(&typed(next), None) {
            Ok(()) => next += 1,
            Err(error) => break error,
        }
    };
    eprintln!("event {next}, typed: {error}");
    assert!(matches!(error, Error::DiskFull { .. }), "{error:?}");
    let all: Vec<Event> = (1..stored)
        .map(event)
        .chain((stored..next).map(typed))
        .collect();
    assert_eq!(job.events().unwrap(), all);
    assert_eq!(
        JobFolder::open_read_only(&folder)
            .unwrap()
            .events()
            .unwrap(),
        all
    );
    drop(job);
    let reopened = JobFolder::open(&folder);
    eprintln!("reopening while full: {:?}", reopened.as_ref().err());
    drop(reopened);
    std::fs::remove_file(ballast).unwrap();
    let mut job = JobFolder::open(&folder).unwrap();
    job.append(&event(next), clip(next).as_deref()).unwrap();
    assert_eq!(job.events().unwrap().len(), all.len() + 1);
}
