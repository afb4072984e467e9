//! Findings from whole conversations' facts. The figures are the published ones of trade sums; the
//! readings around them are invented.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::engine::SHIPPED;
use crate::engine::inspect::Verdict;
use crate::event::{Escape, Event, Fact, Fastener, Outcome, Valve};
use crate::measure::Unit;

fn profile() -> Profile {
    Profile::parse(SHIPPED[0].1, SHIPPED[0].0).unwrap()
}

fn exhaust() -> Option<Position> {
    Some(Position {
        cylinder: 2,
        side: Side::Exhaust,
        valve: Some(Valve::Left),
    })
}

fn read(position: Option<Position>, part: Option<Part>, quantity: Quantity, value: Value) -> Fact {
    Fact::Read(Reading {
        position,
        part,
        quantity,
        value,
        unit: LengthUnit::Millimetre,
    })
}

fn um(um: i64) -> Value {
    Value::Amount(Amount::LengthNm(Length::from_um(um)))
}

fn milli(milli: i64, unit: Unit) -> Amount {
    Amount::Milli(milli, unit)
}

fn events(facts: impl IntoIterator<Item = Fact>) -> Vec<Event> {
    let one = |(id, fact)| Event {
        id,
        at_ms: 0,
        said: String::new(),
        outcome: Outcome::Stored,
        why: String::new(),
        spoken: String::new(),
        command: None,
        subject: None,
        confidence: 1.0,
        rival: None,
        sound: None,
        grammar: String::new(),
        facts: vec![fact],
    };
    (1..).zip(facts).map(one).collect()
}

fn items(profile: &Profile, blades: &[Length], events: &[Event], height_m: i64) -> Vec<Item> {
    let counting = crate::event::review::counting(events);
    let facts = counting.iter().flat_map(|(_, facts)| facts.iter());
    let readings = facts.filter_map(|f| match f {
        Fact::Read(reading) => Some(reading),
        _ => None,
    });
    Findings::of(profile, blades, LengthUnit::Millimetre, readings, height_m).items
}

fn found(profile: &Profile, facts: impl IntoIterator<Item = Fact>) -> Vec<(Verdict, String)> {
    let items = items(profile, &profile.blades, &events(facts), 0);
    items
        .into_iter()
        .map(|i| match (i.finding, i.error) {
            (Some(f), _) => (f.verdict, f.reason),
            (None, error) => (Verdict::NoLimit, format!("ERROR {}", error.unwrap())),
        })
        .collect()
}

fn cylinder(number: u8, wet: bool) -> Option<Part> {
    Some(Part::Cylinder {
        number,
        wet,
        heard: None,
    })
}

/// 6.08 - 5.90 = 0.18, the worst pair of TM 9-2815-257-24, 5-11.
#[test]
fn stems_are_judged_with_their_guides_and_alone_they_ask_for_them() {
    let stem = read(exhaust(), None, Quantity::StemDiameter, um(5_900));
    let guide = read(exhaust(), None, Quantity::GuideBore, um(6_080));
    let both = found(&profile(), [stem.clone(), guide]);
    assert_eq!(both[0].0, Verdict::OutOfLimit);
    assert!(both[0].1.contains("0.18 mm"), "{}", both[0].1);
    let alone = found(&profile(), [stem]);
    assert!(alone[0].1.contains("no reading of"), "{}", alone[0].1);
}

/// 48 lbf at 1.492 in and 137 lbf at 1.082 in: 217.1 lbf/in = 38.0 N/mm, free 1.713 in
/// (TM 10-4320-344-24, table 4-1, prints 1.702 to 1.722).
#[test]
fn two_loads_give_the_rate_and_the_free_length() {
    let load = |lbf: i64, height: Length| {
        let height = Amount::LengthNm(height);
        let pair = Value::Pair(milli(lbf * 1_000, Unit::PoundForce), height);
        read(exhaust(), None, Quantity::SpringLoad, pair)
    };
    let thou = Length::from_thou;
    let all = found(&profile(), [load(48, thou(1_492)), load(137, thou(1_082))]);
    assert!(all[0].1.contains("38.015 N/mm"), "{}", all[0].1);
    assert!(all[0].1.contains("43.51"), "{}", all[0].1);
}

/// 445, 440, 405, 435 psi: fails 25 psi, passes 75 % (TM 5-3895-359-14&P).
#[test]
fn one_set_of_compressions_under_two_rules() {
    let mut profile = profile();
    profile.limits.retain(|l| l.quantity != "compression");
    for limit in &mut profile.limits {
        if limit.quantity == "compression_apart" {
            limit.max = Some("1.724".parse().unwrap()); // 25 psi
        }
    }
    let psi = [445, 440, 405, 435].into_iter().zip(1..);
    let facts = psi.map(|(psi, number)| {
        let value = Value::Amount(milli(psi * 1_000, Unit::Psi));
        read(None, cylinder(number, false), Quantity::Compression, value)
    });
    let all = found(&profile, facts);
    let rule = |words: &str| all.iter().find(|(_, r)| r.contains(words)).unwrap().0;
    assert_eq!(rule("of the highest\""), Verdict::Good);
    assert_eq!(rule("of each other"), Verdict::OutOfLimit);
    assert!(all[0].1.contains("lowest 91.0 %"), "{}", all[0].1);
}

/// 12.0 bar at sea level is 10.6 bar at 1000 m (standard atmosphere, factor 0.887).
#[test]
fn the_least_compression_is_carried_to_the_height_of_the_test() {
    let mut profile = profile();
    for limit in &mut profile.limits {
        if limit.quantity == "compression" {
            limit.min = Some("12.0".parse().unwrap());
        }
    }
    let value = Value::Amount(milli(10_700, Unit::Bar));
    let fact = read(None, cylinder(1, false), Quantity::Compression, value);
    let verdict = |height| {
        let events = events([fact.clone()]);
        let items = items(&profile, &[], &events, height);
        items[0].finding.clone().unwrap().verdict
    };
    assert_eq!(verdict(0), Verdict::OutOfLimit);
    assert_eq!(verdict(1_000), Verdict::Good);
}

/// 80 in, 60 left: 25.0 % (FAA AC 43.13-1B, para 8-14).
#[test]
fn leak_down_from_two_pressures_and_where_it_was_heard() {
    let part = Part::Cylinder {
        number: 3,
        wet: false,
        heard: Some(Escape::Exhaust),
    };
    let pair = Value::Pair(milli(80_000, Unit::Psi), milli(60_000, Unit::Psi));
    let all = found(
        &profile(),
        [read(None, Some(part), Quantity::LeakDown, pair)],
    );
    assert!(all[0].1.contains("leak-down 25 %"), "{}", all[0].1);
    assert!(all[0].1.contains("exhaust valve"), "{}", all[0].1);
}

#[test]
fn oil_says_where_a_low_cylinder_loses_its_pressure() {
    let pressure = |wet, tenths: i64| {
        let value = Value::Amount(milli(tenths * 100, Unit::Bar));
        read(None, cylinder(1, wet), Quantity::Compression, value)
    };
    let points = |wet| {
        let all = found(&profile(), [pressure(false, 90), pressure(true, wet)]);
        all.last().unwrap().1.clone()
    };
    assert!(points(110).contains("rings"), "{}", points(110));
    assert!(points(91).contains("valves"), "{}", points(91));
}

#[test]
fn the_next_bolt_follows_the_profile_and_a_mixed_up_unit_is_named() {
    let bolt = |number, stage, value| {
        let part = Part::Bolt {
            kind: Fastener::HeadBolt,
            cam: None,
            number,
            stage: Some(stage),
        };
        read(None, Some(part), Quantity::Torque, value)
    };
    let twenty = Value::Amount(milli(20_000, Unit::PoundFoot));
    let all = found(
        &profile(),
        [bolt(None, 1, Value::Done), bolt(Some(4), 2, twenty)],
    );
    let has = |words: &str| all.iter().any(|(_, reason)| reason.contains(words));
    assert!(has("9 of 16 steps called; next is 5, stage 2"), "{all:?}");
    let slip = found(&profile(), [bolt(Some(4), 1, twenty)]);
    assert!(slip[0].1.contains("pound feet and newton metres mixed?"));
}

#[test]
fn a_cancelled_reading_gives_no_finding_and_a_later_one_replaces_it() {
    let float = |um_: i64| {
        let part = Some(Part::Camshaft(Side::Inlet));
        read(None, part, Quantity::EndFloat, um(um_))
    };
    assert!(found(&profile(), [float(300), Fact::Cancelled(1)]).is_empty());
    let all = found(&profile(), [float(300), float(120)]);
    assert_eq!(all.len(), 1);
    assert_eq!(all[0].0, Verdict::Good);
}

/// 0.05 mm square to a 45° seat is checked in `inspect::cut`; here only that rings need an angle.
#[test]
fn seat_rings_need_the_angle_of_the_profile() {
    let length = |um| Amount::LengthNm(Length::from_um(um));
    let rings = Value::Pair(length(29_000), length(27_300));
    let fact = read(exhaust(), None, Quantity::SeatWidth, rings);
    // 29.0 and 27.3 at 45°: 1.202 (arithmetic).
    let all = found(&profile(), [fact.clone()]);
    assert!(all[0].1.contains("1.202 mm"), "{}", all[0].1);
    let mut bare = profile();
    bare.seat_angle_deg = None;
    assert!(found(&bare, [fact])[0].1.contains("no seat angle"));
}
