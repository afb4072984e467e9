//! Clips on disk: one WAV file each, named by the SHA-256 of its bytes.

use super::Error;
use super::disk::{Disk, read_own};
use crate::audio::sha256_hex;
use crate::event::Event;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The folder of the clips in a job.
pub(super) const FOLDER: &str = "clips";
/// No utterance is longer: half an hour of sound at 32 kB a second.
const MOST_BYTES: u64 = 60_000_000;

/// Refuses a name that is not a hash, so that no name can lead out of the folder.
pub(super) fn check_name(name: &str) -> Result<(), Error> {
    let hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
    if name.len() == 64 && name.bytes().all(hex) {
        Ok(())
    } else {
        Err(Error::ClipName {
            name: name.to_owned(),
        })
    }
}

/// Refuses an id out of order and a clip that is not the event's. `kept` says whether a clip is
/// there already.
pub(super) fn check_append(
    event: &Event,
    clip: Option<&[u8]>,
    expected: u64,
    kept: impl FnOnce(&str) -> bool,
) -> Result<(), Error> {
    if event.id != expected {
        return Err(Error::WrongId {
            given: event.id,
            expected,
        });
    }
    let named = event.sound.as_ref().map(|sound| sound.sha256.as_str());
    named.map_or(Ok(()), check_name)?;
    match (clip.map(sha256_hex), named) {
        (None, None) => Ok(()),
        (None, Some(name)) if kept(name) => Ok(()),
        (None, Some(name)) => Err(Error::ClipMissing {
            sha256: name.to_owned(),
            copied: false,
        }),
        (Some(given), Some(name)) if given == name => Ok(()),
        (Some(given), named) => Err(Error::ClipOther {
            id: event.id,
            given,
            named: named.map(str::to_owned),
        }),
    }
}

/// The file of a clip.
pub(super) fn file(folder: &Path, sha256: &str) -> PathBuf {
    folder.join(format!("{sha256}.wav"))
}

/// Keeps a clip: when this returns, file and name are on the disk.
///
/// A clip that is there in full is left alone. After a failure no half clip has the name, and
/// nothing of the attempt is relied on again: a failed fsync may have dropped the bytes unseen.
pub(super) fn keep(
    disk: &dyn Disk,
    folder: &Path,
    sha256: &str,
    bytes: &[u8],
) -> Result<(), Error> {
    let clip = file(folder, sha256);
    if read(folder, sha256).is_err() {
        let part = folder.join(format!("{sha256}.part"));
        if let Err(error) = write_part(disk, &part, bytes).and_then(|()| {
            disk.rename(&part, &clip)
                .map_err(|e| Error::io(&clip, "naming the clip", e))
        }) {
            let _ = fs::remove_file(&part); // else the next opening removes it
            return Err(error);
        }
    }
    disk.sync_dir(folder)
        .map_err(|e| Error::io(folder, "syncing the folder", e))
}

fn write_part(disk: &dyn Disk, part: &Path, bytes: &[u8]) -> Result<(), Error> {
    let file = disk
        .write(part, bytes)
        .map_err(|e| Error::io(part, "writing the clip", e))?;
    disk.sync(&file)
        .map_err(|e| Error::io(part, "syncing the clip", e))?;
    let length = file
        .metadata()
        .map_err(|e| Error::io(part, "reading back the clip's length", e))?
        .len();
    if length == bytes.len() as u64 {
        return Ok(());
    }
    let short = io::Error::new(
        io::ErrorKind::WriteZero,
        format!("{length} of {} bytes arrived", bytes.len()),
    );
    Err(Error::io(part, "writing the clip", short))
}

/// Reads a clip and checks it against its name.
pub(super) fn read(folder: &Path, sha256: &str) -> Result<Vec<u8>, Error> {
    check_name(sha256)?;
    let path = file(folder, sha256);
    let bytes = match read_own(&path, MOST_BYTES) {
        Ok(bytes) => bytes,
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            return Err(Error::ClipMissing {
                sha256: sha256.to_owned(),
                copied: true,
            });
        }
        Err(e) => return Err(Error::io(&path, "reading the clip", e)),
    };
    let found = sha256_hex(&bytes);
    if found == sha256 {
        Ok(bytes)
    } else {
        Err(Error::ClipDamaged { path, found })
    }
}

/// Whether there is anything in the folder.
pub(super) fn any(folder: &Path) -> bool {
    fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some())
}

/// How many clips of a job are whole, whatever events name them.
pub(super) fn whole(job: &Path) -> usize {
    let folder = job.join(FOLDER);
    let entries = fs::read_dir(&folder).into_iter().flatten().flatten();
    entries
        .filter_map(|entry| entry.path().file_stem()?.to_str().map(str::to_owned))
        .filter(|name| read(&folder, name).is_ok())
        .count()
}

/// Removes what a crash left half written. Only for the holder of the lock.
pub(super) fn sweep(folder: &Path) -> Result<usize, Error> {
    let failed = |e| Error::io(folder, "listing the clips", e);
    let mut swept = 0;
    for entry in fs::read_dir(folder).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        if path.extension().is_some_and(|e| e == "part") {
            fs::remove_file(&path).map_err(|e| Error::io(&path, "removing", e))?;
            swept += 1;
        }
    }
    Ok(swept)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_published_one() {
        // FIPS 180-4 example "abc".
        assert_eq!(
            sha256_hex(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn a_name_cannot_lead_out_of_the_folder() {
        for name in ["", "../../etc/passwd", &"A".repeat(64), &"a".repeat(63)] {
            assert!(
                matches!(check_name(name), Err(Error::ClipName { .. })),
                "{name}"
            );
        }
        assert!(check_name(&"0f".repeat(32)).is_ok());
    }
}
