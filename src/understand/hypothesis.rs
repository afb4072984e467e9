//! What the decoder thinks was said: hypotheses of each pass with what they mean, and all passes
//! weighed together.

use crate::grammar::Heard;
use crate::recognise::Transcript;
use crate::session::{Interpreter, means_the_same};
use serde::Serialize;

/// Legal phrases this far below the free text are looked for, in nats; in two rounds, so that a
/// near one is found cheaply.
pub(super) const REACH_NATS: [f32; 2] = [2.5, 5.0];
/// Rivals of the best legal phrase are looked for this far below it, in nats.
pub(super) const RIVAL_NATS: f32 = 4.5;

/// A legal phrase, what it means, and how well it fits.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hypothesis {
    /// Its words.
    pub text: String,
    /// What they mean in the state of the job.
    #[serde(skip)]
    pub interpretation: Heard,
    /// How far it is below the free text, in nats; of several passes their mean; below zero if it is
    /// likelier.
    pub deficit_nats: f32,
}

impl Hypothesis {
    pub(super) fn new(interpreter: &Interpreter, text: String, deficit_nats: f32) -> Self {
        Self {
            interpretation: interpreter.of(&text),
            text,
            deficit_nats,
        }
    }

    /// Whether both mean the same.
    pub(super) fn agrees(&self, other: &Self) -> bool {
        means_the_same(&self.interpretation, &other.interpretation)
    }
}

/// One decoding pass over the sound.
#[derive(Clone, Debug)]
pub(super) struct Pass {
    /// What was heard freely.
    pub(super) free: Transcript,
    /// Legal phrases, the nearest first.
    pub(super) hypotheses: Vec<Hypothesis>,
}

impl Pass {
    /// Mean log-probability of the free text's tokens, in nats.
    pub(super) fn mean_logp(&self) -> f32 {
        let tokens = &self.free.token_logps;
        tokens.iter().sum::<f32>() / tokens.len().max(1) as f32
    }

    /// The margin of the best hypothesis over the best one of another meaning, in nats.
    pub(super) fn margin(&self) -> f32 {
        let Some(best) = self.hypotheses.first() else {
            return 0.0;
        };
        let rival = self.hypotheses.iter().find(|h| !h.agrees(best));
        rival.map_or(RIVAL_NATS, |r| r.deficit_nats - best.deficit_nats)
    }

    /// How far a phrase that this pass did not look at is below its free text at least, in nats.
    fn unseen(&self) -> f32 {
        let best = self.hypotheses.first();
        best.map_or(REACH_NATS[1], |best| best.deficit_nats + RIVAL_NATS)
    }
}

/// What speaks for and against a recognition.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Evidence {
    /// What each pass heard freely.
    pub free: Vec<String>,
    /// Mean log-probability of a token of each, in nats.
    pub mean_logp: Vec<f32>,
    /// Probability of each pass that nothing was said, 0–1.
    pub nothing_p: Vec<f32>,
    /// The best hypothesis of each pass that has one.
    pub best: Vec<Option<Hypothesis>>,
    /// The best hypothesis of all passes.
    pub phrase: Option<Hypothesis>,
    /// The best hypothesis of another meaning.
    pub rival: Option<Hypothesis>,
    /// Mean score of the voice detector, 0–1.
    pub voice_score: f32,
    /// Level of the voice above the noise, dB.
    pub above_noise_db: f32,
    /// Voiced length, milliseconds.
    pub voiced_ms: u64,
}

/// All hypotheses of the passes by their mean deficit: the n-best list.
pub(super) fn n_best(passes: &[Pass]) -> Vec<Hypothesis> {
    let mut all: Vec<Hypothesis> = Vec::new();
    for one in passes.iter().flat_map(|p| &p.hypotheses) {
        if all.iter().any(|h| h.text == one.text) {
            continue;
        }
        let deficit = |pass: &Pass| {
            let known = pass.hypotheses.iter().find(|h| h.text == one.text);
            known.map_or_else(|| pass.unseen(), |h| h.deficit_nats)
        };
        all.push(Hypothesis {
            deficit_nats: passes.iter().map(deficit).sum::<f32>() / passes.len() as f32,
            ..one.clone()
        });
    }
    all.sort_by(|a, b| {
        let order = a.deficit_nats.total_cmp(&b.deficit_nats);
        order.then(a.text.cmp(&b.text))
    });
    all
}
