//! `job.last`: number and checksum of the last event, kept beside the database. A database that has
//! lost its end (a log that was removed, an older copy that was put back) is noticed by it.
//!
//! It is written after the event is on the disk, so it never names an event that was not stored; after
//! a kill or a loss of power it may name an earlier one, which harms nothing.

use super::chain::Last;
use super::disk::{no_link, private_file, read_own};
use super::{Error, sha256_hex};
use std::fs::File;
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;

/// The file's name.
pub(super) const NAME: &str = "job.last";

/// What the file says; `None` if there is none, or it was damaged.
pub(super) fn read(folder: &Path) -> Option<Last> {
    let text = String::from_utf8(read_own(&folder.join(NAME), 1_000).ok()?).ok()?;
    let mut words = text.split_whitespace();
    let (id, checksum, check) = (words.next()?, words.next()?, words.next()?);
    let last = Last {
        id: id.parse().ok()?,
        checksum: checksum.to_owned(),
    };
    (check_of(&last) == check && words.next().is_none()).then_some(last)
}

/// Opens the file to be kept up to date, and makes it if it is not there.
pub(super) fn open(folder: &Path) -> Result<File, Error> {
    let path = folder.join(NAME);
    let mut options = private_file();
    options.create(true).truncate(false);
    no_link(options)
        .open(&path)
        .map_err(|e| Error::io(&path, "opening", e))
}

/// Writes the end of the chain, over what was there. A failure is not a failure of the event, which is
/// stored: the file then names an earlier one.
pub(super) fn write(mut file: &File, last: &Last) {
    // Always as long, so that one write puts all of it in place.
    let line = format!("{:>20} {} {}\n", last.id, last.checksum, check_of(last));
    let _ = file
        .seek(SeekFrom::Start(0))
        .and_then(|_| file.write_all(line.as_bytes()));
}

/// A check of the line itself: a damaged line must not be taken for a lost event.
fn check_of(last: &Last) -> String {
    let mut hash = sha256_hex(format!("{} {}", last.id, last.checksum).as_bytes());
    hash.truncate(16);
    hash
}
