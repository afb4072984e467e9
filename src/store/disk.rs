//! The few file operations that durability hangs on, behind a trait so that each can be made to fail.

use crate::audio::read_opened;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

/// What is asked of a disk. Each call may fail and leave its work half done.
pub(super) trait Disk: Send {
    /// Makes the file with all the bytes, not necessarily on the disk yet.
    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<File>;
    /// Brings the file's content to the disk.
    fn sync(&self, file: &File) -> io::Result<()>;
    /// Gives the file another name, replacing what had it.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Brings the folder's names to the disk.
    fn sync_dir(&self, folder: &Path) -> io::Result<()>;
}

/// The operating system's.
pub(super) struct RealDisk;

impl Disk for RealDisk {
    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<File> {
        let mut options = private_file();
        options.create(true).truncate(true);
        let mut file = no_link(options).open(path)?;
        file.write_all(bytes)?;
        Ok(file)
    }

    fn sync(&self, file: &File) -> io::Result<()> {
        file.sync_all()
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn sync_dir(&self, folder: &Path) -> io::Result<()> {
        // Only Unix lets a folder be opened for this; elsewhere the rename itself is written through.
        if cfg!(unix) {
            File::open(folder)?.sync_all()
        } else {
            Ok(())
        }
    }
}

/// Options for a file that only its owner may read and write.
pub(super) fn private_file() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.read(true).write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

/// The same, but a link in the file's place is not followed.
pub(super) fn no_link(mut options: OpenOptions) -> OpenOptions {
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::custom_flags(
        &mut options,
        // Nor is a pipe waited for: it is not a file of ours either.
        (rustix::fs::OFlags::NOFOLLOW | rustix::fs::OFlags::NONBLOCK)
            .bits()
            .cast_signed(),
    );
    options
}

/// Reads a file of a job, never through a link.
pub(super) fn read_own(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let mut options = OpenOptions::new();
    options.read(true);
    read_opened(no_link(options).open(path)?, most)
}

/// Which file on which disk.
pub(super) type Identity = (u64, u64);

/// Which file has a name now; `None` if there is none, or if the system does not say.
#[cfg(unix)]
pub(super) fn identity(path: &Path) -> Option<Identity> {
    use std::os::unix::fs::MetadataExt;
    let about = fs::metadata(path).ok()?;
    Some((about.dev(), about.ino()))
}

/// Which file has a name now; this system does not say.
#[cfg(not(unix))]
pub(super) fn identity(_: &Path) -> Option<Identity> {
    None
}

/// Makes one folder that only its owner may enter.
pub(super) fn private_folder(path: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

/// Writes a file that only its owner may read: a record, a sound, or what was said. One that is there
/// is replaced, and from then on its owner's alone too; a pipe or a terminal is left as it is.
///
/// # Errors
/// As the system says.
pub(crate) fn write_private(path: &Path, bytes: impl AsRef<[u8]>) -> io::Result<()> {
    let mut file = private_file()
        .read(false)
        .create(true)
        .truncate(true)
        .open(path)?;
    #[cfg(unix)]
    if file.metadata()?.is_file() {
        file.set_permissions(std::os::unix::fs::PermissionsExt::from_mode(0o600))?;
    }
    file.write_all(bytes.as_ref())
}

/// Makes a folder that only its owner may enter, and those above it; one that is there stays as it is.
///
/// # Errors
/// As the system says.
pub(crate) fn make_private_folder(path: &Path) -> io::Result<()> {
    if path.is_dir() {
        return Ok(());
    }
    if let Some(above) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
        make_private_folder(above)?;
    }
    private_folder(path)
}
