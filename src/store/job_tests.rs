//! Tests of a job's folder: what is refused, and that what is kept comes back.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::event::{Fact, Outcome, Sound};
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A typed event with that id.
pub(super) fn event(id: u64) -> Event {
    Event {
        id,
        at_ms: 1_700_000_000_000 + i64::try_from(id).unwrap(),
        said: format!("note number {id}"),
        outcome: Outcome::Stored,
        why: String::new(),
        spoken: "noted".to_owned(),
        command: None,
        subject: None,
        confidence: 0.93,
        rival: None,
        sound: None,
        grammar: "0123456789abcdef".to_owned(),
        facts: vec![Fact::Note {
            position: None,
            text: format!("number {id}"),
        }],
    }
}

/// An event that was heard, and its clip.
pub(super) fn heard(id: u64, clip: &[u8]) -> (Event, Vec<u8>) {
    let sound = Sound {
        sha256: sha256_hex(clip),
        length_ms: 1_200,
        overruns: 0,
        model: "feedfacefeedface".to_owned(),
    };
    let event = Event {
        sound: Some(sound),
        ..event(id)
    };
    (event, clip.to_vec())
}

/// A new job with its first event.
pub(super) fn new_job() -> (TempDir, PathBuf, JobFolder) {
    let dir = TempDir::new().unwrap();
    let path = dir.path().join("head job ü%");
    let job = JobFolder::create(&path, &event(1)).unwrap();
    (dir, path, job)
}

fn refused(result: Result<JobFolder, Error>) -> Error {
    result.err().unwrap()
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

#[test]
fn what_is_kept_comes_back_after_reopening() {
    let (_dir, path, mut job) = new_job();
    let (second, clip) = heard(2, b"RIFF sound");
    job.append(&second, Some(&clip)).unwrap();
    let edit = Event {
        sound: second.sound.clone(),
        ..event(3)
    };
    job.append(&edit, None).unwrap();
    drop(job);
    assert!(
        !path.join("job.sqlite-wal").exists(),
        "closing folds the log in"
    );
    let job = JobFolder::open(&path).unwrap();
    assert_eq!(job.events().unwrap(), [event(1), second.clone(), edit]);
    assert_eq!(job.clip(&second.sound.unwrap().sha256).unwrap(), clip);
}

#[test]
fn a_copy_is_a_job_even_while_the_first_is_open() {
    let (dir, path, mut job) = new_job();
    let (second, clip) = heard(2, b"sound");
    job.append(&second, Some(&clip)).unwrap();
    let there = dir.path().join("copy");
    copy(&path, &there);
    let mut second_job = JobFolder::open(&there).unwrap();
    assert_eq!(second_job.events().unwrap(), job.events().unwrap());
    second_job.append(&event(3), None).unwrap();
    assert_eq!(job.events().unwrap().len(), 2);
}

#[cfg(unix)]
#[test]
fn only_the_owner_may_look() {
    use std::os::unix::fs::PermissionsExt;
    let (_dir, path, mut job) = new_job();
    let (second, clip) = heard(2, b"sound");
    job.append(&second, Some(&clip)).unwrap();
    let mode = |p: &Path| p.metadata().unwrap().permissions().mode() & 0o777;
    for folder in [path.clone(), path.join("clips")] {
        assert_eq!(mode(&folder), 0o700, "{}", folder.display());
    }
    let clip = format!("clips/{}.wav", second.sound.unwrap().sha256);
    for name in [
        "job.sqlite",
        "job.sqlite-wal",
        "job.sqlite-shm",
        "job.lock",
        &clip,
    ] {
        assert_eq!(mode(&path.join(name)), 0o600, "{name}");
    }
}

#[test]
fn one_writer_many_readers() {
    let (_dir, path, mut job) = new_job();
    let error = refused(JobFolder::open(&path));
    let holder = Some(std::process::id());
    assert!(matches!(&error, Error::InUse { holder: h, .. } if *h == holder));
    let mut reader = JobFolder::open_read_only(&path).unwrap();
    job.append(&event(2), None).unwrap();
    assert_eq!(reader.events().unwrap().len(), 2);
    assert!(matches!(
        reader.append(&event(3), None),
        Err(Error::OpenedToRead { .. })
    ));
    drop(job);
    JobFolder::open(&path).unwrap();
}

#[test]
fn a_new_job_never_covers_what_is_there() {
    let (dir, path, job) = new_job();
    assert!(matches!(
        refused(JobFolder::create(&path, &event(1))),
        Error::Exists { .. }
    ));
    drop(job);
    assert!(matches!(
        refused(JobFolder::create(&path, &event(1))),
        Error::Exists { .. }
    ));
    assert_eq!(
        JobFolder::open(&path).unwrap().events().unwrap(),
        [event(1)]
    );
    let other = dir.path().join("other");
    fs::create_dir(&other).unwrap();
    fs::write(other.join("letter.txt"), "dear").unwrap();
    assert!(matches!(
        refused(JobFolder::create(&other, &event(1))),
        Error::NotEmpty { .. }
    ));
    assert_eq!(fs::read_dir(&other).unwrap().count(), 1);
    let file = other.join("letter.txt");
    assert!(matches!(
        refused(JobFolder::create(&file, &event(1))),
        Error::NotAFolder { .. }
    ));
    let deep = dir.path().join("a/b");
    assert!(matches!(
        refused(JobFolder::create(&deep, &event(1))),
        Error::Missing { .. }
    ));
    let empty = dir.path().join("empty");
    fs::create_dir(&empty).unwrap();
    JobFolder::create(&empty, &event(1)).unwrap();
}

type Is = fn(&Error) -> bool;

#[test]
fn what_is_no_job_is_named_and_left_alone() {
    let (dir, path, job) = new_job();
    drop(job);
    let at = |name: &str| dir.path().join(name);
    assert!(matches!(
        refused(JobFolder::open(&at("nowhere"))),
        Error::Missing { .. }
    ));
    fs::create_dir(at("empty")).unwrap();
    assert!(matches!(
        refused(JobFolder::open(&at("empty"))),
        Error::NoJob { .. }
    ));
    assert_eq!(fs::read_dir(at("empty")).unwrap().count(), 0);
    let whole = fs::read(path.join("job.sqlite")).unwrap();
    let version = [&whole[..60], &[0, 0, 0, 9], &whole[64..]].concat();
    let foreign = [&whole[..68], &[0, 0, 0, 9], &whole[72..]].concat();
    let broken = {
        let mut bytes = whole.clone();
        bytes[4096..12288].fill(0x5a);
        bytes
    };
    let cases: [(&[u8], Is); 7] = [
        (b"", |e| matches!(e, Error::Unfinished { .. })),
        (b"dear diary", |e| matches!(e, Error::NotADatabase { .. })),
        (&[b'x'; 4096], |e| matches!(e, Error::NotADatabase { .. })),
        (&version, |e| matches!(e, Error::TooNew { found: 9, .. })),
        (&foreign, |e| matches!(e, Error::Foreign { .. })),
        (&broken, |e| matches!(e, Error::Damaged { .. })),
        (&whole[..5000], |e| {
            matches!(e, Error::Corrupt { .. } | Error::Damaged { .. })
        }),
    ];
    for (i, (bytes, is)) in cases.into_iter().enumerate() {
        let there = at(&format!("case {i}"));
        fs::create_dir(&there).unwrap();
        fs::write(there.join("job.sqlite"), bytes).unwrap();
        for open in [JobFolder::open, JobFolder::open_read_only] {
            let error = refused(open(&there));
            assert!(is(&error), "case {i}: {error:?}");
            assert_eq!(
                fs::read(there.join("job.sqlite")).unwrap(),
                bytes,
                "case {i}"
            );
        }
    }
}

#[test]
fn a_job_with_sounds_whose_database_was_emptied_is_not_called_unfinished() {
    let (_dir, path, mut job) = new_job();
    let (second, clip) = heard(2, b"sound");
    job.append(&second, Some(&clip)).unwrap();
    drop(job);
    fs::write(path.join("job.sqlite"), b"").unwrap();
    assert!(matches!(
        refused(JobFolder::open(&path)),
        Error::SoundsOnly { sounds: 1, .. }
    ));
}

#[test]
fn the_database_itself_refuses_changes() {
    let (_dir, _path, mut job) = new_job();
    job.append(&event(2), None).unwrap();
    for sql in [
        "UPDATE event SET said='other' WHERE id=1",
        "DELETE FROM event WHERE id=2",
        "INSERT INTO event VALUES(9,0,'','stored',NULL,'')",
        "INSERT OR REPLACE INTO event VALUES(2,0,'','stored',NULL,'')",
    ] {
        let error = job
            .connection()
            .execute_batch(sql)
            .err()
            .unwrap()
            .to_string();
        assert!(error.contains("events are"), "{sql}: {error}");
    }
    assert_eq!(job.events().unwrap(), [event(1), event(2)]);
}

#[test]
fn an_event_of_another_version_or_number_is_named() {
    let (_dir, _path, job) = new_job();
    let put = |id: u64, body: &str| {
        let row = rusqlite::params![i64::try_from(id).unwrap(), body];
        let sql = "INSERT INTO event VALUES(?,0,'','stored',NULL,?)";
        job.connection().execute(sql, row).unwrap();
    };
    put(2, &encode(&event(7)).unwrap());
    assert!(matches!(job.events(), Err(Error::Corrupt { .. })));
    let (_dir, path, job) = new_job();
    let row = chain::Row {
        body: "{\"v\":9}".to_owned(),
        ..chain::Row::of(&event(2)).unwrap()
    };
    let end = chain::end(&path, job.connection()).unwrap();
    chain::insert(&path, job.connection(), &row, &end).unwrap();
    let text = format!("{:#}", anyhow::Error::from(job.events().err().unwrap()));
    assert!(
        text.contains("event 2 cannot be read: its format 9 is newer"),
        "{text}"
    );
}

#[test]
fn a_damaged_or_missing_clip_is_named_and_healed_by_the_same_sound() {
    let (_dir, path, mut job) = new_job();
    let (second, clip) = heard(2, b"some sound");
    job.append(&second, Some(&clip)).unwrap();
    let name = second.sound.clone().unwrap().sha256;
    let file = path.join("clips").join(format!("{name}.wav"));
    fs::write(&file, b"some noise").unwrap();
    assert!(matches!(job.clip(&name), Err(Error::ClipDamaged { .. })));
    fs::remove_file(&file).unwrap();
    assert!(matches!(job.clip(&name), Err(Error::ClipMissing { .. })));
    assert!(matches!(job.clip("../job"), Err(Error::ClipName { .. })));
    fs::write(&file, b"some").unwrap();
    let (third, clip) = heard(3, b"some sound");
    job.append(&third, Some(&clip)).unwrap();
    assert_eq!(job.clip(&name).unwrap(), clip);
}

/// Root may write anywhere, so this only shows something when another user runs it.
#[cfg(unix)]
#[test]
fn a_read_only_folder_can_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let (dir, path, mut job) = new_job();
    let (second, clip) = heard(2, b"sound");
    job.append(&second, Some(&clip)).unwrap();
    drop(job);
    let set = |p: &Path, mode| fs::set_permissions(p, fs::Permissions::from_mode(mode)).unwrap();
    set(&path, 0o500);
    if fs::write(path.join("probe"), "").is_ok() {
        eprintln!("skipped: this user may write into read-only folders");
        return;
    }
    for mode in [0o600, 0o400] {
        for name in ["job.sqlite", "job.lock"] {
            set(&path.join(name), mode);
        }
        let error = refused(JobFolder::open(&path));
        assert!(matches!(error, Error::ReadOnly { .. }), "{error:?}");
    }
    let reader = JobFolder::open_read_only(&path).unwrap();
    assert_eq!(reader.events().unwrap().len(), 2);
    assert_eq!(reader.clip(&second.sound.unwrap().sha256).unwrap(), clip);
    set(&path, 0o000);
    for open in [JobFolder::open, JobFolder::open_read_only] {
        let error = refused(open(&path));
        assert!(
            matches!(error, Error::Denied { .. } | Error::ReadOnly { .. }),
            "{error:?}"
        );
    }
    set(&path, 0o700);
    let shut = dir.path().join("shut");
    fs::create_dir(&shut).unwrap();
    set(&shut, 0o500);
    let error = refused(JobFolder::create(&shut.join("job"), &event(1)));
    assert!(matches!(error, Error::ReadOnly { .. }), "{error:?}");
    set(&shut, 0o700);
}
