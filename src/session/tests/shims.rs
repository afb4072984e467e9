//! What remains to be measured, and which shim goes where: by voice, on the sheet and in the plan.
#![allow(clippy::unwrap_used)]

use super::{hear, setup};
use crate::engine::Verdict;
use crate::event::{Gap, Reading, Source, Value};
use crate::grammar::Dice;
use crate::measure::{LengthUnit::Millimetre, Quantity};
use crate::session::*;

/// What is answered; nothing is stored.
fn asked(setup: &JobSetup, state: &State, said: &str) -> Event {
    hear(setup, state, said, Acceptance::Accept).1
}

#[test]
fn a_valve_with_another_shim_is_to_be_measured_again() {
    let setup = setup("triple", Millimetre);
    let mut state = State::new(&setup);
    let say = |state: &mut State, said: &str| {
        let (next, event) = hear(&setup, state, said, Acceptance::Accept);
        *state = next;
        event
    };
    let place = |p: Position| setup.grammar.wording.place(p);
    for valve in setup.profile.valves() {
        say(&mut state, &format!("{} shim two seventy", place(valve)));
        let event = say(&mut state, "fifteen goes eighteen wont");
        assert_eq!(event.outcome, Outcome::Stored);
    }
    assert_eq!(
        asked(&setup, &state, "how many left").spoken,
        "all measured"
    );
    assert_eq!(asked(&setup, &state, "whats next").spoken, "all measured");
    say(&mut state, "two exhaust left shim two eighty");
    let event = say(&mut state, "changed");
    let fitted = event.subject.unwrap();
    assert_eq!(
        asked(&setup, &state, "how many left").spoken,
        "one to measure, two exhaust left"
    );
    let next = asked(&setup, &state, "whats next");
    assert_eq!(next.subject, Some(fitted), "though it is open");
    let stop = state.view.stop_of(fitted).unwrap();
    let degrees = u32::try_from(stop.crank_mdeg / 1_000).unwrap();
    let degrees = setup.grammar.wording.whole(degrees);
    let turn = asked(&setup, &state, "where do i turn");
    assert_eq!(turn.subject, Some(fitted));
    let says = format!("turn to {degrees} degrees");
    assert!(turn.spoken.starts_with(&says), "{}", turn.spoken);
    let rest = asked(&setup, &state, "the rest are fifteen");
    assert!(rest.spoken.starts_with(&place(fitted)), "{}", rest.spoken);
}

/// Where a fitted shim came from stays with it: the plan's word, while it is followed.
#[test]
fn a_fitted_shim_says_where_it_came_from() {
    let setup = setup("triple", Millimetre);
    let mut state = State::new(&setup);
    let mut say = |said: &str| {
        let (next, event) = hear(&setup, &state, said, Acceptance::Accept);
        state = next;
        event
    };
    let source = |event: &Event| {
        event.facts.iter().find_map(|f| match f {
            Fact::ShimFrom { source, .. } => Some(*source),
            _ => None,
        })
    };
    // Tight, and nothing lies in the box: 2.70 + 0.09 - 0.16 is 2.63.
    say("one inlet left shim two seventy");
    say("eight goes ten wont");
    say("one inlet left shim two sixty");
    let bought = say("changed");
    assert_eq!(source(&bought), Some(Source::Bought));
    say("two inlet left shim two eighty");
    say("eight goes ten wont");
    // The 2.70 that came out lies in the box.
    say("two inlet left shim two seventy");
    assert_eq!(source(&say("changed")), Some(Source::Box));
    // Read again by micrometer it is the same shim.
    assert_eq!(
        source(&say("two inlet left mikes two six nine eight")),
        None
    );
    let bench = state.view.bench();
    assert_eq!(bench.spares(), [Length::from_um(2_800)]);
    assert_eq!(bench.bought().len(), 1);
}

/// A shim that does not give what it was fitted for is said with what was expected.
#[test]
fn a_reading_that_was_not_expected_says_what_was() {
    let setup = setup("triple", Millimetre);
    let mut state = State::new(&setup);
    let mut say = |said: &str| {
        let (next, event) = hear(&setup, &state, said, Acceptance::Accept);
        state = next;
        event
    };
    say("one inlet left shim two seventy");
    say("eight goes ten wont");
    say("one inlet left shim two sixty");
    say("changed");
    let odd = say("one inlet left ten goes twelve wont");
    assert_eq!(odd.outcome, Outcome::Stored);
    let says = "expected between point one eight and point two oh, in band";
    assert!(odd.spoken.ends_with(says), "{}", odd.spoken);
}

/// A random reading of a valve, or spares. Invented, no source.
fn random(dice: &mut Dice, valves: &[Position]) -> Fact {
    let mut below = |n: usize| i64::try_from(dice.below(n)).unwrap();
    let um = |n: i64| Length::from_um(n * 10);
    let at = usize::try_from(below(valves.len())).unwrap();
    let (goes, size) = (5 + below(40), 230 + 5 * below(12));
    let (quantity, value) = match below(8) {
        0..=2 => {
            let (goes_nm, stops_nm) = (um(goes), um(goes + 1 + below(3)));
            (
                Quantity::Clearance,
                Value::Gap(Gap::Between { goes_nm, stops_nm }),
            )
        }
        3 => (Quantity::Clearance, Value::Gap(Gap::AtLeast(um(goes)))),
        4..=6 => (
            Quantity::ShimFitted,
            Value::Shim {
                marked_nm: Some(um(size)),
                measured_nm: None,
            },
        ),
        _ => {
            return Fact::Spare {
                size_nm: um(size),
                count: u16::try_from(below(3)).unwrap(),
            };
        }
    };
    Fact::Read(Reading {
        position: Some(valves[at]),
        part: None,
        head: None,
        quantity,
        value,
        unit: Millimetre,
    })
}

#[test]
fn no_face_names_another_shim_than_the_plan() {
    let setup = setup("triple", Millimetre);
    let valves = setup.profile.valves();
    let wording = &setup.grammar.wording;
    let mut fitted = 0;
    for seed in 0..24 {
        let mut dice = Dice::new(seed);
        let mut state = State::new(&setup);
        for _ in 0..20 + 8 * usize::try_from(seed).unwrap() {
            let mut event = asked(&setup, &state, "roger");
            event.facts = vec![random(&mut dice, &valves)];
            state.apply(&event);
        }
        let (sheet, plan) = (state.view.sheet(), state.view.plan());
        for row in &sheet.rows {
            let fitting = plan.fittings.iter().find(|f| f.position == row.position);
            assert_eq!(row.fit_nm, fitting.map(|f| f.new_nm), "{seed}");
            assert_eq!(row.expected, fitting.map(|f| f.expected), "{seed}");
            let place = wording.place(row.position);
            let spoken = asked(&setup, &state, &format!("which shim {place}")).spoken;
            let stays = plan.untouched.iter().any(|u| u.position == row.position);
            match row.fit_nm {
                Some(size) => {
                    let fit = format!("{place}, fit {}", wording.length(size, Millimetre));
                    assert_eq!(spoken, fit, "{seed}");
                }
                None if stays => assert_eq!(spoken, format!("{place}, leave"), "{seed}"),
                None => assert!(
                    !spoken.contains("fit") && !spoken.contains("leave"),
                    "{spoken}"
                ),
            }
            let unmeasured = row.verdict == Verdict::Unmeasured;
            assert_eq!(
                spoken.ends_with("not measured"),
                unmeasured && row.fit_nm.is_none() && !stays
            );
            fitted += usize::from(fitting.is_some());
        }
    }
    assert!(fitted > 50, "{fitted}");
}

/// "Two seventy" whose end was lost is "two seventeen": a size that the series lacks is asked if it
/// sounds like one that it has. What a micrometer says is not marked on anything.
#[test]
fn a_size_that_sounds_like_another_is_asked() {
    super::talk(
        "triple",
        Millimetre,
        "
        spare shim two seventeen => asked | spare shim two point one seven. confirm
        no => stored | nothing stored
        spare shim two seventy => stored | spare shim two point seven oh
        two inlet left shim two seventeen => asked | two inlet left, shim two point one seven. confirm
        no => stored | nothing stored. two inlet left
        mikes two seventeen => stored | two inlet left, shim measured two point one seven
        two inlet right shim two sixty two => stored | two inlet right, shim two point six two
    ",
    );
}

/// Shims that are called one after the other need the word once; the others are asked.
#[test]
fn after_a_shim_three_figures_are_the_next_one() {
    super::talk(
        "vtwin",
        Millimetre,
        "
        one inlet left shim is one eighty four => stored | one inlet left, shim one point eight four
        one inlet right one ninety => asked | one inlet right, shim one point nine oh. confirm
        yes => stored | one inlet right, shim one point nine oh
        one exhaust left nineteen => stored | one exhaust left, point one nine, tight
    ",
    );
}
