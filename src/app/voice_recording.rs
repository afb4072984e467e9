//! Phrases that were read aloud into one recording: which part of it is which phrase.

use super::voice_reading::{NOISE_S, PAUSE_MS, Reading, segmentation};
use super::voice_take::{fault_of_sound, other_words, room_below};
use crate::audio::{Clip, RATE_HZ, Utterance, samples_in, utterances};
use crate::recognise::Recogniser;
use anyhow::Result;
use std::fmt::{self, Display};

/// Less sound than this behind the last phrase is no noise to learn from.
const LEAST_NOISE_MS: u32 = 1_000;

/// What became of a phrase, or of something that was said.
#[derive(Debug, PartialEq)]
pub(crate) enum Part {
    /// A phrase and its place among all.
    Taken(String, (usize, usize)),
    NotFound(String, (usize, usize)),
    /// What was said at this second is none of the phrases in their order.
    LeftOut(u64, String),
}

impl Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Taken(phrase, (at, of)) => write!(f, "{:>2} of {of}. Taken: {phrase}", at + 1),
            Self::NotFound(phrase, (at, of)) => {
                write!(f, "{:>2} of {of}. Not found: {phrase}", at + 1)
            }
            Self::LeftOut(at, why) => {
                write!(f, "    left out at {}:{:02}: {why}", at / 60, at % 60)
            }
        }
    }
}

/// Takes the phrases of a reading from a recording, and the sound behind the last one as the shop's noise
/// if that is wanted. What became of each part, in its order. `heard` is told the second that was heard
/// last, and may stop it.
///
/// Nobody can be asked again: a phrase may have been left out, read wrongly or twice. So phrases and
/// utterances are laid beside each other as a whole.
///
/// # Errors
/// The recogniser; what `heard` says.
pub(crate) fn find(
    clip: &Clip,
    reading: &mut Reading,
    with_noise: bool,
    recogniser: &mut dyn Recogniser,
    heard: &mut dyn FnMut(u64) -> Result<()>,
) -> Result<Vec<Part>> {
    let all = utterances(segmentation(), &clip.samples);
    let (mut rooms, mut faults) = (Vec::new(), Vec::new());
    for utterance in &all {
        heard(second(utterance))?;
        let (room, fault) = judged(utterance, reading.phrases(), recogniser)?;
        rooms.push(room);
        faults.push(fault);
    }
    let mut parts = Vec::new();
    let mut end = None;
    for ((utterance, fault), phrase) in all.into_iter().zip(faults).zip(aligned(&rooms)) {
        let Some(phrase) = phrase else {
            parts.push(Part::LeftOut(second(&utterance), fault));
            continue;
        };
        leave_out(reading, phrase, &mut parts);
        let words = reading.phrase().unwrap_or_default().to_owned();
        parts.push(Part::Taken(words, reading.place()));
        end = Some(utterance.speech_end_sample as usize + samples_in(PAUSE_MS));
        reading.take(utterance.samples);
    }
    if with_noise && reading.phrase().is_none() {
        let rest = end.and_then(|end| clip.samples.get(end..));
        let most = NOISE_S * RATE_HZ as usize;
        let noise: Vec<f32> = rest
            .unwrap_or_default()
            .iter()
            .copied()
            .take(most)
            .collect();
        if noise.len() >= samples_in(LEAST_NOISE_MS) {
            reading.set_noise(noise);
        }
    }
    let of = reading.phrases().len();
    leave_out(reading, of, &mut parts);
    Ok(parts)
}

/// The phrases before this one were not found.
fn leave_out(reading: &mut Reading, until: usize, parts: &mut Vec<Part>) {
    while reading.place().0 < until {
        let words = reading.phrase().unwrap_or_default().to_owned();
        parts.push(Part::NotFound(words, reading.place()));
        reading.skip();
    }
}

/// How well an utterance is each of the phrases (see [`room_below`]), and why it is left out if it is.
fn judged(
    utterance: &Utterance,
    phrases: &[String],
    recogniser: &mut dyn Recogniser,
) -> Result<(Vec<Option<f32>>, String)> {
    if let Some(fault) = fault_of_sound(utterance) {
        return Ok((vec![None; phrases.len()], fault));
    }
    let heard = recogniser.hear(&utterance.samples)?;
    let mut rooms = Vec::new();
    for phrase in phrases {
        rooms.push(room_below(&heard, phrase, recogniser)?);
    }
    let fault = match rooms.iter().any(Option::is_some) {
        true => format!(
            "said twice, misread or out of its place: it sounds like \"{}\"",
            heard.text
        ),
        false => other_words(&heard),
    };
    Ok((rooms, fault))
}

/// Which phrase each utterance is, both in their order, if it is one: all in all those that fit best.
fn aligned(rooms: &[Vec<Option<f32>>]) -> Vec<Option<usize>> {
    let (said, phrases) = (rooms.len(), rooms.first().map_or(0, Vec::len));
    // From this utterance and this phrase on.
    let mut best = vec![vec![0.0_f32; phrases + 1]; said + 1];
    for i in (0..said).rev() {
        for j in (0..phrases).rev() {
            let as_one = rooms[i][j].map_or(0.0, |room| room + best[i + 1][j + 1]);
            best[i][j] = as_one.max(best[i + 1][j]).max(best[i][j + 1]);
        }
    }
    let (mut found, mut j) = (vec![None; said], 0);
    for i in 0..said {
        if best[i][j] == best[i + 1][j] {
            continue;
        }
        while best[i][j] == best[i][j + 1] {
            j += 1;
        }
        found[i] = Some(j);
        j += 1;
    }
    found
}

fn second(utterance: &Utterance) -> u64 {
    utterance.speech_start_sample / u64::from(RATE_HZ)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::app::assets;
    use crate::app::voice_reading::testing::{quiet, spoken};
    use crate::recognise::Scripted;

    /// What is taken if these are said: a phrase by its place, or other words.
    fn taken(said_so: &[Result<usize, &str>], with_noise: bool) -> (Vec<usize>, Reading) {
        let mut reading = Reading::new(&assets::english().unwrap(), 6);
        let phrases = reading.phrases().to_vec();
        let words = said_so
            .iter()
            .map(|s| s.map_or_else(|w| w, |at| &phrases[at]));
        let mut recogniser = Scripted::of_texts(words);
        let mut sound = quiet(1);
        said_so.iter().for_each(|_| sound.extend(spoken()));
        sound.extend(quiet(3));
        let clip = Clip::new(sound);
        let parts = find(
            &clip,
            &mut reading,
            with_noise,
            &mut recogniser,
            &mut |_| Ok(()),
        )
        .unwrap();
        let place = |part: &Part| match part {
            Part::Taken(words, (at, _)) => {
                assert_eq!(*words, phrases[*at]);
                Some(*at)
            }
            _ => None,
        };
        let told = parts.iter().filter(|p| !matches!(p, Part::LeftOut(..)));
        assert_eq!(told.count(), 6, "each phrase is told of once: {parts:?}");
        (parts.iter().filter_map(place).collect(), reading)
    }

    #[test]
    fn phrases_left_out_misread_repeated_or_swapped_cost_no_other() {
        let all = [0, 1, 2, 3, 4, 5].map(Ok);
        assert_eq!(taken(&all, false).0, [0, 1, 2, 3, 4, 5]);
        let left_out = [0, 1, 3, 4, 5].map(Ok);
        assert_eq!(taken(&left_out, false).0, [0, 1, 3, 4, 5]);
        let begun_late = [3, 4, 5].map(Ok);
        assert_eq!(taken(&begun_late, false).0, [3, 4, 5]);
        let misread = [Ok(0), Err("the kettle is on"), Ok(2), Ok(3), Ok(4), Ok(5)];
        assert_eq!(taken(&misread, false).0, [0, 2, 3, 4, 5]);
        let slip = [Ok(0), Err("the kettle"), Ok(1), Ok(1), Ok(2), Ok(4), Ok(5)];
        assert_eq!(taken(&slip, false).0, [0, 1, 2, 4, 5]);
        let swapped = [0, 1, 5, 2, 3, 4].map(Ok);
        assert_eq!(taken(&swapped, false).0, [0, 1, 2, 3, 4]);
        assert!(taken(&[], false).0.is_empty());
        assert!(taken(&[Err("good morning")], false).0.is_empty());
    }

    /// What follows the last phrase is the shop; if that was not found, it may be anything.
    #[test]
    fn sound_behind_the_last_phrase_is_noise() {
        assert!(taken(&[0, 5].map(Ok), true).1.has_noise());
        assert!(!taken(&[0, 5].map(Ok), false).1.has_noise());
        assert!(!taken(&[0, 4].map(Ok), true).1.has_noise());
    }

    /// Of two takes of one phrase the likelier one is kept.
    #[test]
    fn the_better_of_two_takes_is_kept() {
        let rooms = [
            vec![Some(1.0), None],
            vec![Some(1.5), None],
            vec![None, Some(0.1)],
        ];
        assert_eq!(aligned(&rooms), [None, Some(0), Some(1)]);
    }
}
