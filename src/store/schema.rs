//! The database of a job: its tables, how it is opened, and how it is told from other files.

use super::chain::{self, Last};
use super::{Error, last};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// The database of a job.
pub(super) const NAME: &str = "job.sqlite";
/// Its write-ahead log.
pub(super) const LOG: &str = "job.sqlite-wal";
/// All files that SQLite keeps for it; the database itself comes last.
pub(super) const FILES: [&str; 4] = [LOG, "job.sqlite-shm", "job.sqlite-journal", NAME];
/// The newest layout known, as `PRAGMA user_version`: from 5 on that of the fixture that holds it.
pub(super) const VERSION: i64 = 5;
/// "BCJ1" in ASCII, as `PRAGMA application_id`: this file is a job.
const APPLICATION: i32 = 0x4243_4a31;

/// Events are only ever added, one after the other; the database itself sees to that.
const TABLES: &str = "
CREATE TABLE meta(key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
INSERT INTO meta VALUES('schema_version', '5');
CREATE TABLE event(
  id          INTEGER PRIMARY KEY,
  at_ms       INTEGER NOT NULL,
  said        TEXT NOT NULL,
  outcome     TEXT NOT NULL,
  clip_sha256 TEXT,
  body        TEXT NOT NULL
) STRICT;
CREATE TRIGGER event_in_order BEFORE INSERT ON event
  WHEN NEW.id IS NOT (SELECT coalesce(max(id), 0) + 1 FROM event)
  BEGIN SELECT RAISE(ABORT, 'events are consecutive'); END;
CREATE TRIGGER event_stays BEFORE UPDATE ON event
  BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER event_remains BEFORE DELETE ON event
  BEGIN SELECT RAISE(ABORT, 'events are never removed'); END;
";

/// One for each event (see `chain.rs`). Jobs of before version 5 get them when they are opened to be
/// added to; their events stay as they are.
const CHECKSUMS: &str = "
CREATE TABLE checksum(
  id     INTEGER PRIMARY KEY,
  sha256 TEXT NOT NULL
) STRICT;
CREATE TRIGGER checksum_in_order BEFORE INSERT ON checksum
  WHEN NEW.id IS NOT (SELECT coalesce(max(id), 0) + 1 FROM checksum)
  BEGIN SELECT RAISE(ABORT, 'checksums are consecutive'); END;
CREATE TRIGGER checksum_stays BEFORE UPDATE ON checksum
  BEGIN SELECT RAISE(ABORT, 'checksums are never changed'); END;
CREATE TRIGGER checksum_remains BEFORE DELETE ON checksum
  BEGIN SELECT RAISE(ABORT, 'checksums are never removed'); END;
";

/// Looks at the first bytes of the file without opening it as a database, so that a foreign, newer
/// or unfinished one is not touched. The job's layout is always in them: it is written before the
/// write-ahead log is switched on.
///
/// Offsets: SQLite file format, section 1.3 (user version at 60, application id at 68).
pub(super) fn look(folder: &Path) -> Result<(), Error> {
    let path = folder.join(NAME);
    let mut head = Vec::new();
    File::open(&path)
        .and_then(|file| file.take(100).read_to_end(&mut head))
        .map_err(|e| Error::io(&path, "reading", e))?;
    // A job that has sounds or a log was finished once, whatever became of its beginning.
    let began = left_of_a_job(folder);
    if head.iter().all(|&byte| byte == 0) && !began {
        return Err(Error::Unfinished {
            path: folder.to_path_buf(),
        });
    }
    if head.len() < 100 || !head.starts_with(b"SQLite format 3\0") {
        return Err(Error::NotADatabase { path });
    }
    let number = |at: usize| {
        let mut bytes = [0; 4];
        bytes.copy_from_slice(&head[at..at + 4]);
        i32::from_be_bytes(bytes)
    };
    check(path, number(68), i64::from(number(60)))
}

/// Whether a folder holds what only a finished job has: a log, sounds, or the mark of its last event.
pub(super) fn left_of_a_job(folder: &Path) -> bool {
    has_log(&folder.join(NAME))
        || folder.join(last::NAME).exists()
        || super::clips::any(&folder.join(super::clips::FOLDER))
}

fn check(path: PathBuf, application: i32, found: i64) -> Result<(), Error> {
    if application != APPLICATION {
        Err(Error::Foreign { path })
    } else if found > VERSION {
        Err(Error::TooNew {
            path,
            found,
            known: VERSION,
        })
    } else {
        Ok(())
    }
}

/// Fills the new, empty database; `first` adds the first event in the same transaction.
pub(super) fn fill(
    path: &Path,
    first: impl FnOnce(&Connection) -> Result<(), Error>,
) -> Result<Connection, Error> {
    let failed = |e| Error::sql(path, e);
    let mut connection = connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    let transaction = connection.transaction().map_err(failed)?;
    transaction.execute_batch(TABLES).map_err(failed)?;
    transaction.execute_batch(CHECKSUMS).map_err(failed)?;
    transaction
        .pragma_update(None, "application_id", APPLICATION)
        .map_err(failed)?;
    transaction
        .pragma_update(None, "user_version", VERSION)
        .map_err(failed)?;
    first(&transaction)?;
    transaction.commit().map_err(failed)?;
    log_ahead(path, &connection)?;
    Ok(connection)
}

/// Opens the database of a job to add to it, if all of it checks out; the end of its chain. Of a
/// damaged one nothing is changed: its log stays beside it too.
pub(super) fn open(folder: &Path, last: Option<&Last>) -> Result<(Connection, Last), Error> {
    let path = folder.join(NAME);
    let mut connection = connect(&path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    let keep_the_log = |connection: &Connection, on| {
        let what = DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE;
        let set = connection.set_db_config(what, on);
        set.map(|_| ()).map_err(|e| Error::sql(&path, e))
    };
    keep_the_log(&connection, true)?;
    verify(folder, &connection)?;
    let end = if chain::has_checksums(&path, &connection)? {
        chain::walk(&path, &connection, last, |_| Ok(()))?
    } else {
        add_checksums(&path, &mut connection, last)?
    };
    keep_the_log(&connection, false)?;
    log_ahead(&path, &connection)?;
    Ok((connection, end))
}

/// Gives an older job its checksums, all in one transaction. What is there is not changed; whether it
/// can be read at all is seen first, since nothing else proves it.
fn add_checksums(
    path: &Path,
    connection: &mut Connection,
    last: Option<&Last>,
) -> Result<Last, Error> {
    let failed = |e| Error::sql(path, e);
    let mut checksums = Vec::new();
    let mut before = chain::START.to_owned();
    let end = chain::walk(path, connection, last, |row| {
        chain::event_of(path, &row)?;
        before = row.checksum(&before);
        checksums.push((row.id, before.clone()));
        Ok(())
    })?;
    let transaction = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(failed)?;
    transaction.execute_batch(CHECKSUMS).map_err(failed)?;
    for (id, checksum) in &checksums {
        chain::note(path, &transaction, *id, checksum)?;
    }
    let sql = "UPDATE meta SET value='5' WHERE key='schema_version'";
    transaction.execute(sql, []).map_err(failed)?;
    transaction
        .pragma_update(None, "user_version", VERSION)
        .map_err(failed)?;
    transaction.commit().map_err(failed)?;
    Ok(end)
}

/// Opens the database of a job to read it, beside a writer or not, if all of it checks out.
pub(super) fn open_read_only(folder: &Path, last: Option<&Last>) -> Result<Connection, Error> {
    let path = folder.join(NAME);
    let verified = |at: &Path, flags| {
        let connection = connect(at, flags)?;
        verify(folder, &connection)?;
        chain::walk(&path, &connection, last, |_| Ok(()))?;
        Ok(connection)
    };
    match verified(&path, OpenFlags::SQLITE_OPEN_READ_ONLY) {
        // Reading needs an index beside the log, which a read-only folder has no room for. Without
        // a log there is nothing to index, and nobody can be writing.
        Err(Error::Sql { .. } | Error::ReadOnly { .. }) if !has_log(&path) => {
            let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
            verified(Path::new(&immutable(&path)?), flags)
        }
        result => result,
    }
}

fn has_log(path: &Path) -> bool {
    let mut log = path.as_os_str().to_owned();
    log.push("-wal");
    Path::new(&log).metadata().is_ok_and(|m| m.len() > 0)
}

/// The address under which SQLite reads a file that nobody changes.
fn immutable(path: &Path) -> Result<String, Error> {
    let absolute = std::path::absolute(path).map_err(|e| Error::io(path, "finding", e))?;
    let Some(text) = absolute.to_str() else {
        let path = path.to_path_buf();
        return Err(Error::ReadOnly { path });
    };
    let escaped: String = text
        .bytes()
        .map(|byte| match byte {
            b'/' | b'.' | b'-' | b'_' => char::from(byte).to_string(),
            _ if byte.is_ascii_alphanumeric() => char::from(byte).to_string(),
            _ => format!("%{byte:02X}"),
        })
        .collect();
    Ok(format!("file:{escaped}?immutable=1"))
}

fn connect(path: &Path, flags: OpenFlags) -> Result<Connection, Error> {
    let connection = Connection::open_with_flags(path, flags).map_err(|e| Error::sql(path, e))?;
    connection
        .execute_batch(
            "PRAGMA synchronous=FULL; PRAGMA fullfsync=ON; PRAGMA checkpoint_fullfsync=ON;
             PRAGMA trusted_schema=OFF; PRAGMA cell_size_check=ON;",
        )
        .map_err(|e| Error::sql(path, e))?;
    Ok(connection)
}

/// Switches the write-ahead log on; a no-op where it is on.
fn log_ahead(path: &Path, connection: &Connection) -> Result<(), Error> {
    let mode: String = connection
        .query_row("PRAGMA journal_mode=WAL", [], |row| row.get(0))
        .map_err(|e| Error::sql(path, e))?;
    if mode == "wal" {
        return Ok(());
    }
    let path = path.to_path_buf();
    Err(Error::NoLog { path, mode })
}

/// Once more what [`look`] saw, now with the log; and that the database is whole.
fn verify(folder: &Path, connection: &Connection) -> Result<(), Error> {
    let path = folder.join(NAME);
    let failed = |e| Error::sql(&path, e);
    let number = |pragma| connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
    let application = number("application_id").map_err(failed)?;
    let version = number("user_version").map_err(failed)?;
    if application == 0 && version == 0 {
        // A journal took the making back.
        return Err(Error::Unfinished {
            path: folder.to_path_buf(),
        });
    }
    check(
        path.clone(),
        i32::try_from(application).unwrap_or(0),
        version,
    )?;
    let state: String = connection
        .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
        .map_err(failed)?;
    if state == "ok" {
        Ok(())
    } else {
        let what = state.lines().last().unwrap_or_default().to_owned();
        Err(Error::Corrupt { path, what })
    }
}

/// Makes the empty file, so that the database and what SQLite puts beside it are private.
pub(super) fn make_file(path: &Path) -> io::Result<()> {
    let file = super::disk::private_file().create_new(true).open(path)?;
    file.sync_all()
}
