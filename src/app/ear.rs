//! From a cut utterance to a hearing: two passes, the margin, and what they say of certainty.

use crate::audio::Utterance;
use crate::grammar::{Grammar, Means};
use crate::recognise::{Recogniser, Transcript};
use crate::session::Certainty;
use anyhow::Result;

/// Below this margin, in nats, a reading is asked. Every legal phrase with a changed digit that
/// was measured on held-out voices stayed below 1.7 (models/ggml-tiny.en-bench-q8_0.md).
const SURE_MARGIN_NATS: f32 = 2.0;
/// Below this mean log-probability of its tokens, in nats, a text is more likely made of noise:
/// sneezes heard as words stay below -1.3, talk has a median of -0.1 (measured, see DEVELOPERS.md).
const NOISE_LOGP_NATS: f32 = -1.0;
/// The second pass begins this much earlier: readings made of noise change, speech does not.
const SHIFT_MS: i32 = 100;

/// What the ear makes of one utterance.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The words.
    pub said: String,
    /// How certain.
    pub certainty: Certainty,
    /// Probability of the words against their best rival, 0–1.
    pub confidence: f32,
    /// The passes behind it.
    pub passes: Vec<Transcript>,
}

/// Hears an utterance.
///
/// # Errors
/// When the recogniser fails; silence and noise are no errors.
pub fn judge(
    ear: &mut dyn Recogniser,
    grammar: &Grammar,
    words: &[String],
    utterance: &Utterance,
) -> Result<Judged> {
    let first = ear.hear(&utterance.samples, words)?;
    let legal = |t: &Transcript| !t.looped && !grammar.matches(&t.text).is_empty();
    if !legal(&first) {
        return Ok(Judged {
            said: first.text.clone(),
            certainty: Certainty::Noise,
            confidence: 0.0,
            passes: vec![first],
        });
    }
    let second = ear.hear_shifted(&utterance.samples, SHIFT_MS, words)?;
    // The words of a note may differ from pass to pass: its clip is kept, and it changes no sum.
    let notes = is_note(grammar, &first) && is_note(grammar, &second);
    let agree = notes || grammar.words_of(&first.text) == grammar.words_of(&second.text);
    let weak = mean_logp(&first).min(mean_logp(&second)) < NOISE_LOGP_NATS;
    let margin = first.margin.min(second.margin);
    let certainty = match (agree, legal(&second)) {
        _ if weak => Certainty::Noise,
        (true, _) if notes || margin >= SURE_MARGIN_NATS => Certainty::Sure,
        (true, _) | (false, true) => Certainty::Unsure,
        (false, false) => Certainty::Noise,
    };
    let confidence = if agree {
        1.0 / (1.0 + (-margin).exp())
    } else {
        0.5 / (1.0 + (-margin).exp())
    };
    Ok(Judged {
        said: first.text.clone(),
        certainty,
        confidence,
        passes: vec![first, second],
    })
}

/// Mean log-probability of a pass's tokens, in nats.
fn mean_logp(pass: &Transcript) -> f32 {
    pass.tokens.iter().map(|t| t.logp).sum::<f32>() / pass.tokens.len().max(1) as f32
}

fn is_note(grammar: &Grammar, pass: &Transcript) -> bool {
    let found = grammar.matches(&pass.text);
    !found.is_empty()
        && found
            .iter()
            .all(|m| grammar.phrases[m.phrase].means == Means::Note)
}
