//! A process killed (SIGKILL) at every step of the write order, and after every failure of the disk.
//!
//! The child stops at the step it is told, says so and waits; the parent kills it there, opens the
//! job, and requires every acknowledged event with its clip, the event under way whole or absent as
//! its step demands, and a next append that works. Kills at random moments, also inside SQLite, are
//! in `tests/session_crash.rs`.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)]

use super::disk::{Disk, RealDisk};
use super::job_faults::{FAULTS, FailingDisk};
use super::job_tests::{event, heard};
use super::{Error, JobFolder, Store};
use crate::event::Event;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const FOLDER: &str = "BENCHCALL_STEP_FOLDER";
const STEP: &str = "BENCHCALL_STEP";

/// Where a child stops. The order is that of one append.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Debug)]
enum Step {
    BeforeWrite,
    HalfWritten,
    Written,
    Synced,
    Renamed,
    FolderSynced,
    /// Inside the transaction: the row is in, the log is not written.
    BeforeCommit,
    /// `append` has returned; the read-back has not begun.
    Stored,
}

const STEPS: [Step; 8] = [
    Step::BeforeWrite,
    Step::HalfWritten,
    Step::Written,
    Step::Synced,
    Step::Renamed,
    Step::FolderSynced,
    Step::BeforeCommit,
    Step::Stored,
];

/// Says so, and waits to be killed.
fn stop() -> ! {
    println!("\nstopped");
    io::stdout().flush().unwrap();
    loop {
        std::thread::park();
    }
}

/// The real disk, with a stop in it.
struct StoppingDisk(Step);

impl StoppingDisk {
    fn at(&self, step: Step) {
        if self.0 == step {
            stop();
        }
    }
}

impl Disk for StoppingDisk {
    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<File> {
        self.at(Step::BeforeWrite);
        if self.0 == Step::HalfWritten {
            RealDisk.write(path, &bytes[..bytes.len() / 2])?;
            stop();
        }
        let file = RealDisk.write(path, bytes);
        self.at(Step::Written);
        file
    }

    fn sync(&self, file: &File) -> io::Result<()> {
        RealDisk.sync(file)?;
        self.at(Step::Synced);
        Ok(())
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        RealDisk.rename(from, to)?;
        self.at(Step::Renamed);
        Ok(())
    }

    fn sync_dir(&self, folder: &Path) -> io::Result<()> {
        RealDisk.sync_dir(folder)?;
        self.at(Step::FolderSynced);
        Ok(())
    }
}

/// Small sounds, each its own.
fn sounding(id: u64) -> (Event, Vec<u8>) {
    let bytes: Vec<u8> = (0..300 + id % 700)
        .flat_map(|i| (id * 31 + i).to_le_bytes())
        .collect();
    heard(id, &bytes)
}

fn append(job: &mut JobFolder, id: u64) -> Result<(), Error> {
    let (event, clip) = sounding(id);
    job.append(&event, Some(&clip))
}

/// The child: one whole append, then one that stops or fails where it is told.
#[test]
#[ignore = "run by the test beside it"]
fn child() {
    let Some(folder) = std::env::var_os(FOLDER).map(PathBuf::from) else {
        return;
    };
    let wanted = std::env::var(STEP).unwrap();
    let mut job = JobFolder::open(&folder).unwrap();
    let next = job.events().unwrap().len() as u64 + 1;
    append(&mut job, next).unwrap();
    println!("\nack {next}");
    drop(job);
    if let Some(fault) = FAULTS.iter().find(|f| format!("{f:?}") == wanted) {
        let disk = Box::new(FailingDisk::new(*fault));
        let mut job = JobFolder::open_on(disk, &folder).unwrap();
        append(&mut job, next + 1).unwrap_err();
        stop();
    }
    let step = STEPS.iter().find(|s| format!("{s:?}") == wanted).unwrap();
    let mut job = JobFolder::open_on(Box::new(StoppingDisk(*step)), &folder).unwrap();
    if *step == Step::BeforeCommit {
        let hook = Some(|| -> bool { stop() });
        job.connection_mut().commit_hook(hook).unwrap();
    }
    append(&mut job, next + 1).unwrap();
    if *step == Step::Stored {
        stop();
    }
    panic!("{step:?} was never reached");
}

/// Lets a child come to its step and kills it; the last event that it acknowledged.
fn killed_at(folder: &Path, step: &str) -> u64 {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "store::crash_tests::child", "--ignored"])
        .arg("--nocapture")
        .env(FOLDER, folder)
        .env(STEP, step)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut acknowledged = 0;
    let output = BufReader::new(child.stdout.take().unwrap());
    let mut lines = output.lines().map_while(Result::ok);
    let stopped = lines.any(|line| {
        if let Some(id) = line.strip_prefix("ack ") {
            acknowledged = id.parse().unwrap();
        }
        line == "stopped"
    });
    child.kill().unwrap();
    child.wait().unwrap();
    if !stopped {
        let errors = io::read_to_string(child.stderr.take().unwrap()).unwrap();
        panic!("{step}: the child did not come to its step: {errors}");
    }
    acknowledged
}

/// Opens the job and requires exactly `expected` events with their clips.
fn check(folder: &Path, expected: u64, step: &str) {
    let job = JobFolder::open(folder).unwrap();
    let events = job.events().unwrap();
    assert_eq!(events.len() as u64, expected, "{step}");
    for kept in &events[1..] {
        let (event, clip) = sounding(kept.id);
        assert_eq!(*kept, event);
        assert_eq!(job.clip(&event.sound.unwrap().sha256).unwrap(), clip);
    }
    let names = std::fs::read_dir(folder.join("clips")).unwrap();
    let clips = names.map(|n| n.unwrap().path().extension().unwrap().to_owned());
    let clips: Vec<_> = clips.collect();
    assert!(clips.iter().all(|end| end == "wav"), "{step}: {clips:?}");
    assert!(clips.len() as u64 <= expected, "{step}: {clips:?}");
}

/// `rounds` kills at each step and each failure, in one job.
fn killed_everywhere(rounds: usize) {
    let memory = Path::new("/dev/shm");
    let dir = if memory.is_dir() {
        tempfile::TempDir::new_in(memory)
    } else {
        tempfile::TempDir::new()
    }
    .unwrap();
    let steps = STEPS.iter().map(|s| (format!("{s:?}"), *s == Step::Stored));
    let faults = FAULTS.iter().map(|f| (format!("{f:?}"), false));
    let all: Vec<(String, bool)> = steps.chain(faults).collect();
    let mut kills = 0;
    for round in 0..rounds {
        // A new job now and then, so that looking through all of it stays quick.
        let folder = dir.path().join((round / 10).to_string());
        if !folder.exists() {
            drop(JobFolder::create(&folder, &event(1)).unwrap());
        }
        for (step, stored) in &all {
            let acknowledged = killed_at(&folder, step);
            kills += 1;
            check(&folder, acknowledged + u64::from(*stored), step);
        }
    }
    println!(
        "{kills} kills: {rounds} at each of {} steps and {} failures of the disk, nothing lost",
        STEPS.len(),
        FAULTS.len()
    );
}

#[test]
fn killed_at_every_step_nothing_acknowledged_is_lost() {
    killed_everywhere(60);
}
