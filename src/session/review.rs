//! A review: an earlier utterance confirmed, put right or rejected, as a new event.

use super::{Hearing, Interpretations, Interpreter, JobSetup, State, doubt};
use crate::event::{Event, Fact, Outcome};
use crate::grammar::Command;
use crate::measure::{NotALine, Quantity, one_line};

/// What a person makes of an earlier utterance.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Review {
    /// It was understood rightly; what it asked stays as it was answered.
    Confirm,
    /// What it asked is stored after all.
    Store,
    /// This is what was said.
    Correct {
        /// As typed.
        text: String,
        /// What the bench would ask about it is answered with yes.
        sure: bool,
    },
    /// Nothing was meant for the tool, or it must not count.
    Reject,
}

/// So long may a correction be; the page says the same.
const LONGEST: usize = 2_000;

/// Why a review cannot be.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum ReviewError {
    /// No such event.
    #[error("the job has no event {0}")]
    NoEvent(u64),
    /// The beginning of the job, or itself a review.
    #[error("event {0} is not an utterance; review the utterance itself")]
    NoUtterance(u64),
    /// It asked for nothing that is still to be stored.
    #[error("event {0} asked for nothing that is still to be stored")]
    NothingAsked(u64),
    /// The bench would ask about the text; the words of its question.
    #[error("{0}")]
    Asks(String),
    /// The text stores nothing, and what was heard is a reading.
    #[error(
        "\"{text}\" stores no reading, and event {id} holds one. Type the reading, or say that the utterance must not count"
    )]
    NoReading {
        /// As typed.
        text: String,
        /// The event.
        id: u64,
    },
    /// The text is more than a line.
    #[error("the correction: {0}")]
    NotALine(#[from] NotALine),
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
            let mut facts = added(target);
            if is_stored_after_all(state, target) {
                facts.extend(proposed(target));
            }
            ("confirmed", target.said.clone(), facts)
        }
        Review::Store => {
            match end_of_question(state, target) {
                None | Some(QuestionEnd::Stored) => return Err(ReviewError::NothingAsked(id)),
                Some(QuestionEnd::Denied | QuestionEnd::Unanswered) => {}
            }
            let facts = added(target).into_iter().chain(proposed(target)).collect();
            ("stored after all", target.said.clone(), facts)
        }
        Review::Reject => ("rejected", String::new(), Vec::new()),
        Review::Correct { text, sure } => {
            one_line(text, LONGEST)?;
            let typed = typed(setup, before, text, target.at_ms)?;
            let facts = in_place_of(target, typed, text, *sure)?;
            let truth = setup.grammar.words_of(text).join(" ");
            ("put right", truth, facts)
        }
    };
    let waits = |e: &Event| e.facts.iter().any(|f| matches!(f, Fact::Asked(_)));
    let asked_last = events.iter().rfind(|e| waits(e)).map(|e| e.id);
    // "Heard rightly" is no answer to the question that waits.
    let answers = *review != Review::Confirm;
    let close = answers && state.question.is_some() && asked_last == Some(id);
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

/// What an event adds of itself.
fn added(event: &Event) -> Vec<Fact> {
    event.facts.iter().filter(|f| adds(f)).cloned().collect()
}

/// What it asked whether to add.
fn proposed(event: &Event) -> Vec<Fact> {
    let questions = event.facts.iter().filter_map(|f| match f {
        Fact::Asked(question) => Some(question),
        _ => None,
    });
    let proposed = questions.flat_map(|q| &q.proposed);
    proposed.filter(|f| adds(f)).cloned().collect()
}

/// How a question ended.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum QuestionEnd {
    /// A yes at the bench stored what it asked, or a review did.
    Stored,
    /// It was denied.
    Denied,
    /// It waits still, or was left behind.
    Unanswered,
}

/// How the question of an event ended; `None` if it asked for nothing that could be stored.
pub(crate) fn end_of_question(state: &State, event: &Event) -> Option<QuestionEnd> {
    if proposed(event).is_empty() {
        return None;
    }
    if is_stored_after_all(state, event) {
        return Some(QuestionEnd::Stored);
    }
    let closes = |e: &&Event| {
        let closes = |f: &Fact| matches!(f, Fact::Closed | Fact::Asked(_));
        e.facts.iter().any(closes)
    };
    let events = state.events();
    let after = events.iter().skip_while(|e| e.id <= event.id).find(closes);
    let command = after.and_then(|e| e.command.as_deref());
    Some(match command.and_then(Command::from_key) {
        Some(Command::Affirm) if after.is_some_and(|e| e.facts.iter().any(adds)) => {
            QuestionEnd::Stored
        }
        Some(Command::Negative | Command::Disregard) => QuestionEnd::Denied,
        _ => QuestionEnd::Unanswered,
    })
}

/// Whether an earlier review stored what it asked.
fn is_stored_after_all(state: &State, event: &Event) -> bool {
    let (counts, asked) = (state.counting().facts_of(event.id), proposed(event));
    !asked.is_empty() && asked.iter().all(|f| counts.contains(f))
}

/// What a typed phrase comes to.
struct Typed {
    facts: Vec<Fact>,
    /// What the bench would ask about it.
    question: Option<String>,
}

/// What stands in the place of an event once the typed phrase does.
fn in_place_of(
    event: &Event,
    typed: Typed,
    text: &str,
    sure: bool,
) -> Result<Vec<Fact>, ReviewError> {
    let quantities = |facts: &[Fact]| -> Vec<Quantity> {
        let reads = facts.iter().filter_map(|f| match f {
            Fact::Read(reading) => Some(reading.quantity),
            _ => None,
        });
        reads.collect()
    };
    let before = quantities(
        &added(event)
            .into_iter()
            .chain(proposed(event))
            .collect::<Vec<_>>(),
    );
    let after = quantities(&typed.facts);
    if !before.is_empty() && after.is_empty() {
        let text = text.to_owned();
        return Err(ReviewError::NoReading { text, id: event.id });
    }
    if sure {
        return Ok(typed.facts);
    }
    if let Some(question) = typed.question {
        return Err(ReviewError::Asks(question));
    }
    match (before.first(), after.first()) {
        (Some(before), Some(after)) if before != after => Err(ReviewError::Asks(format!(
            "a {before} was heard, and this is a {after}"
        ))),
        _ => Ok(typed.facts),
    }
}

/// What a typed phrase would have added at that place of the session.
fn typed(setup: &JobSetup, before: &[Event], text: &str, at_ms: i64) -> Result<Typed, ReviewError> {
    let mut state = State::fold(setup, before);
    (state.question, state.standing_by) = (None, false);
    let interpretation = Interpreter::new(setup, &state, &Interpretations::default()).of(text);
    let hearing = Hearing::typed(text.to_owned(), interpretation, at_ms);
    let decision = doubt::decide(setup, &state, &hearing);
    let proposed = decision.facts.iter().find_map(|f| match f {
        Fact::Asked(question) => Some((question.proposed.clone(), question.words.clone())),
        _ => None,
    });
    let (facts, question) = match (decision.outcome, proposed) {
        (Outcome::Stored, _) => (decision.facts, None),
        (Outcome::Asked, Some((proposed, words))) if !proposed.is_empty() => {
            (proposed, Some(words))
        }
        _ => {
            return Err(ReviewError::NotAPhrase {
                text: text.to_owned(),
                why: decision.why,
            });
        }
    };
    let facts = facts.into_iter().filter(adds).collect();
    Ok(Typed { facts, question })
}

/// Facts that change the record; which valve is open or who listens is the bench's own affair.
const fn adds(fact: &Fact) -> bool {
    !matches!(
        fact,
        Fact::Begun { .. }
            | Fact::Opened(_)
            | Fact::OpenedHead(_)
            | Fact::Asked(_)
            | Fact::Closed
            | Fact::StandBy
            | Fact::Listening
            | Fact::Reviewed { .. }
            | Fact::Forgot { .. }
    )
}
