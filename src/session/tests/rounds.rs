//! Rounds of measuring, and repairs that make readings void.
#![allow(clippy::unwrap_used)]

use super::talk;
use crate::engine::Round;
use crate::engine::inspection::Verdict;
use crate::measure::LengthUnit::Millimetre;
use crate::session::State;

/// Every valve of the triple in band, each with a shim of 2.60 in it.
const MEASURED: &str = "
    one inlet left shim two sixty => stored | one inlet left, shim two point six oh
    two inlet left shim two sixty => stored | two inlet left, shim two point six oh
    two inlet left eight goes ten wont => stored | two inlet left, point oh eight not one oh, tight
    the rest are fifteen => asked | one inlet left, one inlet right, one exhaust left, one exhaust right, two inlet right, two exhaust left, two exhaust right, three inlet left, three inlet right, three exhaust left, three exhaust right, point one five. confirm
    yes => stored | one inlet left, one inlet right, one exhaust left, one exhaust right, two inlet right, two exhaust left, two exhaust right, three inlet left, three inlet right, three exhaust left, three exhaust right, point one five
    how many left => stored | all measured
";

fn talked(script: &str) -> State {
    talk("triple", Millimetre, &format!("{MEASURED}{script}"))
}

fn shown(state: &State, valve: usize) -> Vec<String> {
    let row = &state.view.sheet().rows[valve];
    let rounds = row.rounds.iter();
    let shown = rounds.map(|r| format!("{}: {}", r.round.words(), r.clearance.show(Millimetre)));
    shown.collect()
}

#[test]
fn another_shim_is_measured_with_and_no_other_valve() {
    let state = talked(
        "
        two inlet left shim two fifty => asked | two inlet left, shim two point five oh. read again, or changed
        changed => stored | two inlet left, shim two point five oh, fitted. measure again
        how many left => stored | one to measure, two inlet left
        two inlet left fifteen goes eighteen wont => stored | two inlet left, point one five not one eight, in band
        how many left => stored | all measured
        ",
    );
    assert_eq!(state.view.sheet().round, Round::AfterShims);
    assert_eq!(
        shown(&state, 4),
        [
            "as found: 0.08 mm to 0.10 mm",
            "after the shims: 0.15 mm to 0.18 mm"
        ]
    );
    assert_eq!(shown(&state, 5), ["as found: 0.15 mm to 0.18 mm"]);
}

#[test]
fn a_second_round_measures_every_valve_and_keeps_the_first() {
    for said in ["second round", "start again", "measure everything again"] {
        let state = talked(&format!(
            "
            {said} => stored | new round, twelve to measure
            how many left => stored | twelve to measure
            {said} => stored | twelve to measure
            one inlet left thirteen goes fifteen wont => stored | one inlet left, point one three not one five, in band
            how many left => stored | eleven to measure
            "
        ));
        assert_eq!(state.view.sheet().round, Round::Again(2));
        assert_eq!(
            shown(&state, 0),
            [
                "as found: 0.15 mm to 0.18 mm",
                "round 2: 0.13 mm to 0.15 mm"
            ]
        );
        assert!(state.view.sheet().conflicts.is_empty(), "no overturning");
    }
}

#[test]
fn a_round_that_was_not_meant_is_taken_back() {
    let state = talked(
        "
        second round => stored | new round, twelve to measure
        disregard => stored | new round, disregarded
        how many left => stored | all measured
        start lapping => stored | lapping. never lap coated, nitrided or titanium valves: see the maker's manual. wash every trace of paste out of the guide and the port.
        lapping done => asked | new round, twelve to measure. confirm
        yes => stored | lapping, done. new round, twelve to measure
        disregard => stored | lapping, done, disregarded
        how many left => stored | all measured
        ",
    );
    assert_eq!(state.view.sheet().round, Round::AsFound);
}

#[test]
fn after_lapping_every_valve_sits_otherwise_and_is_measured_again() {
    let state = talked(
        "
        lapping done => asked | new round, twelve to measure. confirm
        yes => stored | lapping, done. new round, twelve to measure
        how many left => stored | twelve to measure
        which shim for two inlet left => stored | two inlet left, not measured
        two inlet left ten goes twelve wont => stored | two inlet left, point one oh not one two, in band
        ",
    );
    assert_eq!(state.view.sheet().round, Round::AfterLapping);
    assert_eq!(
        shown(&state, 4),
        [
            "as found, before lapping: 0.08 mm to 0.10 mm",
            "after lapping: 0.10 mm to 0.12 mm"
        ]
    );
    // A shim fitted before it was measured again goes out all the same: the old one is in the box.
    let state = talked(
        "
        lapping done => asked | new round, twelve to measure. confirm
        yes => stored | lapping, done. new round, twelve to measure
        two inlet left shim two fifty => asked | two inlet left, shim two point five oh. read again, or changed
        changed => stored | two inlet left, shim two point five oh, fitted. measure again
        ",
    );
    assert_eq!(state.view.bench().spares().len(), 1);
    assert_eq!(state.view.remaining().len(), 12);
}

#[test]
fn the_last_round_after_the_shims_is_the_final_one() {
    let state = talked(
        "
        two inlet left shim two fifty => asked | two inlet left, shim two point five oh. read again, or changed
        changed => stored | two inlet left, shim two point five oh, fitted. measure again
        two inlet left eighteen goes twenty wont => stored | two inlet left, point one eight not two oh, in band
        measure everything again => stored | new round, twelve to measure
        two inlet left eighteen goes twenty wont => stored | two inlet left, point one eight not two oh, in band
        ",
    );
    assert_eq!(state.view.sheet().round, Round::Final);
    assert_eq!(
        shown(&state, 4),
        [
            "as found: 0.08 mm to 0.10 mm",
            "after the shims: 0.18 mm to 0.20 mm",
            "final: 0.18 mm to 0.20 mm"
        ]
    );
    assert!(state.view.sheet().remeasure.explained);
}

fn verdict(state: &State, what: &str) -> Option<Verdict> {
    let items = state.view.findings(0).items;
    let item = items.iter().find(|i| i.what == what)?;
    item.finding.as_ref().map(|f| f.verdict)
}

#[test]
fn a_new_guide_closes_the_readings_of_the_old_one() {
    let worn = "
        stem two exhaust left five four six five => stored | two exhaust left, stem five point four six five, in limit
        guide two exhaust left five six oh two => stored | two exhaust left, guide five point six oh two
    ";
    let what = "stem to guide clearance";
    let state = talk("triple", Millimetre, worn);
    assert_eq!(verdict(&state, what), Some(Verdict::OutOfLimit));
    let state = talk("triple", Millimetre, &format!("{worn}
        new guide in two exhaust left, reamed five five oh one => stored | two exhaust left, new guide. two exhaust left, guide five point five oh one
    "));
    assert_eq!(verdict(&state, what), Some(Verdict::Good));
    assert_eq!(state.counting().readings().count(), 2);
    let state = talk(
        "triple",
        Millimetre,
        &format!(
            "{worn}
        new guide in two exhaust left => stored | two exhaust left, new guide
        disregard => stored | two exhaust left, new guide, disregarded
    "
        ),
    );
    assert_eq!(verdict(&state, what), Some(Verdict::OutOfLimit));
}

#[test]
fn each_repair_closes_what_it_makes_void() {
    for (read, what, repaired, is) in [
        (
            "seat two inlet left one point eight => stored | two inlet left, seat one point eight oh, over, limit one point four oh",
            "seat width",
            "seat recut two inlet left => stored | two inlet left, seat cut",
            "seat two inlet left one point two => stored | two inlet left, seat one point two oh, in limit",
        ),
        (
            "spring two inlet left thirty eight => stored | two inlet left, spring thirty eight point oh oh, under, limit thirty eight point six oh",
            "free length",
            "new spring two inlet left => stored | two inlet left, new spring",
            "spring two inlet left thirty nine point eight => stored | two inlet left, spring thirty nine point eight oh, in limit",
        ),
        (
            "margin two inlet left point four five => stored | two inlet left, margin point four five, under, limit point five oh",
            "valve margin",
            "new valve two inlet left => stored | two inlet left, new valve",
            "margin two inlet left point eight => stored | two inlet left, margin point eight oh, in limit",
        ),
    ] {
        let state = talk("triple", Millimetre, read);
        assert_eq!(verdict(&state, what), Some(Verdict::OutOfLimit), "{read}");
        let state = talk("triple", Millimetre, &format!("{read}\n{repaired}"));
        assert_eq!(verdict(&state, what), None, "{repaired}");
        let state = talk("triple", Millimetre, &format!("{read}\n{repaired}\n{is}"));
        assert_eq!(verdict(&state, what), Some(Verdict::Good), "{is}");
    }
}

#[test]
fn a_valve_that_sits_otherwise_is_measured_again_and_no_other() {
    for repaired in [
        "new valve two inlet left => stored | two inlet left, new valve",
        "recut the seat on two inlet left => stored | two inlet left, seat cut",
        "two inlet left tip ground => stored | two inlet left, tip ground",
        "lapped two inlet left => stored | two inlet left, lapped",
    ] {
        talked(&format!(
            "{repaired}\nhow many left => stored | one to measure, two inlet left"
        ));
    }
    talked(
        "
        new seal two inlet left => stored | two inlet left, new seal
        new guide two inlet left => stored | two inlet left, new guide
        how many left => stored | all measured
    ",
    );
}

#[test]
fn a_seat_that_wept_is_no_fault_once_it_was_lapped() {
    let weeps =
        "two inlet left weeps at one minute => stored | two inlet left, weeps, one minute\n";
    let state = talk("triple", Millimetre, weeps);
    assert_eq!(state.counting().checks().len(), 1);
    let lapped = format!("{weeps}lapped two inlet left => stored | two inlet left, lapped");
    let state = talk("triple", Millimetre, &lapped);
    let checks = state.counting().checks();
    assert_eq!(checks.len(), 1, "only that it was lapped: {checks:?}");
}

#[test]
fn whose_machine_it_is_is_asked_and_stands_in_the_record() {
    let state = talk(
        "triple",
        Millimetre,
        "
        the owner is the corner garage => asked | owner, the corner garage. confirm
        no => stored | nothing stored
        the owner is the corner garage => asked | owner, the corner garage. confirm
        yes => stored | owner, the corner garage
        frame number a b one two oh three => asked | frame number, ab1203. confirm
        frame number a b one two zero three => asked | frame number, ab1203. confirm
        yes => stored | frame number, ab1203
        worked by sam => asked | worked by, sam. confirm
        ",
    );
    let about: Vec<String> = (state.counting().about().iter())
        .map(|(what, text)| format!("{} {text}", what.key()))
        .collect();
    assert_eq!(about, ["owner the corner garage", "frame_number AB1203"]);
}

#[test]
fn the_heights_of_a_stem_are_one_measurement_with_its_taper() {
    let state = talk(
        "triple",
        Millimetre,
        "
        stem two exhaust left top five four six five => stored | two exhaust left top, stem five point four six five, in limit
        stem middle five four six two => stored | two exhaust left middle, stem five point four six two, in limit
        stem five four five two at the bottom => stored | two exhaust left bottom, stem five point four five two, in limit
        guide two exhaust left five five oh two => stored | two exhaust left, guide five point five oh two
        ",
    );
    let items = state.view.findings(0).items;
    let reason = |what: &str| {
        let mut found = items.iter().filter(|i| i.what == what);
        let one = found.next().and_then(|i| i.finding.as_ref());
        one.map(|f| f.reason.clone())
    };
    assert_eq!(items.iter().filter(|i| i.what == "diameter").count(), 1);
    let clearance = reason("stem to guide clearance").unwrap();
    assert!(
        clearance.contains("0.05 mm"),
        "the worst place: {clearance}"
    );
    let taper = reason("stem taper").unwrap();
    assert!(taper.contains("0.013 mm"), "{taper}");
}

#[test]
fn wobble_tip_lift_and_runout_are_called() {
    let state = talk("triple", Millimetre, "
        wobble two exhaust left ten hundredths => stored | two exhaust left, wobble point one oh
        tip height two inlet left thirty eight point two => stored | two inlet left, tip height thirty eight point two oh
        lobe two inlet left thirty five point four one base twenty seven => stored | two inlet left, lobe thirty five point four one base twenty seven point oh oh
        lift two inlet right eight point four => stored | two inlet right, lift eight point four oh
        inlet cam runout two hundredths => stored | inlet cam, runout point oh two
        piston to valve two inlet left one point four => stored | two inlet left, piston to valve one point four oh
    ");
    let items = state.view.findings(0).items;
    let found: Vec<String> = (items.iter())
        .map(|i| {
            format!(
                "{} {}: {}",
                i.place,
                i.what,
                i.finding.as_ref().unwrap().value.show(Millimetre)
            )
        })
        .collect();
    for expected in [
        "2 exhaust left wobble: 0.1 mm",
        "2 inlet left tip height: 38.2 mm",
        "2 inlet left cam lift: 8.41 mm", // 35.41 less 27.00
        "2 inlet right valve lift: 8.4 mm",
        "inlet cam camshaft runout: 0.02 mm",
        "2 inlet left piston to valve: 1.4 mm",
    ] {
        let expected = expected.to_owned();
        let as_shown = |f: &&String| {
            f.replace("0 mm", " mm").replace(' ', "")
                == expected.replace("0 mm", " mm").replace(' ', "")
        };
        assert!(found.iter().any(|f| as_shown(&f)), "{expected}: {found:#?}");
    }
}

#[test]
fn what_is_open_before_a_stage_is_said_when_it_begins() {
    talk("triple", Millimetre, "
        start head on => stored | head on. no piston at top dead centre until the cams are in. no oil or water in the bottom of a blind hole: it cracks the casting. torque and order from the maker's manual, threads dry or oiled as it says. not yet, gasket new, dowels, jets clear, threads done, bolts new, pistons down
        gasket new and pistons down => stored | gasket new. pistons down
        threads oiled => stored | threads done
        start head on => stored | head on. not yet, dowels, jets clear, bolts new
    ");
}

#[test]
fn with_the_cams_out_marks_and_turns_are_open_again() {
    let state = talk("triple", Millimetre, "
        marks line up => stored | marks in line
        two turns free => stored | two turns free
        start turning => stored | first turn. first turn by hand only, plugs out. if it stops, you stop: a valve may be on a piston. not yet, tensioner in, sprocket bolts tight
        done => stored | first turn, done
        cams out => stored | cams out. then marks, tensioner and two turns again
        start turning => stored | first turn. not yet, marks in line, tensioner in, sprocket bolts tight
    ");
    let looked: Vec<_> = state.counting().checks();
    assert_eq!(looked.len(), 1, "the cams alone: {looked:?}");
}

#[test]
fn a_warm_engine_is_no_fault_where_it_has_to_be_warm() {
    talk("triple", Millimetre, "
        start compression => stored | compression test. ignition off, plugs earthed, fuel off: a spark near open fuel sets it alight. engine warm, all plugs out, throttle wide open, at least five strokes each.
        still warm => stored | warm engine
        start clearances => stored | clearances. engine cold overnight. turn it by hand, plugs out, fingers clear.
        still warm => stored | still warm
    ");
}
