//! The checked clips of a job with what was really said, as a set to score and train with.

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
/// The text is what the review says was said; empty where nothing was meant for the tool. The kind
/// is `confirmed` or `put_right` for phrases, `other_talk` for an empty text.
///
/// # Errors
/// A folder with something in it, the disk.
pub(crate) fn export(job: &Job, folder: &Path) -> Result<(usize, Vec<String>)> {
    let at = || folder.display().to_string();
    make_private_folder(folder).with_context(|| format!("cannot make {}", at()))?;
    let mut there = fs::read_dir(folder).with_context(|| format!("cannot read {}", at()))?;
    if there.next().is_some() {
        anyhow::bail!("{} is not empty: expected a new or empty folder", at());
    }
    let events = job.state.events();
    let mut truths: BTreeMap<u64, &str> = BTreeMap::new();
    for fact in events.iter().flat_map(|e| &e.facts) {
        if let Fact::Reviewed { event, truth, .. } = fact {
            truths.insert(*event, truth);
        }
    }
    let mut manifest = String::new();
    let (mut count, mut lost) = (0, Vec::new());
    for (id, truth) in truths {
        let event: Option<&Event> = events.iter().find(|e| e.id == id);
        let Some((event, sound)) = event.and_then(|e| Some((e, e.sound.as_ref()?))) else {
            continue; // typed: there is no sound
        };
        let wav = match job.store.clip(&sound.sha256) {
            Ok(wav) => wav,
            Err(Error::ClipForgotten { .. }) => continue,
            Err(error) => {
                lost.push(format!("the sound of event {id}: {error}"));
                continue;
            }
        };
        let name = format!("{:05}.wav", event.id);
        let path = folder.join(&name);
        write_private(&path, wav).with_context(|| format!("cannot write {}", path.display()))?;
        let kind = match truth {
            "" => "other_talk",
            truth if truth == event.said => "confirmed",
            _ => "put_right",
        };
        manifest.push_str(&format!("{name}\t{truth}\t{kind}\n"));
        count += 1;
    }
    let path = folder.join("manifest.tsv");
    write_private(&path, manifest).with_context(|| format!("cannot write {}", path.display()))?;
    Ok((count, lost))
}
