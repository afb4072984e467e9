//! One writer at a time: an exclusive lock on `job.lock`, with the holder's process id in it.
//!
//! The system drops the lock when the process ends, however it ends; the file itself means nothing.

use super::Error;
use super::disk::{no_link, private_file};
use std::fs::{self, File, TryLockError};
use std::io::{self, Write};
use std::path::Path;
use std::time::{Duration, Instant};

/// The lock file of a job.
pub(super) const NAME: &str = "job.lock";

/// How long a lock is waited for: a process that is just ending, or a child just being started (it
/// has every open file until its program is loaded), frees it at once.
const PATIENCE: Duration = Duration::from_millis(250);

/// Locks the job in `folder`, making the lock file where a copy lost it.
pub(super) fn take(folder: &Path) -> Result<File, Error> {
    let path = folder.join(NAME);
    let mut options = private_file();
    options.create(true).truncate(false);
    let file = no_link(options)
        .open(&path)
        .map_err(|e| Error::io(&path, "opening", e))?;
    hold(folder, file)
}

/// Locks a new job. Of two processes that make one in the same folder, the later gets
/// [`Error::Exists`].
pub(super) fn take_new(folder: &Path) -> Result<File, Error> {
    let path = folder.join(NAME);
    match private_file().create_new(true).open(&path) {
        Ok(file) => hold(folder, file),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => Err(Error::Exists {
            path: folder.to_path_buf(),
        }),
        Err(e) => Err(Error::io(&path, "making", e)),
    }
}

fn hold(folder: &Path, mut file: File) -> Result<File, Error> {
    let path = folder.join(NAME);
    let mut locked = file.try_lock();
    let began = Instant::now();
    while matches!(locked, Err(TryLockError::WouldBlock)) && began.elapsed() < PATIENCE {
        std::thread::sleep(Duration::from_millis(10));
        locked = file.try_lock();
    }
    match locked {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => {
            let holder = fs::read_to_string(&path).ok();
            return Err(Error::InUse {
                path: folder.to_path_buf(),
                holder: holder.and_then(|text| text.trim().parse().ok()),
            });
        }
        Err(TryLockError::Error(e)) => return Err(Error::io(&path, "locking", e)),
    }
    // The id is a courtesy to whoever finds the job open; a full disk must not bar the job.
    let _ = file
        .set_len(0)
        .and_then(|()| writeln!(file, "{}", std::process::id()));
    Ok(file)
}
