//! Which cylinder a reading belongs to: said, the only one, or asked.

use super::settle::{Force, outside, settle};
use super::{Decision, JobSetup, State};
use crate::event::{Doubt, Outcome, Part, Question, Reading, Unplaced};

/// The same reading of a cylinder.
pub(super) const fn of(reading: Reading, number: u8) -> Reading {
    let part = Some(Part::Cylinder {
        number,
        wet: false,
        heard: None,
    });
    Reading { part, ..reading }
}

/// "Which cylinder?" A doubt that the value alone does not show would be lost with the answer: then
/// all of it is to be said again.
pub(super) fn ask(setup: &JobSetup, state: &State, reading: Reading, unusual: bool) -> Decision {
    let decision = Decision::new(Outcome::Asked, "which of the cylinders was not said");
    if unusual && !outside(setup, &reading) {
        return decision.say(setup.answer("which_part", &[]));
    }
    let value = setup.wording(state).reading(&reading);
    let words = setup.answer("of_which_cylinder", &[("reading", &value)]);
    let unplaced = Unplaced {
        reading: Some(reading),
        ..Unplaced::default()
    };
    decision.asks(Question::waiting(Doubt::Position, unplaced, words))
}

/// "Three", to that question; anything but a cylinder asks it again.
pub(super) fn answered(
    setup: &JobSetup,
    state: &State,
    reading: Reading,
    number: Option<u8>,
) -> Decision {
    match number {
        Some(number) => settle(setup, state, of(reading, number), Force::default()),
        None => ask(setup, state, reading, false),
    }
}
