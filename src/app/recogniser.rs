//! Which recogniser hears a job: the shipped weights for English, another file, another language.

use super::terminal::tell;
use super::{assets, voices};
use crate::grammar::{Grammar, Means};
use crate::recognise::{Recogniser, VoiceProfile, Whisper, Window};
use anyhow::{Context, Result, bail};
use std::path::Path;

/// The key of the shipped weights in the manifest.
pub(super) const ENGLISH: &str = "tiny-en-bench";
/// The key of the weights for every other language; their file does not ship with the program.
const MULTILINGUAL: &str = "base-multilingual";
/// The most threads; one is taken if two turn out to be slower.
const THREADS: usize = 2;

/// Loads the recogniser of a language: the shipped weights for English, otherwise the multilingual
/// ones of the manifest if their file is there; or another ggml Whisper file, which is heard with the
/// full window.
///
/// # Errors
/// A missing, truncated, altered or foreign file; one that hears English only.
pub fn load(language: &str, model: Option<&Path>) -> Result<Box<dyn Recogniser>> {
    load_for(language, model, Some(voices::NONE))
}

/// The same, with what was learnt of the voice that is named, or else of the one that is on.
///
/// # Errors
/// As [`load`]; a named voice that is not there, is not of these weights, or may not be used.
pub fn load_for(
    language: &str,
    model: Option<&Path>,
    voice: Option<&str>,
) -> Result<Box<dyn Recogniser>> {
    if language == "en" {
        return english(model, voice);
    }
    if let Some(voice) = voice.filter(|v| *v != voices::NONE) {
        bail!(
            "the voice \"{voice}\" was learnt for English, and the job's language is \"{language}\""
        );
    }
    let path = if let Some(path) = model {
        path.to_owned()
    } else {
        let entry = assets::model_entry(MULTILINGUAL)?;
        let folder = assets::models_folder();
        if !folder.join(&entry.file).is_file() {
            bail!(
                "sound in the language \"{language}\" needs the model {}, which does not ship with the program: put it into {} ({} bytes, sha256 {}), or give a multilingual Whisper model with --model",
                entry.file,
                folder.display(),
                entry.bytes,
                entry.sha256
            );
        }
        assets::model(MULTILINGUAL)?
    };
    let sha256 = sha256(&path)?;
    let whisper = Whisper::load(&path, Window::Full, THREADS)?.of_weights(&sha256);
    let hint = hint(&assets::grammar(language)?);
    Ok(Box::new(whisper.speaking(language, &hint)?))
}

fn english(model: Option<&Path>, voice: Option<&str>) -> Result<Box<dyn Recogniser>> {
    let entry = assets::model_entry(ENGLISH)?;
    let Some(path) = model else {
        let profile = voices::profile(voice, &entry.sha256, tell)?;
        return shipped(profile.as_ref());
    };
    let sha256 = sha256(path)?;
    let window = if sha256 == entry.sha256 {
        Window::Fitted
    } else {
        Window::Full
    };
    let profile = voices::profile(voice, &sha256, tell)?;
    let whisper = Whisper::load_voice(path, window, THREADS, profile.as_ref())?;
    Ok(Box::new(whisper.of_weights(&sha256)))
}

/// The shipped weights for English, with what was learnt of a voice.
///
/// # Errors
/// A missing, truncated or altered file; a profile that does not fit.
pub(super) fn shipped(profile: Option<&VoiceProfile>) -> Result<Box<dyn Recogniser>> {
    let entry = assets::model_entry(ENGLISH)?;
    let path = assets::model(ENGLISH)?;
    let whisper = Whisper::load_voice(&path, Window::Fitted, THREADS, profile)?;
    Ok(Box::new(whisper.of_weights(&entry.sha256)))
}

fn sha256(path: &Path) -> Result<String> {
    crate::models::sha256(path).with_context(|| format!("cannot read the model {}", path.display()))
}

/// How bench talk is written: the examples of readings and places.
fn hint(grammar: &Grammar) -> String {
    let readings = [Means::Open, Means::ShimFitted, Means::Clearance];
    let phrases = readings.map(|m| grammar.phrases.iter().find(|p| p.means == m));
    let examples = phrases.into_iter().flatten().flat_map(|p| &p.examples);
    examples.map(|e| format!("{e}. ")).collect()
}
