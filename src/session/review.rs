//! A review: an earlier utterance confirmed, put right or rejected, as a new event.

use super::{Hearing, Interpretations, Interpreter, JobSetup, State, doubt};
use crate::event::{Event, Fact, Outcome};

/// What a person makes of an earlier utterance.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Review {
    /// It was understood rightly; what it asked is affirmed.
    Confirm,
    /// This is what was said.
    Correct(String),
    /// Nothing was meant for the tool, or it must not count.
    Reject,
}

/// Why a review cannot be.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum ReviewError {
    /// No such event.
    #[error("the job has no event {0}")]
    NoEvent(u64),
    /// The beginning of the job, or itself a review.
    #[error("event {0} is not an utterance; review the utterance itself")]
    NoUtterance(u64),
    /// The text given is not a whole phrase.
    #[error(
        "\"{text}\" cannot be taken: {why}. Type a whole phrase, with cylinder, side and valve, or reject the utterance"
    )]
    NotAPhrase {
        /// As typed.
        text: String,
        /// Why.
        why: String,
    },
}

/// The event that a review of event `id` adds.
///
/// # Errors
/// [`ReviewError`]; then nothing changes.
pub fn review(
    setup: &JobSetup,
    state: &State,
    id: u64,
    review: &Review,
    at_ms: i64,
) -> Result<Event, ReviewError> {
    let events = state.events();
    let place = events.iter().position(|e| e.id == id);
    let place = place.ok_or(ReviewError::NoEvent(id))?;
    let (before, target) = (&events[..place], &events[place]);
    let utterance = |f: &Fact| {
        !matches!(
            f,
            Fact::Begun { .. } | Fact::Reviewed { .. } | Fact::Forgot { .. }
        )
    };
    if !target.facts.iter().all(utterance) {
        return Err(ReviewError::NoUtterance(id));
    }
    let (word, truth, facts) = match review {
        Review::Confirm if target.outcome == Outcome::Ignored => {
            ("confirmed", String::new(), Vec::new())
        }
        Review::Confirm => {
            let facts = confirmed(events, place);
            ("confirmed", target.said.clone(), facts)
        }
        Review::Reject => ("rejected", String::new(), Vec::new()),
        Review::Correct(text) => {
            let facts = typed(setup, before, text, target.at_ms)?;
            let truth = setup.grammar.words_of(text).join(" ");
            ("put right", truth, facts)
        }
    };
    let waits = |e: &Event| e.facts.iter().any(|f| matches!(f, Fact::Asked(_)));
    let asked_last = events.iter().rfind(|e| waits(e)).map(|e| e.id);
    let close = state.question.is_some() && asked_last == Some(id);
    let reviewed = Fact::Reviewed {
        event: id,
        truth: truth.clone(),
        facts,
    };
    Ok(Event {
        id: state.next_id(),
        at_ms,
        said: truth,
        outcome: Outcome::Stored,
        why: format!("review: event {id} {word}"),
        spoken: String::new(),
        command: Some("review".to_owned()),
        subject: target.subject,
        confidence: 1.0,
        rival: None,
        sound: None,
        grammar: setup.grammar.hash.clone(),
        facts: [reviewed]
            .into_iter()
            .chain(close.then_some(Fact::Closed))
            .collect(),
    })
}

/// What a confirmed event adds: its own facts, and what it asked where nobody answered.
fn confirmed(events: &[Event], place: usize) -> Vec<Fact> {
    let target = &events[place];
    let mut facts: Vec<Fact> = target.facts.iter().filter(|f| adds(f)).cloned().collect();
    let question = target.facts.iter().find_map(|f| match f {
        Fact::Asked(question) => Some(question),
        _ => None,
    });
    let affirmed = |e: &Event| e.command.as_deref() == Some("affirm") && e.facts.iter().any(adds);
    let next = events[place + 1..].iter().find(|e| {
        let closes = |f: &Fact| matches!(f, Fact::Closed | Fact::Asked(_));
        e.facts.iter().any(closes)
    });
    if let Some(question) = question.filter(|_| !next.is_some_and(affirmed)) {
        facts.extend(question.proposed.iter().filter(|f| adds(f)).cloned());
    }
    facts
}

/// What a typed phrase would have added at that place of the session.
fn typed(
    setup: &JobSetup,
    before: &[Event],
    text: &str,
    at_ms: i64,
) -> Result<Vec<Fact>, ReviewError> {
    let mut state = State::fold(setup, before);
    (state.question, state.standing_by) = (None, false);
    let interpretation = Interpreter::new(setup, &state, &Interpretations::default()).of(text);
    let hearing = Hearing::typed(text.to_owned(), interpretation, at_ms);
    let decision = doubt::decide(setup, &state, &hearing);
    let proposed = decision.facts.iter().find_map(|f| match f {
        Fact::Asked(question) => Some(question.proposed.clone()),
        _ => None,
    });
    let facts = match (decision.outcome, proposed) {
        (Outcome::Stored, _) => decision.facts,
        // Whoever types it has seen that it is unusual.
        (Outcome::Asked, Some(proposed)) if !proposed.is_empty() => proposed,
        _ => {
            return Err(ReviewError::NotAPhrase {
                text: text.to_owned(),
                why: decision.why,
            });
        }
    };
    Ok(facts.into_iter().filter(adds).collect())
}

/// Facts that change the record; which valve is open or who listens is the bench's own affair.
const fn adds(fact: &Fact) -> bool {
    !matches!(
        fact,
        Fact::Begun { .. }
            | Fact::Opened(_)
            | Fact::Asked(_)
            | Fact::Closed
            | Fact::StandBy
            | Fact::Listening
            | Fact::Reviewed { .. }
            | Fact::Forgot { .. }
    )
}
