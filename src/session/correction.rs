//! "Correction …": replaces the last reading, or the named one.

use super::decision::ask_place;
use super::place::{self, Placed};
use super::settle::{Force, mended, settle};
use super::{Decision, JobSetup, State, bolts};
use crate::event::{Doubt, Fact, Outcome, Question, Reading};
use crate::grammar::Said;

/// "Correction …": replaces the last reading, or the named one.
pub(super) fn correct(
    setup: &JobSetup,
    state: &State,
    said: &Said,
    reading: Reading,
    unusual: bool,
) -> Decision {
    let position = match place::complete(&setup.profile, &said.place) {
        Placed::At(position) => Some(position),
        Placed::Missing(_) if said.place.is_empty() || said.place.head.is_some() => None,
        Placed::Missing(doubt) => {
            return ask_place(setup, state, doubt, &said.place, Some(reading));
        }
    };
    let named = Reading {
        position,
        ..reading
    };
    // While a question waits, a correction is of what was asked.
    let asked = state.asked_reading().filter(|_| position.is_none());
    let on_head = |old: &Reading| reading.head.is_none_or(|h| old.head == Some(h));
    let asked = asked.filter(|(_, asked)| on_head(asked));
    let asked = asked.filter(|(_, asked)| {
        let stage_unsaid = |p| asked.part.is_some_and(|a| bolts::is_without_stage(a, p));
        reading
            .part
            .is_none_or(|p| asked.part == Some(p) || stage_unsaid(p))
    });
    if let Some((fixes, asked)) = asked {
        let reading = Reading {
            position: asked.position,
            part: asked.part,
            head: asked.head,
            value: mended(asked.value, reading.value),
            ..reading
        };
        let force = Force {
            fixes,
            unusual,
            fresh: false,
        };
        return settle(setup, state, reading, force);
    }
    let last = state
        .counting()
        .last_reading()
        .filter(|_| position.is_none());
    let of_last =
        last.filter(|(_, old)| on_head(old) && reading.part.is_none_or(|p| old.part == Some(p)));
    let earlier = of_last.or_else(|| state.counting().latest_like(&named));
    let Some((id, old)) = earlier else {
        if position.is_some() || reading.part.is_some() {
            let force = Force {
                unusual,
                ..Force::default()
            };
            return instead_of_last(setup, state, named, settle(setup, state, named, force));
        }
        return Decision::new(Outcome::Refused, "there is no reading to correct")
            .say(setup.answer("nothing_to_correct", &[]));
    };
    let reading = Reading {
        position: old.position,
        part: reading.part.or(old.part),
        head: old.head,
        value: mended(old.value, reading.value),
        ..reading
    };
    settle(
        setup,
        state,
        reading,
        Force {
            fixes: Some(id),
            unusual,
            fresh: false,
        },
    )
}

/// "Correction, …" at another valve, straight after the same value: the one before was most likely the
/// wrong valve, so it is asked whether it goes.
fn instead_of_last(setup: &JobSetup, state: &State, named: Reading, stored: Decision) -> Decision {
    let spoken_last = state
        .events()
        .iter()
        .rev()
        .find(|e| e.outcome != Outcome::Ignored);
    let last = state.counting().last_reading().filter(|(id, last)| {
        spoken_last.is_some_and(|e| e.id == *id)
            && last.quantity == named.quantity
            && last.value == named.value
            && (last.position, last.head) != (named.position, named.head)
    });
    let Some((id, last)) = last.filter(|_| stored.outcome == Outcome::Stored) else {
        return stored;
    };
    let last = setup.wording(state).reading(&last);
    let gone = setup.answer("disregarded", &[("reading", &last)]);
    let words = setup.answer("confirm", &[("reading", &gone)]);
    let question = Question::plain(Doubt::Repeated, vec![Fact::Cancelled(id)], words.clone());
    let spoken = format!("{}. {words}", stored.spoken);
    stored.adds([Fact::Asked(Box::new(question))]).say(spoken)
}
