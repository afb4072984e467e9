//! The session as the review page shows it.

use super::job::Job;
use crate::event::{Event, Fact, Outcome, Rival};
use crate::measure::LengthUnit;
use crate::report::{fact_words, facts_words};
use crate::session::{QuestionEnd, end_of_question};
use anyhow::Result;
use serde::Serialize;
use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hash, Hasher};

/// When each row was seen to have changed, so that a page gets only those that it does not have yet.
///
/// The numbers go up by one for each view that differs from the last, and begin at the clock: what a page
/// had of a program that ran before is older than everything.
pub(crate) struct Changes {
    now: u64,
    /// Of each row its hash, and the number of the view in which it became so.
    rows: Vec<(u64, u64)>,
}

impl Changes {
    /// Of a session that nobody has seen.
    pub(crate) fn begin(now_ms: i64) -> Self {
        let now = now_ms.unsigned_abs();
        let rows = Vec::new();
        Self { now, rows }
    }

    /// Gives those rows that a page lacks if it has all up to that view. One that has more than there was
    /// (the clock was set back) lacks everything.
    fn since<'a>(&mut self, rows: Vec<Row<'a>>, seen: u64) -> Result<Vec<Row<'a>>> {
        let (next, seen) = (self.now + 1, if seen > self.now { 0 } else { seen });
        let mut lacking = Vec::new();
        // The log only grows: a row keeps its place.
        self.rows.resize(rows.len(), (0, 0));
        for (row, known) in rows.into_iter().zip(&mut self.rows) {
            let mut hasher = DefaultHasher::new();
            serde_json::to_vec(&row)?.hash(&mut hasher);
            let hash = hasher.finish();
            if known.0 != hash {
                *known = (hash, next);
                self.now = next;
            }
            if known.1 > seen {
                lacking.push(row);
            }
        }
        Ok(lacking)
    }
}

/// What another recogniser made of an utterance.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct Other {
    /// Its words.
    pub said: String,
    /// The words are the same.
    pub same_words: bool,
    /// They mean the same, in the state that the job was in.
    pub same_meaning: bool,
}

#[derive(Serialize)]
struct Session<'a> {
    engine: &'a str,
    unit: LengthUnit,
    /// When the job was begun: which job this is.
    begun_ms: i64,
    /// What is wrong with it, if anything is.
    damage: Option<String>,
    /// The other recogniser's name, where there is one.
    other_recogniser: Option<&'a str>,
    /// Which view this is; the next asks for what changed since.
    seen: u64,
    /// Utterances in all.
    count: usize,
    rows: Vec<Row<'a>>,
}

#[derive(Serialize)]
struct Row<'a> {
    id: u64,
    at_ms: i64,
    said: &'a str,
    outcome: Outcome,
    why: &'a str,
    read_back: &'a str,
    command: Option<&'a str>,
    place: String,
    confidence: f32,
    /// What counts of it now.
    counts: String,
    /// What it would have added, had the question been affirmed.
    proposed: String,
    /// What it asked is not stored, and can be.
    may_store: bool,
    /// How the question ended: `denied at the bench`, `not answered`; empty if it was stored, or none
    /// was asked.
    answer: &'static str,
    /// What the recogniser would have heard next.
    #[serde(skip_serializing_if = "Option::is_none")]
    rival: Option<&'a Rival>,
    /// Other meanings that were offered.
    choices: Vec<String>,
    clip: Option<&'a str>,
    length_ms: u32,
    lost: u32,
    /// The event that took it back.
    cancelled_by: Option<u64>,
    /// The event of a later reading of the same valve that counts in its place.
    replaced_by: Option<u64>,
    review: Option<Reviewed<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    other: Option<&'a Other>,
}

#[derive(Clone, Serialize)]
struct Reviewed<'a> {
    event: u64,
    truth: &'a str,
    /// `confirmed`, `rejected`, `put right`.
    how: &'static str,
}

/// The session as JSON, with the rows that changed since the view of that number; with all since 0.
///
/// # Errors
/// None that can be met; serde's type asks for it.
pub(crate) fn session(
    job: &Job,
    other_recogniser: Option<&str>,
    others: &BTreeMap<u64, Other>,
    changes: &mut Changes,
    seen: u64,
) -> Result<String> {
    let (counting, events) = (job.state.counting(), job.state.events());
    let mut takes_back: BTreeMap<u64, u64> = BTreeMap::new();
    for event in events.iter().filter(|e| counting.holds(e.id)) {
        for fact in counting.facts_of(event.id) {
            if let Fact::Cancelled(id) = fact
                && *id < event.id
            {
                takes_back.insert(*id, event.id);
            }
        }
    }
    let mut reviews: BTreeMap<u64, Reviewed<'_>> = BTreeMap::new();
    for event in events {
        for fact in &event.facts {
            if let Fact::Reviewed {
                event: of, truth, ..
            } = fact
            {
                let how = counting
                    .event(*of)
                    .map_or("put right", |e| judged(e, truth));
                let event = event.id;
                reviews.insert(*of, Reviewed { event, truth, how });
            }
        }
    }
    let replaced = replaced(job);
    let utterance = |e: &&Event| {
        let other = |f: &Fact| {
            matches!(
                f,
                Fact::Begun { .. } | Fact::Reviewed { .. } | Fact::Forgot { .. }
            )
        };
        !e.facts.iter().any(other)
    };
    let unit = job.setup.unit;
    let row = |event: &'_ Event| -> (String, String, Vec<String>) {
        let counts = if counting.counts(event.id) {
            facts_words(counting.facts_of(event.id), unit)
        } else {
            String::new()
        };
        let asked = event.facts.iter().find_map(|f| match f {
            Fact::Asked(question) => Some(question),
            _ => None,
        });
        let proposed = asked.map(|q| facts_words(&q.proposed, unit));
        let choices = asked.map(|q| q.choices.iter().map(|f| fact_words(f, unit)).collect());
        (
            counts,
            proposed.unwrap_or_default(),
            choices.unwrap_or_default(),
        )
    };
    let rows = events.iter().filter(utterance).map(|event| {
        let (counts, proposed, choices) = row(event);
        let sound = event.sound.as_ref();
        let end = end_of_question(&job.state, event);
        Row {
            id: event.id,
            at_ms: event.at_ms,
            said: &event.said,
            outcome: event.outcome,
            why: &event.why,
            read_back: &event.spoken,
            command: event.command.as_deref(),
            place: event.subject.map(|p| p.to_string()).unwrap_or_default(),
            confidence: event.confidence,
            counts,
            proposed,
            may_store: end.is_some_and(|end| end != QuestionEnd::Stored),
            answer: match end {
                Some(QuestionEnd::Denied) => "denied at the bench",
                Some(QuestionEnd::Unanswered) => "not answered",
                Some(QuestionEnd::Stored) | None => "",
            },
            rival: event.rival.as_ref(),
            choices,
            clip: sound.map(|s| s.sha256.as_str()),
            length_ms: sound.map_or(0, |s| s.length_ms),
            lost: sound.map_or(0, |s| s.overruns),
            cancelled_by: takes_back.get(&event.id).copied(),
            replaced_by: replaced.get(&event.id).copied(),
            review: reviews.get(&event.id).cloned(),
            other: others.get(&event.id),
        }
    });
    let rows = changes.since(rows.collect(), seen)?;
    Ok(serde_json::to_string(&Session {
        engine: &job.setup.profile.name,
        unit,
        begun_ms: events.first().map_or(0, |e| e.at_ms),
        damage: job.damage_line(),
        other_recogniser,
        seen: changes.now,
        count: changes.rows.len(),
        rows,
    })?)
}

/// Readings in whose place a later one of the same round counts, and that one.
fn replaced(job: &Job) -> BTreeMap<u64, u64> {
    let rows = job.state.view.sheet().rows.iter();
    let replaced = rows.filter_map(|row| {
        let now = row.clearance_event?;
        let kept = |id: &&u64| !row.rounds.iter().any(|r| r.event == **id);
        let earlier = row.earlier_events.iter().filter(kept);
        Some(earlier.map(move |id| (*id, now)).collect::<Vec<_>>())
    });
    replaced.flatten().collect()
}

/// What a review made of an utterance, by what it says was really said.
fn judged(event: &Event, truth: &str) -> &'static str {
    match truth {
        "" if event.outcome == Outcome::Ignored => "confirmed",
        "" => "rejected",
        _ if truth == event.said => "confirmed",
        _ => "put right",
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::app::assets::english;
    use crate::session::{Review, review};
    use serde_json::Value;

    /// How many bytes a page gets, and what.
    fn page(job: &Job, changes: &mut Changes, seen: u64) -> (usize, Value) {
        let text = session(job, None, &BTreeMap::new(), changes, seen).unwrap();
        (text.len(), serde_json::from_str(&text).unwrap())
    }

    /// A page keeps what it has and puts in what it is sent, by the number of the utterance.
    fn put_in(had: &mut BTreeMap<u64, Value>, sent: &Value) {
        for row in sent["rows"].as_array().unwrap() {
            had.insert(row["id"].as_u64().unwrap(), row.clone());
        }
    }

    /// Whatever changes a row, a page that is sent the changes alone shows what a fresh one shows.
    #[test]
    fn changes_alone_come_to_the_whole() {
        let mut job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
        let (mut changes, mut had, mut seen) = (Changes::begin(1_000), BTreeMap::new(), 0);
        let mut look = |job: &Job| {
            let (_, sent) = page(job, &mut changes, seen);
            put_in(&mut had, &sent);
            seen = sent["seen"].as_u64().unwrap();
            let (mut whole, fresh) = (BTreeMap::new(), page(job, &mut Changes::begin(0), 0).1);
            put_in(&mut whole, &fresh);
            assert_eq!(had, whole);
            sent["rows"].as_array().unwrap().len()
        };
        assert_eq!(look(&job), 0);
        // A reading, what takes its place, and what takes that back again.
        let first = job.say("one inlet left fifteen").unwrap().id;
        assert_eq!(look(&job), 1);
        job.say("one inlet left sixteen").unwrap();
        look(&job);
        job.say("affirm").unwrap();
        assert!(look(&job) >= 2);
        job.say("disregard").unwrap();
        assert!(look(&job) >= 2);
        assert_eq!(look(&job), 0);
        for what in [Review::Reject, Review::Confirm] {
            let event = review(&job.setup, &job.state, first, &what, 0).unwrap();
            job.add(&event).unwrap();
            assert!(look(&job) >= 1);
        }
    }

    /// What a page had of a program that ran before, or from before the clock was set back, is not
    /// taken for what it has of this one.
    #[test]
    fn a_page_from_before_gets_everything() {
        let mut job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
        job.say("one inlet left fifteen").unwrap();
        let mut changes = Changes::begin(1_000);
        let mut rows = |seen| {
            page(&job, &mut changes, seen).1["rows"]
                .as_array()
                .unwrap()
                .len()
        };
        assert_eq!(
            (rows(900), rows(1_000), rows(1_001), rows(5_000)),
            (1, 1, 0, 1)
        );
    }

    #[test]
    fn an_edit_sends_its_row_and_not_a_thousand() {
        let mut job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
        let mut id = 0;
        while job.state.events().len() <= 1_000 {
            let cylinder = ["one", "two", "three"][job.state.events().len() % 3];
            id = job
                .say(&format!("{cylinder} inlet left fifteen"))
                .unwrap()
                .id;
        }
        let mut changes = Changes::begin(0);
        let (whole, sent) = page(&job, &mut changes, 0);
        assert!(sent["rows"].as_array().unwrap().len() >= 1_000);
        let event = review(&job.setup, &job.state, id, &Review::Confirm, 0).unwrap();
        job.add(&event).unwrap();
        let (edit, sent) = page(&job, &mut changes, sent["seen"].as_u64().unwrap());
        println!("1 000 utterances: {whole} bytes; after one is confirmed {edit}");
        assert_eq!(sent["rows"].as_array().unwrap().len(), 1);
        assert!(edit < 1_000, "{edit}");
    }

    /// What was made of an utterance follows from what was really said, not from how the event that
    /// says so is worded.
    #[test]
    fn a_review_is_judged_by_what_it_says() {
        let mut job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
        let mut how = |said: &str, what: Review| {
            let id = job.say(said).unwrap().id;
            let mut event = review(&job.setup, &job.state, id, &what, 0).unwrap();
            event.why = "otherwise worded".to_owned();
            job.add(&event).unwrap();
            let page = page(&job, &mut Changes::begin(0), 0).1;
            let row = page["rows"].as_array().unwrap().last().unwrap().clone();
            row["review"]["how"].as_str().unwrap().to_owned()
        };
        let (reading, talk) = ("one inlet left fifteen", "what a din");
        let put_right = |text: &str| Review::Correct {
            text: text.to_owned(),
            sure: true,
        };
        let other = "one inlet left sixteen";
        assert_eq!(how(reading, Review::Confirm), "confirmed");
        assert_eq!(how(talk, Review::Confirm), "confirmed");
        assert_eq!(how(reading, Review::Reject), "rejected");
        assert_eq!(how(reading, put_right(other)), "put right");
        assert_eq!(how(talk, put_right(other)), "put right");
        // What was typed is what was heard.
        assert_eq!(how(reading, put_right(reading)), "confirmed");
    }
}
