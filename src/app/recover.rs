//! What is left of a damaged job, saved into a new one; and the whole state of a job.

use super::assets;
use super::job::{Units, begun};
use crate::event::Fact;
use crate::store::{Damage, Error, JobFolder, Saved, Store, restore};
use anyhow::{Result, bail};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The first event is damaged, and nobody said what it was for.
#[derive(Debug, thiserror::Error)]
#[error("{}: its first event is damaged, which says what the engine is", .0.display())]
pub(crate) struct EngineLost(PathBuf);

/// What was saved.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Recovered {
    /// What is wrong with the old job.
    pub(crate) damage: Damage,
    /// How many sounds came along.
    pub(crate) sounds: usize,
    /// Sounds that are missing or damaged, each with why.
    pub(crate) lost: Vec<String>,
}

impl Recovered {
    /// What is told of it, a sentence a line.
    pub(crate) fn lines(&self) -> Vec<String> {
        let mut lines = vec![
            format!("{}.", self.damage.left()),
            format!("{} sounds came along.", self.sounds),
        ];
        lines.extend(self.lost.iter().map(|lost| format!("Lost: {lost}.")));
        lines.push(
            "Compare the sheet with your own notes before you fit anything, and keep the damaged job as it is."
                .to_owned(),
        );
        lines
    }
}

/// Saves every event that checks out, with its sound, into a new job. The old one stays as it is.
/// If its first event is damaged, `engine` says what it was for.
///
/// # Errors
/// Nothing is left; [`EngineLost`] if `engine` is needed and not given; the new folder.
pub(crate) fn recover(
    folder: &Path,
    into: &Path,
    engine: Option<(&str, Units)>,
) -> Result<Recovered> {
    let saved = Saved::open(folder)?;
    let mut events = saved.events()?;
    let begins = |f: &Fact| matches!(f, Fact::Begun { .. });
    if !events.iter().flat_map(|e| &e.facts).any(begins) {
        let Some((key, units)) = engine else {
            return Err(EngineLost(folder.to_path_buf()).into());
        };
        let grammar = assets::english()?;
        let (profile, text) = assets::engine(key)?;
        events[0] = begun(key, "en", units, text, profile.blades.clone(), &grammar);
    }
    let sounds = sounds_of(&saved)?;
    restore(into, &events, |name| saved.clip(name).ok())?;
    Ok(Recovered {
        damage: saved.damage,
        sounds: sounds.kept,
        lost: sounds.lost,
    })
}

/// The sounds of a job.
#[derive(Default)]
struct SoundsOf {
    kept: usize,
    forgotten: usize,
    /// With the first event that names each, and why.
    lost: Vec<String>,
}

fn sounds_of(job: &dyn Store) -> Result<SoundsOf> {
    let events = job.events()?;
    let named = events.iter().rev();
    let named: BTreeMap<&str, u64> = named
        .filter_map(|e| Some((e.sound.as_ref()?.sha256.as_str(), e.id)))
        .collect();
    let mut sounds = SoundsOf::default();
    for (name, event) in named {
        match job.clip(name) {
            Ok(_) => sounds.kept += 1,
            Err(Error::ClipForgotten { .. }) => sounds.forgotten += 1,
            Err(error) => sounds
                .lost
                .push(format!("the sound of event {event}: {error}")),
        }
    }
    Ok(sounds)
}

/// The whole state of a job, part by part.
pub(crate) fn state_of(folder: &Path) -> Vec<(&'static str, Result<String>)> {
    let (events, job): (Result<String>, Option<Box<dyn Store>>) =
        match JobFolder::open_read_only(folder) {
            Ok(job) => (job.state().map_err(Into::into), Some(Box::new(job))),
            Err(error) => {
                let saved = Saved::open(folder).ok();
                let saved = saved.map(|saved| Box::new(saved) as Box<dyn Store>);
                (Err(error.into()), saved)
            }
        };
    let mut all = vec![("events", events)];
    if let Some(job) = job {
        all.push(("sounds", sounds_of(job.as_ref()).and_then(said)));
    }
    all
}

fn said(sounds: SoundsOf) -> Result<String> {
    let SoundsOf {
        kept,
        forgotten,
        lost,
    } = sounds;
    if !lost.is_empty() {
        bail!("{kept} check out, {} not: {}", lost.len(), lost.join("; "));
    }
    Ok(match forgotten {
        0 => format!("{kept} check out"),
        _ => format!("{kept} check out, {forgotten} were removed because that was asked for"),
    })
}
