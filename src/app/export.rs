//! The checked clips of a job with what was really said, as a set to score and train with.

use super::disk_space::room_for;
use super::job::Job;
use crate::event::{Event, Fact};
use crate::store::{Error, make_private_folder, write_private};
use anyhow::{Context, Result};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// Writes every reviewed clip and `manifest.tsv` (`path<TAB>text<TAB>kind`, as `score` reads it)
/// into a new or empty folder; gives how many, and which are missing or damaged, each with why. Those
/// that were removed because somebody asked for that are not among them.
///
/// # Errors
/// A folder with something in it, the disk.
pub(crate) fn export(job: &Job, folder: &Path) -> Result<(usize, Vec<String>)> {
    let (checked, lost) = reviewed(job);
    room_for(
        folder,
        checked.iter().map(|clip| clip.wav.len() as u64).sum(),
    )?;
    let at = || folder.display().to_string();
    make_private_folder(folder).with_context(|| format!("cannot make {}", at()))?;
    let mut there = fs::read_dir(folder).with_context(|| format!("cannot read {}", at()))?;
    if there.next().is_some() {
        anyhow::bail!("{} is not empty: expected a new or empty folder", at());
    }
    let mut manifest = String::new();
    for clip in &checked {
        let name = format!("{:05}.wav", clip.event);
        let path = folder.join(&name);
        write_private(&path, &clip.wav)
            .with_context(|| format!("cannot write {}", path.display()))?;
        manifest.push_str(&format!("{name}\t{}\t{}\n", clip.truth, clip.kind));
    }
    let path = folder.join("manifest.tsv");
    write_private(&path, manifest).with_context(|| format!("cannot write {}", path.display()))?;
    Ok((checked.len(), lost))
}

/// A clip that a person has checked.
pub(crate) struct Reviewed {
    /// The event that it belongs to.
    pub(crate) event: u64,
    /// What was really said; empty if it was not meant for the tool.
    pub(crate) truth: String,
    /// `confirmed` or `put_right` for phrases, `other_talk` for an empty text.
    pub(crate) kind: &'static str,
    /// Its sound, as a WAV file.
    pub(crate) wav: Vec<u8>,
}

/// The clips that a person has checked, in order; and which are missing or damaged, each with why.
pub(crate) fn reviewed(job: &Job) -> (Vec<Reviewed>, Vec<String>) {
    let events = job.state.events();
    let mut truths: BTreeMap<u64, &str> = BTreeMap::new();
    for fact in events.iter().flat_map(|e| &e.facts) {
        if let Fact::Reviewed { event, truth, .. } = fact {
            truths.insert(*event, truth);
        }
    }
    let (mut checked, mut lost) = (Vec::new(), Vec::new());
    for (id, truth) in truths {
        let event: Option<&Event> = events.iter().find(|e| e.id == id);
        let Some((event, sound)) = event.and_then(|e| Some((e, e.sound.as_ref()?))) else {
            continue; // typed: there is no sound
        };
        match job.store.clip(&sound.sha256) {
            Ok(wav) => checked.push(Reviewed {
                event: id,
                truth: truth.to_owned(),
                kind: match truth {
                    "" => "other_talk",
                    truth if truth == event.said => "confirmed",
                    _ => "put_right",
                },
                wav,
            }),
            Err(Error::ClipForgotten { .. }) => {}
            Err(error) => lost.push(format!("the sound of event {id}: {error}")),
        }
    }
    (checked, lost)
}
