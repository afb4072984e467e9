//! Clips that are given up: on request, and ignored talk at the end of a session.

use super::job::Job;
use super::now_ms;
use crate::event::{Event, Fact, Outcome};
use crate::record::Counting;
use anyhow::Result;
use std::collections::BTreeSet;
use std::ops::Range;

/// Whose clips.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Whose {
    /// All.
    All,
    /// Of the utterances of that time, in milliseconds since 1970 UTC.
    Of(Range<i64>),
    /// Of talk that was ignored.
    Ignored,
}

/// The events whose sounds go: those asked for, and others that name the same clip. Ignored talk
/// keeps its clip where an event that was not ignored names it too, or where it was reviewed.
fn chosen(counting: &Counting, whose: &Whose) -> Vec<u64> {
    let events = counting.events();
    let gone: BTreeSet<u64> = events
        .iter()
        .flat_map(|e| &e.facts)
        .filter_map(|fact| match fact {
            Fact::Forgot { events } => Some(events),
            _ => None,
        })
        .flatten()
        .copied()
        .collect();
    let heard = || {
        events
            .iter()
            .filter(|e| !gone.contains(&e.id))
            .filter_map(|e| Some((e, e.sound.as_ref()?.sha256.as_str())))
    };
    let wanted = |e: &Event| match whose {
        Whose::All => true,
        Whose::Of(span) => span.contains(&e.at_ms),
        Whose::Ignored => e.outcome == Outcome::Ignored && !counting.is_reviewed(e.id),
    };
    let mut clips: BTreeSet<&str> = heard()
        .filter(|(e, _)| wanted(e))
        .map(|(_, clip)| clip)
        .collect();
    if *whose == Whose::Ignored {
        for (_, clip) in heard().filter(|(e, _)| !wanted(e)) {
            clips.remove(clip);
        }
    }
    heard()
        .filter(|(_, clip)| clips.contains(clip))
        .map(|(e, _)| e.id)
        .collect()
}

impl Job {
    /// Removes clips, never readings, and says so in the record; how many clips went, and the event that
    /// says so. If there is none, nothing is recorded.
    ///
    /// # Errors
    /// The disk. What the record says is gone and could not be removed goes at the next opening.
    pub fn forget(&mut self, whose: &Whose) -> Result<(usize, Option<Event>)> {
        let events = chosen(self.state.counting(), whose);
        if events.is_empty() {
            return Ok((0, None));
        }
        let what = match whose {
            Whose::All => "all",
            Whose::Of(_) => "of a span of time",
            Whose::Ignored => "talk that was ignored",
        };
        let why = format!(
            "the clips of {} utterances were removed: {what}",
            events.len()
        );
        let event = Event {
            command: Some("forget".to_owned()),
            confidence: 1.0,
            grammar: self.setup.grammar.hash.clone(),
            facts: vec![Fact::Forgot { events }],
            ..Event::unspoken(self.state.next_id(), now_ms(), Outcome::Stored, why)
        };
        let removed = self.store.forget(&event)?;
        self.state.apply(&event);
        Ok((removed, Some(event)))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::app::assets::english;
    use crate::event::Sound;
    use crate::measure::LengthUnit;
    use crate::session::Acceptance;
    use crate::store::{Error, sha256_hex};

    /// Says each phrase with its own sound, a second apart.
    fn job(phrases: &[&str]) -> Job {
        let mut job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
        for (i, phrase) in phrases.iter().enumerate() {
            let mut hearing = job.typed(phrase);
            hearing.at_ms = i64::try_from(i).unwrap() * 1_000;
            if *phrase == "what a din" {
                hearing.acceptance = Acceptance::Reject;
            }
            hearing.sound = Some(Sound {
                sha256: sha256_hex(phrase.as_bytes()),
                length_ms: 1,
                overruns: 0,
                model: String::new(),
            });
            job.take(hearing, Some(phrase.as_bytes())).unwrap();
        }
        job
    }

    fn has(job: &Job, phrase: &str) -> bool {
        match job.store.clip(&sha256_hex(phrase.as_bytes())) {
            Ok(bytes) => bytes == phrase.as_bytes(),
            Err(error) => {
                assert!(matches!(error, Error::ClipForgotten { .. }), "{error}");
                false
            }
        }
    }

    const READING: &str = "three exhaust left fifteen goes eighteen wont";

    #[test]
    fn ignored_talk_goes_and_readings_keep_their_clips() {
        let mut job = job(&[READING, "what a din", READING]);
        assert_eq!(job.state.events()[2].outcome, Outcome::Ignored);
        let before = job.state.events().len();
        assert_eq!(job.forget(&Whose::Ignored).unwrap().0, 1);
        assert!(has(&job, READING) && !has(&job, "what a din"));
        let last = job.state.events().last().unwrap();
        assert_eq!(job.state.events().len(), before + 1);
        assert_eq!(last.facts, [Fact::Forgot { events: vec![3] }]);
        assert_eq!(job.forget(&Whose::Ignored).unwrap().0, 0);
        assert_eq!(job.state.events().len(), before + 1, "nothing, no record");
    }

    #[test]
    fn a_span_of_time_goes_with_its_ends_and_what_shares_a_clip() {
        let mut spoken = job(&["left", "what a din", READING, "left"]);
        assert_eq!(spoken.forget(&Whose::Of(0..2_000)).unwrap().0, 2);
        assert!(!has(&spoken, "left") && !has(&spoken, "what a din"));
        assert!(has(&spoken, READING));
        assert_eq!(spoken.forget(&Whose::All).unwrap().0, 1);
        assert!(!has(&spoken, READING));
        let readings = spoken.state.events().iter().flat_map(|e| &e.facts);
        assert!(readings.into_iter().any(|f| matches!(f, Fact::Read(_))));
    }
}
