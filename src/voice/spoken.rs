//! The whole voice: the word bank, and a speech program for the words that it lacks.

use super::bank::Part;
use super::{Bank, Error, Sound, Voice};

/// Quieter than this (of 32 768) counts as silence at the ends of a program's sound.
const SILENT_BELOW: u16 = 200;

/// Between two sentences, as the bank has it for a full stop.
const SENTENCE_PAUSE_MS: u32 = 220;

/// The bank, with a fallback for the words it lacks.
pub struct Spoken {
    /// Speaks what it can.
    pub bank: Bank,
    /// Speaks runs of words that the bank lacks; without it such words are an error.
    pub fallback: Option<Box<dyn Voice>>,
}

impl Voice for Spoken {
    fn render(&mut self, words: &str) -> Result<Sound, Error> {
        let Some(fallback) = &mut self.fallback else {
            return self.bank.render(words);
        };
        let rate_hz = self.bank.rate_hz();
        self.bank.join(&parts(&self.bank, words), |missing| {
            let sound = fallback.render(missing)?.at_rate(rate_hz)?;
            Ok(without_silent_ends(&sound.samples).to_vec())
        })
    }

    fn set_pace(&mut self, percent: u32) {
        self.bank.set_pace(percent);
    }
}

/// The parts of a text. A sentence of which the bank lacks a third or more and several words, such as a caution or a
/// note, is spoken by the program as a whole: two voices in turn are hard to follow.
fn parts(bank: &Bank, words: &str) -> Vec<Part> {
    let mut all = Vec::new();
    for sentence in words.split_inclusive(['.', '?', '!']) {
        let own = bank.parts(sentence);
        let count = |lacking: bool| {
            let of = |p: &&Part| match p {
                Part::Missing(_) => lacking,
                Part::Recorded(_) | Part::Tone => !lacking,
                Part::Pause(_) => false,
            };
            own.iter().filter(of).count()
        };
        let (missing, recorded) = (count(true), count(false));
        if missing + recorded == 0 {
            continue;
        }
        if !all.is_empty() {
            all.push(Part::Pause(SENTENCE_PAUSE_MS));
        }
        if missing > 3 && missing * 3 >= missing + recorded {
            all.push(Part::Missing(sentence.trim().to_owned()));
        } else {
            all.extend(own);
        }
    }
    all
}

fn without_silent_ends(samples: &[i16]) -> &[i16] {
    let loud = |s: &i16| s.unsigned_abs() >= SILENT_BELOW;
    match (
        samples.iter().position(loud),
        samples.iter().rposition(loud),
    ) {
        (Some(first), Some(last)) => &samples[first..=last],
        _ => &[],
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;
    use crate::voice::Silent;

    struct Loud;
    impl Voice for Loud {
        /// One sample of 9000 for each letter, within silence.
        fn render(&mut self, words: &str) -> Result<Sound, Error> {
            let mut samples = vec![0; 50];
            samples.resize(50 + words.len(), 9000);
            samples.resize(100 + words.len(), 0);
            Ok(Sound {
                rate_hz: 24_000,
                samples,
            })
        }
    }

    fn bank() -> Bank {
        let sound = Sound {
            rate_hz: 24_000,
            samples: vec![7; 10],
        };
        Bank::from_sound(sound, "three\t0\t10\n").unwrap()
    }

    #[test]
    fn a_sentence_of_mostly_missing_words_is_spoken_by_one_voice() {
        let bank = bank();
        let parts = parts(&bank, "three. three words that it lacks. three odd three.");
        assert_eq!(
            parts,
            [
                Part::Recorded(0..10),
                Part::Pause(220),
                Part::Missing("three words that it lacks.".to_owned()),
                Part::Pause(220),
                Part::Recorded(0..10),
                Part::Missing("odd".to_owned()),
                Part::Recorded(0..10),
            ]
        );
    }

    #[test]
    fn a_run_of_missing_words_is_spoken_at_once_and_fitted_in() {
        let mut voice = Spoken {
            bank: bank(),
            fallback: Some(Box::new(Loud)),
        };
        let sound = voice.render("three odd words, three").unwrap();
        let loud = sound.samples.iter().filter(|s| **s > 4000).count();
        assert_eq!(loud, "odd words".len());
        assert_eq!(sound.samples.len(), 10 + 24 * (10 + 120) + loud + 10);
    }

    #[test]
    fn the_fallback_hears_only_what_is_missing() {
        let silent = Silent::default();
        let mut voice = Spoken {
            bank: bank(),
            fallback: Some(Box::new(silent.clone())),
        };
        voice.render("Three odd words, then three.").unwrap();
        assert_eq!(silent.said(), ["odd words", "then"]);
    }

    #[test]
    fn without_a_fallback_the_words_are_named() {
        let mut voice = Spoken {
            bank: bank(),
            fallback: None,
        };
        let error = voice.render("three odd words").unwrap_err().to_string();
        assert_eq!(error, "the voice has no sound for: odd, words");
        assert_eq!(voice.render("three").unwrap().samples.len(), 10);
    }
}
