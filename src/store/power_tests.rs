//! A loss of power at every point of the write order, replayed from a log of what was asked of the disk.
//!
//! A process that is killed leaves what it wrote in the kernel; power that fails does not. So the log
//! of writes, syncs and renames is replayed up to a cut, and of everything not yet synced any part may
//! have arrived, in any order: a file's bytes not at all, by half, as zeros, or whole; each new name
//! and each rename, or not (also the name of a file that was itself synced: POSIX promises no more).
//! What SQLite wrote into its log for the transaction under way is torn by sectors of 512 bytes.
//!
//! Assumed, as SQLite does (sqlite.org/atomiccommit.html, sections 2 and 6): a sync that returned
//! `Ok` is true; a write that tears leaves other sectors alone; the file system's own names survive.
#![allow(clippy::unwrap_used)]

use super::disk::{Disk, RealDisk};
use super::job_tests::{event, heard};
use super::{Error, JobFolder, Store};
use crate::event::Event;
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io;
use std::path::Path;
use std::sync::{Arc, Mutex};

/// What was asked of the disk.
#[derive(Clone, Debug)]
enum Op {
    /// A new file of that name with those bytes.
    Write(String, Vec<u8>),
    /// The bytes of the file written last are on the disk.
    Sync,
    Rename(String, String),
    /// The names of the folder are on the disk.
    SyncDir,
    /// The transaction of the event returned; the database as it then was.
    Stored(Database),
}

/// `job.sqlite` and its log, byte for byte.
#[derive(Clone, Debug, PartialEq)]
struct Database {
    main: Vec<u8>,
    log: Vec<u8>,
}

impl Database {
    fn of(job: &Path) -> Self {
        Self {
            main: fs::read(job.join("job.sqlite")).unwrap(),
            log: fs::read(job.join("job.sqlite-wal")).unwrap_or_default(),
        }
    }

    fn put(&self, job: &Path) {
        fs::write(job.join("job.sqlite"), &self.main).unwrap();
        fs::write(job.join("job.sqlite-wal"), &self.log).unwrap();
    }
}

/// What a disk leaves out though it says that it did it: to show that the model would notice.
#[derive(Clone, Copy, PartialEq, Debug)]
enum Lie {
    None,
    Sync,
    SyncDir,
}

/// The real disk, with a log.
struct Logging {
    log: Arc<Mutex<Vec<Op>>>,
    lie: Lie,
}

impl Logging {
    fn note(&self, op: Op) {
        self.log.lock().unwrap().push(op);
    }
}

fn name(path: &Path) -> String {
    path.file_name().unwrap().to_str().unwrap().to_owned()
}

impl Disk for Logging {
    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<File> {
        self.note(Op::Write(name(path), bytes.to_vec()));
        RealDisk.write(path, bytes)
    }

    fn sync(&self, file: &File) -> io::Result<()> {
        if self.lie != Lie::Sync {
            self.note(Op::Sync);
        }
        RealDisk.sync(file)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.note(Op::Rename(name(from), name(to)));
        RealDisk.rename(from, to)
    }

    fn sync_dir(&self, folder: &Path) -> io::Result<()> {
        if self.lie != Lie::SyncDir {
            self.note(Op::SyncDir);
        }
        RealDisk.sync_dir(folder)
    }
}

const EVENTS: u64 = 13;

/// The event and its sound; the sixth has the sound of the third, every other its own.
fn sounding(id: u64) -> (Event, Vec<u8>) {
    let own = if id == 6 { 3 } else { id };
    heard(id, &vec![u8::try_from(own).unwrap(); 2_000])
}

/// A short job on a disk that keeps a log: the database before it, and the log.
fn recorded(lie: Lie) -> (Database, Vec<Op>) {
    let dir = tempfile::TempDir::new().unwrap();
    let path = dir.path().join("job");
    let log = Arc::new(Mutex::new(Vec::new()));
    let keeper = JobFolder::create(&path, &event(1)).unwrap();
    let before = Database::of(&path);
    drop(keeper);
    let disk = Box::new(Logging {
        log: Arc::clone(&log),
        lie,
    });
    let mut job = JobFolder::open_on(disk, &path).unwrap();
    for id in 2..=EVENTS {
        let (event, clip) = sounding(id);
        job.append(&event, Some(&clip)).unwrap();
        log.lock().unwrap().push(Op::Stored(Database::of(&path)));
    }
    let log = log.lock().unwrap().clone();
    (before, log)
}

/// A folder of clips that a loss of power may leave: names and bytes.
type Clips = BTreeMap<String, Vec<u8>>;

/// Every folder that may be left when the power fails after these operations.
fn left_by(ops: &[Op]) -> BTreeSet<Clips> {
    // Each file by its number, with the forms that its bytes may have.
    let mut files: Vec<Vec<Vec<u8>>> = Vec::new();
    let mut names: Vec<BTreeMap<String, usize>> = vec![BTreeMap::new()];
    let mut now: BTreeMap<String, usize> = BTreeMap::new();
    for op in ops {
        match op {
            Op::Write(name, bytes) => {
                let half = bytes[..bytes.len() / 2].to_vec();
                files.push(vec![Vec::new(), half, vec![0; bytes.len()], bytes.clone()]);
                let number = files.len() - 1;
                now.insert(name.clone(), number);
                with_and_without(&mut names, |folder| {
                    folder.insert(name.clone(), number);
                });
            }
            Op::Sync => {
                if let Some(forms) = files.last_mut() {
                    forms.drain(..3);
                }
            }
            Op::Rename(from, to) => {
                let number = now.remove(from).unwrap();
                now.insert(to.clone(), number);
                with_and_without(&mut names, |folder| {
                    folder.remove(from);
                    folder.insert(to.clone(), number);
                });
            }
            Op::SyncDir => names = vec![now.clone()],
            Op::Stored(_) => {}
        }
    }
    let mut all = BTreeSet::new();
    for folder in names {
        let mut some = vec![Clips::new()];
        for (name, number) in folder {
            some = some
                .iter()
                .flat_map(|clips| {
                    files[number].iter().map(|bytes| {
                        let mut clips = clips.clone();
                        clips.insert(name.clone(), bytes.clone());
                        clips
                    })
                })
                .collect();
        }
        all.extend(some);
    }
    all
}

/// Each folder as it is, and as the change makes it.
fn with_and_without(
    names: &mut Vec<BTreeMap<String, usize>>,
    change: impl Fn(&mut BTreeMap<String, usize>),
) {
    for mut folder in names.clone() {
        change(&mut folder);
        names.push(folder);
    }
}

/// The job as it would be found; an error where something acknowledged is gone or it is stuck.
fn found(clips: &Clips, database: &Database, events: u64) -> Result<(), String> {
    let dir = tempfile::TempDir::new().unwrap();
    let path = dir.path();
    fs::create_dir(path.join("clips")).unwrap();
    database.put(path);
    for (name, bytes) in clips {
        fs::write(path.join("clips").join(name), bytes).unwrap();
    }
    let text = |e: Error| e.to_string();
    let mut job = JobFolder::open(path).map_err(text)?;
    let kept = job.events().map_err(text)?;
    if kept.len() as u64 != events {
        return Err(format!("{} events instead of {events}", kept.len()));
    }
    for id in 2..=events {
        let (event, clip) = sounding(id);
        if job.clip(&event.sound.unwrap().sha256).map_err(text)? != clip {
            return Err(format!("the clip of event {id} is another"));
        }
    }
    // It goes on: the next event is said again.
    let (event, clip) = sounding(events + 1);
    job.append(&event, Some(&clip)).map_err(text)?;
    if job.clip(&event.sound.unwrap().sha256).map_err(text)? != clip {
        return Err("the clip said again is not whole".to_owned());
    }
    let parts = fs::read_dir(path.join("clips")).unwrap();
    match parts
        .map(|e| name(&e.unwrap().path()))
        .find(|n| n.ends_with(".part"))
    {
        Some(part) => Err(format!("{part} is left")),
        None => Ok(()),
    }
}

/// Replays every cut of a log: folders tried, and what was wrong with some.
fn replay(lie: Lie) -> (usize, Vec<String>) {
    let (mut database, log) = recorded(lie);
    let (mut events, mut tried, mut wrong) = (1, 0, Vec::new());
    for cut in 0..=log.len() {
        for clips in left_by(&log[..cut]) {
            let mut check = |database: &Database, events: u64| {
                tried += 1;
                if let Err(why) = found(&clips, database, events) {
                    wrong.push(format!("{lie:?}, cut {cut}, {events} events: {why}"));
                }
            };
            check(&database, events);
            // The transaction under way may have arrived though it has not returned.
            if let Some(Op::Stored(next)) = log.get(cut) {
                check(next, events + 1);
            }
            // One loss is enough to show that a lying disk is found out.
            if lie != Lie::None && !wrong.is_empty() {
                return (tried, wrong);
            }
        }
        if let Some(Op::Stored(next)) = log.get(cut) {
            database = next.clone();
            events += 1;
        }
    }
    (tried, wrong)
}

#[test]
fn whatever_a_loss_of_power_drops_nothing_acknowledged_is_lost() {
    let (tried, wrong) = replay(Lie::None);
    println!("{tried} folders that a loss of power may leave, nothing lost");
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(tried > 60, "{tried}");
}

#[test]
fn the_model_finds_a_sync_that_is_left_out() {
    for lie in [Lie::Sync, Lie::SyncDir] {
        let (tried, wrong) = replay(lie);
        println!("{lie:?} left out: {} of {tried} folders wrong", wrong.len());
        assert!(!wrong.is_empty(), "{lie:?}");
    }
}

/// Of the transaction under way, any sectors of the log arrive: the event is there whole or not at
/// all, and those before it stay.
#[test]
fn a_torn_transaction_is_there_whole_or_not_at_all() {
    const SECTOR: usize = 512;
    let (mut before, log) = recorded(Lie::None);
    let whole = left_by(&log).pop_last().unwrap();
    let (mut tried, mut arrived, mut events) = (0, 0, 1);
    let mut dice = 1_u64;
    for op in &log {
        let Op::Stored(after) = op else { continue };
        // A log that begins anew (after it was folded in) or a database that was folded meanwhile
        // is SQLite's own order of writes, not a torn transaction.
        if after.main == before.main && after.log.starts_with(&before.log) {
            let sectors = (after.log.len() - before.log.len()).div_ceil(SECTOR);
            let prefixes = (0..=sectors).map(|n| (0..sectors).map(|s| s < n).collect::<Vec<_>>());
            let random = (0..40).map(|_| {
                (0..sectors)
                    .map(|_| {
                        dice = dice
                            .wrapping_mul(6_364_136_223_846_793_005)
                            .wrapping_add(1_442_695_040_888_963_407);
                        dice >> 63 == 1
                    })
                    .collect()
            });
            for kept in prefixes.chain(random).collect::<Vec<Vec<bool>>>() {
                let mut torn = after.clone();
                for (s, _) in kept.iter().enumerate().filter(|(_, kept)| !**kept) {
                    let from = before.log.len() + s * SECTOR;
                    let to = (from + SECTOR).min(torn.log.len());
                    torn.log[from..to].fill(0);
                }
                tried += 1;
                let absent = found(&whole, &torn, events);
                let present = found(&whole, &torn, events + 1);
                assert!(absent.is_ok() || present.is_ok(), "{absent:?} {present:?}");
                arrived += usize::from(present.is_ok());
            }
        }
        before = after.clone();
        events += 1;
    }
    println!(
        "{tried} torn transactions: {arrived} whole, the others absent, nothing before them lost"
    );
    assert!(tried > 100 && arrived > 0, "{tried} {arrived}");
}
