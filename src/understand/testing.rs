//! A conversation that is kept nowhere, for the tests of this room.

use super::Conversation;
use crate::engine::{Profile, SHIPPED};
use crate::event::Event;
use crate::grammar::tests::english;
use crate::measure::{LengthUnit, Unit};
use crate::session::{Hearing, Interpretations, Interpreter, JobSetup, State, one_by_one, step};

pub(crate) struct Bench {
    setup: JobSetup,
    state: State,
    known: Interpretations,
}

impl Bench {
    /// The invented triple, in millimetres.
    pub(crate) fn triple() -> Self {
        let (_, text) = SHIPPED.iter().find(|(key, _)| *key == "triple").unwrap();
        let profile = Profile::parse(text, "triple").unwrap();
        let setup = JobSetup {
            grammar: english().into(),
            blades: profile.blades.clone(),
            profile,
            unit: LengthUnit::Millimetre,
            gauge: Unit::Bar,
            wrench: Unit::NewtonMetre,
        };
        Self {
            state: State::new(&setup),
            setup,
            known: Interpretations::default(),
        }
    }

    pub(crate) fn interpreter(&self) -> Interpreter<'_> {
        Interpreter::new(&self.setup, &self.state, &self.known)
    }

    pub(crate) fn say(&mut self, text: &str) -> Event {
        Conversation::say(self, text).unwrap().pop().unwrap()
    }
}

impl Conversation for Bench {
    fn interpreter(&self) -> Interpreter<'_> {
        Self::interpreter(self)
    }

    fn take(&mut self, hearing: Hearing, _: Option<&[u8]>) -> anyhow::Result<Vec<Event>> {
        let mut events = Vec::new();
        for one in one_by_one(&self.setup, &self.state, hearing) {
            let event = step(&self.setup, &self.state, one);
            self.state.apply(&event);
            self.known.forget();
            events.push(event);
        }
        Ok(events)
    }
}
