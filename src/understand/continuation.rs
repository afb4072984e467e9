//! Continuation after a premature endpoint: what follows at once is decoded once more with what it
//! belongs to. If that leaves a doubt, the whole is asked and what was stored is taken back, so that
//! half a number does not stand.

use super::decoding::{Recognition, recognise};
use crate::audio::{RATE_HZ, Utterance};
use crate::event::{Event, Fact, Outcome};
use crate::grammar::{Heard, Meaning};
use crate::recognise::Recogniser;
use crate::session::{Acceptance, Interpreter, means_the_same};
use anyhow::Result;

/// Speech that begins within this time after a reading's end may belong to it: 900 ms;
/// pauses inside numbers were up to 370 ms (models/FIGURES.md), a read-back takes longer.
const SOON: u64 = RATE_HZ as u64 * 9 / 10;

/// The utterance before, to which words may still belong.
pub(super) struct Previous {
    event: u64,
    said: String,
    /// What it was taken for.
    interpretation: Heard,
    /// The sample of the stream at which its speech ended.
    end: u64,
    sound: Vec<f32>,
}

impl Previous {
    /// `None` if nothing was stored to which words could still belong.
    pub(super) fn new(
        event: &Event,
        interpretation: Heard,
        end: u64,
        sound: Vec<f32>,
    ) -> Option<Self> {
        let read = |f: &Fact| matches!(f, Fact::Read(_) | Fact::Spare { .. });
        let reading = event.outcome == Outcome::Stored && event.facts.iter().any(read);
        reading.then(|| Self {
            event: event.id,
            said: event.said.clone(),
            interpretation,
            end,
            sound,
        })
    }

    /// What was heard from sample `start` on, and the event that it puts in doubt. If it does not
    /// stand by itself (no phrase, or a bare value) and makes a longer phrase with the words before,
    /// that one is asked as a correction; no phrase that holds a value puts in doubt what was stored.
    pub(super) fn with(
        &self,
        interpreter: &Interpreter,
        start: u64,
        rest: Recognition,
    ) -> (Recognition, Option<u64>) {
        // Another kind of phrase, or one that names its place.
        let stands = match &rest.interpretation {
            Heard::Accepted(said) => {
                !matches!(said.meaning, Meaning::Reading { part: None, .. })
                    || !said.place.is_empty()
            }
            _ => false,
        };
        let sure = rest.acceptance == Acceptance::Accept;
        if stands && sure || start.saturating_sub(self.end) > SOON {
            return (rest, None);
        }
        let free = rest.evidence.free.first().filter(|f| !f.is_empty());
        let Some(free) = free else {
            return (rest, None);
        };
        let said = format!("{} {free}", self.said);
        if let Some(interpretation) = as_correction(interpreter.of(&said)) {
            let whole = Recognition {
                said,
                interpretation,
                acceptance: Acceptance::Confirm,
                ..rest
            };
            return (whole, Some(self.event));
        }
        let doubt = rest.interpretation == Heard::Nothing && holds_a_value(interpreter, free);
        let event = doubt.then_some(self.event);
        (rest, event)
    }

    /// Decodes both as one sound: the reading as a correction, and that sound. `None` if this too
    /// leaves a doubt, or is no more than what was stored.
    ///
    /// # Errors
    /// When the recogniser fails.
    pub(super) fn as_one(
        &self,
        recogniser: &mut dyn Recogniser,
        interpreter: &Interpreter,
        rest: &Utterance,
    ) -> Result<Option<(Recognition, Vec<f32>)>> {
        let both = Utterance {
            samples: [self.sound.as_slice(), &rest.samples].concat(),
            ..rest.clone()
        };
        let whole = recognise(recogniser, interpreter, &both)?;
        let sure = whole.acceptance == Acceptance::Accept
            && !means_the_same(&whole.interpretation, &self.interpretation);
        if !sure {
            return Ok(None);
        }
        let corrects = as_correction(whole.interpretation.clone());
        Ok(corrects.map(|interpretation| {
            let whole = Recognition {
                interpretation,
                ..whole
            };
            (whole, both.samples)
        }))
    }
}

/// A reading or spares, as a correction of those before; `None` for anything else.
fn as_correction(mut heard: Heard) -> Option<Heard> {
    if let Heard::Accepted(said) = &mut heard
        && let Meaning::Reading { fix, .. } | Meaning::Spare { fix, .. } = &mut said.meaning
    {
        *fix = true;
        return Some(heard);
    }
    None
}

/// Two words and more, one of which alone would be a value.
fn holds_a_value(interpreter: &Interpreter, text: &str) -> bool {
    let words = interpreter.grammar.words_of(text);
    let is_value = |word: &String| match interpreter.of(word) {
        Heard::Accepted(said) => matches!(said.meaning, Meaning::Reading { .. }),
        Heard::Ambiguous(_) | Heard::Refused(_) => true,
        Heard::Nothing => false,
    };
    words.len() > 1 && words.iter().any(is_value)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic)]
    use super::*;
    use crate::recognise::Scripted;
    use crate::understand::testing::Bench;

    /// What is made of `rest`, begun `after_ms` after the end of `first`, and whether that doubts it.
    fn heard(first: &str, rest: &str, sure: bool, after_ms: u64) -> (String, Acceptance, bool) {
        let mut bench = Bench::triple();
        let heard = bench.interpreter().of(first);
        let event = bench.say(first);
        let interpreter = bench.interpreter();
        let mut judged = Recognition {
            said: rest.to_owned(),
            interpretation: interpreter.of(rest),
            acceptance: if sure {
                Acceptance::Accept
            } else {
                Acceptance::Reject
            },
            confidence: 0.5,
            passes: Vec::new(),
            evidence: Default::default(),
        };
        judged.evidence.free = vec![rest.to_owned()];
        let mut doubted = None;
        if let Some(before) = Previous::new(&event, heard, 16_000, Vec::new()) {
            (judged, doubted) = before.with(&interpreter, 16_000 + after_ms * 16, judged);
        }
        assert!(doubted.is_none_or(|id| id == event.id));
        (judged.said, judged.acceptance, doubted.is_some())
    }

    #[test]
    fn the_rest_of_a_number_is_asked_with_its_beginning() {
        let half = "journal eleven a hundred and two";
        let rest = "comma seven micron";
        let whole = format!("{half} {rest}");
        assert_eq!(
            heard(half, rest, false, 256),
            (whole.clone(), Acceptance::Confirm, true)
        );
        // Clearly heard, and a value without a place.
        assert_eq!(
            heard(half, rest, true, 256),
            (whole, Acceptance::Confirm, true)
        );
        // Too late, and nothing was stored before.
        assert_eq!(heard(half, rest, false, 1_500).1, Acceptance::Reject);
        assert_eq!(heard("what's next", rest, false, 256).1, Acceptance::Reject);
        // A sound without words.
        assert_eq!(heard(half, "", false, 256).1, Acceptance::Reject);
        // A phrase of its own, and words that belong to none.
        let other = "two exhaust left fifteen";
        assert_eq!(heard(half, other, true, 256).0, other);
        let talk = heard(half, "pass me that", false, 256);
        assert_eq!((talk.1, talk.2), (Acceptance::Reject, false));
    }

    #[test]
    fn a_value_that_follows_in_no_phrase_puts_the_reading_in_doubt() {
        let (reading, rest) = (
            "two inlet right comma twenty five",
            "won't go off twenty six",
        );
        assert!(heard(reading, rest, false, 208).2);
        assert!(!heard(reading, rest, false, 1_500).2, "too late");
        assert!(
            !heard(reading, "six", false, 208).2,
            "one word, more likely noise"
        );
        let other = "two exhaust left twenty six";
        assert!(!heard(reading, other, true, 208).2, "a phrase of its own");
    }

    #[test]
    fn both_in_one_sound_are_heard_as_a_correction() {
        let mut bench = Bench::triple();
        let half = "one exhaust right thirty one";
        let heard = bench.interpreter().of(half);
        let event = bench.say(half);
        let interpreter = bench.interpreter();
        let before = Previous::new(&event, heard, 16_000, vec![0.1; 160]).unwrap();
        let rest = Utterance {
            start_sample: 0,
            samples: vec![0.2; 80],
            speech_start_sample: 0,
            speech_end_sample: 80,
            score: 1.0,
            level_dbfs: -20.0,
            noise_dbfs: -70.0,
            clipped: false,
            truncated: false,
        };
        let as_one = |free: &str, rival: (&str, f32)| {
            let mut recogniser = Scripted::of_texts([free, free]).with_score(rival.0, rival.1);
            before.as_one(&mut recogniser, &interpreter, &rest).unwrap()
        };
        let whole = "one exhaust right thirty one goes thirty three wont";
        let near = "one exhaust right thirty one goes thirty two wont";
        let (judged, sound) = as_one(whole, (near, -4.0)).unwrap();
        assert_eq!(judged.said, whole);
        let Heard::Accepted(said) = &judged.interpretation else {
            panic!("{:?}", judged.interpretation)
        };
        assert!(matches!(said.meaning, Meaning::Reading { fix: true, .. }));
        assert_eq!((sound.len(), sound[0], sound[239]), (240, 0.1, 0.2));
        assert!(as_one(whole, (near, -1.0)).is_none(), "a near rival");
        assert!(as_one(half, (near, -9.0)).is_none(), "nothing new");
        assert!(as_one("pass me that", (near, -9.0)).is_none());
    }
}
