//! What speaks for and against a hearing: what a text means in the job, and the passes over its sound.

use crate::grammar::{Grammar, Heard, Meaning, Scope};
use crate::recognise::Transcript;
use serde::Serialize;

/// Legal phrases this far below the free text are looked for, in nats; in two rounds, so that a
/// near one is found cheaply.
pub(super) const REACH_NATS: [f32; 2] = [2.5, 5.0];
/// Rivals of the best legal phrase are looked for this far below it, in nats.
pub(super) const RIVAL_NATS: f32 = 4.5;

/// What the job says a text means.
pub struct Meanings<'a> {
    /// The language.
    pub grammar: &'a Grammar,
    /// What the job tells it.
    pub scope: &'a Scope,
    /// A question waits for an answer.
    pub answering: bool,
    /// A long note is open: whatever is said is a sentence of it.
    pub dictating: bool,
    /// What was named and waits for its value.
    pub begun: Option<&'a str>,
}

impl<'a> Meanings<'a> {
    /// As the job has it now.
    #[must_use]
    pub const fn new(grammar: &'a Grammar, scope: &'a Scope, answering: bool) -> Self {
        Self {
            grammar,
            scope,
            answering,
            dictating: false,
            begun: None,
        }
    }

    /// The same while a long note is open.
    #[must_use]
    pub const fn dictating(mut self, dictating: bool) -> Self {
        self.dictating = dictating;
        self
    }

    /// The same after something was named that waits for its value.
    #[must_use]
    pub const fn after(mut self, begun: Option<&'a str>) -> Self {
        self.begun = begun;
        self
    }

    /// What a text means; the words of a note do not matter.
    pub(super) fn of(&self, text: &str) -> Heard {
        match self.grammar.parse_after(self.begun, text, self.scope) {
            Heard::Accepted(mut said) => {
                if let Meaning::Note(words)
                | Meaning::Tick(words)
                | Meaning::Task { text: words, .. } = &mut said.meaning
                {
                    words.clear();
                }
                Heard::Accepted(said)
            }
            other => other,
        }
    }
}

/// One pass over the sound.
#[derive(Clone, Debug)]
pub struct Opinion {
    /// What was heard freely.
    pub heard: Transcript,
    /// Legal phrases and how far each is below the free text, in nats; the nearest first.
    pub near: Vec<(String, f32)>,
}

/// A legal phrase and how well it fits.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fit {
    /// Its words.
    pub text: String,
    /// How far it is below the free text, in nats, mean of the passes; below zero where likelier.
    pub deficit_nats: f32,
}

/// What speaks for and against a hearing.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Evidence {
    /// What each pass heard freely.
    pub free: Vec<String>,
    /// Mean log-probability of a token of each, in nats.
    pub mean_logp: Vec<f32>,
    /// Probability of each pass that nothing was said, 0–1.
    pub nothing_p: Vec<f32>,
    /// The best phrase of each.
    pub best: Vec<String>,
    /// The best phrase of all passes.
    pub phrase: Option<Fit>,
    /// The best phrase of another meaning.
    pub rival: Option<Fit>,
    /// Mean score of the voice detector, 0–1.
    pub voice_score: f32,
    /// Level of the voice above the noise, dB.
    pub above_noise_db: f32,
    /// Voiced length, milliseconds.
    pub voiced_ms: u64,
}

/// How far a phrase that an opinion did not look at is below its free text at least, in nats.
fn unseen(opinion: &Opinion) -> f32 {
    opinion
        .near
        .first()
        .map_or(REACH_NATS[1], |best| best.1 + RIVAL_NATS)
}

/// All phrases of the opinions by their mean deficit.
pub(super) fn fits(opinions: &[Opinion]) -> Vec<Fit> {
    let mut all: Vec<Fit> = Vec::new();
    for (text, _) in opinions.iter().flat_map(|o| &o.near) {
        if all.iter().any(|f| f.text == *text) {
            continue;
        }
        let deficit = |o: &Opinion| {
            let known = o.near.iter().find(|n| n.0 == *text);
            known.map_or_else(|| unseen(o), |n| n.1)
        };
        all.push(Fit {
            text: text.clone(),
            deficit_nats: opinions.iter().map(deficit).sum::<f32>() / opinions.len() as f32,
        });
    }
    all.sort_by(|a, b| {
        let order = a.deficit_nats.total_cmp(&b.deficit_nats);
        order.then(a.text.cmp(&b.text))
    });
    all
}

/// Mean log-probability of a pass's tokens, in nats.
pub(super) fn mean_logp(pass: &Transcript) -> f32 {
    pass.tokens.iter().map(|t| t.logp).sum::<f32>() / pass.tokens.len().max(1) as f32
}
