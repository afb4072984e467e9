//! A job on disk: a folder that can be copied.
//!
//! ```text
//! job.sqlite           the events (and job.sqlite-wal, -shm while it is open)
//! clips/<sha256>.wav   the sounds
//! job.lock             whose lock the one writer holds
//! ```
//! One append: clip to `clips/<sha256>.part`, fsync, rename, fsync of the folder, then one
//! transaction with the event. To forget a clip: one transaction with the event that says so, then
//! the removal. A crash leaves at most a `.part` (removed at the next opening) or a
//! clip that no event names (kept: it is sound, and a retry takes it up).

use super::disk::{Disk, RealDisk, private_folder};
use super::{Error, Store, clips, codec, forget, lock, schema};
use crate::event::Event;
use rusqlite::{Connection, TransactionBehavior, params};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// A job's folder, open. Dropping it folds the log into the database and frees the job.
pub struct JobFolder {
    folder: PathBuf,
    connection: Connection,
    disk: Box<dyn Disk>,
    /// Held as long as the connection; `None` where it was opened to be read.
    lock: Option<File>,
}

impl JobFolder {
    /// Makes a job with its first event in a new or empty folder, for this user only.
    ///
    /// # Errors
    /// [`Error::Exists`], [`Error::NotEmpty`], [`Error::NotAFolder`], [`Error::Unfinished`] for what
    /// is there already; [`Error::Missing`] for the folder above; those of the disk. What was made is
    /// removed again then.
    pub fn create(path: &Path, first: &Event) -> Result<Self, Error> {
        Self::create_on(Box::new(RealDisk), path, first)
    }

    pub(super) fn create_on(
        disk: Box<dyn Disk>,
        path: &Path,
        first: &Event,
    ) -> Result<Self, Error> {
        clips::check_append(first, None, 1, |_| false)?;
        let made = make_folder(path)?;
        let lock = lock::take_new(path).inspect_err(|_| {
            if made {
                let _ = fs::remove_dir(path); // only where it is still empty
            }
        })?;
        match make_job(disk.as_ref(), path, first) {
            Ok(connection) => Ok(Self {
                folder: path.to_path_buf(),
                connection,
                disk,
                lock: Some(lock),
            }),
            Err(error) => {
                drop(lock);
                unmake(path, made);
                Err(error)
            }
        }
    }

    /// Opens a job to add to it; one process at a time.
    ///
    /// # Errors
    /// [`Error::InUse`] where another process has it; [`Error::Missing`], [`Error::NoJob`],
    /// [`Error::Unfinished`] where there is none; [`Error::ReadOnly`], [`Error::Denied`];
    /// [`Error::TooNew`], [`Error::Foreign`], [`Error::NotADatabase`], [`Error::Corrupt`] for what
    /// is there instead.
    pub fn open(path: &Path) -> Result<Self, Error> {
        Self::open_on(Box::new(RealDisk), path)
    }

    pub(super) fn open_on(disk: Box<dyn Disk>, path: &Path) -> Result<Self, Error> {
        find(path)?;
        if let Err(error) = schema::look(path) {
            if matches!(error, Error::Unfinished { .. }) {
                lock::take(path)?; // unless it is being made just now
            }
            return Err(error);
        }
        let lock = lock::take(path)?;
        let folder = path.join(clips::FOLDER);
        make_clips(&folder)?;
        clips::sweep(&folder)?;
        let job = Self {
            folder: path.to_path_buf(),
            connection: schema::open(path)?,
            disk,
            lock: Some(lock),
        };
        // What the record gives up and a crash left; that must not bar the job.
        if let Ok(true) = job.gives_up_any()
            && let Ok(events) = job.events()
        {
            let _ = forget::remove(job.disk.as_ref(), &folder, &forget::forgotten(&events));
        }
        Ok(job)
    }

    /// Opens a job to read it, also while another process adds to it, and also where the folder
    /// cannot be written.
    ///
    /// # Errors
    /// As [`JobFolder::open`], but never [`Error::InUse`].
    pub fn open_read_only(path: &Path) -> Result<Self, Error> {
        find(path)?;
        schema::look(path)?;
        Ok(Self {
            folder: path.to_path_buf(),
            connection: schema::open_read_only(path)?,
            disk: Box::new(RealDisk),
            lock: None,
        })
    }

    /// The job's folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.folder
    }

    /// Keeps an event of another job. Where `clip` is `None` its sound stayed behind there: the
    /// event names it all the same, and reading the sound gives [`Error::ClipMissing`].
    ///
    /// # Errors
    /// As [`Store::append`], except for the missing clip.
    pub fn adopt(&mut self, event: &Event, clip: Option<&[u8]>) -> Result<(), Error> {
        self.put(event, clip, true)
    }

    /// Whether any event may give up sounds; reading all of them for that would slow every opening.
    fn gives_up_any(&self) -> rusqlite::Result<bool> {
        let sql = "SELECT EXISTS(SELECT 1 FROM event WHERE instr(body, '\"forgot\"'))";
        self.connection.query_row(sql, [], |row| row.get(0))
    }

    fn put(&mut self, event: &Event, clip: Option<&[u8]>, adopted: bool) -> Result<(), Error> {
        if self.lock.is_none() {
            return Err(Error::OpenedToRead {
                path: self.folder.clone(),
            });
        }
        let path = self.database();
        let failed = |e| Error::sql(&path, e);
        let folder = self.folder.join(clips::FOLDER);
        let last: i64 = self
            .connection
            .query_row("SELECT coalesce(max(id), 0) FROM event", [], |r| r.get(0))
            .map_err(failed)?;
        clips::check_append(event, clip, last.unsigned_abs() + 1, |name| {
            adopted || clips::file(&folder, name).is_file()
        })?;
        let body = codec::encode(event).map_err(Error::Encode)?;
        if let (Some(sound), Some(clip)) = (&event.sound, clip) {
            clips::keep(self.disk.as_ref(), &folder, &sound.sha256, clip)?;
        }
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(failed)?;
        insert(&path, &transaction, event, &body)?;
        transaction.commit().map_err(failed)
    }

    #[cfg(test)]
    pub(super) fn connection_mut(&mut self) -> &mut Connection {
        &mut self.connection
    }

    #[cfg(test)]
    pub(super) fn connection(&self) -> &Connection {
        &self.connection
    }

    fn database(&self) -> PathBuf {
        self.folder.join(schema::NAME)
    }
}

impl Store for JobFolder {
    fn append(&mut self, event: &Event, clip: Option<&[u8]>) -> Result<(), Error> {
        self.put(event, clip, false)
    }

    fn events(&self) -> Result<Vec<Event>, Error> {
        let path = self.database();
        let failed = |e| Error::sql(&path, e);
        let mut statement = self
            .connection
            .prepare_cached("SELECT id, body FROM event ORDER BY id")
            .map_err(failed)?;
        let rows = statement
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .map_err(failed)?;
        let mut events = Vec::new();
        for row in rows {
            let (id, body): (i64, String) = row.map_err(failed)?;
            let event = codec::decode(&body).map_err(|source| Error::Body {
                path: path.clone(),
                id,
                source,
            })?;
            let expected = events.len() as u64 + 1;
            if id.unsigned_abs() != expected || event.id != expected {
                let what = format!("event {expected} is missing or has another's number");
                return Err(Error::Corrupt { path, what });
            }
            events.push(event);
        }
        Ok(events)
    }

    fn forget(&mut self, event: &Event) -> Result<usize, Error> {
        self.append(event, None)?;
        let names = forget::forgotten(&self.events()?);
        forget::remove(self.disk.as_ref(), &self.folder.join(clips::FOLDER), &names)
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Error> {
        let missing = |e: &Error| matches!(e, Error::ClipMissing { .. });
        clips::read(&self.folder.join(clips::FOLDER), sha256).map_err(|error| {
            if missing(&error)
                && let Ok(events) = self.events()
                && forget::forgotten(&events).contains(sha256)
            {
                let sha256 = sha256.to_owned();
                return Error::ClipForgotten { sha256 };
            }
            error
        })
    }
}

/// Puts the event in its row. The columns beside `body` are for reading with other tools.
fn insert(path: &Path, to: &Connection, event: &Event, body: &str) -> Result<(), Error> {
    let failed = |e| Error::sql(path, e);
    let id = i64::try_from(event.id).map_err(|_| Error::WrongId {
        given: event.id,
        expected: 1,
    })?;
    let outcome = serde_json::to_value(event.outcome).map_err(|e| Error::Encode(e.into()))?;
    let clip = event.sound.as_ref().map(|sound| &sound.sha256);
    let row = params![id, event.at_ms, event.said, outcome.as_str(), clip, body];
    to.prepare_cached(
        "INSERT INTO event(id, at_ms, said, outcome, clip_sha256, body) VALUES(?,?,?,?,?,?)",
    )
    .and_then(|mut statement| statement.execute(row))
    .map_err(failed)?;
    Ok(())
}

/// Makes the folder of a new job; whether it was new.
fn make_folder(path: &Path) -> Result<bool, Error> {
    let owned = || path.to_path_buf();
    match private_folder(path) {
        Ok(()) => return Ok(true),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            let above = path.parent().unwrap_or(path).to_path_buf();
            return Err(Error::Missing { path: above });
        }
        Err(e) if e.kind() == io::ErrorKind::NotADirectory => {
            let path = path.parent().unwrap_or(path).to_path_buf();
            return Err(Error::NotAFolder { path });
        }
        Err(e) => return Err(Error::io(path, "making the folder", e)),
    }
    if !path.is_dir() {
        return Err(Error::NotAFolder { path: owned() });
    }
    if path.join(schema::NAME).exists() {
        return Err(match schema::look(path) {
            Err(error @ Error::Unfinished { .. }) => error,
            _ => Error::Exists { path: owned() },
        });
    }
    let mut entries = fs::read_dir(path).map_err(|e| Error::io(path, "listing", e))?;
    match entries.next() {
        None => Ok(false),
        Some(_) if path.join(lock::NAME).exists() => Err(Error::Unfinished { path: owned() }),
        Some(_) => Err(Error::NotEmpty { path: owned() }),
    }
}

fn make_job(disk: &dyn Disk, path: &Path, first: &Event) -> Result<Connection, Error> {
    let body = codec::encode(first).map_err(Error::Encode)?;
    make_clips(&path.join(clips::FOLDER))?;
    let database = path.join(schema::NAME);
    schema::make_file(&database).map_err(|e| Error::io(&database, "making", e))?;
    let connection = schema::fill(&database, |to| insert(&database, to, first, &body))?;
    let above = match path.parent() {
        Some(above) if !above.as_os_str().is_empty() => above,
        _ => Path::new("."),
    };
    for folder in [path, above] {
        disk.sync_dir(folder)
            .map_err(|e| Error::io(folder, "syncing the folder", e))?;
    }
    Ok(connection)
}

/// Makes the folder of the clips where it is not there: a copy of a job without sounds lacks it.
fn make_clips(folder: &Path) -> Result<(), Error> {
    match private_folder(folder) {
        Err(e) if !folder.is_dir() => Err(Error::io(folder, "making the folder", e)),
        _ => Ok(()),
    }
}

/// Takes back what `make_job` made, and nothing else.
fn unmake(path: &Path, made: bool) {
    for suffix in ["", "-wal", "-shm", "-journal"] {
        let _ = fs::remove_file(path.join(format!("{}{suffix}", schema::NAME)));
    }
    let _ = fs::remove_dir(path.join(clips::FOLDER));
    let _ = fs::remove_file(path.join(lock::NAME));
    if made {
        let _ = fs::remove_dir(path);
    }
}

/// Tells a folder with a job from everything else.
fn find(path: &Path) -> Result<(), Error> {
    let owned = path.to_path_buf();
    match path.metadata() {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Err(Error::Missing { path: owned }),
        Err(e) => Err(Error::io(path, "looking", e)),
        Ok(meta) if !meta.is_dir() => Err(Error::NotAFolder { path: owned }),
        Ok(_) => match path.join(schema::NAME).try_exists() {
            Ok(true) => Ok(()),
            Ok(false) if path.join(lock::NAME).exists() => Err(Error::Unfinished { path: owned }),
            Ok(false) => Err(Error::NoJob { path: owned }),
            Err(e) => Err(Error::io(path, "looking", e)),
        },
    }
}
