//! What is entered in boxes is the profile that the file would be.

#![allow(clippy::unwrap_used)]
use super::*;
use crate::engine::profile::{Profile, SHIPPED};
use crate::event::Side;
use crate::measure::Unit;

fn triple() -> Boxes {
    boxes(SHIPPED[0].1).unwrap()
}

/// The faults of the triple's boxes with some of them changed.
fn faults(changes: &[(&str, &str)]) -> Vec<Fault> {
    let mut all = triple();
    all.extend(
        changes
            .iter()
            .map(|(k, v)| ((*k).to_owned(), (*v).to_owned())),
    );
    entered(&all, "triple").faults
}

#[test]
fn boxes_of_a_file_written_again_are_the_same_profile() {
    let thou = SHIPPED[0].1.replace("blades_mm", "blades_thou").replace(
        "check_band_mm = [\"0.10\", \"0.20\"]    # inside it: leave alone\nset_band_mm = [\"0.11\", \"0.20\"]      # what a fitted shim must land in\ntarget_mm = \"0.16\"",
        "check_band_thou = [\"4\", \"8\"]\nset_band_thou = [\"4\", \"8\"]\ntarget_thou = \"6\"",
    );
    let thou = thou.split("[feeler]").next().unwrap().to_owned()
        + "[feeler]\nblades_thou = [\"2\", \"3\", \"4\", \"5.5\"]\n[names]\n1 = [\"front\", \"front one\"]\nleft = [\"nearside\"]\n";
    let texts = SHIPPED.iter().map(|(_, text)| (*text).to_owned());
    for text in texts.chain([thou]) {
        let profile = Profile::parse(&text, "x").unwrap();
        let again = entered(&boxes(&text).unwrap(), &profile.key);
        assert_eq!(again.faults, [], "{}", again.text);
        assert_eq!(again.profile.unwrap(), profile);
        assert_eq!(again.valves, profile.valves());
    }
}

#[test]
fn heads_and_a_torque_in_the_units_of_the_manual_have_boxes() {
    let (_, text) = SHIPPED.iter().find(|(key, _)| *key == "vfour").unwrap();
    let mut all = boxes(text).unwrap();
    let there = |key: &str| all.get(key).map(String::as_str);
    assert_eq!(there("head.1.place"), Some("rear"));
    assert_eq!(there("head.1.cylinders"), Some("3 4"));
    assert_eq!(there("torque.0.unit"), Some("pound_foot"));
    assert_eq!(there("torque.0.new_bolts"), Some("true"));
    for (unit, key, stages) in [
        (Unit::PoundInch, "pound_inch", "60 120,5"),
        (Unit::KilogramMetre, "kilogram_metre", "1.5 4,2"),
    ] {
        all.insert("torque.0.unit".to_owned(), key.to_owned());
        all.insert("torque.0.stages".to_owned(), stages.to_owned());
        all.insert("torque.0.new_bolts".to_owned(), String::new());
        all.insert(
            "head.0.names".to_owned(),
            "forward head, front bank".to_owned(),
        );
        let profile = entered(&all, "vfour").profile.unwrap();
        let torque = &profile.torque[0];
        assert_eq!((torque.unit, torque.new_bolts), (unit, false));
        let (_, last) = stages.split_once(' ').unwrap();
        assert_eq!(torque.torques[1].to_string(), last.replace(',', "."));
        let names: Vec<&str> = profile.names.iter().map(|n| n.name.as_str()).collect();
        assert_eq!(names, ["forward head", "front bank"]);
    }
}

#[test]
fn commas_and_points_are_the_same_and_a_doubtful_list_is_asked_about() {
    let mut all = triple();
    for value in all.values_mut() {
        if !value.contains(' ') && value.contains('.') {
            *value = value.replace('.', ",");
        }
    }
    all.insert("cylinders.firing_order".to_owned(), "1-2-3".to_owned());
    all.insert("feeler.blades".to_owned(), "0,05 0,10, 0,15".to_owned());
    let done = entered(&all, "triple");
    assert_eq!(done.faults, []);
    let profile = done.profile.unwrap();
    assert_eq!(profile.blades.len(), 3);
    assert_eq!(
        profile.inlet,
        Profile::parse(SHIPPED[0].1, "x").unwrap().inlet
    );
    let doubtful = &faults(&[("torque.0.stages", "20,40")])[0];
    assert_eq!(doubtful.key, "torque.0.stages");
    assert!(doubtful.message.contains("one number or several"));
}

#[test]
fn one_band_is_both_and_its_middle_is_aimed_at() {
    let mut all = triple();
    for key in ["two_bands", "set_band.from", "set_band.to", "target"] {
        all.remove(&format!("inlet.{key}"));
    }
    let profile = entered(&all, "triple").profile.unwrap();
    let inlet = profile.side(Side::Inlet);
    assert_eq!(inlet.set, inlet.check);
    assert_eq!(inlet.target.to_string(), "0.15 mm");
}

/// Each fault stands at the box that was filled in wrongly.
#[test]
fn a_fault_is_told_at_its_box() {
    for (changes, key, part) in [
        (&[("name", " ")][..], "name", "missing"),
        (
            &[("name", "triple\u{1b}[2J")],
            "name",
            "expected one line of 300 letters",
        ),
        (
            &[("source", "one line\nanother")],
            "source",
            "expected one line of 300 letters",
        ),
        (
            &[("cylinders.count", "four")],
            "cylinders.count",
            "whole number",
        ),
        (&[("cylinders.count", "17")], "cylinders.count", "1 to 16"),
        (
            &[("cylinders.firing_order", "1 2 2")],
            "cylinders.firing_order",
            "each cylinder once",
        ),
        (
            &[("cylinders.layout", "pins"), ("cylinders.angle", "180")],
            "cylinders.angle",
            "not 3",
        ),
        (
            &[("inlet.check_band.from", "0.3")],
            "inlet.check_band.from",
            "smallest, largest",
        ),
        (
            &[("inlet.check_band.to", "0.2o")],
            "inlet.check_band.to",
            "is not a number",
        ),
        (
            &[("inlet.check_band.to", "")],
            "inlet.check_band.to",
            "missing",
        ),
        (
            &[("exhaust.set_band.to", "0.4")],
            "exhaust.set_band.from",
            "inside",
        ),
        (
            &[("exhaust.target", "0.5")],
            "exhaust.target",
            "outside the set band",
        ),
        (
            &[("exhaust.opens_deg", "400")],
            "exhaust.opens_deg",
            "0 to 120",
        ),
        (
            &[("exhaust.opens_deg", "")],
            "exhaust.closes_deg",
            "expected both",
        ),
        (
            &[("shims.ranges.0.step", "0.4")],
            "shims.ranges.0.from",
            "whole number of steps",
        ),
        (&[("shims.ranges.0.to", "")], "shims.ranges.0.to", "missing"),
        (&[("feeler.blades", "0.1")], "feeler.blades", "at least two"),
        (
            &[("torque.0.order", "1 2 4")],
            "torque.0.order",
            "each bolt once",
        ),
        (
            &[("chain.pins_between_marks", "")],
            "chain.cam_teeth",
            "pins_between_marks",
        ),
        (&[("seat.angle_deg", "5")], "seat.angle_deg", "15 to 75"),
        (&[("limit.0.max", "80")], "limit.0.max", "expected"),
        (&[("limit.2.min", "2")], "limit.2.max", "smaller one first"),
        (
            &[("torque.0.new_bolts", "perhaps")],
            "torque.0.new_bolts",
            "expected true",
        ),
        (
            &[("head.0.place", "front"), ("head.0.cylinders", "1 2 3")],
            "head.0.place",
            "a single head",
        ),
        (
            &[
                ("head.0.place", "front"),
                ("head.0.cylinders", "1"),
                ("head.1.place", "rear"),
                ("head.1.cylinders", "3"),
            ],
            "head.1.cylinders",
            "cylinder 2 lies on no head",
        ),
        (
            &[("limit.0.head", "rear")],
            "limit.0.head",
            "no head \"rear\"",
        ),
        (
            &[("names.0.of", "9"), ("names.0.said", "last")],
            "names.0.said",
            "no \"9\"",
        ),
    ] {
        let found = faults(changes);
        assert_eq!(found.len(), 1, "{changes:?}: {found:?}");
        assert_eq!(found[0].key, key, "{changes:?}: {found:?}");
        assert!(found[0].message.contains(part), "{changes:?}: {found:?}");
    }
}

#[test]
fn empty_boxes_say_what_is_needed_and_draw_what_is_known() {
    let some = [
        ("cylinders.count", "4"),
        ("cylinders.firing_order", "1342"),
        ("inlet.valves", "left right"),
    ];
    let some: Boxes = some
        .iter()
        .map(|(k, v)| ((*k).to_owned(), (*v).to_owned()))
        .collect();
    let done = entered(&some, "four");
    assert!(done.profile.is_none());
    assert!(
        done.faults
            .iter()
            .any(|f| f.missing && f.key == "inlet.check_band.from")
    );
    assert_eq!(done.valves.len(), 12);
    let done = entered(&Boxes::new(), "none");
    assert!(done.faults.iter().all(|f| f.missing), "{:?}", done.faults);
}

#[test]
fn a_key_is_made_of_a_name() {
    for (name, key) in [
        ("The red twin (2nd)", "the_red_twin_2nd"),
        ("  ", "engine"),
        ("ÄÖ 4", "4"),
    ] {
        assert_eq!(key_of(name), key);
    }
}
