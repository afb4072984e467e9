//! Conversations about torque: kinds of bolts, angles, new bolts, units.

use super::{setup, talk, talk_in};
use crate::engine::Profile;
use crate::measure::{LengthUnit, Unit};

/// A bolt that is called before it is tightened: what is wrong with it is said at once.
#[test]
fn what_is_wrong_with_a_bolt_is_said_before_its_torque() {
    talk(
        "triple",
        LengthUnit::Millimetre,
        "
        head bolt nine, stage one => refused | no head bolt nine. there are eight. say again
        head bolt one, stage two => asked | head bolt one stage two. out of order. next, head bolt four stage one
        head bolt four, stage one => asked | head bolt four stage one
        twenty newton metres => stored | head bolt four stage one, twenty newton metres
    ",
    );
}

/// However the torque of a kind of bolt is said, it is stored or asked, never left unanswered.
#[test]
fn a_torque_of_a_kind_that_the_profile_knows_is_stored_or_asked() {
    let ways = [
        (
            "cam caps ten newton metres",
            "Stored | each cam cap, ten newton metres",
        ),
        (
            "torqued the cam caps to ten newton metres",
            "Stored | each cam cap, ten newton metres",
        ),
        (
            "I've tightened up all the cam caps to ten newton metres",
            "Stored | each cam cap, ten newton metres",
        ),
        (
            "torque on the cam caps is ten newton metres",
            "Stored | each cam cap, ten newton metres",
        ),
        (
            "cam cap ten newton metres",
            "Asked | each cam cap, ten newton metres. confirm",
        ),
        (
            "sprocket bolt fourteen newton metres",
            "Asked | each sprocket bolt, fourteen newton metres. confirm",
        ),
        (
            "sprocket fourteen newton metres",
            "Asked | each sprocket bolt, fourteen newton metres. confirm",
        ),
        (
            "tensioner bolts ten newton metres",
            "Stored | each tensioner bolt, ten newton metres",
        ),
        (
            "plugs twelve newton metres",
            "Stored | each plug, twelve newton metres",
        ),
        (
            "spark plug two twelve newton metres",
            "Stored | plug two, twelve newton metres",
        ),
        (
            "cam caps torqued to eight newton metres",
            "Asked | each cam cap, eight newton metres. ten newton metres wanted. confirm",
        ),
    ];
    for (said, expected) in ways {
        talk(
            "triple",
            LengthUnit::Millimetre,
            &format!("{said} => {}", expected.to_lowercase()),
        );
    }
}

#[test]
fn an_angle_is_checked_when_it_is_called() {
    talk(
        "triple",
        LengthUnit::Millimetre,
        "
        all head bolts forty newton metres stage two => stored | each head bolt stage two, forty newton metres
        plus ninety => asked | each head bolt, plus ninety degrees. sixty degrees wanted. confirm
        no => stored | nothing stored
        plus sixty => stored | each head bolt, plus sixty degrees
        cam caps plus ninety => asked | each cam cap, plus ninety degrees. no angle set. confirm
    ",
    );
}

/// 15 and 32 lbf·ft are 20.3 and 43.4 N·m (NIST SP 811, appendix B.8).
#[test]
fn a_table_in_pound_feet_and_bolts_that_must_be_new() {
    talk(
        "vfour",
        LengthUnit::Millimetre,
        "
        front head bolt four stage one fifteen foot pounds => asked | front head bolt four stage one, fifteen foot pounds. bolts new. confirm
        yes => stored | front head bolt four stage one, fifteen foot pounds
        front head bolt three twenty point three newton metres stage one => stored | front head bolt three stage one, twenty point three newton metres
        what's the next bolt => stored | next, front head bolt five stage one, twenty point three newton metres
        front head bolt five stage one fifteen newton metres => asked | front head bolt five stage one, fifteen newton metres. twenty point three newton metres wanted. which unit. confirm
        no => stored | nothing stored
        rear head bolt four stage one done => asked | rear head bolt four stage one, done. bolts new. confirm
        yes => stored | rear head bolt four stage one, done
        rear head bolt three stage one done => stored | rear head bolt three stage one, done
        retorqued the head bolts => asked | each head bolt, retorqued. front or rear
        front => asked | each front head bolt, retorqued. set by angle. confirm
        no => stored | nothing stored
    ",
    );
}

/// 10 N·m is 88.5 lbf·in and 1.02 kgf·m (NIST SP 811, appendix B.8).
#[test]
fn tables_may_be_in_any_unit_of_a_wrench() {
    for (key, stage, said) in [
        ("stages_pound_inch", "88", "ten newton metres"),
        ("stages_kilogram_metre", "1.0", "ten newton metres"),
        ("stages_newton_metre", "10", "ten newton metres"),
    ] {
        let mut setup = setup("triple", LengthUnit::Millimetre);
        setup.wrench = Unit::NewtonMetre;
        let old = "bolts = \"cover_bolt\"\nstages_newton_metre = [\"10\"]";
        let text = crate::engine::SHIPPED[0].1;
        assert!(text.contains(old));
        let text = text.replace(
            old,
            &format!("bolts = \"cover_bolt\"\n{key} = [\"{stage}\"]"),
        );
        setup.profile = Profile::parse(&text, "triple.toml").unwrap();
        talk_in(
            &setup,
            &format!("cover bolts {said} => stored | each cover bolt, ten newton metres"),
        );
    }
}

/// Bolts without an angle are taken once more to their last torque.
#[test]
fn bolts_are_taken_once_more_to_their_last_torque() {
    let state = talk(
        "flattwin",
        LengthUnit::Millimetre,
        "
        left head bolts retorqued => stored | each left head bolt, retorqued
        retorqued the right head bolts to twenty five newton metres => stored | each right head bolt, retorqued to twenty five newton metres
        right head bolt two retorqued to thirty => asked | right head bolt two, retorqued to thirty newton metres. twenty five newton metres wanted. confirm
        yes => stored | right head bolt two, retorqued to thirty newton metres
    ",
    );
    let found = state.view.findings(0).items;
    let of: Vec<String> = (found.iter().filter(|i| i.what == "re-torque"))
        .map(|i| format!("{}: {}", i.place, i.finding.as_ref().unwrap().reason))
        .collect();
    assert_eq!(
        of,
        [
            "left all head bolts: no torque called for 25 N·m (cylinder head nuts)",
            "right all head bolts: 25 N·m for 25 N·m (cylinder head nuts)",
            "right head bolt 2: 30 N·m for 25 N·m (cylinder head nuts)",
        ]
    );
}
