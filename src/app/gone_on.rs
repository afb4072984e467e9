//! A pause inside a phrase that was taken for its end: what follows at once is asked as the rest of
//! it, and what was stored is in doubt, so that half a number does not stand.

use super::ear::Judged;
use super::evidence::Meanings;
use crate::audio::RATE_HZ;
use crate::event::{Event, Fact, Outcome};
use crate::grammar::{Heard, Meaning, Means};
use crate::session::Certainty;

/// Speech that begins within this time after a reading's end may belong to it: 900 ms;
/// pauses inside numbers were up to 370 ms (DEVELOPERS.md, the ear), a read-back takes longer.
const SOON: u64 = RATE_HZ as u64 * 9 / 10;

/// The utterance before.
pub(super) struct Before {
    event: u64,
    said: String,
    /// Where its speech ended, in samples of the stream.
    end: u64,
}

impl Before {
    /// `None` where nothing was stored to which words could still belong.
    pub(super) fn of(event: &Event, end: u64) -> Option<Self> {
        let read = |f: &Fact| matches!(f, Fact::Read(_) | Fact::Spare { .. });
        let reading = event.outcome == Outcome::Stored && event.facts.iter().any(read);
        let said = event.said.clone();
        let event = event.id;
        reading.then_some(Self { event, said, end })
    }

    /// What was heard from sample `start` on, and the event that it puts in doubt. Where it does not
    /// stand by itself (no phrase, or a bare value) and makes a longer phrase with the words before,
    /// that one is asked as a correction; no phrase that holds a value puts in doubt what was stored.
    pub(super) fn with(
        &self,
        meanings: &Meanings,
        start: u64,
        judged: Judged,
    ) -> (Judged, Option<u64>) {
        // Another kind of phrase, or one that names its place.
        let stands = match meanings.of(&judged.said) {
            Heard::Accepted(said) => {
                !matches!(said.meaning, Meaning::Reading { part: None, .. })
                    || !said.place.is_empty()
            }
            _ => false,
        };
        let sure = judged.certainty == Certainty::Sure;
        if stands && sure || start.saturating_sub(self.end) > SOON {
            return (judged, None);
        }
        let sheet = meanings.grammar.cheat_sheet();
        let word = sheet.get(&Means::Correction).and_then(|(e, _)| e.first());
        let free = judged.evidence.free.first();
        let (Some(word), Some(free)) = (word, free) else {
            return (judged, None);
        };
        // What was said before may itself begin with a word of correction.
        let wholes = [
            format!("{word} {} {free}", self.said),
            format!("{} {free}", self.said),
        ];
        let is_reading = |text: &String| matches!(meanings.of(text), Heard::Accepted(said) if matches!(said.meaning, Meaning::Reading { .. } | Meaning::Spare { .. }));
        if let Some(said) = wholes.into_iter().find(is_reading) {
            let certainty = Certainty::Unsure;
            let whole = Judged {
                said,
                certainty,
                ..judged
            };
            return (whole, Some(self.event));
        }
        let doubt = meanings.of(&judged.said) == Heard::Nothing && holds_a_value(meanings, free);
        let event = doubt.then_some(self.event);
        (judged, event)
    }
}

/// Two words and more, one of which alone would be a value.
fn holds_a_value(meanings: &Meanings, text: &str) -> bool {
    let words = meanings.grammar.words_of(text);
    let is_value = |word: &String| match meanings.of(word) {
        Heard::Accepted(said) => matches!(said.meaning, Meaning::Reading { .. }),
        Heard::Ambiguous(_) | Heard::Refused(_) => true,
        Heard::Nothing => false,
    };
    words.len() > 1 && words.iter().any(is_value)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::app::{assets, job::Job};
    use crate::measure::LengthUnit;

    /// What is made of `rest`, begun `after_ms` after the end of `first`, and whether that doubts it.
    fn heard(first: &str, rest: &str, sure: bool, after_ms: u64) -> (String, Certainty, bool) {
        let mut job =
            Job::unkept(assets::english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
        let event = job.say(first).unwrap().event;
        let scope = job.desk.scope(&job.state);
        let meanings = job.meanings(&scope);
        let mut judged = Judged {
            said: rest.to_owned(),
            certainty: if sure {
                Certainty::Sure
            } else {
                Certainty::Noise
            },
            confidence: 0.5,
            passes: Vec::new(),
            evidence: Default::default(),
        };
        judged.evidence.free = vec![rest.to_owned()];
        let mut doubted = None;
        if let Some(before) = Before::of(&event, 16_000) {
            (judged, doubted) = before.with(&meanings, 16_000 + after_ms * 16, judged);
        }
        assert!(doubted.is_none_or(|id| id == event.id));
        (judged.said, judged.certainty, doubted.is_some())
    }

    #[test]
    fn the_rest_of_a_number_is_asked_with_its_beginning() {
        let half = "journal eleven a hundred and two";
        let rest = "comma seven micron";
        let whole = format!("correction {half} {rest}");
        assert_eq!(
            heard(half, rest, false, 256),
            (whole.clone(), Certainty::Unsure, true)
        );
        // Clearly heard, and a value without a place.
        assert_eq!(
            heard(half, rest, true, 256),
            (whole, Certainty::Unsure, true)
        );
        // Too late, and nothing was stored before.
        assert_eq!(heard(half, rest, false, 1_500).1, Certainty::Noise);
        assert_eq!(heard("what's next", rest, false, 256).1, Certainty::Noise);
        // A phrase of its own, and words that belong to none.
        let other = "two exhaust left fifteen";
        assert_eq!(heard(half, other, true, 256).0, other);
        let talk = heard(half, "pass me that", false, 256);
        assert_eq!((talk.1, talk.2), (Certainty::Noise, false));
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
}
