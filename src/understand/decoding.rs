//! Decoding passes: what was heard freely, which legal phrases it may have been, and what the passes
//! come to together.

use super::acceptance;
use super::hypothesis::{Evidence, Hypothesis, Pass, REACH_NATS, RIVAL_NATS, n_best};
use crate::audio::Utterance;
use crate::event::Rival;
use crate::grammar::Heard;
use crate::recognise::{Recogniser, Transcript};
use crate::session::{Acceptance, Interpreter};
use anyhow::Result;

/// The second pass begins this much earlier: readings made of noise change, speech does not.
const SHIFT_MS: i32 = 100;
/// Steps of the decoder that a search may cost.
const STEPS: usize = 40;

/// What one utterance was recognised as.
#[derive(Clone, Debug)]
pub struct Recognition {
    /// The words.
    pub said: String,
    /// What they mean in the state of the job.
    pub interpretation: Heard,
    /// How certain.
    pub acceptance: Acceptance,
    /// Probability that these words were meant, 0–1.
    pub confidence: f32,
    /// The passes behind it.
    pub passes: Vec<Transcript>,
    /// What speaks for and against it.
    pub evidence: Evidence,
}

impl Recognition {
    /// The best hypothesis of another meaning, if one was near and what was said is a phrase; and
    /// what it means.
    #[must_use]
    pub fn rival(&self) -> Option<(Rival, Heard)> {
        let (phrase, rival) = (
            self.evidence.phrase.as_ref()?,
            self.evidence.rival.as_ref()?,
        );
        let margin_nats = rival.deficit_nats - phrase.deficit_nats;
        let heard = self.acceptance != Acceptance::Reject && self.said == phrase.text;
        let heard = heard && margin_nats.is_finite();
        let said = rival.text.clone();
        heard.then(|| (Rival { said, margin_nats }, rival.interpretation.clone()))
    }
}

/// One pass over the sound, begun `SHIFT_MS` earlier if there was one `before`.
///
/// # Errors
/// When the recogniser fails; silence and noise are not errors.
pub(super) fn pass(
    recogniser: &mut dyn Recogniser,
    interpreter: &Interpreter,
    sound: &[f32],
    before: Option<&Pass>,
) -> Result<Pass> {
    let free = match before {
        None => recogniser.hear(sound)?,
        Some(_) => recogniser.hear_shifted(sound, SHIFT_MS)?,
    };
    let grammar = interpreter.grammar;
    let mut hypotheses: Vec<Hypothesis> = Vec::new();
    let mut add = |text: String, logp: f32| {
        if !hypotheses.iter().any(|h| h.text == text) {
            hypotheses.push(Hypothesis::new(interpreter, text, free.logp - logp));
        }
    };
    // The free text itself, if it is legal; it may hold free words, which no search follows.
    if !free.looped && interpreter.of(&free.text) != Heard::Nothing {
        add(grammar.words_of(&free.text).join(" "), free.logp);
    }
    let mut found = Vec::new();
    for reach in REACH_NATS {
        found = recogniser.legal(grammar, free.logp - reach, STEPS)?;
        if !found.is_empty() {
            break;
        }
    }
    if let Some(best) = found.first() {
        found = recogniser.legal(grammar, best.logp - RIVAL_NATS, STEPS)?;
    }
    found.into_iter().for_each(|c| add(c.text, c.logp));
    if let Some(before) = before {
        let texts: Vec<&str> = before.hypotheses.iter().map(|h| h.text.as_str()).collect();
        for (text, logp) in texts.iter().zip(recogniser.score(&texts)?) {
            add((*text).to_owned(), logp);
        }
    }
    hypotheses.sort_by(|a, b| {
        let order = a.deficit_nats.total_cmp(&b.deficit_nats);
        order.then(a.text.cmp(&b.text))
    });
    Ok(Pass { free, hypotheses })
}

/// Recognises a whole utterance in two passes.
///
/// # Errors
/// When the recogniser fails; silence and noise are not errors.
pub fn recognise(
    recogniser: &mut dyn Recogniser,
    interpreter: &Interpreter,
    utterance: &Utterance,
) -> Result<Recognition> {
    let first = pass(recogniser, interpreter, &utterance.samples, None)?;
    let second = pass(recogniser, interpreter, &utterance.samples, Some(&first))?;
    let passes = vec![first, second];
    Ok(weigh(interpreter, passes, Some(utterance)))
}

/// What the passes come to together. Without an utterance nothing is known of the voice.
pub(super) fn weigh(
    interpreter: &Interpreter,
    passes: Vec<Pass>,
    utterance: Option<&Utterance>,
) -> Recognition {
    let mut all = n_best(&passes).into_iter();
    let phrase = all.next();
    let rival = all.find(|h| phrase.as_ref().is_some_and(|p| !p.agrees(h)));
    let evidence = Evidence {
        free: passes.iter().map(|p| p.free.text.clone()).collect(),
        mean_logp: passes.iter().map(Pass::mean_logp).collect(),
        nothing_p: passes.iter().map(|p| p.free.nothing_p).collect(),
        best: passes
            .iter()
            .map(|p| p.hypotheses.first().cloned())
            .collect(),
        phrase,
        rival,
        voice_score: utterance.map_or(1.0, |u| u.score),
        above_noise_db: utterance.map_or(60.0, |u| u.level_dbfs - u.noise_dbfs),
        voiced_ms: utterance.map_or(1_000, |u| {
            (u.speech_end_sample - u.speech_start_sample) / 16
        }),
    };
    let (said, acceptance, confidence) = acceptance::weigh(interpreter, &evidence);
    Recognition {
        interpretation: interpreter.of(&said),
        said,
        acceptance,
        confidence,
        passes: passes.into_iter().map(|p| p.free).collect(),
        evidence,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::recognise::Scripted;
    use crate::understand::testing::Bench;

    fn heard(before: &[&str], free: &str, phrases: &[(&str, f32)]) -> Recognition {
        let mut bench = Bench::triple();
        for text in before {
            bench.say(text);
        }
        let interpreter = bench.interpreter();
        let mut recogniser = Scripted::of_texts([free, free]);
        for (text, logp) in phrases {
            recogniser = recogniser.with_score(text, *logp);
        }
        let first = pass(&mut recogniser, &interpreter, &[0.0; 16], None).unwrap();
        let second = pass(&mut recogniser, &interpreter, &[0.0; 16], Some(&first)).unwrap();
        weigh(&interpreter, vec![first, second], None)
    }

    #[test]
    fn the_nearest_legal_phrase_is_heard_and_a_near_rival_is_asked() {
        let one = "one exhaust left fifteen";
        let sure = heard(&[], one, &[("three exhaust left fifteen", -4.0)]);
        assert_eq!(
            (sure.said.as_str(), sure.acceptance),
            (one, Acceptance::Accept)
        );
        let close = heard(&[], one, &[("three exhaust left fifteen", -1.0)]);
        assert_eq!(close.acceptance, Acceptance::Confirm);
        assert!(close.confidence < sure.confidence);
        let (rival, _) = close.rival().unwrap();
        assert_eq!(rival.said, "three exhaust left fifteen");
        assert!((rival.margin_nats - 1.0).abs() < 1e-3, "{rival:?}");
        // Other words of the same meaning are no rival.
        let same = heard(&[], one, &[("cylinder one exhaust left fifteen", -0.1)]);
        assert_eq!(same.acceptance, Acceptance::Accept);
        // What was heard is not a phrase; a near one is heard instead, a far one is not.
        let near = heard(&[], "on exhaust left fifteen", &[(one, -1.0)]);
        assert_eq!(
            (near.said.as_str(), near.acceptance),
            (one, Acceptance::Accept)
        );
        let far = heard(&[], "pass me the kettle", &[(one, -4.9)]);
        assert_eq!(far.acceptance, Acceptance::Reject);
        assert_eq!(far.said, "pass me the kettle");
        assert_eq!(far.rival(), None, "noise has none");
    }

    #[test]
    fn words_of_the_bench_that_are_no_phrase_are_asked_again() {
        let clear = heard(&[], "two inlet left between eighty nine", &[]);
        assert_eq!(clear.acceptance, Acceptance::Confirm);
        assert_eq!(clear.said, "two inlet left between eighty nine");
        for talk in [
            "two inlet left on the kettle",
            "between eighty nine and a bit",
        ] {
            assert_eq!(
                heard(&[], talk, &[]).acceptance,
                Acceptance::Reject,
                "{talk}"
            );
        }
    }

    #[test]
    fn a_waiting_question_lets_an_unlikely_word_be_asked() {
        let question = ["one exhaust left fifteen", "correction"];
        let free = "heaven";
        let phrases = [("seven", -3.5), ("eleven", -4.2)];
        assert_eq!(heard(&[], free, &phrases).acceptance, Acceptance::Reject);
        let asked = heard(&question, free, &phrases);
        assert_eq!(asked.acceptance, Acceptance::Confirm);
        assert_eq!(asked.said, "seven");
        // A yes is not let in that way.
        let yes = heard(&question, "ears", &[("yes", -3.5), ("no", -4.2)]);
        assert_eq!(yes.acceptance, Acceptance::Reject);
    }
}
