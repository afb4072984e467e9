//! The database of a job: its tables, how it is opened, and how it is told from other files.

use super::Error;
use rusqlite::{Connection, OpenFlags};
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// The database of a job.
pub(super) const NAME: &str = "job.sqlite";
/// The newest layout known, as `PRAGMA user_version`.
pub(super) const VERSION: i64 = 1;
/// "BCJ1" in ASCII, as `PRAGMA application_id`: this file is a job.
const APPLICATION: i32 = 0x4243_4a31;

/// Events are only ever added, one after the other; the database itself sees to that.
const TABLES: &str = "
CREATE TABLE meta(key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
INSERT INTO meta VALUES('schema_version', '1');
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
    let began = has_log(&path) || super::clips::any(&folder.join(super::clips::FOLDER));
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

/// Opens the database of a job to add to it.
pub(super) fn open(folder: &Path) -> Result<Connection, Error> {
    let path = folder.join(NAME);
    let connection = connect(&path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    verify(folder, &connection)?;
    log_ahead(&path, &connection)?;
    Ok(connection)
}

/// Opens the database of a job to read it, beside a writer or not.
pub(super) fn open_read_only(folder: &Path) -> Result<Connection, Error> {
    let path = folder.join(NAME);
    let verified = |at: &Path, flags| {
        let connection = connect(at, flags)?;
        verify(folder, &connection)?;
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
        Err(Error::Corrupt { path, what: state })
    }
}

/// Makes the empty file, so that the database and what SQLite puts beside it are private.
pub(super) fn make_file(path: &Path) -> io::Result<()> {
    let file = super::disk::private_file().create_new(true).open(path)?;
    file.sync_all()
}
