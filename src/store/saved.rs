//! What is left of a damaged job: every event that the chain of checksums proves, wherever it stands.

use super::chain::{self, Last, Row, START};
use super::damage::Damage;
use super::disk::read_own;
use super::pages::{Candidates, candidates};
use super::{Error, Store, clips, forget, last, schema};
use crate::event::{Event, Outcome};
use std::collections::BTreeMap;
use std::io;
use std::path::Path;

/// What stands in `command` of the event that keeps the number of a damaged one.
const DAMAGED: &str = "damaged";
/// A chain is followed along so many courses at most: one, and one more for each damaged event.
const COURSES: usize = 16;
/// The database of a job of a hundred thousand events is smaller.
const MOST_BYTES: u64 = 1_000_000_000;

/// A damaged job, to be read only. A damaged event keeps its number, and says nothing else.
#[derive(Debug)]
pub struct Saved {
    /// What is wrong.
    pub damage: Damage,
    events: Vec<Event>,
}

/// Whether an event keeps the number of one that was damaged.
#[must_use]
pub(crate) fn was_damaged(event: &Event) -> bool {
    event.command.as_deref() == Some(DAMAGED)
}

impl Saved {
    /// Reads what is left of a job, damaged or not. Nothing in its folder is changed.
    ///
    /// # Errors
    /// The disk; [`Error::NoJob`] if there is nothing of a job.
    pub fn open(folder: &Path) -> Result<Self, Error> {
        let (rows, damage) = look(folder, String::new())?;
        if damage.kept == 0 {
            let path = folder.to_path_buf();
            return Err(match clips::whole(folder) {
                0 => Error::NothingLeft { path },
                sounds => Error::SoundsOnly { path, sounds },
            });
        }
        let mut damage = damage;
        let last = rows.keys().chain(&damage.damaged).max().copied();
        let mut at_ms = 0;
        let mut events = Vec::new();
        for id in 1..=last.unwrap_or(0) {
            let event = rows
                .get(&id)
                .and_then(|row| chain::event_of(folder, row).ok());
            let event = event.unwrap_or_else(|| {
                if !damage.damaged.contains(&id) {
                    damage.damaged.push(id);
                    damage.kept -= 1;
                }
                damaged(id, at_ms)
            });
            at_ms = event.at_ms;
            events.push(event);
        }
        Ok(Self { damage, events })
    }
}

impl Store for Saved {
    fn append(&mut self, _: &Event, _: Option<&[u8]>) -> Result<(), Error> {
        let path = self.damage.folder.clone();
        Err(Error::OpenedToRead { path })
    }

    fn forget(&mut self, _: &Event) -> Result<usize, Error> {
        let path = self.damage.folder.clone();
        Err(Error::OpenedToRead { path })
    }

    fn events(&self) -> Result<Vec<Event>, Error> {
        Ok(self.events.clone())
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Error> {
        forget::read_clip(&self.damage.folder, sha256, &self.events)
    }
}

/// What holds the number of a damaged event.
fn damaged(id: u64, at_ms: i64) -> Event {
    Event {
        command: Some(DAMAGED.to_owned()),
        ..Event::unspoken(
            id,
            at_ms,
            Outcome::Refused,
            "damaged on the disk after it was stored, and left out",
        )
    }
}

/// The rows that check out, and what is wrong; `what` was found first.
fn look(folder: &Path, what: String) -> Result<(BTreeMap<u64, Row>, Damage), Error> {
    let database = bytes_of(folder, schema::NAME)?;
    let log = bytes_of(folder, schema::LOG)?;
    let mark = last::read(folder);
    let found = candidates(&database, &log);
    let proven = mark.is_some() || !found.checksums.is_empty();
    let both = end_of(&found);
    let rows: BTreeMap<u64, Row> = if proven {
        prove(found, mark.as_ref())
    } else {
        found
            .rows
            .into_iter()
            .filter_map(|(id, mut rows)| {
                rows.retain(|row| chain::event_of(folder, row).is_ok());
                Some((id, rows.pop()?))
            })
            .collect()
    };
    let end = rows.keys().next_back().copied().max(both).unwrap_or(0);
    let damage = Damage {
        folder: folder.to_path_buf(),
        what,
        kept: rows.len() as u64,
        damaged: (1..=end).filter(|id| !rows.contains_key(id)).collect(),
        gone: mark.map(|m| end + 1..=m.id).filter(|gone| !gone.is_empty()),
        proven,
    };
    Ok((rows, damage))
}

/// What [`look`] says of a job that does not check out; `error` if nothing of one is left.
pub(super) fn damage(folder: &Path, error: Error) -> Error {
    let what = match &error {
        Error::Corrupt { what, .. } => what.clone(),
        _ => "it is not a database any more".to_owned(),
    };
    match look(folder, what) {
        Ok((_, damage)) if damage.kept > 0 => Error::Damaged {
            damage: Box::new(damage),
        },
        _ => match clips::whole(folder) {
            0 => error,
            sounds => Error::SoundsOnly {
                path: folder.to_path_buf(),
                sounds,
            },
        },
    }
}

fn bytes_of(folder: &Path, name: &str) -> Result<Vec<u8>, Error> {
    let path = folder.join(name);
    match read_own(&path, MOST_BYTES) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
        other => other.map_err(|e| Error::io(&path, "reading", e)),
    }
}

/// The last number that has both an event and a checksum: a number that is damaged itself has not.
fn end_of(found: &Candidates) -> Option<u64> {
    let both = found
        .rows
        .keys()
        .filter(|id| found.checksums.contains_key(id));
    both.max().copied()
}

/// One way to come from a checksum to the next.
struct Link {
    before: String,
    row: Row,
    checksum: String,
}

/// The rows that lead to a checksum that was stored, or to the one that `mark` names.
fn prove(found: Candidates, mark: Option<&Last>) -> BTreeMap<u64, Row> {
    let end = end_of(&found).max(mark.map(|m| m.id)).unwrap_or(0);
    let Candidates { rows, checksums } = found;
    let stored = |id: u64, checksum: &String| {
        checksums.get(&id).is_some_and(|all| all.contains(checksum))
            || mark.is_some_and(|m| m.id == id && m.checksum == *checksum)
    };
    let mut links: BTreeMap<u64, Vec<Link>> = BTreeMap::new();
    let mut known = vec![START.to_owned()];
    for id in 1..=end {
        let mut next: Vec<String> = checksums.get(&id).into_iter().flatten().cloned().collect();
        for row in rows.get(&id).into_iter().flatten() {
            for before in &known {
                let checksum = row.checksum(before);
                if !next.contains(&checksum) && next.len() < COURSES {
                    next.push(checksum.clone());
                }
                let (before, row) = (before.clone(), row.clone());
                links.entry(id).or_default().push(Link {
                    before,
                    row,
                    checksum,
                });
            }
        }
        known = next;
    }
    let mut proven = BTreeMap::new();
    let mut wanted: Option<String> = None;
    for id in (1..=end).rev() {
        let mut links = links.remove(&id).unwrap_or_default();
        let of_mark = |l: &Link| mark.is_some_and(|m| m.id == id && m.checksum == l.checksum);
        let best = links
            .iter()
            .position(|l| Some(&l.checksum) == wanted.as_ref())
            .or_else(|| links.iter().position(of_mark))
            .or_else(|| links.iter().position(|l| stored(id, &l.checksum)));
        wanted = best.map(|at| links.swap_remove(at)).map(|link| {
            proven.insert(id, link.row);
            link.before
        });
    }
    proven
}
