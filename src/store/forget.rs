//! Clips that are forgotten: which ones, and their removal.
//!
//! The record comes first: an event says which utterances' sounds are given up, then the files go.
//! A crash in between leaves files that the record calls forgotten; the next opening removes them.

use super::disk::Disk;
use super::{Error, clips};
use crate::event::{Event, Fact};
use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::Path;

/// Names of the clips that every event naming them has given up.
///
/// A sound that was heard again afterwards, or that another event still needs, is not among them.
pub(super) fn forgotten(events: &[Event]) -> BTreeSet<String> {
    let given_up: BTreeSet<u64> = events
        .iter()
        .flat_map(|event| &event.facts)
        .filter_map(|fact| match fact {
            Fact::Forgot { events } => Some(events),
            _ => None,
        })
        .flatten()
        .copied()
        .collect();
    let (mut gone, mut needed) = (BTreeSet::new(), BTreeSet::new());
    for event in events {
        if let Some(sound) = &event.sound {
            let of = if given_up.contains(&event.id) {
                &mut gone
            } else {
                &mut needed
            };
            of.insert(sound.sha256.clone());
        }
    }
    &gone - &needed
}

/// Reads a clip of a job's folder; one that these events give up says so.
pub(super) fn read_clip(job: &Path, sha256: &str, events: &[Event]) -> Result<Vec<u8>, Error> {
    match clips::read(&job.join(clips::FOLDER), sha256) {
        Err(Error::ClipMissing { .. }) if forgotten(events).contains(sha256) => {
            let sha256 = sha256.to_owned();
            Err(Error::ClipForgotten { sha256 })
        }
        other => other,
    }
}

/// Removes those that are there; how many.
pub(super) fn remove(
    disk: &dyn Disk,
    folder: &Path,
    names: &BTreeSet<String>,
) -> Result<usize, Error> {
    let mut removed = 0;
    for name in names {
        clips::check_name(name)?;
        let path = clips::file(folder, name);
        match fs::remove_file(&path) {
            Ok(()) => removed += 1,
            Err(e) if e.kind() == io::ErrorKind::NotFound => {}
            Err(e) => return Err(Error::io(&path, "removing the clip", e)),
        }
    }
    if removed > 0 {
        disk.sync_dir(folder)
            .map_err(|e| Error::io(folder, "syncing the folder", e))?;
    }
    Ok(removed)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::job_tests::{event, heard, new_job};
    use super::super::{JobFolder, MemoryStore, Store};
    use super::*;

    fn forgets(id: u64, events: &[u64]) -> Event {
        let facts = vec![Fact::Forgot {
            events: events.to_vec(),
        }];
        Event { facts, ..event(id) }
    }

    /// Two sounds, the second of them named by two events; both are given up one after the other.
    fn check(job: &mut dyn Store) {
        let (second, first_clip) = heard(2, b"first");
        let (third, second_clip) = heard(3, b"second");
        let (fourth, _) = heard(4, b"second");
        job.append(&second, Some(&first_clip)).unwrap();
        job.append(&third, Some(&second_clip)).unwrap();
        job.append(&fourth, Some(&second_clip)).unwrap();
        let names = [&second, &third].map(|e| e.sound.clone().unwrap().sha256);
        assert_eq!(job.forget(&forgets(5, &[2, 3])).unwrap(), 1);
        assert!(matches!(
            job.clip(&names[0]),
            Err(Error::ClipForgotten { .. })
        ));
        assert_eq!(job.clip(&names[1]).unwrap(), second_clip, "4 still has it");
        assert_eq!(job.forget(&forgets(6, &[4])).unwrap(), 1);
        assert!(matches!(
            job.clip(&names[1]),
            Err(Error::ClipForgotten { .. })
        ));
        assert_eq!(job.events().unwrap().len(), 6, "the events all stay");
        // The same sound heard again is kept again.
        let (seventh, _) = heard(7, b"first");
        job.append(&seventh, Some(&first_clip)).unwrap();
        assert_eq!(job.clip(&names[0]).unwrap(), first_clip);
    }

    #[test]
    fn what_is_given_up_goes_and_the_events_stay() {
        let mut memory = MemoryStore::new();
        memory.append(&event(1), None).unwrap();
        check(&mut memory);
        let (_dir, path, mut job) = new_job();
        check(&mut job);
        drop(job);
        let clips = fs::read_dir(path.join("clips")).unwrap().count();
        let job = JobFolder::open(&path).unwrap();
        assert_eq!((clips, job.events().unwrap().len()), (1, 7));
    }

    #[test]
    fn a_crash_between_record_and_removal_is_made_good_at_opening() {
        let (_dir, path, mut job) = new_job();
        let (second, clip) = heard(2, b"private talk");
        job.append(&second, Some(&clip)).unwrap();
        job.append(&forgets(3, &[2]), None).unwrap(); // the record alone
        drop(job);
        assert_eq!(fs::read_dir(path.join("clips")).unwrap().count(), 1);
        let job = JobFolder::open(&path).unwrap();
        assert_eq!(fs::read_dir(path.join("clips")).unwrap().count(), 0);
        assert_eq!(job.events().unwrap().len(), 3);
    }
}
