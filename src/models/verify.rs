//! Is a model file there, whole and unaltered?

use std::io::{self, Read};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::{Entry, Error};
use crate::audio::{open_file, read_file, sha256_hex};

/// Checks that the file of `entry` in `dir` is there with its size. Takes microseconds.
///
/// # Errors
/// [`Error::Missing`], [`Error::Size`] or [`Error::Io`], each with the path.
pub(super) fn check_size(dir: &Path, entry: &Entry) -> Result<PathBuf, Error> {
    let path = dir.join(&entry.file);
    let found = match std::fs::metadata(&path) {
        Ok(meta) => meta.len(),
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            let bytes = entry.bytes;
            return Err(Error::Missing { path, bytes });
        }
        Err(source) => return Err(Error::Io { path, source }),
    };
    if found != entry.bytes {
        let expected = entry.bytes;
        return Err(Error::Size {
            path,
            expected,
            found,
        });
    }
    Ok(path)
}

/// Checks size and SHA-256 of the file of `entry` in `dir`, and gives its path.
///
/// # Errors
/// As [`check_size`], and [`Error::Altered`] when the content is another.
pub fn verify(dir: &Path, entry: &Entry) -> Result<PathBuf, Error> {
    let path = check_size(dir, entry)?;
    let found = match sha256(&path) {
        Ok(hash) => hash,
        Err(source) => return Err(Error::Io { path, source }),
    };
    if found != entry.sha256 {
        let expected = entry.sha256.clone();
        return Err(Error::Altered {
            path,
            expected,
            found,
        });
    }
    Ok(path)
}

/// The bytes of the file of `entry` in `dir`, checked as by [`verify`]: what is used is what was checked.
///
/// # Errors
/// As [`verify`].
pub(crate) fn read(dir: &Path, entry: &Entry) -> Result<Vec<u8>, Error> {
    let path = check_size(dir, entry)?;
    let bytes = match read_file(&path, entry.bytes) {
        Ok(bytes) => bytes,
        Err(source) => return Err(Error::Io { path, source }),
    };
    let found = sha256_hex(&bytes);
    if found == entry.sha256 {
        return Ok(bytes);
    }
    let expected = entry.sha256.clone();
    Err(Error::Altered {
        path,
        expected,
        found,
    })
}

/// SHA-256 of a file, in hex.
///
/// # Errors
/// What the system says of reading it.
pub fn sha256(path: &Path) -> io::Result<String> {
    let mut file = open_file(path)?;
    let mut hasher = Sha256::new();
    let mut block = vec![0; 1 << 16];
    loop {
        let n = file.read(&mut block)?;
        if n == 0 {
            break;
        }
        hasher.update(&block[..n]);
    }
    Ok(hasher
        .finalize()
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;
    use crate::models::Window;
    use crate::models::manifest::Kind;

    /// A folder of its own for one test, removed at the end.
    struct Folder(PathBuf);

    impl Folder {
        fn new(name: &str) -> Self {
            let dir = std::env::temp_dir().join(format!("benchcall-{name}-{}", std::process::id()));
            std::fs::create_dir_all(&dir).unwrap();
            Self(dir)
        }
    }

    impl Drop for Folder {
        fn drop(&mut self) {
            let _ = std::fs::remove_dir_all(&self.0);
        }
    }

    fn abc() -> Entry {
        Entry {
            key: "small".to_owned(),
            file: "small.bin".to_owned(),
            bytes: 3,
            // SHA-256 of "abc": FIPS 180-4 example.
            sha256: "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad".to_owned(),
            licence: "MIT".to_owned(),
            card: "small.md".to_owned(),
            ships: true,
            kind: Kind::Recogniser,
            window: Some(Window::Fitted),
        }
    }

    #[test]
    fn a_whole_file_is_found() {
        let dir = Folder::new("whole");
        std::fs::write(dir.0.join("small.bin"), "abc").unwrap();
        assert_eq!(verify(&dir.0, &abc()).unwrap(), dir.0.join("small.bin"));
    }

    #[test]
    fn missing_truncated_and_altered_are_told_apart() {
        let dir = Folder::new("faulty");
        let path = dir.0.join("small.bin");
        let says = |wanted: &[&str]| {
            let error = verify(&dir.0, &abc()).unwrap_err().to_string();
            for part in wanted
                .iter()
                .chain(&[path.to_str().unwrap(), "git checkout models/small.bin"])
            {
                assert!(error.contains(part), "\"{part}\" is not in: {error}");
            }
        };
        says(&["is missing", "3 bytes"]);
        std::fs::write(&path, "ab").unwrap();
        says(&["has 2 bytes, expected 3"]);
        std::fs::write(&path, "abd").unwrap();
        says(&["has sha256 a52d159f", "expected ba7816bf"]);
    }
}
