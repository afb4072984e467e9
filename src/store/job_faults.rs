//! Tests of a failing disk: whatever step fails, what was stored stays, the failed event is absent,
//! and saying it again works.
#![allow(clippy::unwrap_used)]

use super::disk::{Disk, RealDisk};
use super::job_tests::{event, heard, new_job};
use super::{Error, JobFolder, Store};
use std::fs::{self, File};
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Fault {
    /// Half of the bytes, then an error.
    ShortWrite,
    /// Half of the bytes, and no error.
    SilentShortWrite,
    /// No room for any.
    Full,
    /// The device fails (EIO) after half of the bytes.
    Device,
    /// Written, but not brought to the disk.
    Sync,
    Rename,
    SyncDir,
}

pub(super) const FAULTS: [Fault; 7] = [
    Fault::ShortWrite,
    Fault::SilentShortWrite,
    Fault::Full,
    Fault::Device,
    Fault::Sync,
    Fault::Rename,
    Fault::SyncDir,
];

/// A disk with one fault, while it is armed.
#[derive(Clone)]
pub(super) struct FailingDisk {
    fault: Fault,
    armed: Arc<AtomicBool>,
}

impl FailingDisk {
    pub(super) fn new(fault: Fault) -> Self {
        let armed = Arc::new(AtomicBool::new(true));
        Self { fault, armed }
    }

    fn fails(&self, fault: Fault) -> bool {
        self.fault == fault && self.armed.load(Ordering::SeqCst)
    }

    fn broken<T>() -> io::Result<T> {
        Err(io::Error::from_raw_os_error(5)) // EIO
    }
}

impl Disk for FailingDisk {
    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<File> {
        let half = &bytes[..bytes.len() / 2];
        if self.fails(Fault::Full) {
            fs::write(path, b"")?;
            return Err(io::Error::from(io::ErrorKind::StorageFull));
        }
        if self.fails(Fault::ShortWrite) {
            RealDisk.write(path, half)?;
            return Err(io::Error::from(io::ErrorKind::WriteZero));
        }
        if self.fails(Fault::Device) {
            RealDisk.write(path, half)?;
            return Self::broken();
        }
        if self.fails(Fault::SilentShortWrite) {
            return RealDisk.write(path, half);
        }
        RealDisk.write(path, bytes)
    }

    fn sync(&self, file: &File) -> io::Result<()> {
        if self.fails(Fault::Sync) {
            return Self::broken();
        }
        RealDisk.sync(file)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        if self.fails(Fault::Rename) {
            return Self::broken();
        }
        RealDisk.rename(from, to)
    }

    fn sync_dir(&self, folder: &Path) -> io::Result<()> {
        if self.fails(Fault::SyncDir) {
            return Self::broken();
        }
        RealDisk.sync_dir(folder)
    }
}

fn clips_in(path: &Path) -> Vec<String> {
    let names = fs::read_dir(path.join("clips")).unwrap();
    names
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect()
}

#[test]
fn whatever_fails_earlier_events_stay_and_a_retry_works() {
    for fault in FAULTS {
        let (_dir, path, mut job) = new_job();
        let (second, clip2) = heard(2, b"the first sound");
        job.append(&second, Some(&clip2)).unwrap();
        drop(job);
        let disk = FailingDisk::new(fault);
        let mut job = JobFolder::open_on(Box::new(disk.clone()), &path).unwrap();
        let (third, clip3) = heard(3, b"the second sound");
        let error = job.append(&third, Some(&clip3)).err().unwrap();
        assert_eq!(
            matches!(error, Error::DiskFull { .. }),
            fault == Fault::Full,
            "{fault:?}: {error}"
        );
        let clips = clips_in(&path);
        assert!(clips.iter().all(|c| c.ends_with(".wav")), "{fault:?}");
        // Only a name that is not safely on the disk may have been left, and it is whole.
        assert_eq!(
            clips.len(),
            if fault == Fault::SyncDir { 2 } else { 1 },
            "{fault:?}"
        );
        for open in [true, false] {
            assert_eq!(
                job.events().unwrap(),
                [event(1), second.clone()],
                "{fault:?}"
            );
            let name = &second.sound.as_ref().unwrap().sha256;
            assert_eq!(job.clip(name).unwrap(), clip2);
            if open {
                drop(job);
                job = JobFolder::open_on(Box::new(disk.clone()), &path).unwrap();
            }
        }
        disk.armed.store(false, Ordering::SeqCst);
        job.append(&third, Some(&clip3)).unwrap();
        assert_eq!(job.events().unwrap(), [event(1), second, third.clone()]);
        assert_eq!(job.clip(&third.sound.unwrap().sha256).unwrap(), clip3);
        assert_eq!(clips_in(&path).len(), 2);
    }
}

#[test]
fn a_typed_event_needs_no_clip_and_passes_a_broken_clips_disk() {
    let (_dir, path, job) = new_job();
    drop(job);
    let disk = Box::new(FailingDisk::new(Fault::Full));
    let mut job = JobFolder::open_on(disk, &path).unwrap();
    job.append(&event(2), None).unwrap();
}

#[test]
fn a_full_database_refuses_the_event_and_keeps_the_others() {
    let (_dir, path, mut job) = new_job();
    let limit = |job: &JobFolder, pages: i64| {
        let sql = format!("PRAGMA max_page_count={pages}");
        job.connection()
            .query_row(&sql, [], |row| row.get::<_, i64>(0))
            .unwrap()
    };
    let pages = limit(&job, 1); // SQLite answers with the least it can: what it has
    let (mut second, clip) = heard(2, b"sound");
    second.said = "a".repeat(50_000);
    let error = job.append(&second, Some(&clip)).err().unwrap();
    assert!(
        matches!(error, Error::DiskFull { .. }),
        "{pages} pages: {error}"
    );
    assert_eq!(job.events().unwrap(), [event(1)]);
    limit(&job, 1_000_000);
    job.append(&second, Some(&clip)).unwrap();
    drop(job);
    assert_eq!(
        JobFolder::open(&path).unwrap().events().unwrap(),
        [event(1), second]
    );
}

#[test]
fn a_job_that_cannot_be_made_leaves_nothing() {
    let dir = tempfile::TempDir::new().unwrap();
    let path = dir.path().join("job");
    let disk = FailingDisk::new(Fault::SyncDir);
    let made = JobFolder::create_on(Box::new(disk), &path, &event(1));
    assert!(matches!(made.err().unwrap(), Error::DiskFailed { .. }));
    assert!(!path.exists());
    assert!(matches!(
        JobFolder::create(&path, &event(2)).err().unwrap(),
        Error::WrongId {
            given: 2,
            expected: 1
        }
    ));
    assert!(!path.exists());
    JobFolder::create(&path, &event(1)).unwrap();
}

#[test]
fn what_a_crash_left_half_written_is_removed_at_the_next_opening() {
    let (_dir, path, job) = new_job();
    drop(job);
    fs::write(path.join("clips/abc.part"), b"half").unwrap();
    fs::write(path.join("clips/keep.wav"), b"a clip that no event names").unwrap();
    JobFolder::open_read_only(&path).unwrap();
    assert_eq!(clips_in(&path).len(), 2, "a reader removes nothing");
    JobFolder::open(&path).unwrap();
    assert_eq!(clips_in(&path), ["keep.wav"]);
}
