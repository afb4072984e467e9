//! What a text means in the conversation's present state: parsed once, asked by every stage.

use super::{JobSetup, State};
use crate::event::Question;
use crate::grammar::{Grammar, Heard, Meaning, Scope};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// The interpretations of one state of the conversation, each parsed once; emptied when it changes.
#[derive(Debug, Default)]
pub struct Interpretations(RefCell<BTreeMap<String, Heard>>);

impl Interpretations {
    /// Forgets all, since the state has changed.
    pub fn forget(&mut self) {
        self.0.get_mut().clear();
    }
}

/// Says what texts mean in one state of the conversation.
pub struct Interpreter<'a> {
    /// The language.
    pub grammar: &'a Grammar,
    /// A question waits for an answer.
    pub answering: bool,
    /// A long note is open: whatever is said is a sentence of it.
    pub dictating: bool,
    scope: Scope,
    begun: Option<&'a str>,
    known: &'a Interpretations,
}

impl<'a> Interpreter<'a> {
    /// In the present state; `known` holds what was parsed in it before.
    #[must_use]
    pub fn new(setup: &'a JobSetup, state: &'a State, known: &'a Interpretations) -> Self {
        Self {
            grammar: &setup.grammar,
            answering: state.question.as_ref().is_some_and(expects_a_word),
            dictating: state.dictating_since_ms.is_some(),
            scope: setup.scope(state),
            begun: state.begun(),
            known,
        }
    }

    /// What a text means.
    #[must_use]
    pub fn of(&self, text: &str) -> Heard {
        if let Some(known) = self.known.0.borrow().get(text) {
            return known.clone();
        }
        let heard = self.grammar.parse_after(self.begun, text, &self.scope);
        let mut known = self.known.0.borrow_mut();
        known.insert(text.to_owned(), heard.clone());
        heard
    }

    /// Whether a text that is not a phrase says something of a valve, if other words are passed over.
    #[must_use]
    pub fn has_gist(&self, text: &str) -> bool {
        self.grammar.gist(text, &self.scope).is_some()
    }

    /// Whether two texts mean the same.
    #[must_use]
    pub fn same(&self, one: &str, other: &str) -> bool {
        means_the_same(&self.of(one), &self.of(other))
    }
}

/// Whether a single word or figure is a likely answer: not if the whole place is awaited again.
fn expects_a_word(question: &Question) -> bool {
    question.unplaced.is_none_or(|u| {
        u.cylinder.is_some() || u.side.is_some() || u.valve.is_some() || u.reading.is_some()
    })
}

/// Whether two interpretations are the same; the words of a note do not matter.
#[must_use]
pub(crate) fn means_the_same(one: &Heard, other: &Heard) -> bool {
    let (Heard::Accepted(a), Heard::Accepted(b)) = (one, other) else {
        return one == other;
    };
    a.place == b.place
        && match (&a.meaning, &b.meaning) {
            (Meaning::Note(_), Meaning::Note(_)) | (Meaning::Tick(_), Meaning::Tick(_)) => true,
            (Meaning::Task { kind: a, .. }, Meaning::Task { kind: b, .. }) => a == b,
            (a, b) => a == b,
        }
}
