//! Files that a person gives: read whole, up to a limit, and never a pipe that may not end.

use super::{Clip, decode};
use anyhow::{Context, Result};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// The largest sound file that is read: a whole evening, compressed. Common practice, no source.
const MOST_BYTES: u64 = 1_000_000_000;

/// Decodes a sound file.
///
/// # Errors
/// An unreadable or undecodable file, named.
pub fn read_clip(path: &Path) -> Result<Clip> {
    let name = path.display().to_string();
    let bytes = read_file(path, MOST_BYTES).with_context(|| format!("cannot read {name}"))?;
    Ok(decode(&bytes, &name)?)
}

/// The bytes of a file.
///
/// # Errors
/// As [`read_opened`], and those of opening it.
pub(crate) fn read_file(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    read_opened(open_file(path)?, most)
}

/// Opens a file to be read.
///
/// # Errors
/// A folder, a pipe or a device; those of opening it.
pub(crate) fn open_file(path: &Path) -> io::Result<File> {
    // A pipe without a writer would be waited for as soon as it is opened.
    if path.metadata()?.is_file() {
        File::open(path)
    } else {
        Err(no_file())
    }
}

/// The text of a file.
///
/// # Errors
/// As [`read_file`]; one that is not text.
pub(crate) fn read_text(path: &Path, most: u64) -> io::Result<String> {
    String::from_utf8(read_file(path, most)?)
        .map_err(|_| io::Error::new(io::ErrorKind::InvalidData, "it is not text: expected UTF-8"))
}

/// The bytes of an open file.
///
/// # Errors
/// A folder, a pipe or a device; more than `most` bytes; those of the disk.
pub(crate) fn read_opened(file: File, most: u64) -> io::Result<Vec<u8>> {
    let about = file.metadata()?;
    if !about.is_file() {
        return Err(no_file());
    }
    let mut bytes = Vec::with_capacity(usize::try_from(about.len().min(most)).unwrap_or(0));
    file.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        let megabytes = most / 1_000_000;
        let what = format!("it is too large: at most {megabytes} MB are read");
        return Err(io::Error::new(io::ErrorKind::FileTooLarge, what));
    }
    Ok(bytes)
}

fn no_file() -> io::Error {
    let what = "it is a folder, a pipe or a device: expected a file";
    io::Error::new(io::ErrorKind::InvalidInput, what)
}
