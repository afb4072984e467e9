//! A conversation that is kept nowhere, for the tests of this room.

use super::Conversation;
use crate::engine::{Profile, SHIPPED};
use crate::event::Event;
use crate::grammar::tests::english;
use crate::measure::{LengthUnit, Unit};
use crate::session::{Desk, Hearing, Interpretations, Interpreter, State, step};

pub(crate) struct Bench {
    desk: Desk,
    state: State,
    known: Interpretations,
}

impl Bench {
    /// The invented triple, in millimetres.
    pub(crate) fn triple() -> Self {
        let (_, text) = SHIPPED.iter().find(|(key, _)| *key == "triple").unwrap();
        let profile = Profile::parse(text, "triple").unwrap();
        let desk = Desk {
            grammar: english(),
            blades: profile.blades.clone(),
            profile,
            unit: LengthUnit::Millimetre,
            gauge: Unit::Bar,
            wrench: Unit::NewtonMetre,
        };
        Self {
            state: State::new(&desk),
            desk,
            known: Interpretations::default(),
        }
    }

    pub(crate) fn interpreter(&self) -> Interpreter<'_> {
        Interpreter::new(&self.desk, &self.state, &self.known)
    }

    pub(crate) fn say(&mut self, text: &str) -> Event {
        Conversation::say(self, text).unwrap()
    }
}

impl Conversation for Bench {
    fn interpreter(&self) -> Interpreter<'_> {
        Self::interpreter(self)
    }

    fn take(&mut self, hearing: Hearing, _: Option<&[u8]>) -> anyhow::Result<Event> {
        let event = step(&self.desk, &self.state, hearing);
        self.state.apply(&event);
        self.known.forget();
        Ok(event)
    }
}
