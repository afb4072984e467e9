//! A whole session heard again with another recogniser, on a thread of its own, and what differs.

use super::job::Job;
use super::recogniser;
use super::session_view::Other;
use crate::app::in_words::in_words;
use crate::audio::{Utterance, decode};
use crate::event::Event;
use crate::session::{Interpretations, Interpreter, State, means_the_same};
use crate::understand::recognise;
use anyhow::{Context, Result, bail};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How far it is.
#[derive(Clone, Debug, Default)]
pub(crate) struct Progress {
    /// Utterances heard again.
    pub done: usize,
    /// All.
    pub total: usize,
    /// Why it ended early.
    pub fault: Option<String>,
}

#[derive(Default)]
struct Seen {
    begun: bool,
    progress: Progress,
    found: BTreeMap<u64, Other>,
}

/// Another recogniser for a session.
#[derive(Clone)]
pub(crate) struct Again {
    folder: PathBuf,
    model: PathBuf,
    name: String,
    seen: Arc<Mutex<Seen>>,
}

impl Again {
    /// A job's folder, and a model file with what it is called; nothing is loaded yet.
    #[must_use]
    pub(crate) fn new(folder: &Path, model: &Path, name: &str) -> Self {
        Self {
            folder: folder.to_owned(),
            model: model.to_owned(),
            name: name.to_owned(),
            seen: Arc::default(),
        }
    }

    /// What the model is called.
    #[must_use]
    pub(crate) fn name(&self) -> &str {
        &self.name
    }

    /// What was found so far, by event.
    #[must_use]
    pub(crate) fn found(&self) -> BTreeMap<u64, Other> {
        lock(&self.seen).found.clone()
    }

    /// Begins, where it has not begun, and says how far it is.
    #[must_use]
    pub(crate) fn go(&self) -> Progress {
        let mut seen = lock(&self.seen);
        if !seen.begun {
            seen.begun = true;
            let (folder, model) = (self.folder.clone(), self.model.clone());
            let shared = self.seen.clone();
            std::thread::spawn(move || {
                if let Err(error) = hear(&folder, &model, &shared) {
                    lock(&shared).progress.fault = Some(in_words(&error));
                }
            });
        }
        seen.progress.clone()
    }
}

fn lock(seen: &Mutex<Seen>) -> MutexGuard<'_, Seen> {
    seen.lock().unwrap_or_else(PoisonError::into_inner)
}

fn hear(folder: &Path, model: &Path, seen: &Mutex<Seen>) -> Result<()> {
    let job = Job::look(folder)?;
    let events = job.state.events();
    lock(seen).progress.total = events.iter().filter(|e| e.sound.is_some()).count();
    let mut other = recogniser::load(&job.language, Some(model))?;
    let mut state = State::new(&job.setup);
    let mut lost = Vec::new();
    for event in events {
        let wav = event.sound.as_ref().map(|s| (s, job.clip(&s.sha256)));
        if let Some((_, Err(error))) = &wav {
            // The others are heard all the same.
            lost.push(format!("event {}: {}", event.id, in_words(error)));
            lock(seen).progress.done += 1;
        }
        if let Some((sound, Ok(wav))) = wav {
            let clip = decode(&wav, &sound.sha256).context("a clip of the job")?;
            let known = Interpretations::default();
            let interpreter = Interpreter::new(&job.setup, &state, &known);
            let heard = recognise(other.as_mut(), &interpreter, &whole(clip.samples))?;
            let found = compare(&interpreter, event, &heard.said);
            let mut seen = lock(seen);
            seen.found.insert(event.id, found);
            seen.progress.done += 1;
        }
        state.apply(event);
    }
    if lost.is_empty() {
        return Ok(());
    }
    bail!("{} sounds were not heard: {}", lost.len(), lost.join("; "))
}

/// The words of both, and what they mean in the state the job was in then.
fn compare(interpreter: &Interpreter, event: &Event, said: &str) -> Other {
    let words = interpreter.grammar.words_of(said);
    Other {
        same_words: interpreter.grammar.words_of(&event.said) == words,
        same_meaning: means_the_same(&interpreter.of(&event.said), &interpreter.of(said)),
        said: words.join(" "),
    }
}

/// A kept clip as the utterance that it was.
fn whole(samples: Vec<f32>) -> Utterance {
    let end = samples.len() as u64;
    Utterance {
        start_sample: 0,
        speech_start_sample: 0,
        speech_end_sample: end,
        score: 1.0,
        level_dbfs: crate::audio::rms_dbfs(&samples),
        noise_dbfs: crate::audio::SILENCE_DBFS,
        clipped: false,
        truncated: false,
        samples,
    }
}
