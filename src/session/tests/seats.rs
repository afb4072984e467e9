//! Conversations about seats, tips and lapping.

use super::{setup, talk};
use crate::engine::Profile;
use crate::measure::LengthUnit;
use crate::session::State;

fn triple(script: &str) -> State {
    talk("triple", LengthUnit::Millimetre, script)
}

/// What the inspection of a valve comes to, in words.
fn findings(state: &State, place: &str) -> Vec<String> {
    let all = state.view.findings(0).items;
    let of = all.into_iter().filter(|i| i.place.starts_with(place));
    of.map(|i| {
        let reason = i.finding.map(|f| f.reason);
        format!("{}: {}", i.place, reason.unwrap_or_default())
    })
    .collect()
}

/// The demo engine's seats are at 45 degrees, 0.9 to 1.4 mm wide; the faces beside the contact have
/// no limit of their own (common practice, no source).
#[test]
fn each_face_of_a_seat_has_its_width() {
    let state = triple(
        "
        one exhaust left seat thirty degrees point five => stored | one exhaust left thirty degrees, seat point five oh
        forty five degrees seat one point one => stored | one exhaust left forty five degrees, seat one point one oh, in limit
        seat at sixty degrees point seven => stored | one exhaust left sixty degrees, seat point seven oh
        contact high => stored | one exhaust left, contact high
        contact central => stored | one exhaust left, contact in the middle
        one exhaust right contact is low => stored | one exhaust right, contact low
    ",
    );
    let found = findings(&state, "1 exhaust left");
    assert!(
        found
            .iter()
            .any(|f| f.starts_with("1 exhaust left: seat width, 1.1 mm")
                || f.contains("1.10 mm: inside")),
        "{found:?}"
    );
    assert!(
        found
            .iter()
            .any(|f| f.starts_with("1 exhaust left, 30 degrees")),
        "{found:?}"
    );
    assert!(
        !found.iter().any(|f| f.contains("out of limit")),
        "{found:?}"
    );
}

#[test]
fn runout_is_of_the_stem_or_of_the_seat() {
    let state = triple(
        "
        one exhaust left runout two hundredths => asked | seat runout point oh two, or stem runout point oh two. say again
        seat runout two hundredths => stored | one exhaust left, seat runout point oh two
        stem runout three hundredths => stored | one exhaust left, stem runout point oh three, in limit
    ",
    );
    let found = findings(&state, "1 exhaust left").join("\n");
    assert!(
        found.contains("seat runout 0.02 mm") && found.contains("stem runout 0.03 mm"),
        "{found}"
    );
}

/// What was taken off adds up, and is judged as a whole. The limits are invented; published ones are
/// 0.010 in off an exhaust seat (TM 5-3805-255-14).
#[test]
fn what_is_taken_off_a_seat_or_a_tip_adds_up_against_its_limit() {
    let mut setup = setup("triple", LengthUnit::Millimetre);
    let limits = "[[limit]]\nquantity = \"seat_cut\"\nmax = \"0.25\"\nunit = \"mm\"\nsource = \"invented\"\n[[limit]]\nquantity = \"tip_ground\"\nmax = \"0.2\"\nunit = \"mm\"\nsource = \"invented\"\n";
    let text = format!("{}{limits}", crate::engine::SHIPPED[0].1);
    setup.profile = Profile::parse(&text, "triple.toml").unwrap();
    let state = super::talk_in(
        &setup,
        "
        one inlet left fifteen goes eighteen doesn't => stored | one inlet left, point one five not one eight, in band
        cut the seat of one inlet left by fifteen hundredths => stored | one inlet left, seat cut point one five, in limit
        took twelve hundredths off the seat of one inlet left => stored | one inlet left, seat cut point one two, over, limit point two five
        one inlet left tip ground ten hundredths => stored | one inlet left, tip ground point one oh, in limit
        ground five hundredths off the tip of one inlet left => stored | one inlet left, tip ground point oh five, in limit
        how many left => stored | twelve to measure
    ",
    );
    let found = findings(&state, "1 inlet left").join("\n");
    assert!(found.contains("cut off the seat 0.27 mm"), "{found}");
    assert!(found.contains("ground off the tip 0.15 mm"), "{found}");
}

#[test]
fn lapping_done_reopens_the_valves_that_are_named_or_asks() {
    triple(
        "
        one inlet left fifteen => stored | one inlet left, point one five, in band
        one inlet right fifteen => stored | one inlet right, point one five, in band
        two inlet right fifteen => stored | two inlet right, point one five, in band
        how many left => stored | nine to measure
        lapping done on one inlet left => stored | one inlet left, lapped
        how many left => stored | ten to measure
        lapped cylinder two => asked | two inlet left, lapped. two inlet right, lapped. two exhaust left, lapped. two exhaust right, lapped. confirm
        yes => stored | two inlet left, lapped. two inlet right, lapped. two exhaust left, lapped. two exhaust right, lapped
        how many left => stored | eleven to measure
        lapping done => asked | new round, twelve to measure. confirm
        no => stored | nothing stored
        how many left => stored | eleven to measure
        lapping done => asked | new round, twelve to measure. confirm
        yes => stored | lapping, done. new round, twelve to measure
        how many left => stored | twelve to measure
    ",
    );
}

#[test]
fn the_height_of_a_tip_before_the_cut_stands_beside_the_one_after() {
    let state = triple(
        "
        tip height one inlet left thirty eight point two => stored | one inlet left, tip height thirty eight point two oh
        seat recut one inlet left => stored | one inlet left, seat cut
        stem protrusion one inlet left thirty eight point four five => stored | one inlet left, tip height thirty eight point four five
    ",
    );
    let found = findings(&state, "1 inlet left").join("\n");
    assert!(
        found.contains("38.20 mm before the work, 0.25 mm more"),
        "{found}"
    );
}
