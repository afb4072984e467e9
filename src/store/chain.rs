//! The chain of checksums: each event's covers its row and the checksum before it, so that nothing in
//! a job can be changed, left out or put in unseen.

use super::codec::{self, CodecError};
use super::{Error, sha256_hex};
use crate::event::Event;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, params};
use std::io::Write;
use std::path::Path;

/// What the first event is chained to.
pub(super) const START: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// A row of the table of events. The columns beside `body` are for reading with other tools.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Row {
    pub(super) id: u64,
    pub(super) at_ms: i64,
    pub(super) said: String,
    pub(super) outcome: String,
    pub(super) clip: Option<String>,
    pub(super) body: String,
}

/// The end of a chain: the last event's number and checksum.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Last {
    pub(super) id: u64,
    pub(super) checksum: String,
}

impl Last {
    /// Of a job without events.
    pub(super) fn none() -> Self {
        Self {
            id: 0,
            checksum: START.to_owned(),
        }
    }
}

impl Row {
    /// An event as it is stored.
    pub(super) fn of(event: &Event) -> Result<Self, Error> {
        let body = codec::encode(event).map_err(Error::Encode)?;
        let outcome = serde_json::to_value(event.outcome).map_err(|e| Error::Encode(e.into()))?;
        Ok(Self {
            id: event.id,
            at_ms: event.at_ms,
            said: event.said.clone(),
            outcome: outcome.as_str().unwrap_or_default().to_owned(),
            clip: event.sound.as_ref().map(|sound| sound.sha256.clone()),
            body,
        })
    }

    /// Its checksum after the one `before`: SHA-256 over all fields, each as a netstring
    /// (D. J. Bernstein, 1997), so that no field can run into the next.
    pub(super) fn checksum(&self, before: &str) -> String {
        let (id, at_ms) = (self.id.to_string(), self.at_ms.to_string());
        let clip = self.clip.as_deref().unwrap_or_default();
        let fields = [
            before,
            &id,
            &at_ms,
            &self.said,
            &self.outcome,
            clip,
            &self.body,
        ];
        let mut bytes = Vec::with_capacity(256 + self.said.len() + self.body.len());
        for field in fields {
            let _ = write!(bytes, "{}:{field},", field.len()); // a vector takes every write
        }
        sha256_hex(&bytes)
    }

    /// `None` if a column is not of its type: a damaged one.
    fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Option<Self>> {
        let whole = |i| Ok::<_, rusqlite::Error>(row.get_ref(i)?.as_i64().ok());
        let text = |i| match row.get_ref(i)? {
            ValueRef::Text(bytes) => Ok(std::str::from_utf8(bytes).ok().map(str::to_owned)),
            _ => Ok::<_, rusqlite::Error>(None),
        };
        let id: Option<i64> = whole(0)?;
        let clip = match row.get_ref(4)? {
            ValueRef::Null => Some(None),
            _ => text(4)?.map(Some),
        };
        let fields = (id, whole(1)?, text(2)?, text(3)?, clip, text(5)?);
        let (Some(id), Some(at_ms), Some(said), Some(outcome), Some(clip), Some(body)) = fields
        else {
            return Ok(None);
        };
        let Ok(id) = u64::try_from(id) else {
            return Ok(None);
        };
        Ok(Some(Self {
            id,
            at_ms,
            said,
            outcome,
            clip,
            body,
        }))
    }
}

/// The event of a row.
pub(super) fn event_of(path: &Path, row: &Row) -> Result<Event, Error> {
    let path = path.to_path_buf();
    match codec::decode(&row.body) {
        Ok(event) if event.id == row.id => Ok(event),
        Ok(event) => {
            let what = format!("event {} says that it is {}", row.id, event.id);
            Err(Error::Corrupt { path, what })
        }
        Err(source @ CodecError::TooNew { .. }) => {
            let id = row.id;
            Err(Error::Body { path, id, source })
        }
        Err(source) => {
            let what = format!("event {}: {source}", row.id);
            Err(Error::Corrupt { path, what })
        }
    }
}

/// Whether the database has checksums: those of before version 5 get theirs when they are opened to
/// be added to.
pub(super) fn has_checksums(path: &Path, connection: &Connection) -> Result<bool, Error> {
    let sql = "SELECT EXISTS(SELECT 1 FROM sqlite_schema WHERE type='table' AND name='checksum')";
    connection
        .query_row(sql, [], |row| row.get(0))
        .map_err(|e| Error::sql(path, e))
}

/// Gives every event in order to `each`, held against its checksum and, at its number, against `last`.
///
/// # Errors
/// [`Error::Corrupt`] if anything does not check out; whatever `each` says.
pub(super) fn walk(
    path: &Path,
    connection: &Connection,
    last: Option<&Last>,
    mut each: impl FnMut(Row) -> Result<(), Error>,
) -> Result<Last, Error> {
    let failed = |e| Error::sql(path, e);
    let corrupt = |what: String| {
        let path = path.to_path_buf();
        Err(Error::Corrupt { path, what })
    };
    // All of it from one moment, whatever a writer beside adds meanwhile.
    let _moment = connection.unchecked_transaction().map_err(failed)?;
    let chained = has_checksums(path, connection)?;
    let sql = if chained {
        "SELECT e.id, e.at_ms, e.said, e.outcome, e.clip_sha256, e.body, c.sha256
         FROM event e LEFT JOIN checksum c ON c.id = e.id ORDER BY e.id"
    } else {
        "SELECT id, at_ms, said, outcome, clip_sha256, body, NULL FROM event ORDER BY id"
    };
    let mut statement = connection.prepare_cached(sql).map_err(failed)?;
    let mut rows = statement.query([]).map_err(failed)?;
    let mut end = Last::none();
    while let Some(found) = rows.next().map_err(failed)? {
        let id = end.id + 1;
        let row = Row::read(found).map_err(failed)?.filter(|r| r.id == id);
        let Some(row) = row else {
            return corrupt(format!(
                "event {id} is missing, or is not an event any more"
            ));
        };
        let checksum = row.checksum(&end.checksum);
        let stored = found.get_ref(6).map_err(failed)?;
        if chained && stored.as_str() != Ok(checksum.as_str()) {
            return corrupt(format!("event {id} is not what its checksum says"));
        }
        end = Last { id, checksum };
        if last.is_some_and(|last| last.id == id && *last != end) {
            return corrupt(format!("event {id} is not the one that job.last names"));
        }
        each(row)?;
    }
    if let Some(last) = last.filter(|last| last.id > end.id) {
        let (from, to) = (end.id + 1, last.id);
        return corrupt(format!("events {from} to {to} were stored and are gone"));
    }
    let checksums: i64 = if chained {
        let sql = "SELECT count(*) FROM checksum";
        connection
            .query_row(sql, [], |r| r.get(0))
            .map_err(failed)?
    } else {
        i64::try_from(end.id).unwrap_or(i64::MAX)
    };
    if u64::try_from(checksums) != Ok(end.id) {
        return corrupt(format!("{} events, but {checksums} checksums", end.id));
    }
    Ok(end)
}

/// The end of the chain as it stands, without walking it.
pub(super) fn end(path: &Path, connection: &Connection) -> Result<Last, Error> {
    let failed = |e| Error::sql(path, e);
    let number = |row: &rusqlite::Row<'_>| row.get::<_, i64>(0).map(i64::unsigned_abs);
    let events = connection
        .prepare_cached("SELECT coalesce(max(id), 0) FROM event")
        .and_then(|mut statement| statement.query_row([], number))
        .map_err(failed)?;
    let last = connection
        .prepare_cached("SELECT id, sha256 FROM checksum ORDER BY id DESC LIMIT 1")
        .and_then(|mut statement| {
            let last = |row: &rusqlite::Row<'_>| Ok((number(row)?, row.get(1)?));
            statement.query_row([], last).optional()
        })
        .map_err(failed)?;
    let end = last.map_or_else(Last::none, |(id, checksum)| Last { id, checksum });
    if end.id == events {
        return Ok(end);
    }
    let what = format!("event {events} is the last, but checksum {}", end.id);
    let path = path.to_path_buf();
    Err(Error::Corrupt { path, what })
}

/// Puts an event in its row, and its checksum beside it; the new end.
pub(super) fn insert(
    path: &Path,
    to: &Connection,
    row: &Row,
    before: &Last,
) -> Result<Last, Error> {
    let failed = |e| Error::sql(path, e);
    let Ok(id) = i64::try_from(row.id) else {
        let (given, expected) = (row.id, before.id + 1);
        return Err(Error::WrongId { given, expected });
    };
    let fields = params![id, row.at_ms, row.said, row.outcome, row.clip, row.body];
    let sql = "INSERT INTO event(id, at_ms, said, outcome, clip_sha256, body) VALUES(?,?,?,?,?,?)";
    to.prepare_cached(sql)
        .and_then(|mut statement| statement.execute(fields))
        .map_err(failed)?;
    let checksum = row.checksum(&before.checksum);
    note(path, to, row.id, &checksum)?;
    Ok(Last {
        id: row.id,
        checksum,
    })
}

/// Notes the checksum of an event.
pub(super) fn note(path: &Path, to: &Connection, id: u64, checksum: &str) -> Result<(), Error> {
    let id = i64::try_from(id).unwrap_or(i64::MAX); // ids come from the table itself
    to.prepare_cached("INSERT INTO checksum(id, sha256) VALUES(?,?)")
        .and_then(|mut statement| statement.execute(params![id, checksum]))
        .map(|_| ())
        .map_err(|e| Error::sql(path, e))
}
