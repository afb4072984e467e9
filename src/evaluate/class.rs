//! How a clip with known words came out: as meant, asked, missed, or stored as something else.

use crate::event::{Event, Fact, Outcome};
use serde::Serialize;

/// How a clip came out.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Class {
    /// As `say` takes the words.
    Exact,
    /// Asked.
    Asked,
    /// Refused.
    Refused,
    /// Nothing stored and nothing said.
    Ignored,
    /// A note with other words; its clip is kept.
    NoteDiffers,
    /// Stored, but as something else.
    SilentlyWrong,
    /// Stored where nothing was said to the tool.
    FalseStored,
}

/// What the events that were heard make of what was meant; `None` where nothing was said to the tool.
#[must_use]
pub(super) fn classify(expected: Option<&Event>, heard: &[&Event]) -> Class {
    // What was taken back at once, since the words went on, does not stand.
    let taken_back = |id: u64| {
        let mut facts = heard.iter().flat_map(|e| &e.facts);
        facts.any(|f| *f == Fact::Cancelled(id))
    };
    let heard_here =
        |f: &Fact| matches!(f, Fact::Cancelled(id) if heard.iter().any(|e| e.id == *id));
    let stored: Vec<&Event> = heard
        .iter()
        .copied()
        .filter(|e| e.outcome == Outcome::Stored && !e.facts.is_empty() && !taken_back(e.id))
        .collect();
    let Some(expected) = expected else {
        return match stored.is_empty() {
            true => rest(heard),
            false => Class::FalseStored,
        };
    };
    let free = words(expected);
    if free.is_some() && !stored.is_empty() && stored.iter().all(|e| words(e).is_some()) {
        let kept = stored.iter().any(|e| words(e) == free);
        return if kept && stored.len() == 1 {
            Class::Exact
        } else {
            Class::NoteDiffers
        };
    }
    let all = stored.iter().flat_map(|e| deeds(e));
    let done: Vec<Fact> = all.filter(|f| !heard_here(f)).collect();
    let wanted = match expected.outcome {
        Outcome::Stored => deeds(expected),
        _ => Vec::new(),
    };
    // A valve that a pause opened on the way to the same reading is no other meaning; and where the
    // value is then missing, nothing wrong was stored.
    let opens = |f: &&Fact| matches!(f, Fact::Opened(_));
    let core =
        |facts: &[Fact]| -> Vec<Fact> { facts.iter().filter(|f| !opens(f)).cloned().collect() };
    let same = match core(&wanted).is_empty() {
        true => done == wanted,
        false => core(&done) == core(&wanted),
    };
    let only_opened = core(&done).is_empty() && done.iter().all(|f| wanted.contains(f));
    if !stored.is_empty() && !same && !only_opened {
        return Class::SilentlyWrong;
    }
    let same_command = heard.iter().any(|e| {
        e.command == expected.command
            && e.outcome == expected.outcome
            && e.subject == expected.subject
    });
    let meant = match expected.outcome {
        Outcome::Stored if expected.facts.is_empty() => same_command,
        Outcome::Stored => same && !stored.is_empty(),
        outcome => {
            let as_meant = |e: &&Event| e.outcome == outcome && e.subject == expected.subject;
            heard.iter().any(as_meant)
                || (outcome == Outcome::Ignored && rest(heard) == Class::Ignored)
        }
    };
    if meant { Class::Exact } else { rest(heard) }
}

/// What an event does to a job, without free words.
fn deeds(event: &Event) -> Vec<Fact> {
    event
        .facts
        .iter()
        .filter(|f| {
            !matches!(
                f,
                Fact::Asked(_) | Fact::Closed | Fact::Note { .. } | Fact::Task { .. }
            )
        })
        .cloned()
        .collect()
}

/// The free words of a note or of something to do.
fn words(event: &Event) -> Option<&str> {
    event.facts.iter().find_map(|f| match f {
        Fact::Note { text, .. } | Fact::Task { text, .. } => Some(text.as_str()),
        _ => None,
    })
}

fn rest(events: &[&Event]) -> Class {
    let any = |outcome| events.iter().any(|e| e.outcome == outcome);
    match () {
        () if any(Outcome::Asked) => Class::Asked,
        () if any(Outcome::Refused) => Class::Refused,
        () => Class::Ignored,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::session::{Acceptance, Hearing};
    use crate::understand::Conversation;
    use crate::understand::testing::Bench;

    /// What came of `heard`, said one after the other ("… " goes on from the one before), where
    /// `meant` was said.
    fn class(meant: &str, heard: &[&str]) -> Class {
        let expected = (!meant.is_empty()).then(|| Bench::triple().say(meant));
        let mut job = Bench::triple();
        let mut events: Vec<Event> = Vec::new();
        for text in heard {
            let words = text.trim_start_matches("… ");
            let interpretation = job.interpreter().of(words);
            let mut hearing = Hearing::typed(words.to_owned(), interpretation, 0);
            if text.starts_with('…') {
                hearing.acceptance = Acceptance::Confirm;
                hearing.doubted = events.last().map(|e| e.id);
            }
            events.extend(job.take(hearing, None).unwrap());
        }
        classify(expected.as_ref(), &events.iter().collect::<Vec<_>>())
    }

    #[test]
    fn clips_come_out_as_they_are_meant_or_not() {
        let cases: &[(&str, &[&str], Class)] = &[
            (
                "three exhaust left fifteen",
                &["three exhaust left fifteen"],
                Class::Exact,
            ),
            (
                "three exhaust left fifteen",
                &["three exhaust left", "fifteen"],
                Class::Exact,
            ),
            (
                "three exhaust left fifteen",
                &["three exhaust left sixteen"],
                Class::SilentlyWrong,
            ),
            (
                "three exhaust left fifteen",
                &["two exhaust left fifteen"],
                Class::SilentlyWrong,
            ),
            // The value is missing: the person is told the valve only.
            (
                "three exhaust left fifteen",
                &["three exhaust left"],
                Class::Ignored,
            ),
            (
                "three exhaust left fifteen",
                &["two exhaust left"],
                Class::SilentlyWrong,
            ),
            (
                "three exhaust left fifteen",
                &["three exhaust left eighty"],
                Class::Asked,
            ),
            (
                "three exhaust left fifteen",
                &["pass me the kettle"],
                Class::Ignored,
            ),
            (
                "note the seat is pitted",
                &["note the seat is fitted"],
                Class::NoteDiffers,
            ),
            (
                "note the seat is pitted",
                &["note the seat is pitted"],
                Class::Exact,
            ),
            (
                "remind me two stem seals",
                &["remind me two stem seal"],
                Class::NoteDiffers,
            ),
            (
                "remind me two stem seals",
                &["three exhaust left fifteen"],
                Class::SilentlyWrong,
            ),
            // The words went on: as the correction that was meant, and as no phrase.
            (
                "three exhaust left between fifteen and eighteen",
                &[
                    "three exhaust left fifteen",
                    "… correction three exhaust left between fifteen and eighteen",
                ],
                Class::Asked,
            ),
            (
                "three exhaust left fifteen goes eighteen wont",
                &["three exhaust left fifteen", "… wont stop eighteen"],
                Class::Asked,
            ),
            (
                "three exhaust left fifteen goes eighteen wont",
                &[
                    "three exhaust left fifteen",
                    "correction three exhaust left fifteen goes eighteen wont",
                ],
                Class::Exact,
            ),
            ("stand by", &["stand by"], Class::Exact),
            ("stand by", &["listen"], Class::SilentlyWrong),
            ("", &["pass me the kettle"], Class::Ignored),
            ("", &["three exhaust left fifteen"], Class::FalseStored),
        ];
        for (meant, heard, wanted) in cases {
            assert_eq!(class(meant, heard), *wanted, "{meant}: {heard:?}");
        }
    }
}
