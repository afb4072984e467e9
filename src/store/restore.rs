//! A job made of events that there are already: a report brought back, or what is left of a damaged job.

use super::disk::{Disk, RealDisk};
use super::{Error, JobFolder, Store, clips, last, lock, schema};
use crate::event::Event;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Makes a job of all `events`, with the clips that `clip` has, in a new or empty folder, or in place
/// of a job in which nothing was said yet.
///
/// It is made beside its place, and gets its name when it is whole and on the disk. Cut off, it leaves
/// no half job in the place; what it left beside goes when it is tried again.
///
/// # Errors
/// [`Error::NotEmpty`], [`Error::InUse`], those of [`JobFolder::create`] and [`JobFolder::adopt`].
pub(crate) fn restore(
    path: &Path,
    events: &[Event],
    clip: impl Fn(&str) -> Option<Vec<u8>>,
) -> Result<(), Error> {
    let Some((first, rest)) = events.split_first() else {
        let path = path.to_path_buf();
        return Err(Error::NothingLeft { path });
    };
    let in_the_way = gives_way(path)?;
    let beside = beside(path)?;
    if beside.exists() {
        let held = lock::take(&beside)?; // unless another is at it
        remove(&beside)?;
        drop(held);
    }
    let mut job = JobFolder::create(&beside, first)?;
    for event in rest {
        let sound = event.sound.as_ref().and_then(|s| clip(&s.sha256));
        job.adopt(event, sound.as_deref())?;
    }
    drop(job);
    if in_the_way {
        remove(path)?;
    }
    fs::rename(&beside, path).map_err(|e| Error::io(path, "naming the job", e))?;
    let above = beside.parent().unwrap_or(Path::new("."));
    RealDisk
        .sync_dir(above)
        .map_err(|e| Error::io(above, "syncing the folder", e))
}

/// Where a job is made: a hidden folder beside its place.
fn beside(path: &Path) -> Result<PathBuf, Error> {
    let path = std::path::absolute(path).map_err(|e| Error::io(path, "finding", e))?;
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    Ok(path.with_file_name(format!(".{name}.unfinished")))
}

/// Whether something is in the place that gives way: an empty folder, a job that only was begun, or
/// what is left of taking one away.
fn gives_way(path: &Path) -> Result<bool, Error> {
    if !path.exists() {
        return Ok(false);
    }
    if path.join(schema::NAME).exists() {
        let job = JobFolder::open(path)?;
        if job.events()?.len() > 1 {
            let path = path.to_path_buf();
            return Err(Error::Exists { path });
        }
        return Ok(true);
    }
    let entries = fs::read_dir(path).map_err(|e| Error::io(path, "listing", e))?;
    for entry in entries {
        let name = entry
            .map_err(|e| Error::io(path, "listing", e))?
            .file_name();
        if ![lock::NAME, last::NAME, clips::FOLDER]
            .iter()
            .any(|n| name == *n)
        {
            let path = path.to_path_buf();
            return Err(Error::NotEmpty { path });
        }
    }
    Ok(true)
}

/// Removes the files of a job, and nothing else, with its folder.
fn remove(path: &Path) -> Result<(), Error> {
    let clips = path.join(clips::FOLDER);
    let gone = |path: &Path, result: io::Result<()>| match result {
        Err(e) if e.kind() != io::ErrorKind::NotFound => Err(Error::io(path, "removing", e)),
        _ => Ok(()),
    };
    if path.join(schema::NAME).exists() {
        // Only of a job that is being made, or has one event: its sounds are those of the attempt.
        for entry in fs::read_dir(&clips).into_iter().flatten().flatten() {
            gone(&entry.path(), fs::remove_file(entry.path()))?;
        }
    }
    for name in schema::FILES.iter().chain(&[last::NAME, lock::NAME]) {
        let file = path.join(name);
        gone(&file, fs::remove_file(&file))?;
    }
    gone(&clips, fs::remove_dir(&clips))?;
    gone(path, fs::remove_dir(path))
}
