//! Reading phrases aloud for a voice: which is asked for, what was taken, the shop's noise.

use super::voice_learning::Takes;
use crate::audio::{RATE_HZ, SegmenterConfig, rms_dbfs};
use crate::grammar::Grammar;
use crate::learn::{Example, phrases_to_read};

/// A pause inside a phrase that is read may be so long, in milliseconds.
pub(super) const PAUSE_MS: u32 = 900;
/// Noise that is taken from the shop, in seconds.
pub(crate) const NOISE_S: usize = 10;
/// Noise quieter than this is left out: there is nothing to learn from it (common practice, no
/// source).
const SILENT_DBFS: f32 = -70.0;

/// How phrases that are read are cut.
pub(crate) fn segmentation() -> SegmenterConfig {
    SegmenterConfig {
        hang_ms: PAUSE_MS,
        ..SegmenterConfig::default()
    }
}

/// Phrases that one person reads, and what was taken of them.
pub(crate) struct Reading {
    phrases: Vec<String>,
    at: usize,
    taken: Vec<Example>,
    noise: Vec<f32>,
}

impl Reading {
    /// Of so many phrases.
    pub(crate) fn new(english: &Grammar, count: usize) -> Self {
        Self {
            phrases: phrases_to_read(english, count),
            at: 0,
            taken: Vec::new(),
            noise: Vec::new(),
        }
    }

    /// The phrase that is asked for; none once all were.
    pub(crate) fn phrase(&self) -> Option<&str> {
        self.phrases.get(self.at).map(String::as_str)
    }

    /// All of them, in their order.
    pub(super) fn phrases(&self) -> &[String] {
        &self.phrases
    }

    /// How many phrases were asked for before this one, and how many there are.
    pub(crate) const fn place(&self) -> (usize, usize) {
        (self.at, self.phrases.len())
    }

    /// A good take of the phrase that is asked for; the next one is asked for.
    pub(crate) fn take(&mut self, samples: Vec<f32>) {
        if let Some(words) = self.phrases.get(self.at).cloned() {
            self.taken.push(Example { samples, words });
            self.at += 1;
        }
    }

    /// The phrase is left out.
    pub(crate) fn skip(&mut self) {
        self.at = (self.at + 1).min(self.phrases.len());
    }

    /// Sound of the shop, in the place of what was taken before. Silence is none.
    pub(crate) fn set_noise(&mut self, noise: Vec<f32>) {
        let loud = rms_dbfs(&noise) > SILENT_DBFS;
        self.noise = if loud { noise } else { Vec::new() };
    }

    /// Whether noise of the shop was taken.
    #[cfg(test)]
    pub(crate) const fn has_noise(&self) -> bool {
        !self.noise.is_empty()
    }

    /// What was taken, with what it was recorded.
    pub(crate) fn takes(&self, microphone: &str) -> Takes {
        let noise = Some(self.noise.clone()).filter(|noise| !noise.is_empty());
        Takes {
            phrases: self.taken.clone(),
            noises: noise.into_iter().collect(),
            microphone: microphone.to_owned(),
        }
    }
}

/// Whether so much noise is enough.
pub(crate) const fn is_enough_noise(noise: &[f32]) -> bool {
    noise.len() >= NOISE_S * RATE_HZ as usize
}

#[cfg(test)]
pub(super) mod testing {
    //! Sound to try listening with.
    #![allow(clippy::unwrap_used)]
    use crate::audio::{RATE_HZ, read_clip};
    use std::path::Path;

    /// A phrase with quiet behind it: what is heard in it is up to a script.
    pub(in crate::app) fn spoken() -> Vec<f32> {
        let clip = "fixtures/recogniser/three_exhaust_left_point_two_five.wav";
        let clip = Path::new(env!("CARGO_MANIFEST_DIR")).join(clip);
        let mut sound = read_clip(&clip).unwrap().samples;
        sound.extend(quiet(2));
        sound
    }

    /// Seconds of a room in which nobody speaks.
    pub(in crate::app) fn quiet(seconds: usize) -> Vec<f32> {
        let hiss = |i: usize| if i % 7 < 3 { 1e-3 } else { -1e-3 };
        (0..seconds * RATE_HZ as usize).map(hiss).collect()
    }
}
