//! The disk of a job: a look before anything large is made, a warning before it is full, an end before it
//! is too late, or if the job's folder went away or can no longer be written.

use anyhow::{Context, Result, bail};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Below this there is a warning: some hours of speech at 32 kB a second. Common practice, no source.
pub(crate) const LOW_BYTES: u64 = 500_000_000;
/// Below this nothing more is heard: what is left is for the database to be closed with, and for
/// the rest of the machine. Common practice, no source.
pub(crate) const FULL_BYTES: u64 = 20_000_000;

/// What is left.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Left {
    /// Enough, or a warning was given already.
    Enough,
    /// Nearly full; said once, and once more after there was enough in between.
    Low {
        /// What is left.
        bytes: u64,
    },
    /// Full.
    Full {
        /// What is left.
        bytes: u64,
    },
    /// The folder is gone: removed, renamed, or its disk was unplugged.
    Gone,
    /// It can no longer be written.
    ReadOnly,
}

/// So often it is looked at while nothing is said: trouble is told within five seconds.
const EVERY: Duration = Duration::from_secs(2);

/// Room for this user in bytes; `None` on a disk that cannot be written.
type Measure = Box<dyn Fn(&Path) -> io::Result<Option<u64>> + Send>;

/// Looks at the room on the disk of one job.
pub(crate) struct DiskSpace {
    folder: PathBuf,
    free: Measure,
    warned: bool,
    looked: Instant,
}

impl DiskSpace {
    /// Of the disk that the folder is on.
    #[must_use]
    pub(crate) fn new(folder: &Path) -> Self {
        Self::measuring(folder, Box::new(free_bytes))
    }

    fn measuring(folder: &Path, free: Measure) -> Self {
        Self {
            folder: folder.to_path_buf(),
            free,
            warned: false,
            looked: Instant::now(),
        }
    }

    /// The folder whose disk it is.
    #[must_use]
    pub(crate) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Whether it was not looked at for a while.
    #[must_use]
    pub(crate) fn is_due(&self) -> bool {
        self.looked.elapsed() >= EVERY
    }

    /// Whether little was left when it was last looked at.
    #[must_use]
    pub(crate) const fn is_low(&self) -> bool {
        self.warned
    }

    /// What is left now.
    ///
    /// # Errors
    /// Where the system does not say.
    pub(crate) fn look(&mut self) -> Result<Left> {
        self.looked = Instant::now();
        let free = match (self.free)(&self.folder) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(Left::Gone),
            free => free,
        };
        let free =
            free.with_context(|| format!("{}: cannot tell the room left", self.folder.display()))?;
        let Some(bytes) = free else {
            return Ok(Left::ReadOnly);
        };
        let low = bytes < LOW_BYTES;
        let known = std::mem::replace(&mut self.warned, low);
        Ok(match bytes {
            _ if bytes < FULL_BYTES => Left::Full { bytes },
            _ if low && !known => Left::Low { bytes },
            _ => Left::Enough,
        })
    }
}

/// Whether so many bytes may be written into a folder, which need not be there yet, and the disk is not
/// full then.
///
/// # Errors
/// Too little room, or a disk that cannot be written, in words.
pub(crate) fn room_for(folder: &Path, bytes: u64) -> Result<()> {
    let mut disks = folder.ancestors().map(|path| match path.as_os_str() {
        nameless if nameless.is_empty() => Path::new("."),
        _ => path,
    });
    // Who makes it says what is wrong with a path of which nothing is there.
    disks
        .find(|path| path.exists())
        .map_or(Ok(()), |disk| enough(folder, bytes, free_bytes(disk)))
}

fn enough(folder: &Path, bytes: u64, free: io::Result<Option<u64>>) -> Result<()> {
    let folder = folder.display();
    let free = free.with_context(|| format!("{folder}: cannot tell the room left"))?;
    let Some(free) = free else {
        bail!("the disk of {folder} cannot be written: nothing was made");
    };
    let needed = bytes.saturating_add(FULL_BYTES);
    if free < needed {
        bail!(
            "the disk of {folder} is full: {} MB are left, and {} MB are needed. Nothing was made; \
             make room and try again",
            free / 1_000_000,
            needed.div_ceil(1_000_000)
        );
    }
    Ok(())
}

/// What this user may still write on the disk of `path`, in bytes.
#[cfg(unix)]
fn free_bytes(path: &Path) -> io::Result<Option<u64>> {
    let disk = rustix::fs::statvfs(path)?;
    let writable = !disk.f_flag.contains(rustix::fs::StatVfsMountFlags::RDONLY);
    Ok(writable.then(|| disk.f_bavail.saturating_mul(disk.f_frsize)))
}

/// Elsewhere a full disk shows only when a write fails.
#[cfg(not(unix))]
fn free_bytes(path: &Path) -> io::Result<Option<u64>> {
    path.metadata().map(|_| Some(u64::MAX))
}

impl Left {
    /// Whether nothing more can be stored.
    #[must_use]
    pub(crate) const fn ends_it(self) -> bool {
        matches!(self, Self::Full { .. } | Self::Gone | Self::ReadOnly)
    }

    /// What to say about it aloud; empty for nothing.
    #[must_use]
    pub(crate) const fn words(self) -> &'static str {
        match self {
            Self::Enough => "",
            Self::Low { .. } => "the disk is nearly full",
            Self::Full { .. } => "the disk is full, not listening",
            // In words that the bank has.
            Self::Gone | Self::ReadOnly => "not stored, not listening",
        }
    }

    /// What to show about it; empty for nothing.
    #[must_use]
    pub(crate) fn notice(self, folder: &Path) -> String {
        let megabytes = |bytes: u64| bytes / 1_000_000;
        let folder = folder.display();
        match self {
            Self::Enough => String::new(),
            Self::Low { bytes } => format!(
                "the disk of {folder} is nearly full: {} MB are left, listening ends below {} MB",
                megabytes(bytes),
                megabytes(FULL_BYTES)
            ),
            Self::Full { bytes } => format!(
                "the disk of {folder} is full ({} MB are left): no longer listening. What was read \
                 back is stored; make room and start again",
                megabytes(bytes)
            ),
            Self::Gone => format!(
                "{folder} is gone (removed, renamed, or its disk was unplugged): no longer listening. \
                 Bring it back and start again"
            ),
            Self::ReadOnly => format!(
                "the disk of {folder} can no longer be written: no longer listening. What was read \
                 back is stored; make it writable and start again"
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicU64, Ordering};

    #[test]
    fn it_warns_once_and_again_after_there_was_room() {
        let left = Arc::new(AtomicU64::new(LOW_BYTES));
        let free = Arc::clone(&left);
        let measure: Measure = Box::new(move |_| Ok(Some(free.load(Ordering::SeqCst))));
        let mut watch = DiskSpace::measuring(Path::new("job"), measure);
        let mut at = |bytes: u64| {
            left.store(bytes, Ordering::SeqCst);
            watch.look().unwrap()
        };
        let low = LOW_BYTES - 1;
        assert_eq!(at(LOW_BYTES), Left::Enough);
        assert_eq!(at(low), Left::Low { bytes: low });
        assert_eq!(at(low), Left::Enough);
        assert_eq!(at(LOW_BYTES), Left::Enough);
        assert_eq!(at(low), Left::Low { bytes: low });
        for bytes in [FULL_BYTES - 1, 0] {
            assert_eq!(at(bytes), Left::Full { bytes });
        }
    }

    #[test]
    fn what_does_not_fit_is_refused_with_what_is_needed() {
        let job = Path::new("job");
        let said = |bytes, free| enough(job, bytes, Ok(free)).unwrap_err().to_string();
        let full = said(0, Some(FULL_BYTES - 1));
        assert!(
            full.contains("19 MB are left, and 20 MB are needed"),
            "{full}"
        );
        let large = said(5_500_000, Some(25_000_000));
        assert!(
            large.contains("25 MB are left, and 26 MB are needed"),
            "{large}"
        );
        let read_only = said(0, None);
        assert!(read_only.contains("cannot be written"), "{read_only}");
        enough(job, 5_000_000, Ok(Some(FULL_BYTES + 5_000_000))).unwrap();
        // What is not there yet lies on the disk of what is.
        room_for(&std::env::temp_dir().join("not/there/yet"), 0).unwrap();
        room_for(Path::new("not-there-yet"), 0).unwrap();
        assert!(room_for(&std::env::temp_dir(), u64::MAX / 2).is_err());
    }

    #[cfg(unix)]
    #[test]
    fn the_disk_of_a_folder_has_some_room_and_a_folder_may_go_away() {
        assert!(free_bytes(&std::env::temp_dir()).unwrap() > Some(0));
        let mut gone = DiskSpace::new(Path::new("/nowhere/job"));
        assert_eq!(gone.look().unwrap(), Left::Gone);
        let mut read_only = DiskSpace::measuring(Path::new("job"), Box::new(|_| Ok(None)));
        assert_eq!(read_only.look().unwrap(), Left::ReadOnly);
    }
}
