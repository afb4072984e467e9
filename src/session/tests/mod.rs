//! Conversations, as (said, outcome, read back) triples.
#![allow(clippy::unwrap_used, clippy::panic)]

mod asked;
mod cylinders;
mod heads;
mod job;
mod people;
mod questions;
mod readings;
mod rounds;
mod seats;
mod shims;
mod skim;
mod talk;
mod torques;
mod trades;

use super::*;
use crate::engine::SHIPPED;
use crate::event::{Gap, Reading, Side, Value, Valve};
use crate::measure::{Quantity, Unit};
use proptest::prelude::*;

static ENGLISH: std::sync::LazyLock<LazyGrammar> =
    std::sync::LazyLock::new(|| crate::grammar::tests::english().into());

pub(super) fn setup(engine: &str, unit: LengthUnit) -> JobSetup {
    let (_, text) = SHIPPED.iter().find(|(key, _)| *key == engine).unwrap();
    let profile = Profile::parse(text, engine).unwrap();
    let blades = profile.blades.clone();
    JobSetup {
        grammar: ENGLISH.clone(),
        profile,
        unit,
        gauge: Unit::Bar,
        wrench: Unit::NewtonMetre,
        blades,
    }
}

/// What is found, each with its reason.
pub(super) fn findings(state: &State) -> String {
    let all = state.view.findings(0).items;
    let words = all.into_iter().map(|i| {
        let reason = i.finding.map(|f| f.reason).or(i.error);
        format!("{} {}: {}", i.place, i.what, reason.unwrap_or_default())
    });
    words.collect::<Vec<_>>().join("\n")
}

fn meant(setup: &JobSetup, state: &State, said: &str) -> Heard {
    Interpreter::new(setup, state, &Interpretations::default()).of(said)
}

fn hearing(setup: &JobSetup, state: &State, said: &str, acceptance: Acceptance) -> Hearing {
    let meant = meant(setup, state, said);
    Hearing {
        acceptance,
        ..Hearing::typed(said.to_owned(), meant, 0)
    }
}

fn stepped(setup: &JobSetup, state: &State, hearing: Hearing) -> (State, Event) {
    let event = step(setup, state, hearing);
    let mut next = state.clone();
    next.apply(&event);
    (next, event)
}

pub(super) fn hear(
    setup: &JobSetup,
    state: &State,
    said: &str,
    acceptance: Acceptance,
) -> (State, Event) {
    stepped(setup, state, hearing(setup, state, said, acceptance))
}

fn near(rival: &str) -> Rival {
    Rival {
        said: rival.to_owned(),
        margin_nats: 1.5,
    }
}

/// Runs a conversation; each line is `said => outcome | read back`. "(over)" before it: said while
/// the tool's voice sounded; "(unsure)": heard without a margin.
pub(super) fn talk(engine: &str, unit: LengthUnit, script: &str) -> State {
    talk_in(&setup(engine, unit), script)
}

/// The same in a job of its own.
pub(super) fn talk_in(setup: &JobSetup, script: &str) -> State {
    let mut state = State::new(setup);
    for line in script.lines().map(str::trim).filter(|l| !l.is_empty()) {
        let (said, expected) = line.split_once("=>").unwrap();
        let (said, acceptance) = match said.trim().strip_prefix("(unsure)") {
            Some(said) => (said, Acceptance::Confirm),
            None => (said, Acceptance::Accept),
        };
        let over = said.trim().strip_prefix("(over)");
        let mut heard = hearing(setup, &state, over.unwrap_or(said).trim(), acceptance);
        heard.overlapped = over.is_some();
        let (next, event) = stepped(setup, &state, heard);
        let got = format!("{:?} | {}", event.outcome, event.spoken).to_lowercase();
        assert_eq!(got.trim_end(), expected.trim(), "{said}");
        // State is the fold of the events, whatever the way there.
        let folded = State::fold(setup, next.events());
        assert_eq!(
            (folded.open, folded.standing_by),
            (next.open, next.standing_by)
        );
        assert_eq!(folded.question, next.question);
        state = next;
    }
    state
}

fn latest(state: &State, cylinder: u8, side: Side, valve: Valve) -> Option<Value> {
    let position = Position {
        cylinder,
        side,
        valve: Some(valve),
    };
    state
        .counting()
        .latest(position, Quantity::Clearance)
        .map(|(_, r)| r.value)
}

fn um(um: i64) -> Length {
    Length::from_um(um)
}

#[test]
fn a_position_called_alone_opens_the_valve_and_later_values_belong_to_it() {
    let state = talk(
        "triple",
        LengthUnit::Millimetre,
        "
        three exhaust left => stored | three exhaust left
        did you see the match last night => ignored |
        fifteen goes => stored | three exhaust left, point one five goes
        eighteen won't => stored | three exhaust left, point one five not one eight, tight
        shim two sixty => stored | three exhaust left, shim two point six oh
        one inlet right ten => stored | one inlet right, point one oh, in band
    ",
    );
    let between = Value::Gap(Gap::Between {
        goes_nm: um(150),
        stops_nm: um(180),
    });
    assert_eq!(latest(&state, 3, Side::Exhaust, Valve::Left), Some(between));
}

#[test]
fn what_is_missing_of_a_place_is_asked() {
    let state = talk(
        "triple",
        LengthUnit::Millimetre,
        "
        point two five => asked | say the position
        cylinder three exhaust point two five => asked | three exhaust. which valve, left or right
        roger => ignored |
        left => stored | three exhaust left, point two five, in band
        two inlet => asked | two inlet. which valve, left or right
        right => stored | two inlet right
        twenty => stored | two inlet right, point two oh, in band
        left => ignored |
    ",
    );
    assert_eq!(
        latest(&state, 3, Side::Exhaust, Valve::Left),
        Some(Value::Gap(Gap::Single(um(250))))
    );
    assert_eq!(
        latest(&state, 2, Side::Inlet, Valve::Right),
        Some(Value::Gap(Gap::Single(um(200))))
    );
}

#[test]
fn only_affirm_stores_what_was_asked() {
    let state = talk("triple", LengthUnit::Millimetre, "
        three exhaust left point four eight => asked | three exhaust left, point four eight. outside. confirm
        roger => asked | three exhaust left, point four eight. outside. confirm
        right => asked | three exhaust left, point four eight. outside. confirm
        negative => stored | nothing stored. three exhaust left
        affirm => ignored |
        three exhaust left point four eight => asked | three exhaust left, point four eight. outside. confirm
        affirm => stored | three exhaust left, point four eight, loose
        three exhaust left point two five => asked | three exhaust left, point two five. not the same. confirm
        disregard => stored | nothing stored. three exhaust left
        (unsure) one inlet left fifteen => asked | one inlet left, point one five. confirm
        yes => stored | one inlet left, point one five, in band
    ");
    assert_eq!(
        latest(&state, 3, Side::Exhaust, Valve::Left),
        Some(Value::Gap(Gap::Single(um(480))))
    );
}

#[test]
fn corrections_and_disregard_are_new_events() {
    let state = talk("triple", LengthUnit::Millimetre, "
        correction point two => refused | nothing to correct
        one inlet left fifteen => stored | one inlet left, point one five, in band
        correction point one eight => stored | one inlet left, point one eight, in band
        correction => asked | correction. say the value
        sixteen => stored | one inlet left, point one six, in band
        one inlet right shim two seventy => stored | one inlet right, shim two point seven oh
        correction two seventy five => stored | one inlet right, shim two point seven five
        disregard => stored | one inlet right, shim two point seven five, disregarded. one inlet right, shim two point seven oh
        say again => stored | one inlet right, shim two point seven five, disregarded. one inlet right, shim two point seven oh
        read back one inlet right => stored | one inlet right, shim two point seven oh
    ");
    assert_eq!(
        latest(&state, 1, Side::Inlet, Valve::Left),
        Some(Value::Gap(Gap::Single(um(160))))
    );
    assert_eq!(state.events().len(), 10, "nothing is ever removed");
}

#[test]
fn what_cannot_be_is_refused_and_never_stored() {
    talk("triple", LengthUnit::Millimetre, "
        seven exhaust left fifteen => refused | no such cylinder. say again
        eleven exhaust left fifteen => refused | no such cylinder. say again
        two exhaust front fifteen => refused | no such valve. say again
        one inlet left one point five => refused | one point five, out of range. say again
        one inlet left eighteen goes fifteen won't => refused | point one eight goes, point one five does not. say again
        read back one inlet left => stored | one inlet left, not measured
    ");
}

#[test]
fn a_lost_zero_is_asked_with_both_readings() {
    let state = talk(
        "triple",
        LengthUnit::Millimetre,
        "
        one inlet left point eight => asked | point eight oh, or point oh eight. say again
        zero point zero eight => stored | one inlet left, point oh eight, tight
    ",
    );
    assert_eq!(
        latest(&state, 1, Side::Inlet, Valve::Left),
        Some(Value::Gap(Gap::Single(um(80))))
    );
}

#[test]
fn standing_by_only_listen_counts() {
    let state = talk(
        "triple",
        LengthUnit::Millimetre,
        "
        stand by => stored | standing by
        one inlet left fifteen => ignored |
        affirm => ignored |
        listen => stored | listening
        one inlet left fifteen => stored | one inlet left, point one five, in band
        how many left => stored | eleven to measure
        same again one inlet right => stored | one inlet right, point one five, in band
        what's next => stored | next, one exhaust left
    ",
    );
    assert_eq!(
        latest(&state, 1, Side::Inlet, Valve::Right),
        Some(Value::Gap(Gap::Single(um(150))))
    );
}

#[test]
fn a_thou_job_and_an_engine_with_one_valve_a_side() {
    let state = talk(
        "six",
        LengthUnit::Thou,
        "
        six exhaust eight => stored | six exhaust, eight thou, tight
        six exhaust left eight => refused | no such valve. say again
        two inlet six goes seven won't => stored | two inlet, six not seven thou, in band
        spare shim two sixty five => stored | spare shim two point six five
        spare shim two sixty five => asked | spare shim two point six five, two pieces. confirm
    ",
    );
    let position = Position {
        cylinder: 6,
        side: Side::Exhaust,
        valve: None,
    };
    let reading = state
        .counting()
        .latest(position, Quantity::Clearance)
        .map(|(_, r)| r.value);
    assert_eq!(reading, Some(Value::Gap(Gap::Single(Length::from_thou(8)))));
}

/// An answer to "which valve" never lets in what would have been asked by itself.
#[test]
fn a_doubt_outlives_the_question_for_the_valve() {
    talk(
        "triple",
        LengthUnit::Millimetre,
        "
        three exhaust point four eight => asked | three exhaust. which valve, left or right
        left => asked | three exhaust left, point four eight. outside. confirm
        negative => stored | nothing stored. three exhaust left
        (unsure) three exhaust point two five => asked | say again
        left => asked | say the position
        three exhaust zero => asked | three exhaust. which valve, left or right
        left => stored | three exhaust left
        point eight => asked | point eight oh, or point oh eight. say again
        zero point eight zero => asked | three exhaust left, point eight oh. outside. confirm
    ",
    );
}

#[test]
fn a_note_may_be_said_in_two_breaths() {
    let state = talk(
        "triple",
        LengthUnit::Millimetre,
        "
        note the head is flat => stored | noted
        note one inlet left no gap => asked | say again
        note three inlet right => asked | note, three inlet right
        bucket has a score mark on the skirt => stored | noted
        bucket has another one => ignored | …
        note => asked | note
        one inlet left fifteen => stored | one inlet left, point one five, in band
        washed it twice => ignored |
    ",
    );
    let position = Some(Position {
        cylinder: 3,
        side: Side::Inlet,
        valve: Some(Valve::Right),
    });
    let text = "bucket has a score mark on the skirt".to_owned();
    let note = Fact::Note { position, text };
    assert!(state.events().iter().any(|e| e.facts.contains(&note)));
}

fn position() -> impl Strategy<Value = Position> {
    let side = prop_oneof![Just(Side::Inlet), Just(Side::Exhaust)];
    let valve = prop_oneof![Just(Valve::Left), Just(Valve::Right)];
    (1_u8..=3, side, valve).prop_map(|(cylinder, side, valve)| Position {
        cylinder,
        side,
        valve: Some(valve),
    })
}

fn value() -> impl Strategy<Value = (Quantity, Value)> {
    // Inside the usual range of both sides, in hundredths of a millimetre.
    let gap = (5_i64..=33, 1_i64..=2).prop_flat_map(|(a, step)| {
        let (goes_nm, stops_nm) = (um(a * 10), um((a + step) * 10));
        prop_oneof![
            Just(Gap::Between { goes_nm, stops_nm }),
            Just(Gap::Single(goes_nm)),
            Just(Gap::AtLeast(goes_nm)),
            Just(Gap::Below(stops_nm)),
            Just(Gap::None),
        ]
    });
    let shim = (200_i64..=350, 2_000_i64..=3_500, 0_u8..3).prop_map(|(mark, measured, kind)| {
        Value::Shim {
            marked_nm: (kind != 1).then(|| um(mark * 10)),
            measured_nm: (kind != 0).then(|| um(measured)),
        }
    });
    prop_oneof![
        gap.prop_map(|g| (Quantity::Clearance, Value::Gap(g))),
        shim.prop_map(|s| (Quantity::ShimFitted, s)),
    ]
}

proptest! {
    /// What is read back, heard again, is the same event.
    #[test]
    fn the_read_back_parses_to_the_reading(at in position(), (quantity, value) in value()) {
        let mut setup = setup("triple", LengthUnit::Millimetre);
        setup.blades = (1..=100).map(|n| um(n * 10)).collect();
        setup.profile.shims.series = (100..=400).map(|n| um(n * 10)).collect();
        let reading = Reading { position: Some(at), part: None, head: None, quantity, value, unit: LengthUnit::Millimetre };
        let spoken = setup.grammar.wording.reading(&reading);
        let (_, event) = hear(&setup, &State::new(&setup), &spoken, Acceptance::Accept);
        prop_assert!(event.facts.contains(&Fact::Read(reading)), "{} -> {:?}", spoken, event);
    }

    /// Whatever is said, in any order: no panic, and state stays the fold of the events.
    #[test]
    fn no_talk_breaks_the_fold(seed in any::<u64>()) {
        let setup = setup("triple", LengthUnit::Millimetre);
        let mut dice = crate::grammar::Dice::new(seed);
        let mut state = State::new(&setup);
        for _ in 0..12 {
            let text = setup.grammar.sample(&mut dice, &setup.grammar.meanings()).unwrap().1;
            state = hear(&setup, &state, &text, Acceptance::Accept).0;
        }
        let folded = State::fold(&setup, state.events());
        prop_assert_eq!(&folded.question, &state.question);
        prop_assert_eq!(folded.open, state.open);
        prop_assert_eq!(folded.next_id(), state.next_id());
    }
}

#[test]
fn the_word_in_doubt_is_named_and_can_be_answered() {
    let setup = setup("triple", LengthUnit::Millimetre);
    let unsure = |said: &str, rival: &str| {
        let hearing = Hearing {
            rival: Some((near(rival), meant(&setup, &State::new(&setup), rival))),
            ..hearing(&setup, &State::new(&setup), said, Acceptance::Confirm)
        };
        stepped(&setup, &State::new(&setup), hearing)
    };
    let (state, event) = unsure("one exhaust left fifteen", "one exhaust left sixteen");
    let asked = event.spoken;
    assert!(
        asked.starts_with("fifteen or sixteen. one exhaust left"),
        "{asked}"
    );
    assert!(
        state.counting().last_reading().is_none(),
        "nothing is stored yet"
    );
    let (next, event) = hear(&setup, &state, "sixteen", Acceptance::Accept);
    assert_eq!(event.outcome, Outcome::Stored);
    let value = next.counting().last_reading().map(|(_, r)| r.value);
    let wanted = Value::Gap(Gap::Single(Length::from_nm(160_000)));
    assert_eq!(value, Some(wanted));
    // Places differ: only a plain yes, or the whole phrase again, will do.
    let (_, event) = unsure("one exhaust left fifteen", "three exhaust left fifteen");
    let asked = event.spoken;
    assert!(
        asked.starts_with("one or three. one exhaust left"),
        "{asked}"
    );
    // The voice has no word "snug": the plain question.
    let (_, event) = unsure("one exhaust left fifteen", "one exhaust left fifteen snug");
    let asked = event.spoken;
    assert!(asked.starts_with("one exhaust left"), "{asked}");
}

#[test]
fn a_rival_on_the_valve_whose_turn_it_is_is_asked() {
    let setup = setup("triple", LengthUnit::Millimetre);
    let sure = |state: &State, said: &str, rival: &str| {
        let hearing = Hearing {
            rival: Some((near(rival), meant(&setup, state, rival))),
            ..hearing(&setup, state, said, Acceptance::Accept)
        };
        let (_, event) = stepped(&setup, state, hearing);
        assert_eq!(event.rival, Some(near(rival)), "kept, for the review");
        event.outcome
    };
    let one = hear(
        &setup,
        &State::new(&setup),
        "one exhaust left",
        Acceptance::Accept,
    )
    .0;
    let (other, due) = ("three exhaust left fifteen", "one exhaust left fifteen");
    assert_eq!(sure(&one, other, due), Outcome::Asked);
    // What is due is heard: that the other would be unusual is no reason to ask.
    assert_eq!(sure(&one, due, other), Outcome::Stored);
    // Neither is due, or only the value differs.
    assert_eq!(
        sure(&one, other, "two exhaust left fifteen"),
        Outcome::Stored
    );
    assert_eq!(sure(&one, due, "one exhaust left sixteen"), Outcome::Stored);
}

#[test]
fn half_of_what_was_said_is_taken_back_and_asked() {
    let setup = setup("triple", LengthUnit::Millimetre);
    let half = hear(
        &setup,
        &State::new(&setup),
        "one inlet right point two",
        Acceptance::Accept,
    )
    .0;
    let hear_on = |said: &str, acceptance: Acceptance| {
        let hearing = Hearing {
            doubted: half.counting().last_reading().map(|(id, _)| id),
            ..hearing(&setup, &half, said, acceptance)
        };
        stepped(&setup, &half, hearing)
    };
    let goes_on = |said: &str| {
        let (state, event) = hear_on(said, Acceptance::Confirm);
        assert_eq!(event.outcome, Outcome::Asked);
        assert_eq!(
            state.counting().last_reading(),
            None,
            "half a number does not stand"
        );
        let folded = State::fold(&setup, state.events());
        assert_eq!(folded.counting().last_reading(), None);
        (state, event.spoken)
    };
    let (state, spoken) = goes_on("correction one inlet right point two three");
    assert_eq!(spoken, "one inlet right, point two three. confirm");
    let (yes, _) = hear(&setup, &state, "yes", Acceptance::Accept);
    let whole = Value::Gap(Gap::Single(Length::from_nm(230_000)));
    assert_eq!(
        yes.counting().last_reading().map(|(_, r)| r.value),
        Some(whole)
    );
    let (no, _) = hear(&setup, &state, "no", Acceptance::Accept);
    assert_eq!(no.counting().last_reading(), None);
    // No phrase: what was stored is asked.
    let (state, spoken) = goes_on("wont stop twenty eight");
    assert_eq!(spoken, "one inlet right, point two oh. confirm");
    let (yes, _) = hear(&setup, &state, "yes", Acceptance::Accept);
    assert_eq!(
        yes.counting().last_reading().map(|(_, r)| r),
        half.counting().last_reading().map(|(_, r)| r)
    );
    // The whole was clearly heard: it takes the place of its half, of whatever kind it is.
    for whole in [
        "correction one inlet right point two three",
        "stem one inlet right four point nine eight",
    ] {
        let (state, event) = hear_on(whole, Acceptance::Accept);
        assert_eq!(event.outcome, Outcome::Stored, "{whole}");
        let takes_back = |f: &&Fact| matches!(f, Fact::Cancelled(1));
        assert_eq!(event.facts.iter().filter(takes_back).count(), 1);
        assert_eq!(state.counting().last_reading().map(|(id, _)| id), Some(2));
    }
}
