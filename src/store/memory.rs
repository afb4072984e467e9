//! A store in memory, for tests: the same rules as a job on disk, and failures on demand.

use super::{Error, Store, clips, encode, forget};
use crate::event::Event;
use std::collections::{BTreeMap, VecDeque};

/// Keeps nothing beyond its own life.
#[derive(Default, Debug)]
pub(crate) struct MemoryStore {
    events: Vec<Event>,
    clips: BTreeMap<String, Vec<u8>>,
    failures: VecDeque<(usize, Error)>,
}

impl MemoryStore {
    /// An empty one.
    #[must_use]
    pub(crate) fn new() -> Self {
        Self::default()
    }

    /// Lets `good` appends pass, then fails one with `error`; calls queue up, each counting from
    /// the failure before it.
    #[cfg(test)]
    pub(crate) fn fail_after(&mut self, good: usize, error: Error) {
        self.failures.push_back((good, error));
    }

    fn injected(&mut self) -> Option<Error> {
        let (left, _) = self.failures.front_mut()?;
        if *left == 0 {
            return self.failures.pop_front().map(|(_, error)| error);
        }
        *left -= 1;
        None
    }
}

impl Store for MemoryStore {
    fn append(&mut self, event: &Event, clip: Option<&[u8]>) -> Result<(), Error> {
        let next = self.events.last().map_or(1, |last| last.id + 1);
        clips::check_append(event, clip, next, |name| self.clips.contains_key(name))?;
        encode(event).map_err(Error::Encode)?;
        if let Some(error) = self.injected() {
            return Err(error);
        }
        if let (Some(sound), Some(clip)) = (&event.sound, clip) {
            self.clips.insert(sound.sha256.clone(), clip.to_vec());
        }
        self.events.push(event.clone());
        Ok(())
    }

    fn forget(&mut self, event: &Event) -> Result<usize, Error> {
        self.append(event, None)?;
        let names = forget::forgotten(&self.events);
        let before = self.clips.len();
        self.clips.retain(|name, _| !names.contains(name));
        Ok(before - self.clips.len())
    }

    fn events(&self) -> Result<Vec<Event>, Error> {
        Ok(self.events.clone())
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Error> {
        clips::check_name(sha256)?;
        let missing = || {
            let (sha256, copied) = (sha256.to_owned(), false);
            if forget::forgotten(&self.events).contains(&sha256) {
                Error::ClipForgotten { sha256 }
            } else {
                Error::ClipMissing { sha256, copied }
            }
        };
        self.clips.get(sha256).cloned().ok_or_else(missing)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::job_tests::{event, heard};
    use super::*;

    #[test]
    fn it_keeps_the_rules_of_a_job_on_disk() {
        let mut store = MemoryStore::new();
        let (second, clip) = heard(2, b"sound");
        store.append(&event(1), None).unwrap();
        assert!(matches!(
            store.append(&event(3), None),
            Err(Error::WrongId {
                given: 3,
                expected: 2
            })
        ));
        assert!(matches!(
            store.append(&second, None),
            Err(Error::ClipMissing { .. })
        ));
        assert!(matches!(
            store.append(&second, Some(b"other")),
            Err(Error::ClipOther { .. })
        ));
        store.append(&second, Some(&clip)).unwrap();
        assert_eq!(
            store.clip(&second.sound.as_ref().unwrap().sha256).unwrap(),
            clip
        );
        assert_eq!(store.events().unwrap(), [event(1), second]);
    }

    #[test]
    fn it_fails_when_told_to_and_then_no_more() {
        let mut store = MemoryStore::new();
        let full = Error::DiskFull { path: "job".into() };
        store.fail_after(1, full);
        store.append(&event(1), None).unwrap();
        assert!(matches!(
            store.append(&event(2), None),
            Err(Error::DiskFull { .. })
        ));
        assert_eq!(store.events().unwrap(), [event(1)]);
        store.append(&event(2), None).unwrap();
    }
}
