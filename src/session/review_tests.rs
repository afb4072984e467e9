//! Tests of reviews: what they add, and that they count in the place of the utterance.
#![allow(clippy::unwrap_used)]

use super::tests::{hear, setup};
use super::*;
use crate::event::{Gap, Side, Value, Valve};
use crate::measure::Quantity;

fn said(lines: &[&str]) -> (JobSetup, State) {
    let setup = setup("triple", LengthUnit::Millimetre);
    let mut state = State::new(&setup);
    for line in lines {
        state = hear(&setup, &state, line, Acceptance::Accept).0;
    }
    (setup, state)
}

fn reviewed(setup: &JobSetup, state: &State, id: u64, what: Review) -> State {
    let event = review(setup, state, id, &what, 7).unwrap();
    let mut next = state.clone();
    next.apply(&event);
    let folded = State::fold(setup, next.events());
    assert_eq!(folded.question, next.question);
    assert_eq!(
        folded.counting().last_reading(),
        next.counting().last_reading()
    );
    next
}

fn put_right(text: &str) -> Review {
    let (text, sure) = (text.to_owned(), false);
    Review::Correct { text, sure }
}

fn at(side: Side, valve: Valve) -> Position {
    Position {
        cylinder: 1,
        side,
        valve: Some(valve),
    }
}

fn clearance(state: &State, position: Position) -> Option<Value> {
    state
        .counting()
        .latest(position, Quantity::Clearance)
        .map(|(_, r)| r.value)
}

const fn single(um: i64) -> Option<Value> {
    Some(Value::Gap(Gap::Single(Length::from_um(um))))
}

#[test]
fn a_correction_counts_in_the_place_of_what_was_heard() {
    let left = at(Side::Inlet, Valve::Left);
    let (setup, state) = said(&[
        "one inlet left shim two sixty-five",
        "one inlet left point one five",
        "one inlet left shim two seventy-five",
        "changed",
        "one inlet left point one three",
    ]);
    let bench = |s: &State| s.view.bench().clone();
    assert_eq!(clearance(&state, left), single(130));
    let next = reviewed(&setup, &state, 2, put_right("one inlet left point two"));
    // The later reading, taken with another shim, still is the one that counts …
    assert_eq!(clearance(&next, left), single(130));
    let (before, after) = (&bench(&state).valves[&left], &bench(&next).valves[&left]);
    assert_eq!(before.clearance, after.clearance);
    // … and what it is compared with has changed.
    assert_eq!(
        after.before.unwrap().interval.low,
        Some(Length::from_um(200))
    );
    assert_eq!(
        next.events().last().unwrap().said,
        "one inlet left point two"
    );
}

#[test]
fn a_rejected_reading_is_gone_and_a_rejected_disregard_brings_back() {
    let left = at(Side::Inlet, Valve::Left);
    let (setup, state) = said(&["one inlet left point one five", "disregard"]);
    assert_eq!(clearance(&state, left), None);
    let back = reviewed(&setup, &state, 2, Review::Reject);
    assert_eq!(clearance(&back, left), single(150));
    let gone = reviewed(&setup, &back, 1, Review::Reject);
    assert_eq!(clearance(&gone, left), None);
    // The last review of an utterance holds.
    let again = reviewed(&setup, &gone, 1, Review::Confirm);
    assert_eq!(clearance(&again, left), single(150));
}

#[test]
fn heard_rightly_and_store_it_are_two_things() {
    let right = at(Side::Exhaust, Valve::Right);
    let (setup, state) = said(&["one exhaust right point four eight"]);
    // Heard rightly: the question goes on waiting, and nothing is stored.
    let heard = reviewed(&setup, &state, 1, Review::Confirm);
    assert_eq!(clearance(&heard, right), None);
    assert!(heard.question.is_some());
    let stored = reviewed(&setup, &heard, 1, Review::Store);
    assert_eq!(clearance(&stored, right), single(480));
    assert!(stored.question.is_none());
    // Heard rightly, said of what was stored after all, takes nothing back.
    let again = reviewed(&setup, &stored, 1, Review::Confirm);
    assert_eq!(clearance(&again, right), single(480));
    let twice = review(&setup, &again, 1, &Review::Store, 0).unwrap_err();
    assert_eq!(twice, ReviewError::NothingAsked(1));
}

#[test]
fn a_denied_reading_is_not_stored_by_saying_that_it_was_heard_rightly() {
    let right = at(Side::Exhaust, Valve::Right);
    let (setup, state) = said(&["one exhaust right point four eight", "negative"]);
    let heard = reviewed(&setup, &state, 1, Review::Confirm);
    assert_eq!(clearance(&heard, right), None);
    let stored = reviewed(&setup, &heard, 1, Review::Store);
    assert_eq!(clearance(&stored, right), single(480));
}

#[test]
fn what_is_put_right_is_asked_as_at_the_bench() {
    let left = at(Side::Inlet, Valve::Left);
    let (setup, state) = said(&["one inlet left point one five"]);
    let asked = |text: &str| review(&setup, &state, 1, &put_right(text), 0).unwrap_err();
    for text in [
        "one inlet left point nine five",
        "one inlet left shim two sixty",
    ] {
        assert!(
            matches!(asked(text), ReviewError::Asks(_)),
            "{text}: {}",
            asked(text)
        );
        let text = text.to_owned();
        let sure = Review::Correct { text, sure: true };
        assert_ne!(
            clearance(&reviewed(&setup, &state, 1, sure), left),
            single(150)
        );
    }
    // A command is no reading, however sure one is.
    let text = "stand by".to_owned();
    let command = Review::Correct { text, sure: true };
    let refused = review(&setup, &state, 1, &command, 0).unwrap_err();
    assert!(
        matches!(refused, ReviewError::NoReading { .. }),
        "{refused}"
    );
}

#[test]
fn confirming_a_question_that_was_answered_adds_nothing() {
    let right = at(Side::Exhaust, Valve::Right);
    let lines = ["one exhaust right point four eight", "affirm"];
    let (setup, state) = said(&lines);
    let next = reviewed(&setup, &state, 1, Review::Confirm);
    assert_eq!(clearance(&next, right), single(480));
    let gone = reviewed(&setup, &next, 2, Review::Reject);
    assert_eq!(clearance(&gone, right), None);
}

#[test]
fn what_cannot_be_reviewed_says_why() {
    let (setup, state) = said(&["one inlet left point one five"]);
    let refused = |id, what| {
        review(&setup, &state, id, &what, 0)
            .unwrap_err()
            .to_string()
    };
    assert_eq!(refused(9, Review::Confirm), "the job has no event 9");
    let text = refused(1, put_right("mind the dog"));
    assert!(text.contains("no phrase of the bench"), "{text}");
    for odd in [
        "one inlet left \u{1b}[2J fifteen",
        "one inlet left\nfifteen",
    ] {
        let text = refused(1, put_right(odd));
        assert!(
            text.contains("expected one line of 2000 letters at most"),
            "{text}"
        );
    }
    let long = "one inlet left fifteen ".repeat(100);
    let text = refused(1, put_right(&long));
    assert!(text.contains("2300 letters"), "{text}");
    let text = refused(1, put_right("seven inlet left point one"));
    assert!(text.contains("cannot be taken"), "{text}");
    let next = reviewed(&setup, &state, 1, Review::Reject);
    let error = review(&setup, &next, 2, &Review::Confirm, 0).unwrap_err();
    assert_eq!(error, ReviewError::NoUtterance(2));
}

#[test]
fn a_confirmed_check_or_task_goes_on_counting() {
    let (setup, state) = said(&["dowels two", "remind me new cover gasket"]);
    let facts = |state: &State| -> Vec<Fact> {
        let counting = state.counting().all();
        counting.flat_map(|(_, facts)| facts.to_vec()).collect()
    };
    let before = facts(&state);
    assert!(matches!(
        before[..],
        [Fact::Checked { .. }, Fact::Task { .. }]
    ));
    let next = reviewed(&setup, &state, 1, Review::Confirm);
    let next = reviewed(&setup, &next, 2, Review::Confirm);
    let counts = facts(&next);
    assert_eq!(counts[..2], before);
    // Put right, it is the other check that counts.
    let put_right = reviewed(&setup, &next, 1, put_right("plugs in"));
    assert!(matches!(&facts(&put_right)[0], Fact::Checked { .. }));
    assert_ne!(facts(&put_right)[0], before[0]);
}
