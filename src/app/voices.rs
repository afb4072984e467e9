//! The voices that were learnt on this machine: their profiles in the settings folder, and which of
//! them is on.

use super::settings;
use crate::audio::{read_file, read_text};
use crate::recognise::{MOST_PROFILE_BYTES, VoiceProfile};
use crate::store::make_private_folder;
use anyhow::{Context, Result, bail};
use std::fs;
use std::path::{Path, PathBuf};

/// The end of a profile's file name.
const EXTENSION: &str = "safetensors";
/// The file that names the voice that is on.
const ON: &str = "on";
/// What `--voice` takes for "no voice, though one is on".
pub(crate) const NONE: &str = "none";
/// The longest name.
const LONGEST: usize = 40;

/// The folder of the profiles.
pub(crate) struct Voices {
    folder: PathBuf,
}

impl Voices {
    /// Those of this person.
    ///
    /// # Errors
    /// There is no settings folder.
    pub(crate) fn open() -> Result<Self> {
        let folder = settings::folder()
            .context("there is no settings folder: set HOME, or BENCHCALL_SETTINGS to a folder")?;
        Ok(Self {
            folder: folder.join("voices"),
        })
    }

    /// Where the profile of a voice is, whether it is there or not.
    ///
    /// # Errors
    /// What can be no name.
    pub(crate) fn path(&self, name: &str) -> Result<PathBuf> {
        let plain =
            |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || matches!(b, b'_' | b'-');
        let fits = (1..=LONGEST).contains(&name.len()) && name.bytes().all(plain);
        if !fits || name == NONE {
            bail!(
                "\"{name}\" cannot name a voice: expected 1 to {LONGEST} of a to z, 0 to 9, - and _, but not \"{NONE}\""
            );
        }
        Ok(self.folder.join(name).with_extension(EXTENSION))
    }

    /// The names of all voices, in order.
    pub(crate) fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let name = |path: PathBuf| {
            let profile = path.extension().is_some_and(|e| e == EXTENSION);
            let name = path.file_stem()?.to_str()?.to_owned();
            (profile && self.path(&name).is_ok()).then_some(name)
        };
        let mut names: Vec<String> = entries.filter_map(|e| name(e.path())).collect();
        names.sort();
        names
    }

    /// The profile of a voice.
    ///
    /// # Errors
    /// There is none, with those that there are; a file that is none.
    pub(crate) fn read(&self, name: &str) -> Result<VoiceProfile> {
        let path = self.path(name)?;
        if !path.exists() {
            match self.names().as_slice() {
                [] => bail!(
                    "there is no voice \"{name}\": none was learnt yet; see `benchcall voice learn --help`"
                ),
                names => bail!(
                    "there is no voice \"{name}\": expected {}",
                    names.join(", ")
                ),
            }
        }
        let at = || path.display().to_string();
        let bytes = read_file(&path, MOST_PROFILE_BYTES)
            .with_context(|| format!("cannot read the voice {}", at()))?;
        VoiceProfile::parse(&bytes).with_context(at)
    }

    /// Keeps a profile, in the place of an earlier one of this name.
    ///
    /// # Errors
    /// The disk.
    pub(crate) fn keep(&self, name: &str, profile: &VoiceProfile) -> Result<PathBuf> {
        let path = self.path(name)?;
        self.write(&path, &profile.to_bytes()?)?;
        Ok(path)
    }

    /// Removes a voice.
    ///
    /// # Errors
    /// There is none; the disk.
    pub(crate) fn remove(&self, name: &str) -> Result<()> {
        let path = self.path(name)?;
        if !path.exists() {
            self.read(name)?; // which says what there is
        }
        if self.on().as_deref() == Some(name) {
            self.switch(None)?;
        }
        fs::remove_file(&path).with_context(|| format!("cannot remove {}", path.display()))
    }

    /// The voice that is on: everything is heard with it unless something else is asked for.
    pub(crate) fn on(&self) -> Option<String> {
        let name = read_text(&self.folder.join(ON), 1_000).ok()?;
        Some(name.trim().to_owned()).filter(|name| self.path(name).is_ok())
    }

    /// Switches a voice on, or all off.
    ///
    /// # Errors
    /// There is none of this name, or it may not be used; the disk.
    pub(crate) fn switch(&self, name: Option<&str>) -> Result<()> {
        let path = self.folder.join(ON);
        let Some(name) = name else {
            return match fs::remove_file(&path) {
                Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                    Err(e).with_context(|| format!("cannot remove {}", path.display()))
                }
                _ => Ok(()),
            };
        };
        may_be_used(name, &self.read(name)?)?;
        self.write(&path, name.as_bytes())
    }

    fn write(&self, path: &Path, bytes: &[u8]) -> Result<()> {
        let failed = || format!("cannot write {}", path.display());
        make_private_folder(&self.folder).with_context(failed)?;
        settings::replace(path, bytes).with_context(failed)
    }
}

/// The profile to hear with: that of the voice that was named, else that of the one that is on.
/// `weights` is the SHA-256 of the file of weights.
///
/// # Errors
/// The named one is not there, belongs to other weights, or may not be used. One that is merely on
/// and does not fit is left out, and that is told by `tell`.
pub(crate) fn profile(
    named: Option<&str>,
    weights: &str,
    tell: impl Fn(&str),
) -> Result<Option<VoiceProfile>> {
    if named == Some(NONE) {
        return Ok(None);
    }
    let usable = |voices: &Voices, name: &str| {
        let profile = voices.read(name)?;
        may_be_used(name, &profile)?;
        profile
            .is_for(weights)
            .with_context(|| format!("the voice \"{name}\" cannot be used"))?;
        Ok::<_, anyhow::Error>(profile)
    };
    if let Some(name) = named {
        return usable(&Voices::open()?, name).map(Some);
    }
    let Ok(voices) = Voices::open() else {
        return Ok(None);
    };
    let Some(name) = voices.on() else {
        return Ok(None);
    };
    match usable(&voices, &name) {
        Ok(profile) => Ok(Some(profile)),
        Err(error) => {
            tell(&format!("{error:#}; it is left out"));
            Ok(None)
        }
    }
}

fn may_be_used(name: &str, profile: &VoiceProfile) -> Result<()> {
    let refused = &profile.about.refused;
    anyhow::ensure!(
        refused.is_empty(),
        "the voice \"{name}\" stays off, since {refused}"
    );
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::recognise::About;

    fn voices(folder: &Path) -> Voices {
        Voices {
            folder: folder.join("settings/voices"),
        }
    }

    fn some(refused: &str) -> VoiceProfile {
        let about = About {
            weights: "ab".repeat(32),
            refused: refused.to_owned(),
            ..About::default()
        };
        VoiceProfile::new(about, [("x".to_owned(), vec![1.0])].into())
    }

    #[test]
    fn a_voice_is_kept_switched_and_removed_and_is_its_owners_alone() {
        let dir = tempfile::tempdir().unwrap();
        let voices = voices(dir.path());
        assert_eq!((voices.names(), voices.on()), (Vec::new(), None));
        let path = voices.keep("ann-2", &some("")).unwrap();
        voices.keep("bob", &some("it is worse")).unwrap();
        assert_eq!(voices.names(), ["ann-2", "bob"]);
        voices.switch(Some("ann-2")).unwrap();
        assert_eq!(voices.on().as_deref(), Some("ann-2"));
        let error = voices.switch(Some("bob")).unwrap_err().to_string();
        assert_eq!(error, "the voice \"bob\" stays off, since it is worse");
        assert_eq!(voices.on().as_deref(), Some("ann-2"));
        #[cfg(unix)]
        for (path, mode) in [(path.parent().unwrap(), 0o700), (&path, 0o600)] {
            use std::os::unix::fs::PermissionsExt;
            let found = path.metadata().unwrap().permissions().mode() & 0o777;
            assert_eq!(found, mode, "{}", path.display());
        }
        voices.remove("ann-2").unwrap();
        assert_eq!(
            (voices.names(), voices.on()),
            (vec!["bob".to_owned()], None)
        );
        let error = voices.remove("ann-2").unwrap_err().to_string();
        assert_eq!(error, "there is no voice \"ann-2\": expected bob");
        voices.switch(None).unwrap();
    }

    #[test]
    fn names_and_files_that_cannot_be_are_told() {
        let dir = tempfile::tempdir().unwrap();
        let voices = voices(dir.path());
        for name in ["", "none", "../x", "Ann", "a b", &"a".repeat(41)] {
            let error = voices.path(name).unwrap_err().to_string();
            assert!(error.contains("cannot name a voice"), "{name}: {error}");
        }
        let path = voices.keep("ann", &some("")).unwrap();
        // 2 GB, of which the disk holds nothing.
        let file = fs::File::options().write(true).open(&path).unwrap();
        file.set_len(2_000_000_000).unwrap();
        let error = format!("{:#}", voices.read("ann").unwrap_err());
        assert!(error.contains("at most 4 MB are read"), "{error}");
        fs::write(&path, "RIFF").unwrap();
        let error = format!("{:#}", voices.read("ann").unwrap_err());
        assert!(error.contains("it is no voice profile"), "{error}");
    }
}
