//! From sound to a hearing: what was heard freely, which legal phrases it may have been, and how
//! certain that is.

use super::evidence::{Evidence, Meanings, Opinion, REACH_NATS, RIVAL_NATS, fits, mean_logp};
use crate::audio::Utterance;
use crate::event::Rival;
use crate::grammar::Heard;
use crate::recognise::{Recogniser, Transcript};
use crate::session::Certainty;
use anyhow::Result;

/// The second opinion begins this much earlier: readings made of noise change, speech does not.
const SHIFT_MS: i32 = 100;
/// Steps of the decoder that a search may cost.
const STEPS: usize = 40;

/// What the ear makes of one utterance.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The words.
    pub said: String,
    /// How certain.
    pub certainty: Certainty,
    /// Probability that these words were meant, 0–1.
    pub confidence: f32,
    /// The passes behind it.
    pub passes: Vec<Transcript>,
    /// What speaks for and against it.
    pub evidence: Evidence,
}

impl Judged {
    /// The best phrase of another meaning, where one was near and what was said is a phrase.
    #[must_use]
    pub fn rival(&self) -> Option<Rival> {
        let (phrase, rival) = (
            self.evidence.phrase.as_ref()?,
            self.evidence.rival.as_ref()?,
        );
        let margin_nats = rival.deficit_nats - phrase.deficit_nats;
        let heard = self.certainty != Certainty::Noise && self.said == phrase.text;
        let heard = heard && margin_nats.is_finite();
        heard.then(|| Rival {
            said: rival.text.clone(),
            margin_nats,
        })
    }
}

/// Forms an opinion on the sound, begun `SHIFT_MS` earlier where there is one `before`.
///
/// # Errors
/// When the recogniser fails; silence and noise are no errors.
pub fn opinion(
    ear: &mut dyn Recogniser,
    meanings: &Meanings,
    sound: &[f32],
    before: Option<&Opinion>,
) -> Result<Opinion> {
    let heard = match before {
        None => ear.hear(sound, &[])?,
        Some(_) => ear.hear_shifted(sound, SHIFT_MS, &[])?,
    };
    let grammar = meanings.grammar;
    let mut near: Vec<(String, f32)> = Vec::new();
    let mut add = |text: String, logp: f32| {
        if !near.iter().any(|(t, _)| *t == text) {
            near.push((text, heard.logp - logp));
        }
    };
    // The free text itself, where it is legal; it may hold free words, which no search follows.
    if !heard.looped && meanings.of(&heard.text) != Heard::Nothing {
        add(grammar.words_of(&heard.text).join(" "), heard.logp);
    }
    let mut found = Vec::new();
    for reach in REACH_NATS {
        found = ear.legal(grammar, heard.logp - reach, STEPS)?;
        if !found.is_empty() {
            break;
        }
    }
    if let Some(best) = found.first() {
        found = ear.legal(grammar, best.logp - RIVAL_NATS, STEPS)?;
    }
    found.into_iter().for_each(|c| add(c.text, c.logp));
    if let Some(before) = before {
        let texts: Vec<&str> = before.near.iter().map(|n| n.0.as_str()).collect();
        for (text, logp) in texts.iter().zip(ear.score(&texts)?) {
            add((*text).to_owned(), logp);
        }
    }
    near.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    Ok(Opinion { heard, near })
}

/// Hears a whole utterance, twice.
///
/// # Errors
/// When the recogniser fails; silence and noise are no errors.
pub fn judge(
    ear: &mut dyn Recogniser,
    meanings: &Meanings,
    utterance: &Utterance,
) -> Result<Judged> {
    let first = opinion(ear, meanings, &utterance.samples, None)?;
    let second = opinion(ear, meanings, &utterance.samples, Some(&first))?;
    Ok(weigh(meanings, vec![first, second], Some(utterance)))
}

/// What the opinions come to together. Without an utterance nothing is known of the voice.
#[must_use]
pub fn weigh(meanings: &Meanings, opinions: Vec<Opinion>, utterance: Option<&Utterance>) -> Judged {
    let mut all = fits(&opinions).into_iter();
    let phrase = all.next();
    let meaning = phrase.as_ref().map(|p| meanings.of(&p.text));
    let rival = all.find(|f| Some(meanings.of(&f.text)) != meaning);
    let best = |o: &Opinion| o.near.first().map(|n| n.0.clone()).unwrap_or_default();
    let evidence = Evidence {
        free: opinions.iter().map(|o| o.heard.text.clone()).collect(),
        mean_logp: opinions.iter().map(|o| mean_logp(&o.heard)).collect(),
        nothing_p: opinions.iter().map(|o| o.heard.nothing_p).collect(),
        best: opinions.iter().map(best).collect(),
        phrase,
        rival,
        voice_score: utterance.map_or(1.0, |u| u.score),
        above_noise_db: utterance.map_or(60.0, |u| u.level_dbfs - u.noise_dbfs),
        voiced_ms: utterance.map_or(1_000, |u| {
            (u.speech_end_sample - u.speech_start_sample) / 16
        }),
    };
    let (said, certainty, confidence) = super::certain::weigh(meanings, &evidence);
    Judged {
        said,
        certainty,
        confidence,
        passes: opinions.into_iter().map(|o| o.heard).collect(),
        evidence,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::app::{assets, job::Job};
    use crate::measure::LengthUnit;
    use crate::recognise::Scripted;

    fn heard(before: &[&str], free: &str, phrases: &[(&str, f32)]) -> Judged {
        let english = assets::english().unwrap();
        let mut job = Job::unkept(english, "triple", LengthUnit::Millimetre).unwrap();
        for text in before {
            job.say(text).unwrap();
        }
        let scope = job.desk.scope(&job.state);
        let meanings = job.meanings(&scope);
        let mut ear = Scripted::of_texts([free, free]);
        for (text, logp) in phrases {
            ear = ear.with_score(text, *logp);
        }
        let first = opinion(&mut ear, &meanings, &[0.0; 16], None).unwrap();
        let second = opinion(&mut ear, &meanings, &[0.0; 16], Some(&first)).unwrap();
        weigh(&meanings, vec![first, second], None)
    }

    #[test]
    fn the_nearest_legal_phrase_is_heard_and_a_near_rival_is_asked() {
        let one = "one exhaust left fifteen";
        let sure = heard(&[], one, &[("three exhaust left fifteen", -4.0)]);
        assert_eq!((sure.said.as_str(), sure.certainty), (one, Certainty::Sure));
        let close = heard(&[], one, &[("three exhaust left fifteen", -1.0)]);
        assert_eq!(close.certainty, Certainty::Unsure);
        assert!(close.confidence < sure.confidence);
        let rival = close.rival().unwrap();
        assert_eq!(rival.said, "three exhaust left fifteen");
        assert!((rival.margin_nats - 1.0).abs() < 1e-3, "{rival:?}");
        // Other words of the same meaning are no rival.
        let same = heard(&[], one, &[("cylinder one exhaust left fifteen", -0.1)]);
        assert_eq!(same.certainty, Certainty::Sure);
        // What was heard is no phrase; a near one is heard instead, a far one is not.
        let near = heard(&[], "on exhaust left fifteen", &[(one, -1.0)]);
        assert_eq!((near.said.as_str(), near.certainty), (one, Certainty::Sure));
        let far = heard(&[], "pass me the kettle", &[(one, -4.9)]);
        assert_eq!(far.certainty, Certainty::Noise);
        assert_eq!(far.said, "pass me the kettle");
        assert_eq!(far.rival(), None, "noise has none");
    }

    #[test]
    fn words_of_the_bench_that_are_no_phrase_are_asked_again() {
        let clear = heard(&[], "two inlet left between eighty nine", &[]);
        assert_eq!(clear.certainty, Certainty::Unsure);
        assert_eq!(clear.said, "two inlet left between eighty nine");
        for talk in [
            "two inlet left on the kettle",
            "between eighty nine and a bit",
        ] {
            assert_eq!(heard(&[], talk, &[]).certainty, Certainty::Noise, "{talk}");
        }
    }

    #[test]
    fn a_waiting_question_lets_an_unlikely_word_be_asked() {
        let question = ["one exhaust left fifteen", "correction"];
        let free = "heaven";
        let phrases = [("seven", -3.5), ("eleven", -4.2)];
        assert_eq!(heard(&[], free, &phrases).certainty, Certainty::Noise);
        let asked = heard(&question, free, &phrases);
        assert_eq!(asked.certainty, Certainty::Unsure);
        assert_eq!(asked.said, "seven");
        // A yes is not let in that way.
        let yes = heard(&question, "ears", &[("yes", -3.5), ("no", -4.2)]);
        assert_eq!(yes.certainty, Certainty::Noise);
    }
}
