//! Tests of the events' JSON: every fact comes back as it was, and what is not known is refused.
#![allow(clippy::unwrap_used)]

use super::job_tests::event;
use super::{BODY_VERSION, CodecError, decode, encode};
use crate::event::{
    About, Coil, Doubt, Escape, Event, Fact, Fastener, Gap, Head, Line, Outcome, Part, Position,
    Question, Reading, Repair, Rival, Side, Sound, Source, Unplaced, Value, Valve,
};
use crate::measure::{Amount, Length, LengthUnit, Quantity, Unit};
use proptest::collection::vec;
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::select;

fn length() -> impl Strategy<Value = Length> {
    any::<i64>().prop_map(Length::from_nm)
}

fn side() -> impl Strategy<Value = Side> {
    select(vec![Side::Inlet, Side::Exhaust])
}

fn valve() -> impl Strategy<Value = Valve> {
    let keys = ["left", "middle", "right", "front", "rear", "inner", "outer"];
    select(keys.to_vec()).prop_map(|key| Valve::from_key(key).unwrap())
}

fn position() -> impl Strategy<Value = Position> {
    (any::<u8>(), side(), of(valve())).prop_map(|(cylinder, side, valve)| Position {
        cylinder,
        side,
        valve,
    })
}

fn unit() -> impl Strategy<Value = LengthUnit> {
    use LengthUnit::{Inch, Micron, Millimetre, Thou};
    select(vec![Millimetre, Thou, Inch, Micron])
}

fn value() -> impl Strategy<Value = Value> {
    let units = select(vec![
        Unit::Newton,
        Unit::NewtonMetre,
        Unit::Bar,
        Unit::Degree,
        Unit::Percent,
        Unit::Count,
        Unit::Celsius,
        Unit::Psi,
        Unit::Fahrenheit,
    ]);
    prop_oneof![
        (length(), length())
            .prop_map(|(goes_nm, stops_nm)| Value::Gap(Gap::Between { goes_nm, stops_nm })),
        length().prop_map(|l| Value::Gap(Gap::Single(l))),
        length().prop_map(|l| Value::Gap(Gap::AtLeast(l))),
        length().prop_map(|l| Value::Gap(Gap::Below(l))),
        Just(Value::Gap(Gap::None)),
        length().prop_map(|l| Value::Amount(Amount::LengthNm(l))),
        (any::<i64>(), units).prop_map(|(milli, unit)| Value::Amount(Amount::Milli(milli, unit))),
        (of(length()), of(length())).prop_map(|(marked_nm, measured_nm)| Value::Shim {
            marked_nm,
            measured_nm
        }),
        Just(Value::Done),
        (length(), any::<i64>()).prop_map(|(l, milli)| Value::Pair(
            Amount::Milli(milli, Unit::Newton),
            Amount::LengthNm(l)
        )),
    ]
}

fn reading() -> impl Strategy<Value = Reading> {
    use Quantity::{
        AngleStage, BucketBore, BucketDiameter, ChainPins, ChamberVolume, Clearance, Compression,
        EndFloat, Flatness, GuideBore, InstalledHeight, JournalClearance, LeakDown, LobeCentre,
        LobeHeight, Retorque, RoomTemperature, Runout, SeatCut, SeatWidth, ShimFitted, ShimSpare,
        SpringFreeLength, SpringLoad, SpringOutOfSquare, StemClearance, StemDiameter, Torque,
        ValveMargin,
    };
    let quantities = vec![
        Clearance,
        ShimFitted,
        ShimSpare,
        StemDiameter,
        GuideBore,
        StemClearance,
        Runout,
        ValveMargin,
        SeatWidth,
        SpringFreeLength,
        SpringOutOfSquare,
        InstalledHeight,
        SpringLoad,
        JournalClearance,
        LobeHeight,
        EndFloat,
        Flatness,
        BucketDiameter,
        BucketBore,
        Torque,
        AngleStage,
        ChainPins,
        LobeCentre,
        Compression,
        LeakDown,
        RoomTemperature,
        SeatCut,
        ChamberVolume,
        Retorque,
    ];
    (
        of(position()),
        of(part()),
        of(select(vec![Head::Front, Head::Rear, Head::Left])),
        select(quantities),
        value(),
        unit(),
    )
        .prop_map(|(position, part, head, quantity, value, unit)| Reading {
            position,
            part,
            head,
            quantity,
            value,
            unit,
        })
}

fn part() -> impl Strategy<Value = Part> {
    let heard = of(select(vec![Escape::InletTract, Escape::CoolantBubbles]));
    let kinds = select(vec![Fastener::HeadBolt, Fastener::CamCap]);
    prop_oneof![
        (any::<u8>(), any::<bool>(), heard).prop_map(|(number, wet, heard)| Part::Cylinder {
            number,
            wet,
            heard
        }),
        side().prop_map(Part::Camshaft),
        (of(side()), any::<u8>(), any::<bool>()).prop_map(|(cam, number, thread)| Part::Journal {
            cam,
            number,
            thread
        }),
        (kinds, of(side()), of(any::<u8>()), of(any::<u8>())).prop_map(
            |(kind, cam, number, stage)| Part::Bolt {
                kind,
                cam,
                number,
                stage
            }
        ),
        select(vec![Line::Along, Line::Across, Line::Diagonal]).prop_map(Part::Line),
        select(vec![Coil::Inner, Coil::Outer]).prop_map(Part::Spring),
        any::<u8>().prop_map(Part::SeatAngle),
    ]
}

fn unplaced() -> impl Strategy<Value = Unplaced> {
    (of(any::<u8>()), of(side()), of(valve()), of(reading())).prop_map(
        |(cylinder, side, valve, reading)| Unplaced {
            cylinder,
            side,
            valve,
            reading,
        },
    )
}

/// Any fact but a question.
fn plain() -> impl Strategy<Value = Fact> {
    prop_oneof![
        (".*", unit(), ".*", vec(length(), 0..4), ".*").prop_map(
            |(engine, unit, profile, blades_nm, language)| Fact::Begun {
                engine,
                unit,
                profile,
                blades_nm,
                gauge: Unit::Psi,
                wrench: Unit::PoundFoot,
                language,
            }
        ),
        position().prop_map(Fact::Opened),
        reading().prop_map(Fact::Read),
        (length(), any::<u16>()).prop_map(|(size_nm, count)| Fact::Spare { size_nm, count }),
        (position(), of(position())).prop_map(|(position, from)| Fact::ShimFrom {
            position,
            source: from.map_or(Source::Bought, Source::Valve),
        }),
        (position(), select(vec![Repair::NewGuide, Repair::Adjusted]))
            .prop_map(|(position, work)| Fact::Repaired { position, work }),
        Just(Fact::RoundBegun),
        (select(vec![About::Owner, About::NextCheck]), ".*")
            .prop_map(|(what, text)| Fact::About { what, text }),
        ".*".prop_map(|profile| Fact::ProfileChanged { profile }),
        any::<u64>().prop_map(Fact::Cancelled),
        any::<u64>().prop_map(Fact::Ticked),
        of(position()).prop_map(Fact::NoteBegun),
        ".*".prop_map(Fact::NoteLine),
        Just(Fact::NoteEnded),
        (".*", any::<bool>()).prop_map(|(stage, done)| Fact::Stage { stage, done }),
        (".*", ".*", of(position())).prop_map(|(kind, text, position)| Fact::Task {
            kind,
            text,
            position
        }),
        (
            ".*",
            of(any::<u16>()),
            any::<bool>(),
            of(position()),
            of(select(vec![Head::Front, Head::Rear]))
        )
            .prop_map(|(item, count, good, position, head)| Fact::Checked {
                item,
                count,
                good,
                position,
                head
            }),
        (of(position()), ".*").prop_map(|(position, text)| Fact::Note { position, text }),
        vec(any::<u64>(), 0..4).prop_map(|events| Fact::Forgot { events }),
        select(vec![Fact::Closed, Fact::StandBy, Fact::Listening]),
    ]
}

fn fact() -> impl Strategy<Value = Fact> {
    use Doubt::{Correction, Overturns, Position, Repeated, Uncertain, Unusual, Value, Valve};
    let doubts = vec![
        Valve, Position, Value, Unusual, Uncertain, Overturns, Correction, Repeated,
    ];
    let question = (
        select(doubts),
        vec(plain(), 0..3),
        of(unplaced()),
        vec(plain(), 0..3),
        ".*",
    )
        .prop_map(|(doubt, proposed, unplaced, choices, words)| Question {
            doubt,
            proposed,
            unplaced,
            choices,
            words,
        });
    prop_oneof![
        4 => plain(),
        1 => question.prop_map(|question| Fact::Asked(Box::new(question))),
    ]
}

prop_compose! {
    fn any_event()(
        (id, at_ms, said) in (any::<u64>(), any::<i64>(), ".*"),
        outcome in select(vec![Outcome::Stored, Outcome::Asked, Outcome::Refused, Outcome::Ignored]),
        (why, spoken, command) in (".*", ".*", of(".*")),
        subject in of(position()),
        confidence in prop_oneof![0.0_f32..=1.0, proptest::num::f32::NORMAL],
        rival in of((".*", proptest::num::f32::NORMAL)),
        sound in of(("[0-9a-f]{64}", any::<u32>(), any::<u32>(), ".*")),
        grammar in ".*",
        facts in vec(fact(), 0..4),
    ) -> Event {
        let rival = rival.map(|(said, margin_nats)| Rival { said, margin_nats });
        let sound = sound.map(|(sha256, length_ms, overruns, model)| Sound {
            sha256, length_ms, overruns, model,
        });
        Event {
            id, at_ms, said, outcome, why, spoken, command, subject, confidence, rival, sound, grammar, facts,
        }
    }
}

proptest! {
    #[test]
    fn every_event_comes_back(event in any_event()) {
        let body = encode(&event).unwrap();
        let versioned = body.starts_with("{\"v\":8,");
        prop_assert!(versioned);
        prop_assert_eq!(decode(&body).unwrap(), event);
    }

    #[test]
    fn no_text_makes_it_panic(text in ".*") {
        prop_assert!(decode(&text).is_err());
    }
}

#[test]
fn the_written_form_stays_as_it_is() {
    assert_eq!(
        encode(&event(1)).unwrap(),
        r#"{"v":8,"id":1,"at_ms":1700000000001,"said":"note number 1","outcome":"stored","why":"","spoken":"noted","command":null,"subject":null,"confidence":0.93,"sound":null,"grammar":"0123456789abcdef","facts":[{"note":{"position":null,"text":"number 1"}}]}"#
    );
}

#[test]
fn version_1_is_read_with_what_it_lacks() {
    let old = r#"{"v":1,"id":1,"at_ms":0,"said":"","outcome":"stored","why":"","spoken":"","command":null,"subject":null,"confidence":1.0,"sound":null,"grammar":"","facts":[{"begun":{"engine":"triple","unit":"mm","profile":"","blades_nm":[150000]}},{"read":{"position":null,"quantity":"compression","value":{"amount":{"milli":[12500,"bar"]}},"unit":"mm"}}]}"#;
    let facts = decode(old).unwrap().facts;
    let Fact::Begun {
        gauge,
        wrench,
        language,
        ..
    } = &facts[0]
    else {
        unreachable!("the first fact begins the job")
    };
    assert_eq!((*gauge, *wrench), (Unit::Bar, Unit::NewtonMetre));
    assert_eq!(language, "en");
    assert!(matches!(&facts[1], Fact::Read(r) if r.part.is_none()));
}

#[test]
fn what_is_not_known_is_refused() {
    let body = encode(&event(1)).unwrap();
    let refused = |from: &str, to: &str| {
        let other = body.replace(from, to);
        assert_ne!(other, body);
        decode(&other).err().unwrap()
    };
    assert!(matches!(
        refused("\"v\":8", "\"v\":9"),
        CodecError::TooNew { found: 9 }
    ));
    for odd in ["\"v\":0", "\"v\":\"1\"", "\"w\":1", "\"v\":-1"] {
        let error = refused("\"v\":8", odd);
        assert!(matches!(error, CodecError::NoVersion), "{odd}: {error}");
    }
    let error = refused("\"position\":null", "\"position\":null,\"mood\":3");
    assert_eq!(error.to_string(), "unknown key \"facts.0.note.mood\"");
    let error = refused("{\"note\"", "{\"song\"").to_string();
    assert!(error.contains("unknown variant `song`"), "{error}");
    assert!(matches!(decode("[1]"), Err(CodecError::NoVersion)));
    assert!(matches!(decode("{"), Err(CodecError::Malformed(_))));
    assert_eq!(BODY_VERSION, 8);
}

#[test]
fn a_confidence_that_is_no_number_is_not_written() {
    let mut odd = event(1);
    odd.confidence = f32::NAN;
    assert!(matches!(encode(&odd), Err(CodecError::Lossy { id: 1, .. })));
}
