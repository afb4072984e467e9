//! Scores the voice detection: what it finds in a mix against what it finds in the clean sound.

use crate::audio::{Clip, RATE_HZ, SegmenterConfig, utterances};
use serde::Serialize;

/// How far an edge may lie off before the word counts as clipped, in milliseconds: the sound kept
/// before and after covers less than this.
const EDGE_MS: u64 = 200;

/// Counts over clips; each has one stretch of speech.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Voiced {
    /// Clips in whose clean sound speech was found.
    pub clips: usize,
    /// Speech that was not found in the mix.
    pub missed: usize,
    /// Speech found without its beginning or its end.
    pub clipped: usize,
    /// Utterances found where nobody spoke.
    pub false_ones: usize,
    /// Sound searched, milliseconds.
    pub sound_ms: u64,
}

impl Voiced {
    /// Adds one clip; `mix` is `clean` with noise, of the same length.
    pub(super) fn add(&mut self, clean: &Clip, mix: &Clip) {
        let truth = found(clean);
        let (Some(first), Some(last)) = (truth.first(), truth.last()) else {
            return;
        };
        let (start, end) = (first.0, last.1);
        self.clips += 1;
        self.sound_ms += mix.duration_ms();
        let (inside, outside): (Vec<_>, Vec<_>) = found(mix)
            .into_iter()
            .partition(|(from, to)| *from < end && *to > start);
        self.false_ones += outside.len();
        match (inside.first(), inside.last()) {
            (Some((from, _)), Some((_, to))) => {
                let clipped = *from > start + EDGE_MS || *to + EDGE_MS < end;
                self.clipped += usize::from(clipped);
            }
            _ => self.missed += 1,
        }
    }
}

/// Start and end of each utterance, milliseconds.
fn found(clip: &Clip) -> Vec<(u64, u64)> {
    let all = utterances(SegmenterConfig::default(), &clip.samples);
    let ms = |samples: u64| samples * 1_000 / u64::from(RATE_HZ);
    all.iter()
        .map(|u| (ms(u.speech_start_sample), ms(u.speech_end_sample)))
        .collect()
}
