//! The record of a job: made, brought back, set beside an earlier one.

use super::job::Job;
use super::now_ms;
use crate::engine::Profile;
use crate::event::{Event, Fact};
use crate::measure::{Length, LengthUnit};
use crate::record::JobView;
use crate::report::{Report, Sounds, Source, read};
use crate::store::{self, JobFolder, Store};
use anyhow::{Context, Result, bail};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Name and version of this program.
pub const SOFTWARE: &str = concat!("benchcall ", env!("CARGO_PKG_VERSION"));

/// The record of a job.
#[must_use]
pub fn of(job: &Job) -> Report {
    gather(
        &job.setup.profile,
        job.setup.unit,
        &job.setup.blades,
        &job.state.view,
    )
}

fn gather(profile: &Profile, unit: LengthUnit, blades: &[Length], view: &JobView) -> Report {
    Report::of(&Source {
        profile,
        unit,
        blades,
        view,
        software: SOFTWARE,
        made_at_ms: now_ms(),
    })
}

/// The events of a job as the store writes them.
///
/// # Errors
/// None that a stored event can cause.
pub fn bodies(events: &[Event]) -> Result<Vec<Value>> {
    let body = |e: &Event| Ok(serde_json::from_str(&store::encode(e)?)?);
    events.iter().map(body).collect()
}

/// Every sound of a job that is still there.
#[must_use]
pub fn sounds(job: &Job) -> Sounds {
    let named = job.state.events().iter().filter_map(|e| e.sound.as_ref());
    named
        .filter_map(|s| Some((s.sha256.clone(), job.clip(&s.sha256).ok()?)))
        .collect()
}

/// Brings a report back as a job: into a new folder, or a job in which nothing was said yet.
/// Gives how many events and how many sounds came.
///
/// # Errors
/// A file that is no report, a job that is not empty, the disk.
pub fn import(folder: &Path, file: &Path) -> Result<(usize, usize)> {
    let (events, sounds) = load(file)?;
    let (first, rest) = events.split_first().context("the report has no events")?;
    make_room(folder)?;
    let mut job = JobFolder::create(folder, first)?;
    for event in rest {
        let name = event.sound.as_ref().map(|s| &s.sha256);
        let clip = name.and_then(|name| sounds.get(name));
        job.adopt(event, clip.map(Vec::as_slice))
            .with_context(|| format!("{}: event {}", file.display(), event.id))?;
    }
    Ok((events.len(), sounds.len()))
}

/// A job that only was begun gives way.
fn make_room(folder: &Path) -> Result<()> {
    if !folder.join("job.sqlite").exists() {
        return Ok(());
    }
    let job = JobFolder::open(folder)?;
    let events = job.events()?.len();
    if events > 1 {
        bail!(
            "{} has {events} events: a report can only be brought back into a new folder or an empty job",
            folder.display()
        );
    }
    drop(job);
    for name in ["job.sqlite", "job.sqlite-wal", "job.sqlite-shm", "job.lock"] {
        let path = folder.join(name);
        if path.exists() {
            fs::remove_file(&path).with_context(|| format!("cannot remove {}", path.display()))?;
        }
    }
    let clips = folder.join("clips");
    if clips.exists() {
        fs::remove_dir(&clips).with_context(|| format!("cannot remove {}", clips.display()))?;
    }
    Ok(())
}

fn load(file: &Path) -> Result<(Vec<Event>, Sounds)> {
    let name = || file.display().to_string();
    let text = fs::read_to_string(file).with_context(|| format!("cannot read {}", name()))?;
    let imported = read(&text).with_context(name)?;
    let mut events = Vec::new();
    for (body, n) in imported.events.iter().zip(1..) {
        let event = store::decode(&body.to_string())
            .with_context(|| format!("{}: event {n} of the report", name()))?;
        if event.id != n {
            bail!(
                "{}: event {n} of the report says that it is {}",
                name(),
                event.id
            );
        }
        events.push(event);
    }
    for (sha256, wav) in &imported.sounds {
        if store::sha256_hex(wav) != *sha256 {
            bail!("{}: the sound {sha256} is damaged", name());
        }
    }
    Ok((events, imported.sounds))
}

/// The record of an earlier job: of its folder, or of a report's JSON.
///
/// # Errors
/// Neither of both.
pub fn earlier(path: &Path) -> Result<Report> {
    if path.is_dir() {
        return Ok(of(&Job::look(path)?));
    }
    let (events, _) = load(path)?;
    let facts = events
        .first()
        .map(|e| e.facts.as_slice())
        .unwrap_or_default();
    let [
        Fact::Begun {
            engine,
            unit,
            profile,
            blades_nm,
            ..
        },
    ] = facts
    else {
        bail!(
            "{}: its first event does not say which engine it is for",
            path.display()
        );
    };
    let profile = Profile::parse(
        profile,
        &format!("the profile of {engine} kept in the report"),
    )?;
    let view = JobView::of(&profile, blades_nm, &events);
    Ok(gather(&profile, *unit, blades_nm, &view))
}
