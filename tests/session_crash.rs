//! A whole session at the bench, killed (SIGKILL) at random, again and again, and taken up again.
//!
//! The child opens the job and says one phrase after the other, most with a clip, each through the
//! conversation and on to the disk, and prints the number of an event once its read-back is due. The
//! parent kills it at a random moment, opens the job, and compares it event by event and byte by byte
//! with the same session held in memory without any kill: every acknowledged reading is there with
//! its clip, at most one more, nothing by half, nothing that keeps the next child from going on.
//!
//! A kill is the end of a process, not of power: the kernel keeps what was written. For power see
//! `src/store/power_tests.rs`. So a folder in memory does as well, and is used where there is one;
//! `BENCHCALL_CRASH_PLACE` names another place.
#![cfg(unix)]

use benchcall::app::assets::english;
use benchcall::app::job::Job;
use benchcall::event::{Event, Sound};
use benchcall::grammar::Dice;
use benchcall::measure::LengthUnit;
use benchcall::session::Hearing;
use benchcall::store::{JobFolder, Store, sha256_hex};
use std::io::{BufRead, BufReader, Lines};
use std::path::{Path, PathBuf};
use std::process::{ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

const FOLDER: &str = "BENCHCALL_SESSION_FOLDER";
/// Events of one session; then a new job is begun.
const SESSION: u64 = 520;
/// Jobs at work at the same time: one waits for the disk while the other computes.
const LANES: usize = 2;

const PHRASES: [&str; 12] = [
    "three exhaust left fifteen goes eighteen wont",
    "one inlet right",
    "thirteen goes fifteen wont",
    "what a din",
    "note the bucket is scuffed",
    "two exhaust twenty",
    "left",
    "correction eighteen goes twenty wont",
    "disregard",
    "spare shim two sixty five",
    "stand by",
    "listen",
];

/// The sound of an event: 0.4 to 2.4 kB that follow from its number. Every ninth phrase is typed.
fn clip(id: u64) -> Option<Vec<u8>> {
    let byte = |i: u64| u8::try_from((i * 31 + id * 17 + id / 251) % 251).unwrap();
    let mut bytes: Vec<u8> = id.to_le_bytes().to_vec();
    bytes.extend((0..400 + (id * 7_919) % 2_000).map(byte));
    (id % 9 != 1).then_some(bytes)
}

fn hearing(job: &Job, id: u64) -> Hearing {
    let phrase = usize::try_from(id).unwrap() % PHRASES.len();
    Hearing {
        confidence: 0.9,
        sound: clip(id).map(|bytes| Sound {
            sha256: sha256_hex(&bytes),
            length_ms: 10,
            overruns: 0,
            model: String::new(),
        }),
        at_ms: i64::try_from(id).unwrap() * 5_000,
        ..job.typed(PHRASES[phrase])
    }
}

/// The session without a kill; its first event, the making of the job, is left out.
fn whole() -> Vec<Event> {
    let mut job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
    (2..=SESSION)
        .map(|id| job.take(hearing(&job, id), clip(id).as_deref()).unwrap())
        .collect()
}

/// The child: goes on with the session until it is killed or the session is over.
#[test]
#[ignore = "run by the test beside it"]
fn child() {
    let Some(folder) = std::env::var_os(FOLDER).map(PathBuf::from) else {
        return;
    };
    let mut job = Job::open(&folder).unwrap();
    println!("\nopen");
    for id in job.state.next_id()..=SESSION {
        let event = job.take(hearing(&job, id), clip(id).as_deref()).unwrap();
        println!("\nack {}", event.id);
    }
    println!("\nover");
    std::thread::sleep(Duration::from_mins(10)); // still killed, never ended
}

/// Lets a child work in `folder`, kills it shortly after one of its acknowledgements or while it
/// opens the job, and tells the last number that it acknowledged.
fn kill(folder: &Path, dice: &mut Dice) -> u64 {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args([
            "--exact",
            "session_crash::child",
            "--ignored",
            "--nocapture",
        ])
        .env(FOLDER, folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let number = |line: &str| line.strip_prefix("ack ").and_then(|id| id.parse().ok());
    let mut last = 0;
    let mut next = |lines: &mut Lines<BufReader<ChildStdout>>| -> bool {
        for line in lines.by_ref().map_while(Result::ok) {
            if let Some(id) = number(&line) {
                last = id;
                return true;
            }
            if line == "over" || line == "open" {
                return line == "open";
            }
        }
        false
    };
    // One in sixteen dies while it starts and opens the job; the others somewhere in their work.
    let mut gone_on = true;
    if dice.below(16) > 0 {
        for _ in 0..=dice.below(6) {
            gone_on = gone_on && next(&mut lines);
        }
        std::thread::sleep(Duration::from_micros(dice.below(4_000) as u64));
    } else {
        std::thread::sleep(Duration::from_micros(dice.below(60_000) as u64));
    }
    let ended = child.try_wait().unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    if ended.is_some() {
        let errors = std::io::read_to_string(child.stderr.take().unwrap()).unwrap();
        panic!("the child ended by itself: {errors}");
    }
    while next(&mut lines) {}
    last
}

#[derive(Default, Debug)]
struct Counts {
    kills: u64,
    jobs: u64,
    utterances: u64,
    beyond: u64,
    parts: usize,
    unused: usize,
}

fn names(folder: &Path, end: &str) -> usize {
    let entries = std::fs::read_dir(folder.join("clips")).unwrap();
    let paths = entries.map(|entry| entry.unwrap().path());
    paths
        .filter(|p| p.extension().is_some_and(|e| e == end))
        .count()
}

/// Opens the job after a kill; the number of events it has.
fn check(folder: &Path, acknowledged: u64, whole: &[Event], counts: &mut Counts) -> u64 {
    counts.parts += names(folder, "part");
    let job = JobFolder::open(folder).unwrap();
    assert_eq!(names(folder, "part"), 0, "half clips go at opening");
    let events = job.events().unwrap();
    let stored = events.len() as u64;
    assert!(
        stored == acknowledged || stored == acknowledged + 1,
        "{acknowledged} acknowledged, {stored} stored"
    );
    assert_eq!(events[1..], whole[..events.len() - 1]);
    let mut heard = 0;
    for event in &events {
        if let Some(sound) = &event.sound {
            heard += 1;
            assert_eq!(job.clip(&sound.sha256).unwrap(), clip(event.id).unwrap());
        }
    }
    let unused = names(folder, "wav") - heard;
    assert!(unused <= 1, "a retry takes up the clip of the try before");
    counts.unused += unused;
    counts.beyond += stored - acknowledged;
    stored
}

/// One lane: jobs one after the other until so many kills.
fn lane(seed: u64, kills: u64, whole: &[Event]) -> Counts {
    let place = std::env::var_os("BENCHCALL_CRASH_PLACE").map(PathBuf::from);
    let memory = || Some(PathBuf::from("/dev/shm")).filter(|p| p.is_dir());
    let dir = match place.or_else(memory) {
        Some(place) => tempfile::TempDir::new_in(place),
        None => tempfile::TempDir::new(),
    }
    .unwrap();
    let (mut counts, mut dice) = (Counts::default(), Dice::new(seed));
    while counts.kills < kills {
        let folder = dir.path().join(counts.jobs.to_string());
        drop(Job::create(&folder, "triple", LengthUnit::Millimetre, Vec::new()).unwrap());
        counts.jobs += 1;
        let mut stored = 1;
        while stored < SESSION && counts.kills < kills {
            let acknowledged = kill(&folder, &mut dice).max(stored);
            stored = check(&folder, acknowledged, whole, &mut counts);
            counts.kills += 1;
        }
        counts.utterances += stored - 1;
    }
    counts
}

fn killed(kills: u64) {
    let whole = whole();
    let begun = Instant::now();
    let now = std::time::SystemTime::UNIX_EPOCH.elapsed().unwrap();
    let seed = u64::from(now.subsec_nanos());
    let all: Vec<Counts> = std::thread::scope(|scope| {
        let lanes: Vec<_> = (0..LANES)
            .map(|i| {
                let (seed, whole) = (seed + i as u64 * 0x9e37_79b9, &whole);
                scope.spawn(move || lane(seed, kills / LANES as u64, whole))
            })
            .collect();
        lanes.into_iter().map(|l| l.join().unwrap()).collect()
    });
    let sum = |get: fn(&Counts) -> u64| all.iter().map(get).sum::<u64>();
    println!(
        "{} kills in {} jobs of {SESSION} events, {} utterances, none lost, in {} s; {} stored but not \
         yet acknowledged; {} half clips removed; {} times a clip without an event (seed {seed})",
        sum(|c| c.kills),
        sum(|c| c.jobs),
        sum(|c| c.utterances),
        begun.elapsed().as_secs(),
        sum(|c| c.beyond),
        sum(|c| c.parts as u64),
        sum(|c| c.unused as u64),
    );
    assert!(
        sum(|c| c.utterances) >= kills,
        "the children got too little time"
    );
}

#[test]
fn every_acknowledged_reading_outlives_its_process() {
    killed(2_000);
}

#[test]
#[ignore = "a measurement of half an hour"]
fn ten_thousand_kills() {
    killed(10_000);
}
