//! Sound files.

use super::{Clip, decode};
use anyhow::{Context, Result};
use std::path::Path;

/// Decodes a sound file.
///
/// # Errors
/// An unreadable or undecodable file, named.
pub fn read_clip(path: &Path) -> Result<Clip> {
    let bytes = std::fs::read(path).with_context(|| format!("cannot read {}", path.display()))?;
    Ok(decode(&bytes, &path.display().to_string())?)
}
