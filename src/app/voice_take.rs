//! Whether a sound is a good take of a phrase to learn from: whole, loud and clean enough, and the
//! phrase that was asked for.

use super::sound_check::CLIPPED;
use crate::audio::pcm::is_clipped;
use crate::audio::{Clip, Utterance, rms_dbfs, samples_in};
use crate::recognise::{MAX_SOUND_MS, Recogniser};
use anyhow::Result;

/// Quieter than this is no voice at a microphone, in dBFS (common practice, no source).
const QUIET_DBFS: f32 = -50.0;
/// Less above the room than this and the phrase teaches the noise, in dB. Chosen by us, no source.
const ABOVE_DB: f32 = 6.0;
/// Sound that is this near to the level of the whole at its first or last moment goes on outside of
/// the clip, in dB. Chosen by us, no source.
const EDGE_DB: f32 = 3.0;
const EDGE_MS: u32 = 20;
/// The asked words may be so much less likely than what was heard freely, in nats a word; above it,
/// something else was said. A voice that is heard badly needs some room: measured with voices of
/// which a third of the phrases is misheard.
const NATS_A_WORD: f32 = 4.0;

/// What is wrong with an utterance from a microphone, for the person who speaks.
///
/// # Errors
/// The recogniser.
pub(crate) fn fault_of_utterance(
    utterance: &Utterance,
    phrase: &str,
    recogniser: &mut dyn Recogniser,
) -> Result<Option<String>> {
    if utterance.truncated {
        return Ok(Some("it was too long, and was cut".to_owned()));
    }
    if utterance.clipped {
        return Ok(Some(CLIPPED.to_owned()));
    }
    if utterance.level_dbfs < QUIET_DBFS {
        return Ok(Some(too_quiet(utterance.level_dbfs)));
    }
    let above = utterance.level_dbfs - utterance.noise_dbfs;
    if above < ABOVE_DB {
        return Ok(Some(format!(
            "the voice is only {above:.0} dB above the room: bring the microphone nearer"
        )));
    }
    fault_of_words(&utterance.samples, phrase, recogniser)
}

/// What is wrong with a recorded clip.
///
/// # Errors
/// The recogniser.
pub(crate) fn fault_of_clip(
    clip: &Clip,
    phrase: &str,
    recogniser: &mut dyn Recogniser,
) -> Result<Option<String>> {
    if clip.samples.is_empty() {
        return Ok(Some("it is empty".to_owned()));
    }
    if clip.duration_ms() > MAX_SOUND_MS {
        return Ok(Some("it is too long for one phrase".to_owned()));
    }
    if is_clipped(&clip.samples) {
        return Ok(Some(CLIPPED.to_owned()));
    }
    let level = clip.rms_dbfs();
    if level < QUIET_DBFS {
        return Ok(Some(too_quiet(level)));
    }
    let edge = samples_in(EDGE_MS).min(clip.samples.len());
    let first = rms_dbfs(&clip.samples[..edge]);
    let last = rms_dbfs(&clip.samples[clip.samples.len() - edge..]);
    if first.max(last) > level + EDGE_DB {
        let end = if first > last { "start" } else { "end" };
        return Ok(Some(format!("it is cut at its {end}")));
    }
    fault_of_words(&clip.samples, phrase, recogniser)
}

fn too_quiet(level: f32) -> String {
    format!("it is too quiet ({level:.0} dB below full scale): speak up or turn the microphone up")
}

/// Whether something else was said: the asked words against what is heard freely.
fn fault_of_words(
    samples: &[f32],
    phrase: &str,
    recogniser: &mut dyn Recogniser,
) -> Result<Option<String>> {
    let heard = recogniser.hear(samples)?;
    if heard.text.is_empty() {
        return Ok(Some("nothing was heard in it".to_owned()));
    }
    let asked = recogniser.score(&[phrase])?;
    let asked = asked.first().copied().unwrap_or(f32::MIN);
    let words = phrase.split_whitespace().count().max(1) as f32;
    let below = (heard.logp - asked) / words;
    if below > NATS_A_WORD {
        return Ok(Some(format!(
            "something else was said: it sounds like \"{}\"",
            heard.text
        )));
    }
    Ok(None)
}
