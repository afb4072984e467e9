//! The record of a job: made, brought back, set beside an earlier one.

use super::disk_space::room_for;
use super::job::Job;
use super::now_ms;
use crate::audio::read_text;
use crate::engine::Profile;
use crate::event::{About, Event, Fact};
use crate::measure::{Length, LengthUnit};
use crate::record::JobView;
use crate::report::{Compared, Report, Sounds, Source, read};
use crate::store;
use anyhow::{Context, Result, bail};
use jiff::tz::TimeZone;
use serde_json::Value;
use std::path::Path;

/// Name and version of this program.
pub const SOFTWARE: &str = concat!("benchcall ", env!("CARGO_PKG_VERSION"));

/// The largest report that is read: the sounds of an evening, as text. Common practice, no source.
const MOST_BYTES: u64 = 1_000_000_000;

/// The record of a job.
#[must_use]
pub fn of(job: &Job) -> Report {
    let record = gather(
        &job.setup.profile,
        job.setup.unit,
        &job.setup.blades,
        &job.state.view,
    );
    Report {
        damage: job.damage_line(),
        ..record
    }
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

/// The record as a page, with its times in the zone of this machine; with `since`, how each
/// clearance moved.
#[must_use]
pub fn html(record: &Report, since: Option<&Compared>) -> String {
    record.html(since, &TimeZone::system())
}

/// Every sound of a job that is whole, and why others are not: those that were not removed because
/// somebody asked for that.
#[must_use]
pub(crate) fn sounds(job: &Job) -> (Sounds, Vec<String>) {
    let (mut sounds, mut lost) = (Sounds::new(), Vec::new());
    for event in job.state.events() {
        let Some(sound) = event.sound.as_ref().map(|s| &s.sha256) else {
            continue;
        };
        match job.store.clip(sound) {
            Ok(wav) => {
                sounds.insert(sound.clone(), wav);
            }
            Err(store::Error::ClipForgotten { .. }) => {}
            Err(error) => lost.push(format!("the sound of event {}: {error}", event.id)),
        }
    }
    (sounds, lost)
}

/// Brings a report back as a job: into a new folder, or a job in which nothing was said yet.
/// Gives how many events and how many sounds came.
///
/// # Errors
/// A file that is not a report, a job that is not empty, the disk.
pub(crate) fn import(folder: &Path, file: &Path) -> Result<(usize, usize)> {
    load(file)?.make(folder)
}

/// A report that was read whole, and can become a job again.
pub(crate) struct Imported {
    events: Vec<Event>,
    sounds: Sounds,
    /// More than the job takes on the disk: sounds are longer in a text.
    bytes: u64,
}

impl Imported {
    /// Reads the text of a report; `name` says where it comes from.
    ///
    /// # Errors
    /// It is not a report, or one that is damaged.
    pub(crate) fn of(text: &str, name: &str) -> Result<Self> {
        let imported = read(text).with_context(|| name.to_owned())?;
        let mut events = Vec::new();
        for (body, n) in imported.events.iter().zip(1..) {
            let event = store::decode(&body.to_string())
                .with_context(|| format!("{name}: event {n} of the report"))?;
            if event.id != n {
                let id = event.id;
                bail!("{name}: event {n} of the report says that it is {id}");
            }
            events.push(event);
        }
        for (sha256, wav) in &imported.sounds {
            if store::sha256_hex(wav) != *sha256 {
                bail!("{name}: the sound {sha256} is damaged");
            }
        }
        // A job whose profile cannot be read could never be opened.
        begun(name, events.first())?;
        Ok(Self {
            events,
            sounds: imported.sounds,
            bytes: text.len() as u64,
        })
    }

    /// What is written in it of the machine: the last of it, empty if nothing is.
    pub(crate) fn machine(&self) -> &str {
        let facts = self.events.iter().rev().flat_map(|e| &e.facts);
        let mut told = facts.filter_map(|f| match f {
            Fact::About { what, text } if *what == About::Machine => Some(text.as_str()),
            _ => None,
        });
        told.next().unwrap_or_default()
    }

    /// Makes the job; gives how many events and how many sounds came.
    ///
    /// # Errors
    /// A job that is not empty, the disk.
    pub(crate) fn make(&self, folder: &Path) -> Result<(usize, usize)> {
        let Self { events, sounds, .. } = self;
        room_for(folder, self.bytes)?;
        store::restore(folder, events, |name| sounds.get(name).cloned())?;
        Ok((events.len(), sounds.len()))
    }
}

fn load(file: &Path) -> Result<Imported> {
    let name = file.display().to_string();
    let text = read_text(file, MOST_BYTES).with_context(|| format!("cannot read {name}"))?;
    Imported::of(&text, &name)
}

/// The record of an earlier job: of its folder, or of a report's JSON.
///
/// # Errors
/// Neither of both.
pub fn earlier(path: &Path) -> Result<Report> {
    if path.is_dir() {
        return Ok(of(&Job::look(path)?));
    }
    let Imported { events, .. } = load(path)?;
    let (profile, unit, blades) = begun(&path.display().to_string(), events.first())?;
    let view = JobView::of(&profile, &blades, &events);
    Ok(gather(&profile, unit, &blades, &view))
}

/// What the first event of a report was begun with.
fn begun(file: &str, first: Option<&Event>) -> Result<(Profile, LengthUnit, Vec<Length>)> {
    let facts = first.map(|e| e.facts.as_slice()).unwrap_or_default();
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
        bail!("{file}: its first event does not say which engine it is for");
    };
    let name = format!("the profile of {engine} kept in {file}");
    let profile = Profile::parse_kept(profile, &name)?;
    Ok((profile, *unit, blades_nm.clone()))
}
