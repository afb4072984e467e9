//! Never on another valve: what is said while a question waits, after a place that was only begun, and
//! of "that one".
#![allow(clippy::unwrap_used)]

use super::{hear, setup, talk};
use crate::event::{Gap, Side, Value, Valve};
use crate::measure::{LengthUnit::Millimetre, Quantity};
use crate::session::*;

/// The clearance that counts, in micrometres, if it is one value; -1 if it is anything else.
fn single(state: &State, cylinder: u8, side: Side, valve: Valve) -> Option<i64> {
    let valve = Some(valve);
    let position = Position {
        cylinder,
        side,
        valve,
    };
    let latest = state.counting().latest(position, Quantity::Clearance);
    latest.map(|(_, r)| match r.value {
        Value::Gap(Gap::Single(l)) => l.nm() / 1_000,
        _ => -1,
    })
}

/// What is said, and what becomes of it.
fn say(state: &State, said: &str) -> (State, Event) {
    hear(
        &setup("triple", Millimetre),
        state,
        said,
        Acceptance::Accept,
    )
}

fn after(all: &[&str]) -> State {
    let none = State::new(&setup("triple", Millimetre));
    all.iter().fold(none, |state, said| say(&state, said).0)
}

#[test]
fn a_correction_while_a_question_waits_is_of_what_was_asked() {
    for correction in ["no eighteen", "correction eighteen", "make that eighteen"] {
        let state = after(&["one inlet left fifteen", "three inlet right forty eight"]);
        let (state, event) = say(&state, correction);
        assert_eq!(
            event.outcome,
            Outcome::Stored,
            "{correction}: {}",
            event.why
        );
        assert_eq!(
            single(&state, 3, Side::Inlet, Valve::Right),
            Some(180),
            "{correction}"
        );
        assert_eq!(
            single(&state, 1, Side::Inlet, Valve::Left),
            Some(150),
            "{correction}"
        );
    }
}

#[test]
fn a_value_after_no_belongs_to_the_valve_that_was_asked() {
    let state = talk("triple", Millimetre, "
        two inlet left => stored | two inlet left
        three inlet right forty eight => asked | three inlet right, point four eight. outside. confirm
        negative => stored | nothing stored. three inlet right
        eighteen => stored | three inlet right, point one eight, in band
    ");
    assert_eq!(single(&state, 2, Side::Inlet, Valve::Left), None);
    // And so does one that is said instead of an answer.
    let state = after(&[
        "two inlet left",
        "three inlet right forty eight",
        "eighteen",
    ]);
    assert_eq!(single(&state, 3, Side::Inlet, Valve::Right), Some(180));
    assert_eq!(single(&state, 2, Side::Inlet, Valve::Left), None);
}

#[test]
fn a_place_that_was_not_certain_takes_no_value_unasked() {
    let setup = setup("triple", Millimetre);
    let state = after(&["two inlet left"]);
    let unsure = "three inlet right fifteen";
    let (asked, event) = hear(&setup, &state, unsure, Acceptance::Confirm);
    assert_eq!(event.outcome, Outcome::Asked);
    assert_eq!(say(&asked, "sixteen").1.outcome, Outcome::Asked);
    // Denied, neither valve is open.
    let (denied, event) = say(&asked, "no");
    assert_eq!(
        (event.spoken.as_str(), denied.open),
        ("nothing stored", None)
    );
    // At the valve that was open all along, only the value was not certain.
    let (asked, _) = hear(&setup, &state, "fifteen", Acceptance::Confirm);
    let (denied, _) = say(&asked, "no");
    assert_eq!(denied.open, state.open);
}

#[test]
fn a_place_that_was_begun_closes_the_one_before() {
    let value = "fifteen goes eighteen wont";
    for begun in [
        "three exhaust",
        "seven exhaust left",
        "exhaust left",
        "exhaust left between nine",
    ] {
        let state = after(&["two inlet left", begun]);
        assert_eq!(state.open, None, "{begun}");
        let (state, event) = say(&state, value);
        assert_eq!(event.outcome, Outcome::Asked, "{begun}");
        assert!(
            state
                .view
                .bench()
                .valves
                .values()
                .all(|v| v.clearance.is_none())
        );
    }
    // The place is completed, and the value is its.
    let state = after(&["two inlet left", "three exhaust", value, "left"]);
    assert_eq!(single(&state, 3, Side::Exhaust, Valve::Left), Some(-1));
    // In two breaths.
    let state = after(&["three exhaust", "fifteen goes", "eighteen wont", "right"]);
    let gap = state.view.bench().verdict(
        &setup("triple", Millimetre).profile,
        Position {
            cylinder: 3,
            side: Side::Exhaust,
            valve: Some(Valve::Right),
        },
    );
    let interval = gap.1.unwrap();
    assert_eq!(
        (interval.low, interval.high),
        (Some(Length::from_um(150)), Some(Length::from_um(180)))
    );
}

#[test]
fn that_one_is_the_valve_that_was_named_last() {
    let two_right = |s: &State| s.named.unwrap().to_string();
    let state = after(&["one inlet left fifteen", "lapped two exhaust right"]);
    assert_eq!(two_right(&state), "2 exhaust right");
    let (_, event) = say(&state, "mark that one for lapping");
    assert_eq!(event.subject.unwrap().to_string(), "2 exhaust right");
    let state = after(&[
        "one inlet left fifteen",
        "note three exhaust left the collet groove looks worn",
    ]);
    let (_, event) = say(&state, "leave that one");
    assert_eq!(event.subject.unwrap().to_string(), "3 exhaust left");
    // Values still belong to the valve that is open.
    let (_, event) = say(&state, "shim two sixty");
    assert_eq!(event.subject.unwrap().to_string(), "1 inlet left");
}

#[test]
fn the_second_disregard_in_a_row_is_asked() {
    talk(
        "triple",
        Millimetre,
        "
        one inlet left fifteen => stored | one inlet left, point one five, in band
        three inlet right eighteen => stored | three inlet right, point one eight, in band
        two exhaust left twenty => stored | two exhaust left, point two oh, in band
        disregard => stored | two exhaust left, point two oh, disregarded
        disregard => asked | three inlet right, point one eight, disregarded. confirm
        no => stored | three inlet right, point one eight
        two exhaust left twenty => stored | two exhaust left, point two oh, in band
        disregard => stored | two exhaust left, point two oh, disregarded
        disregard => asked | three inlet right, point one eight, disregarded. confirm
        yes => stored | three inlet right, point one eight, disregarded
    ",
    );
}

#[test]
fn a_correction_at_another_valve_asks_whether_the_first_goes() {
    let state = talk("triple", Millimetre, "
        one exhaust left twenty goes twenty two wont => stored | one exhaust left, point two oh not two two, in band
        correction one exhaust right twenty goes twenty two wont => stored | one exhaust right, point two oh not two two, in band. one exhaust left, point two oh not two two, disregarded. confirm
        yes => stored | one exhaust left, point two oh not two two, disregarded
    ");
    assert_eq!(single(&state, 1, Side::Exhaust, Valve::Left), None);
    assert_eq!(single(&state, 1, Side::Exhaust, Valve::Right), Some(-1));
}
