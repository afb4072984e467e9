//! A job on disk: a folder that can be copied.
//!
//! ```text
//! job.sqlite           the events, each with its checksum; closing it folds its log in
//! job.sqlite-wal       its log: the newest events, while it is open and after a kill
//! job.last             number and checksum of the last event
//! clips/<sha256>.wav   the sounds
//! job.lock             whose lock the one writer holds
//! ```
//! One append: clip to `clips/<sha256>.part`, fsync, rename, fsync of the folder, then one
//! transaction with the event and its checksum, then `job.last`. To forget a clip: one transaction with the event that says so, then
//! the removal. A crash leaves at most a `.part` (removed at the next opening) or a
//! clip that no event names (kept: it is sound, and a retry takes it up).

use super::chain::{self, Last, Row};
use super::disk::{Disk, Identity, RealDisk, identity, private_folder};
use super::{Error, ReadClip, Store, clips, forget, last, lock, saved, schema};
use crate::event::Event;
use rusqlite::{Connection, TransactionBehavior};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// A job's folder, open. Dropping it folds the log into the database and frees the job.
pub struct JobFolder {
    folder: PathBuf,
    connection: Connection,
    disk: Box<dyn Disk>,
    /// Held as long as the connection; `None` where it was opened to be read.
    held: Option<Held>,
}

/// What the one writer of a job has open.
struct Held {
    /// The lock.
    _lock: File,
    /// Where the last event is named.
    last: File,
    /// Which file the database is.
    database: Option<Identity>,
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
            Ok((connection, last)) => Ok(Self {
                folder: path.to_path_buf(),
                connection,
                disk,
                held: Some(Held {
                    _lock: lock,
                    last,
                    database: identity(&path.join(schema::NAME)),
                }),
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
    /// [`Error::TooNew`], [`Error::Foreign`], [`Error::NotADatabase`], [`Error::NotItsOwn`] for what
    /// is there instead; [`Error::Damaged`] where anything is not as it was stored.
    pub fn open(path: &Path) -> Result<Self, Error> {
        Self::open_on(Box::new(RealDisk), path)
    }

    pub(super) fn open_on(disk: Box<dyn Disk>, path: &Path) -> Result<Self, Error> {
        find(path)?;
        if let Err(error) = schema::look(path) {
            if matches!(error, Error::Unfinished { .. }) {
                lock::take(path)?; // unless it is being made just now
            }
            return Err(explained(path, error));
        }
        let lock = lock::take(path)?;
        let (connection, end) = schema::open(path, last::read(path).as_ref())
            .map_err(|error| explained(path, error))?;
        let folder = path.join(clips::FOLDER);
        make_clips(&folder)?;
        clips::sweep(&folder)?;
        let last = last::open(path)?;
        last::write(&last, &end);
        let job = Self {
            folder: path.to_path_buf(),
            connection,
            disk,
            held: Some(Held {
                _lock: lock,
                last,
                database: identity(&path.join(schema::NAME)),
            }),
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
        // Before the database: it may only be later than this.
        let last = last::read(path);
        let opened = schema::look(path).and_then(|()| schema::open_read_only(path, last.as_ref()));
        Ok(Self {
            folder: path.to_path_buf(),
            connection: opened.map_err(|error| explained(path, error))?,
            disk: Box::new(RealDisk),
            held: None,
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
        let path = self.database();
        let failed = |e| Error::sql(&path, e);
        let folder = self.folder.join(clips::FOLDER);
        let Some(held) = &self.held else {
            return Err(Error::OpenedToRead {
                path: self.folder.clone(),
            });
        };
        let before = chain::end(&path, &self.connection)?;
        clips::check_append(event, clip, before.id + 1, |name| {
            adopted || clips::file(&folder, name).is_file()
        })?;
        let row = Row::of(event)?;
        if let (Some(sound), Some(clip)) = (&event.sound, clip) {
            // Only the folder of the sounds may come back by itself: without the rest there is no job.
            if !folder.exists() && path.exists() {
                make_clips(&folder)?;
            }
            clips::keep(self.disk.as_ref(), &folder, &sound.sha256, clip)?;
        }
        // Of a file that was replaced nobody would ever see what is added to it.
        if !path.exists() || identity(&path) != held.database {
            return Err(Error::Gone { path });
        }
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(failed)?;
        let end = chain::insert(&path, &transaction, &row, &before)?;
        transaction.commit().map_err(failed)?;
        last::write(&held.last, &end);
        Ok(())
    }

    /// What its events come to, checksum and all, in words.
    ///
    /// # Errors
    /// [`Error::Corrupt`] or [`Error::Body`] where one of them cannot be read.
    pub(crate) fn state(&self) -> Result<String, Error> {
        let path = self.database();
        let events = self.events()?.len();
        if !chain::has_checksums(&path, &self.connection)? {
            return Ok(format!(
                "{events} can be read; they have no checksums yet (the next `listen` or `say` gives them)"
            ));
        }
        Ok(match last::read(&self.folder) {
            Some(_) => format!("{events} check out, and none is missing"),
            None => format!(
                "{events} check out; whether newer ones are missing cannot be told, because {} is not \
                 there",
                last::NAME
            ),
        })
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
        let mut events = Vec::new();
        chain::walk(&path, &self.connection, None, |row| {
            events.push(chain::event_of(&path, &row)?);
            Ok(())
        })?;
        Ok(events)
    }

    fn forget(&mut self, event: &Event) -> Result<usize, Error> {
        self.append(event, None)?;
        let names = forget::forgotten(&self.events()?);
        forget::remove(self.disk.as_ref(), &self.folder.join(clips::FOLDER), &names)
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Error> {
        match clips::read(&self.folder.join(clips::FOLDER), sha256) {
            Err(Error::ClipMissing { .. }) => {
                forget::read_clip(&self.folder, sha256, &self.events()?)
            }
            other => other,
        }
    }

    fn clip_later(&self, sha256: &str) -> ReadClip {
        let (folder, sha256) = (self.folder.join(clips::FOLDER), sha256.to_owned());
        Box::new(move || clips::read(&folder, &sha256))
    }
}

/// What can be said of a job that does not open.
fn explained(path: &Path, error: Error) -> Error {
    match error {
        Error::Corrupt { .. } | Error::NotADatabase { .. } => saved::damage(path, error),
        other => other,
    }
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

fn make_job(disk: &dyn Disk, path: &Path, first: &Event) -> Result<(Connection, File), Error> {
    let row = Row::of(first)?;
    make_clips(&path.join(clips::FOLDER))?;
    let database = path.join(schema::NAME);
    schema::make_file(&database).map_err(|e| Error::io(&database, "making", e))?;
    let mut end = Last::none();
    let connection = schema::fill(&database, |to| {
        end = chain::insert(&database, to, &row, &end)?;
        Ok(())
    })?;
    let last = last::open(path)?;
    last::write(&last, &end);
    let above = match path.parent() {
        Some(above) if !above.as_os_str().is_empty() => above,
        _ => Path::new("."),
    };
    for folder in [path, above] {
        disk.sync_dir(folder)
            .map_err(|e| Error::io(folder, "syncing the folder", e))?;
    }
    Ok((connection, last))
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
    for name in schema::FILES.iter().chain(&[last::NAME, lock::NAME]) {
        let _ = fs::remove_file(path.join(name));
    }
    let _ = fs::remove_dir(path.join(clips::FOLDER));
    if made {
        let _ = fs::remove_dir(path);
    }
}

/// Tells a folder with a job from everything else.
fn find(path: &Path) -> Result<(), Error> {
    let owned = path.to_path_buf();
    match path.metadata() {
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            return Err(Error::Missing { path: owned });
        }
        Err(e) => return Err(Error::io(path, "looking", e)),
        Ok(meta) if !meta.is_dir() => return Err(Error::NotAFolder { path: owned }),
        Ok(_) => {}
    }
    only_its_own(path)?;
    match path.join(schema::NAME).try_exists() {
        Ok(true) => Ok(()),
        Ok(false) if schema::left_of_a_job(path) => {
            Err(saved::damage(path, Error::NoJob { path: owned }))
        }
        Ok(false) if path.join(lock::NAME).exists() => Err(Error::Unfinished { path: owned }),
        Ok(false) => Err(Error::NoJob { path: owned }),
        Err(e) => Err(Error::io(path, "looking", e)),
    }
}

/// Refuses links, pipes and the like in the places of a job's files: a job that came from elsewhere
/// must not reach out of its folder.
fn only_its_own(path: &Path) -> Result<(), Error> {
    let files = schema::FILES.iter().chain(&[last::NAME, lock::NAME]);
    for (name, folder) in files.map(|n| (*n, false)).chain([(clips::FOLDER, true)]) {
        let path = path.join(name);
        let Ok(about) = path.symlink_metadata() else {
            continue;
        };
        let what = match about.file_type() {
            kind if kind.is_symlink() => "a symbolic link",
            kind if kind.is_dir() == folder && kind.is_file() != folder => continue,
            _ if folder => "no folder",
            _ => "no plain file",
        };
        return Err(Error::NotItsOwn { path, what });
    }
    Ok(())
}
