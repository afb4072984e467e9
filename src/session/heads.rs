//! Which head a reading belongs to, on an engine that has several: said, or asked, never guessed.

use super::state::LeftOpen;
use super::{Decision, JobSetup, State};
use crate::event::{Doubt, Fact, Head, Outcome, Question, Reading, Unplaced};
use crate::grammar::Wording;

/// Whether a reading still lacks its head.
pub(super) fn lacks(setup: &JobSetup, reading: &Reading) -> bool {
    !setup.profile.heads.is_empty() && reading.quantity.is_of_a_head() && reading.head.is_none()
}

/// A reading with its head: the one that was said with it, or else the one that was named alone.
pub(super) fn complete(setup: &JobSetup, state: &State, reading: Reading) -> Reading {
    let head = state.head.filter(|_| lacks(setup, &reading));
    Reading {
        head: reading.head.or(head),
        ..reading
    }
}

/// "Front or rear?" A doubt that the value alone does not show would be lost with the answer: then
/// all of it is to be said again.
pub(super) fn ask(setup: &JobSetup, state: &State, reading: Reading, in_doubt: bool) -> Decision {
    let wording = setup.wording(state);
    let choices = choices(setup, wording);
    let words = match in_doubt {
        true => setup.answer("not_understood", &[]),
        false => setup.answer(
            "which_head",
            &[
                ("reading", &wording.reading(&reading)),
                ("choices", &choices),
            ],
        ),
    };
    let decision = Decision::new(Outcome::Asked, "which of the heads was not said");
    if in_doubt {
        return decision.say(words);
    }
    let unplaced = Unplaced {
        reading: Some(reading),
        ..Unplaced::default()
    };
    decision.asks(Question::waiting(Doubt::Position, unplaced, words))
}

/// "Front or rear": every head of the engine.
fn choices(setup: &JobSetup, wording: &Wording) -> String {
    let heads = setup.profile.head_names().into_iter();
    let heads: Vec<String> = heads.map(|h| wording.head(h)).collect();
    heads.join(&format!(" {} ", wording.or))
}

/// "Gasket new. Front or rear?" Something was looked at that each head has.
pub(super) fn ask_of_looks(setup: &JobSetup, state: &State, facts: Vec<Fact>) -> Decision {
    let wording = setup.wording(state);
    let looked = wording.facts(&facts);
    let values = [
        ("reading", looked.as_str()),
        ("choices", &choices(setup, wording)),
    ];
    let words = setup.answer("which_head", &values);
    let mut question = Question::waiting(Doubt::Position, Unplaced::default(), words);
    question.proposed = facts;
    Decision::new(Outcome::Asked, "on which of the heads was not said").asks(question)
}

impl LeftOpen {
    /// What it is about, in words.
    pub(crate) fn words(&self, wording: &Wording) -> String {
        match self {
            Self::Valve(position) => wording.place(*position),
            Self::OfAPart(fact) => wording.fact(fact),
        }
    }
}

/// "Rear head": what is called of a head from now on belongs to it.
pub(super) fn opened(setup: &JobSetup, state: &State, head: Head) -> Decision {
    let fact = Fact::OpenedHead(head);
    Decision::new(
        Outcome::Stored,
        "what is called of a head belongs to it until another, or a valve of another, is named",
    )
    .say(setup.wording(state).fact(&fact))
    .adds([fact])
}
