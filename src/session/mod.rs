//! The conversation: `step(state, hearing) -> event`. Pure; joins grammar and engine.

mod answers;
mod asked;
mod blades;
mod bolts;
mod breath;
mod correction;
mod cylinders;
mod decide;
mod decision;
mod dictation;
mod doubt;
mod errands;
mod heads;
mod help;
mod interpreter;
mod lazy;
mod manner;
mod place;
mod reading;
mod review;
#[cfg(test)]
mod review_tests;
mod settle;
mod several;
mod shims;
mod spares;
mod state;
mod steps;
#[cfg(test)]
mod tests;
mod undo;
mod verdict;

pub use breath::one_by_one;
pub(crate) use help::examples;
pub(crate) use interpreter::means_the_same;
pub use interpreter::{Interpretations, Interpreter};
pub use lazy::LazyGrammar;
pub use manner::Manner;
pub use review::review;
pub(crate) use review::{QuestionEnd, Review, ReviewError, end_of_question};
pub(crate) use shims::asks_whether_changed;
pub use state::State;

use crate::engine::Profile;
use crate::event::{Event, Fact, Outcome, Position, Rival, Sound};
use crate::grammar::Heard;
use crate::measure::{Length, LengthUnit, Unit};

/// What stays the same through a job.
#[derive(Clone, Debug)]
pub struct JobSetup {
    /// The language.
    pub grammar: LazyGrammar,
    /// The engine.
    pub profile: Profile,
    /// The unit of bare numbers.
    pub unit: LengthUnit,
    /// The unit of bare compressions.
    pub gauge: Unit,
    /// The unit of bare torques.
    pub wrench: Unit,
    /// Feeler blades owned, smallest first.
    pub blades: Vec<Length>,
}

/// What the acceptance policy made of an utterance.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Acceptance {
    /// Typed, or heard with a margin: it may be stored.
    Accept,
    /// Likely: ask before it is stored.
    Confirm,
    /// More likely noise than speech for the tool.
    Reject,
}

/// One utterance, as the recogniser gives it.
#[derive(Clone, Debug)]
pub struct Hearing {
    /// The words.
    pub said: String,
    /// What they mean in this state; parsed once, by the [`Interpreter`] of the state.
    pub interpretation: Heard,
    /// Whether it may be stored, must be asked or is not for the tool.
    pub acceptance: Acceptance,
    /// The same as a number, 0–1.
    pub confidence: f32,
    /// The likeliest phrase of another meaning, if one is near, and what it means.
    pub rival: Option<(Rival, Heard)>,
    /// The event before, where the words went on after it in one breath and make no phrase of their
    /// own: what it stored may be half of what was said.
    pub doubted: Option<u64>,
    /// It was begun while the tool's own voice sounded, so its beginning is lost.
    pub overlapped: bool,
    /// Its sound.
    pub sound: Option<Sound>,
    /// When, in milliseconds since 1970 UTC.
    pub at_ms: i64,
}

impl Hearing {
    /// Words that were typed, or a key's: there is no doubt what was said.
    #[must_use]
    pub const fn typed(said: String, interpretation: Heard, at_ms: i64) -> Self {
        Self {
            said,
            interpretation,
            acceptance: Acceptance::Accept,
            confidence: 1.0,
            rival: None,
            doubted: None,
            overlapped: false,
            sound: None,
            at_ms,
        }
    }
}

/// What was decided about one utterance.
#[derive(Clone, PartialEq, Debug)]
struct Decision {
    outcome: Outcome,
    why: String,
    spoken: String,
    command: Option<String>,
    subject: Option<Position>,
    facts: Vec<Fact>,
}

/// One step of the conversation: the event to store. Only when it is on the disk may it be added to
/// the state and what it has `spoken` be said.
#[must_use]
pub fn step(setup: &JobSetup, state: &State, hearing: Hearing) -> Event {
    let decision = doubt::decide(setup, state, &hearing);
    let words = |text: &str| setup.grammar.words_of(text).join(" ");
    let mut event = Event {
        id: state.next_id(),
        at_ms: hearing.at_ms,
        said: words(&hearing.said),
        outcome: decision.outcome,
        why: decision.why,
        spoken: decision.spoken,
        command: decision.command,
        subject: decision.subject,
        confidence: hearing.confidence,
        rival: hearing.rival.map(|(r, _)| Rival {
            said: words(&r.said),
            ..r
        }),
        sound: hearing.sound,
        grammar: setup.grammar.hash.clone(),
        facts: decision.facts,
    };
    event.spoken = with_hint(setup, state, event.spoken);
    event.spoken = with_left_open(setup, state, &event);
    event
}

/// "Say again" a second time in a row comes with an example that fits.
fn with_hint(setup: &JobSetup, state: &State, spoken: String) -> String {
    let again = setup.answer("not_understood", &[]);
    if spoken.is_empty() || spoken != again || !state.last_spoken.starts_with(&again) {
        return spoken;
    }
    let example = help::example(setup, state);
    let hint = setup.answer("for_example", &[("example", &example)]);
    if hint.is_empty() { spoken } else { hint }
}

/// A question that is left behind is said once: after a statement, before a question.
fn with_left_open(setup: &JobSetup, state: &State, event: &Event) -> String {
    let wording = setup.wording(state);
    let left = state.leaves_behind(event);
    let places: Vec<String> = left.iter().map(|l| l.words(wording)).collect();
    let left = match places.is_empty() {
        true => String::new(),
        false => setup.answer("left_open", &[("place", &places.join(", "))]),
    };
    let order = match event.outcome {
        Outcome::Asked | Outcome::Refused => [left, event.spoken.clone()],
        _ => [event.spoken.clone(), left],
    };
    let said: Vec<String> = order.into_iter().filter(|s| !s.is_empty()).collect();
    said.join(". ")
}
