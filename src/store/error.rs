//! What can go wrong with a job's folder, sorted by what the person can do about it.

use super::codec::CodecError;
use super::damage::Damage;
use std::io;
use std::path::{Path, PathBuf};

/// Why a job could not be made, opened, read or added to.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The folder is not there.
    #[error("{}: there is no such folder; check the name, or make a job there with `benchcall new`", path.display())]
    Missing {
        /// The folder.
        path: PathBuf,
    },
    /// A file stands where a folder was expected.
    #[error("{}: this is a file; a job is a folder", path.display())]
    NotAFolder {
        /// The file.
        path: PathBuf,
    },
    /// A folder without a job in it.
    #[error("{}: no job in this folder (job.sqlite is not there); make one with `benchcall new` under another name", path.display())]
    NoJob {
        /// The folder.
        path: PathBuf,
    },
    /// The folder for a new job holds something else.
    #[error("{}: the folder is not empty; a new job needs an empty folder or a name not yet taken", path.display())]
    NotEmpty {
        /// The folder.
        path: PathBuf,
    },
    /// The folder for a new job holds a job.
    #[error("{}: there is a job here already, left as it is; open it, or give the new job another name", path.display())]
    Exists {
        /// The folder.
        path: PathBuf,
    },
    /// The making of the job was cut off before its first event was kept.
    #[error("{}: making this job was cut off before anything was stored; remove the folder and make the job again", path.display())]
    Unfinished {
        /// The folder.
        path: PathBuf,
    },
    /// The database is gone or destroyed, and only sounds are left.
    #[error("{}: no event can be read here any more (job.sqlite is gone or was overwritten), but {sounds} sounds are whole in its folder \"clips\"; bring job.sqlite back from a copy of the job, and leave the rest as it is", path.display())]
    SoundsOnly {
        /// The folder.
        path: PathBuf,
        /// How many sounds are whole.
        sounds: usize,
    },
    /// Nothing of a job is left to be saved.
    #[error("{}: nothing of a job can be read here", path.display())]
    NothingLeft {
        /// The folder.
        path: PathBuf,
    },
    /// Something is not what was stored, or is gone. What checks out can be read and saved.
    #[error("{damage}. Nothing is added to a damaged job; save what checks out into a new one: benchcall recover --job {} --into FOLDER", damage.folder.display())]
    Damaged {
        /// What is wrong, and what is left.
        damage: Box<Damage>,
    },
    /// A link or something else stands in the place of one of the job's own files.
    #[error("{}: this is {what}, which no job has; it was not followed: put the file itself in its place", path.display())]
    NotItsOwn {
        /// What stands there.
        path: PathBuf,
        /// What it is.
        what: &'static str,
    },
    /// The folder, or a file of the job, went away while it was open.
    #[error("{}: no longer there (removed, renamed, replaced, or its disk was unplugged); bring the folder back and start again", path.display())]
    Gone {
        /// The folder or file.
        path: PathBuf,
    },
    /// The disk fails.
    #[error("{}: the disk failed (unplugged, worn out or full?); what was read back before is stored: copy the job to another disk", path.display())]
    DiskFailed {
        /// The folder or file.
        path: PathBuf,
    },
    /// Another program has the database open.
    #[error("{}: another program has this file locked (a backup, or a browser of databases); close it and try again", path.display())]
    Locked {
        /// The database.
        path: PathBuf,
    },
    /// Another process has it open for writing.
    #[error("{}: another benchcall{} has this job open; close that one first (reports and sheets can be read meanwhile)", path.display(), process(*holder))]
    InUse {
        /// The folder.
        path: PathBuf,
        /// The process that has it, where that could be read.
        holder: Option<u32>,
    },
    /// It can be read but not written.
    #[error("{}: can be read but not written; use a place that can be written (a job's folder may be copied there and the copy opened)", path.display())]
    ReadOnly {
        /// The folder or file.
        path: PathBuf,
    },
    /// The system does not let this user in.
    #[error("{}: permission denied; the job belongs to another user or its permissions were changed (the folder needs 0700, its files 0600)", path.display())]
    Denied {
        /// The folder or file.
        path: PathBuf,
    },
    /// No room.
    #[error("{}: the disk is full; make room and say it again (everything stored before is safe, this was not stored)", path.display())]
    DiskFull {
        /// The folder or file.
        path: PathBuf,
    },
    /// Written by a later version.
    #[error("{}: written by a newer benchcall (job format {found}; this one knows up to {known}) and left untouched; update benchcall to open it", path.display())]
    TooNew {
        /// The database.
        path: PathBuf,
        /// Its format.
        found: i64,
        /// The newest format known.
        known: i64,
    },
    /// A database of another program.
    #[error("{}: a database, but not one of benchcall; left untouched", path.display())]
    Foreign {
        /// The database.
        path: PathBuf,
    },
    /// Not a database.
    #[error("{}: not a database, or its beginning was overwritten; left untouched: bring it back from a copy of the job", path.display())]
    NotADatabase {
        /// The file.
        path: PathBuf,
    },
    /// Damaged.
    #[error("{}: damaged ({what}); left as it is: bring it back from a copy of the job", path.display())]
    Corrupt {
        /// The database.
        path: PathBuf,
        /// What was found.
        what: String,
    },
    /// The file system cannot keep a write-ahead log.
    #[error("{}: this file system cannot keep a job safely (no write-ahead log, journal mode stayed \"{mode}\"); use a local disk", path.display())]
    NoLog {
        /// The database.
        path: PathBuf,
        /// The journal mode it stayed in.
        mode: String,
    },
    /// Adding to a job that was opened to be read.
    #[error("{}: opened to be read only; open it for writing to add to it", path.display())]
    OpenedToRead {
        /// The folder.
        path: PathBuf,
    },
    /// An id out of order. A fault of the caller.
    #[error("event {given} cannot be stored: the next one must be event {expected}")]
    WrongId {
        /// The event's id.
        given: u64,
        /// The id that would have been accepted.
        expected: u64,
    },
    /// The event cannot be written as JSON. A fault of the caller.
    #[error("the event cannot be stored")]
    Encode(#[source] CodecError),
    /// A stored event cannot be read.
    #[error("{}: event {id} cannot be read", path.display())]
    Body {
        /// The database.
        path: PathBuf,
        /// The event.
        id: u64,
        /// Why.
        source: CodecError,
    },
    /// No name of a clip.
    #[error("\"{name}\" names no clip: expected 64 digits 0-9 and a-f (the SHA-256 of its file)")]
    ClipName {
        /// As given.
        name: String,
    },
    /// The event's sound is neither given nor kept.
    #[error("clip {sha256} is not kept in this job{}", hint(*copied))]
    ClipMissing {
        /// The clip's name.
        sha256: String,
        /// Whether a stored event names it.
        copied: bool,
    },
    /// It was kept, and removed because somebody asked for that.
    #[error(
        "clip {sha256} was removed by `benchcall forget`, or as ignored talk at the end of its session; the event stays"
    )]
    ClipForgotten {
        /// The clip's name.
        sha256: String,
    },
    /// The kept file is another one than was stored.
    #[error("{}: the clip was damaged after it was stored (its SHA-256 is now {found}); bring it back from a copy of the job", path.display())]
    ClipDamaged {
        /// The clip's file.
        path: PathBuf,
        /// The hash of what is there.
        found: String,
    },
    /// Clip and event do not belong together. A fault of the caller.
    #[error("the clip given (SHA-256 {given}) is not the sound of event {id}, which names {}", named.as_deref().unwrap_or("none"))]
    ClipOther {
        /// The event.
        id: u64,
        /// Hash of the clip given.
        given: String,
        /// Hash that the event names.
        named: Option<String>,
    },
    /// Any other failure of the disk.
    #[error("{}: {doing} failed", path.display())]
    Io {
        /// The folder or file.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// Why.
        source: io::Error,
    },
    /// Any other failure of the database.
    #[error("{}: the database failed{}, and this was not stored; close other programs that use the job, or copy its folder to another disk and open the copy", path.display(), numbered(*number))]
    Sql {
        /// The database.
        path: PathBuf,
        /// Its number in SQLite (sqlite.org/rescode.html), if it has one.
        number: Option<i32>,
    },
}

// The system's numbers (errno): a failing disk, one that went away, and none at all.
const EIO: i32 = 5;
const ENXIO: i32 = 6;
const ENODEV: i32 = 19;

fn process(holder: Option<u32>) -> String {
    holder.map_or(String::new(), |id| format!(" (process {id})"))
}

fn numbered(number: Option<i32>) -> String {
    number.map_or(String::new(), |n| format!(" (SQLite's number {n})"))
}

const fn hint(copied: bool) -> &'static str {
    if copied {
        ", though an event names it: copy the job's clips folder along with it"
    } else {
        ""
    }
}

impl Error {
    /// Sorts a failure of the disk by what can be done about it.
    pub(super) fn io(path: &Path, doing: &'static str, source: io::Error) -> Self {
        let path = path.to_path_buf();
        match source.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::DiskFull { path },
            io::ErrorKind::ReadOnlyFilesystem => Self::ReadOnly { path },
            io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => Self::Gone { path },
            _ if matches!(source.raw_os_error(), Some(EIO | ENXIO | ENODEV)) => {
                Self::DiskFailed { path }
            }
            io::ErrorKind::PermissionDenied if is_read_only(&path) => Self::ReadOnly { path },
            io::ErrorKind::PermissionDenied => Self::Denied { path },
            _ => Self::Io {
                path,
                doing,
                source,
            },
        }
    }

    /// Sorts a failure of the database by what can be done about it.
    pub(super) fn sql(path: &Path, source: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as Code;
        let what = source.to_string();
        let code = source.sqlite_error_code();
        let path = path.to_path_buf();
        match code {
            Some(Code::DiskFull) => Self::DiskFull { path },
            Some(Code::ReadOnly) => Self::ReadOnly { path },
            Some(Code::CannotOpen) if !path.exists() => Self::Gone { path },
            Some(Code::CannotOpen) if is_read_only(&path) => Self::ReadOnly { path },
            Some(Code::CannotOpen) => Self::Denied { path },
            Some(Code::SystemIoFailure) if !path.exists() => Self::Gone { path },
            Some(Code::SystemIoFailure) => Self::DiskFailed { path },
            Some(Code::DatabaseBusy | Code::DatabaseLocked | Code::FileLockingProtocolFailed) => {
                Self::Locked { path }
            }
            Some(Code::PermissionDenied) => Self::Denied { path },
            Some(Code::NotADatabase) => Self::NotADatabase { path },
            Some(Code::DatabaseCorrupt) => Self::Corrupt { path, what },
            _ => Self::Sql {
                path,
                number: source.sqlite_extended_error_code(),
            },
        }
    }
}

/// Whether nobody may write there, by its permissions or those of its folder.
fn is_read_only(path: &Path) -> bool {
    let closed = |p: &Path| p.metadata().is_ok_and(|m| m.permissions().readonly());
    closed(path) || path.parent().is_some_and(closed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn failures_are_sorted_by_what_helps() {
        let at = Path::new("/nowhere/job");
        let io = |kind| Error::io(at, "writing", io::Error::from(kind));
        assert!(matches!(
            io(io::ErrorKind::StorageFull),
            Error::DiskFull { .. }
        ));
        assert!(matches!(
            io(io::ErrorKind::QuotaExceeded),
            Error::DiskFull { .. }
        ));
        assert!(matches!(
            io(io::ErrorKind::ReadOnlyFilesystem),
            Error::ReadOnly { .. }
        ));
        assert!(matches!(
            io(io::ErrorKind::PermissionDenied),
            Error::Denied { .. }
        ));
        let other = io(io::ErrorKind::BrokenPipe).to_string();
        assert_eq!(other, "/nowhere/job: writing failed");
    }

    /// The words of a library say nothing to a person.
    #[test]
    fn what_the_database_says_is_a_sentence_of_ours() {
        // Numbers by sqlite.org/rescode.html: SQLITE_NOMEM, SQLITE_IOERR_SHMSIZE, SQLITE_CANTOPEN.
        for number in [7, 4_874, 14] {
            let theirs = rusqlite::Error::SqliteFailure(rusqlite::ffi::Error::new(number), None);
            let words = theirs.to_string();
            let ours = anyhow::Error::from(Error::sql(Path::new("/nowhere/job"), theirs));
            let said = format!("{ours:#}");
            assert!(
                !said.contains(&words) && !said.contains("Error code"),
                "{said}"
            );
        }
    }

    #[test]
    fn the_holder_is_named_where_it_is_known() {
        let text = |holder| {
            let path = PathBuf::from("job");
            Error::InUse { path, holder }.to_string()
        };
        assert!(text(Some(42)).contains("another benchcall (process 42) has this job open"));
        assert!(text(None).contains("another benchcall has this job open"));
    }
}
