//! Learning a voice from takes: what is kept out, what others say beside it, the profile, the guard.

use super::recogniser::ENGLISH;
use super::voice_guard::{Guard, Trials, Verdict};
use super::{assets, now_ms};
use crate::audio::{read_clip, samples_in};
use crate::evaluate::Script;
use crate::grammar::Grammar;
use crate::learn::{Example, Lesson, half_way, learn};
use crate::recognise::{About, VoiceProfile};
use anyhow::Result;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// Phrases that are asked for, and the fewest that are learnt from: five made one voice worse, ten
/// made all better.
pub(crate) const PHRASES: usize = 30;
pub(crate) const FEWEST: usize = 12;
/// Every so many phrases one is kept out, to see what was learnt.
const KEPT_OUT: usize = 4;
/// Sound around a line of the recorded session.
const AROUND_MS: u32 = 300;

/// What a person gave to learn from.
pub(crate) struct Takes {
    /// The phrases, with their words as the grammar has them.
    pub(crate) phrases: Vec<Example>,
    /// The shop's noise.
    pub(crate) noises: Vec<Vec<f32>>,
    /// What they were recorded with.
    pub(crate) microphone: String,
}

/// Learns a voice and judges what was learnt. `each` is told how many of how many steps are done.
///
/// # Errors
/// Too few phrases; the weights; that it was stopped.
pub(crate) fn learn_voice(
    takes: Takes,
    stop: &AtomicBool,
    mut each: impl FnMut(usize, usize),
) -> Result<(VoiceProfile, Verdict)> {
    let count = takes.phrases.len();
    anyhow::ensure!(
        count >= FEWEST,
        "{count} phrases are too few to learn a voice from: expected at least {FEWEST}, better {PHRASES}"
    );
    let mut own = Vec::new();
    let mut lesson = Lesson {
        noises: takes.noises,
        ..Lesson::default()
    };
    for (i, phrase) in takes.phrases.into_iter().enumerate() {
        if i % KEPT_OUT == KEPT_OUT - 1 {
            own.push(phrase);
        } else {
            lesson.own.push(phrase);
        }
    }
    let mut others = Vec::new();
    for (i, example) in recorded_session(&assets::english()?)?
        .into_iter()
        .enumerate()
    {
        // Other talk is only tried: how it is written is not the grammar's matter.
        if i % 2 == 0 && !example.words.is_empty() {
            lesson.others.push(example);
        } else {
            others.push(example);
        }
    }
    let weights = assets::model_bytes(ENGLISH)?;
    let learnt = learn(&weights, &lesson, stop, |done, all, _| each(done, all))?;
    let day = jiff::Timestamp::from_millisecond(now_ms()).unwrap_or_default();
    let about = About {
        weights: assets::model_entry(ENGLISH)?.sha256,
        made: day.strftime("%Y-%m-%d").to_string(),
        microphone: takes.microphone,
        phrases: count,
        ..About::default()
    };
    let noises = lesson.noises;
    let guard = Guard::new(Trials {
        own,
        others,
        noises,
    })?;
    let judged = |numbers| -> Result<(VoiceProfile, Verdict)> {
        let mut profile = VoiceProfile::new(about.clone(), numbers);
        let verdict = guard.judge(&profile)?;
        profile.about.figures = verdict.in_words();
        profile.about.refused.clone_from(&verdict.refused);
        Ok((profile, verdict))
    };
    let half = half_way(&weights, &learnt)?;
    let whole = judged(learnt)?;
    if whole.1.refused.is_empty() {
        return Ok(whole);
    }
    // Half of what was learnt harms others less.
    let half = judged(half)?;
    Ok(if half.1.refused.is_empty() {
        half
    } else {
        whole
    })
}

/// The lines of the recorded session: each with its words, without them where it is other talk.
pub(super) fn recorded_session(english: &Grammar) -> Result<Vec<Example>> {
    let folder = assets::session_folder();
    let sound = read_clip(&folder.join("session.flac"))?;
    let script = Script::read(&folder)?;
    let lines = script.lines().map(|line| {
        let at = |ms: u64| (ms as usize).saturating_mul(samples_in(1_000)) / 1_000;
        let around = samples_in(AROUND_MS);
        let end = (at(line.end_ms) + around).min(sound.samples.len());
        let from = at(line.start_ms).saturating_sub(around).min(end);
        let words = if line.is_for_the_tool {
            english.words_of(line.text).join(" ")
        } else {
            String::new()
        };
        Example {
            samples: sound.samples[from..end].to_vec(),
            words,
        }
    });
    Ok(lines.collect())
}

/// The shop's noise from a file.
///
/// # Errors
/// An unreadable file; one shorter than a second.
pub(crate) fn noise_of(path: &Path) -> Result<Vec<f32>> {
    let clip = read_clip(path)?;
    anyhow::ensure!(
        clip.duration_ms() >= 1_000,
        "{} is {} ms long: expected at least a second of noise, better ten",
        path.display(),
        clip.duration_ms()
    );
    Ok(clip.samples)
}
