//! The settings folder of this person: own words, voices, and what the pages' server keeps there.

use crate::audio::read_text;
use crate::store::{make_private_folder, write_private};
use crate::web::{Kept, Version};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::UNIX_EPOCH;

/// More than any of the server's files holds.
const MOST_BYTES: u64 = 1_000_000;
/// Held while one of them is changed.
const LOCK: &str = "server.lock";

/// `BENCHCALL_SETTINGS`, or where the system keeps a person's settings.
pub(super) fn folder() -> Option<PathBuf> {
    let set = |name| {
        std::env::var_os(name)
            .filter(|v| !v.is_empty())
            .map(PathBuf::from)
    };
    let system = || set("XDG_CONFIG_HOME").or_else(|| Some(set("HOME")?.join(".config")));
    set("BENCHCALL_SETTINGS").or_else(|| Some(system()?.join("benchcall")))
}

/// What the pages' server keeps there; `None` if this person has no settings folder.
pub(crate) fn kept() -> Option<Arc<dyn Kept>> {
    Some(Arc::new(Settings { folder: folder()? }))
}

/// Keeps the page that leads a browser of this machine in, by the address that pairs it. It is a file
/// of this person alone, because the command line of a browser can be read by others.
pub(crate) fn keep_way_in(link: &str) -> io::Result<()> {
    let Some(path) = way_in() else { return Ok(()) };
    if let Some(folder) = path.parent() {
        make_private_folder(folder)?;
    }
    let page = format!(
        "<!doctype html><meta charset=utf-8><title>Benchcall</title>\
         <meta http-equiv=refresh content=\"0;url={link}\"><a href=\"{link}\">To the bench</a>\n"
    );
    replace(&path, &page)
}

/// Where that page lies; `None` if this person has no settings folder.
pub(crate) fn way_in() -> Option<PathBuf> {
    Some(folder()?.join("way-in.html"))
}

/// Files in a folder, which only its owner can read.
struct Settings {
    folder: PathBuf,
}

impl Settings {
    fn at(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// Nobody else changes a file until this is dropped.
    fn lock(&self) -> io::Result<File> {
        make_private_folder(&self.folder)?;
        let lock = self.at(LOCK);
        write_private(&lock, "")?;
        let lock = File::open(lock)?;
        lock.lock()?;
        Ok(lock)
    }
}

impl Kept for Settings {
    fn read(&self, name: &str) -> io::Result<Option<String>> {
        match read_text(&self.at(name), MOST_BYTES) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
            text => text.map(Some),
        }
    }

    fn version(&self, name: &str) -> Option<Version> {
        let about = self.at(name).metadata().ok()?;
        let changed = about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
        Some((changed.as_nanos(), about.len()))
    }

    fn change(
        &self,
        name: &str,
        change: &mut dyn FnMut(Option<String>) -> io::Result<String>,
    ) -> io::Result<()> {
        let _held = self.lock()?;
        let text = change(self.read(name)?)?;
        replace(&self.at(name), &text)
    }

    fn remove(&self, name: &str) -> io::Result<bool> {
        let _held = self.lock()?;
        match fs::remove_file(self.at(name)) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(false),
            removed => removed.map(|()| true),
        }
    }
}

/// The folder of the engines that this person entered.
fn engines_folder() -> Option<PathBuf> {
    Some(folder()?.join("engines"))
}

/// The file of an engine that this person entered, whether it is there or not; `None` for what can be
/// no key.
pub(crate) fn engine_file(key: &str) -> Option<PathBuf> {
    let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_';
    let is_key = !key.is_empty() && key.bytes().all(plain);
    Some(engines_folder()?.join(format!("{key}.toml"))).filter(|_| is_key)
}

/// The keys of the engines that this person entered.
pub(crate) fn engine_keys() -> Vec<String> {
    let entries = engines_folder().and_then(|f| fs::read_dir(f).ok());
    let paths = entries.into_iter().flatten().flatten().map(|e| e.path());
    let toml = paths.filter(|p| p.extension().is_some_and(|e| e == "toml"));
    let key = |p: PathBuf| Some(p.file_stem()?.to_str()?.to_owned());
    let mut keys: Vec<String> = toml.filter_map(key).collect();
    keys.sort();
    keys.retain(|key| engine_file(key).is_some());
    keys
}

/// Keeps the profile of an engine.
///
/// # Errors
/// The disk.
pub(crate) fn keep_engine(file: &Path, text: &str) -> io::Result<()> {
    file.parent().map_or(Ok(()), make_private_folder)?;
    replace(file, text)
}

/// Keeps the weights of another recogniser, in the place of those before; where.
///
/// # Errors
/// The disk; this person has no settings folder.
pub(crate) fn keep_weights(weights: &[u8]) -> io::Result<PathBuf> {
    let folder = folder().ok_or_else(|| io::Error::other("there is no settings folder"))?;
    make_private_folder(&folder)?;
    let file = folder.join("other-weights.bin");
    replace(&file, weights)?;
    Ok(file)
}

/// Puts a file in the place of another, whole or not at all.
pub(super) fn replace(path: &Path, bytes: impl AsRef<[u8]>) -> io::Result<()> {
    let part = path.with_extension("part");
    // What a crash left may be readable by others, or a link.
    match fs::remove_file(&part) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
        _ => {}
    }
    write_private(&part, bytes)?;
    File::open(&part)?.sync_all()?;
    fs::rename(&part, path)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_is_kept_is_its_owners_alone_and_changes_are_seen() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("settings");
        let settings = Settings {
            folder: folder.clone(),
        };
        assert_eq!(settings.read("devices.json").unwrap(), None);
        assert_eq!(settings.version("devices.json"), None);
        let mut add = |text: Option<String>| Ok(text.unwrap_or_default() + "x");
        settings.change("devices.json", &mut add).unwrap();
        let first = settings.version("devices.json");
        settings.change("devices.json", &mut add).unwrap();
        assert_eq!(settings.read("devices.json").unwrap().unwrap(), "xx");
        assert_ne!(settings.version("devices.json"), first);
        let failed = &mut |_| Err(io::Error::other("no"));
        assert!(settings.change("devices.json", failed).is_err());
        assert_eq!(settings.read("devices.json").unwrap().unwrap(), "xx");
        settings.change("other", &mut add).unwrap();
        assert!(settings.remove("other").unwrap());
        assert!(!settings.remove("other").unwrap());
        #[cfg(unix)]
        for (path, mode) in [
            (folder.clone(), 0o700),
            (folder.join("devices.json"), 0o600),
        ] {
            use std::os::unix::fs::PermissionsExt;
            let found = path.metadata().unwrap().permissions().mode() & 0o777;
            assert_eq!(found, mode, "{}", path.display());
        }
    }

    #[test]
    fn two_programs_change_one_file_in_turn() {
        let dir = tempfile::tempdir().unwrap();
        let count = || {
            let settings = Settings {
                folder: dir.path().to_path_buf(),
            };
            for _ in 0..50 {
                let mut add = |text: Option<String>| Ok(text.unwrap_or_default() + "x");
                settings.change("devices.json", &mut add).unwrap();
            }
        };
        std::thread::scope(|threads| {
            threads.spawn(count);
            threads.spawn(count);
        });
        let settings = Settings {
            folder: dir.path().to_path_buf(),
        };
        assert_eq!(settings.read("devices.json").unwrap().unwrap().len(), 100);
    }
}
