//! The model files on disk: what they are (`manifest`) and whether they are whole (`verify`).

mod manifest;
mod verify;

pub(crate) use manifest::Entry;
pub use manifest::{Manifest, Window};
pub(crate) use verify::read;
pub use verify::{sha256, verify};

use std::path::PathBuf;

/// What can be wrong with the manifest or with a model file.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The manifest is not readable TOML, or has an unknown, missing or mistyped key.
    #[error("models/manifest.toml: {0}")]
    Syntax(#[from] Box<toml::de::Error>),
    /// A value in the manifest cannot be meant.
    #[error("models/manifest.toml, model \"{key}\": {what}")]
    Value {
        /// Key of the entry.
        key: String,
        /// What is wrong and what would be accepted.
        what: String,
    },
    /// No entry has this key.
    #[error("there is no model \"{key}\"; models/manifest.toml has: {known}")]
    Unknown {
        /// Key that was asked for.
        key: String,
        /// Keys there are, joined by commas.
        known: String,
    },
    /// The file is not there.
    #[error("model file {} is missing (expected {bytes} bytes); {}", .path.display(), mend(.path))]
    Missing {
        /// Where it was looked for.
        path: PathBuf,
        /// Size it should have.
        bytes: u64,
    },
    /// The file has another size, as after an interrupted copy.
    #[error("model file {} has {found} bytes, expected {expected}; {}", .path.display(), mend(.path))]
    Size {
        /// The file.
        path: PathBuf,
        /// Size in the manifest.
        expected: u64,
        /// Size on disk.
        found: u64,
    },
    /// The size is right and the content is not.
    #[error("model file {} has sha256 {found}, expected {expected}; {}", .path.display(), mend(.path))]
    Altered {
        /// The file.
        path: PathBuf,
        /// Hash in the manifest.
        expected: String,
        /// Hash of the file.
        found: String,
    },
    /// The file could not be read.
    #[error("cannot read model file {}: {source}", .path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
}

/// What the user can do about a bad model file.
fn mend(path: &std::path::Path) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    format!("run ./setup.sh again, or: git checkout models/{name}")
}
