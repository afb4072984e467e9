//! A pause inside a phrase that was taken for its end: what follows at once is heard once more with
//! what it belongs to. Where that leaves a doubt, the whole is asked and what was stored is taken
//! back, so that half a number does not stand.

use super::ear::{Judged, judge};
use super::evidence::Meanings;
use crate::audio::{RATE_HZ, Utterance};
use crate::event::{Event, Fact, Outcome};
use crate::grammar::{Command, Heard, Meaning, Means};
use crate::recognise::Recogniser;
use crate::session::Certainty;
use anyhow::Result;

/// Speech that begins within this time after a reading's end may belong to it: 900 ms;
/// pauses inside numbers were up to 370 ms (DEVELOPERS.md, the ear), a read-back takes longer.
const SOON: u64 = RATE_HZ as u64 * 9 / 10;

/// The utterance before.
pub(super) struct Before {
    event: u64,
    said: String,
    /// Where its speech ended, in samples of the stream.
    end: u64,
    sound: Vec<f32>,
}

impl Before {
    /// `None` where nothing was stored to which words could still belong.
    pub(super) fn of(event: &Event, end: u64, sound: Vec<f32>) -> Option<Self> {
        let read = |f: &Fact| matches!(f, Fact::Read(_) | Fact::Spare { .. });
        let reading = event.outcome == Outcome::Stored && event.facts.iter().any(read);
        reading.then(|| Self {
            event: event.id,
            said: event.said.clone(),
            end,
            sound,
        })
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
        let free = judged.evidence.free.first().filter(|f| !f.is_empty());
        let Some(free) = free else {
            return (judged, None);
        };
        if let Some(said) = as_correction(meanings, &format!("{} {free}", self.said)) {
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

    /// Hears both in one sound: the reading as a correction, and that sound. `None` where this too
    /// leaves a doubt, or is no more than what was stored.
    ///
    /// # Errors
    /// When the recogniser fails.
    pub(super) fn as_one(
        &self,
        ear: &mut dyn Recogniser,
        meanings: &Meanings,
        rest: &Utterance,
    ) -> Result<Option<(Judged, Vec<f32>)>> {
        let both = Utterance {
            samples: [self.sound.as_slice(), &rest.samples].concat(),
            ..rest.clone()
        };
        let judged = judge(ear, meanings, &both)?;
        let sure = judged.certainty == Certainty::Sure
            && meanings.of(&judged.said) != meanings.of(&self.said);
        let said = sure
            .then(|| as_correction(meanings, &judged.said))
            .flatten();
        Ok(said.map(|said| (Judged { said, ..judged }, both.samples)))
    }
}

/// The text as a correction of the reading before; it may already begin with a word of correction.
fn as_correction(meanings: &Meanings, text: &str) -> Option<String> {
    let sheet = meanings.grammar.cheat_sheet();
    let word = sheet
        .get(&Means::Command(Command::Correction))
        .and_then(|(e, _)| e.first())?;
    let is_reading = |text: &String| matches!(meanings.of(text), Heard::Accepted(said) if matches!(said.meaning, Meaning::Reading { .. } | Meaning::Spare { .. }));
    [format!("{word} {text}"), text.to_owned()]
        .into_iter()
        .find(is_reading)
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
    use crate::recognise::Scripted;

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
        if let Some(before) = Before::of(&event, 16_000, Vec::new()) {
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
        // A sound without words.
        assert_eq!(heard(half, "", false, 256).1, Certainty::Noise);
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

    #[test]
    fn both_in_one_sound_are_heard_as_a_correction() {
        let mut job =
            Job::unkept(assets::english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
        let half = "one exhaust right thirty one";
        let event = job.say(half).unwrap().event;
        let scope = job.desk.scope(&job.state);
        let meanings = job.meanings(&scope);
        let before = Before::of(&event, 16_000, vec![0.1; 160]).unwrap();
        let rest = Utterance {
            start_sample: 0,
            padded: 0,
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
            let mut ear = Scripted::of_texts([free, free]).with_score(rival.0, rival.1);
            before.as_one(&mut ear, &meanings, &rest).unwrap()
        };
        let whole = "one exhaust right thirty one goes thirty three wont";
        let near = "one exhaust right thirty one goes thirty two wont";
        let (judged, sound) = as_one(whole, (near, -4.0)).unwrap();
        assert_eq!(judged.said, format!("correction {whole}"));
        assert_eq!((sound.len(), sound[0], sound[239]), (240, 0.1, 0.2));
        assert!(as_one(whole, (near, -1.0)).is_none(), "a near rival");
        assert!(as_one(half, (near, -9.0)).is_none(), "nothing new");
        assert!(as_one("pass me that", (near, -9.0)).is_none());
    }
}
