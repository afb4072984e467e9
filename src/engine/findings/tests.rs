//! Findings from whole conversations' facts. The figures are the published ones of trade sums; the
//! readings around them are invented.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::engine::SHIPPED;
use crate::engine::inspection::Verdict;
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
        head: None,
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
    let mut bench = Bench::new(profile, blades);
    for fact in facts_begun(events) {
        bench.apply((1, 0), fact);
    }
    Findings::of(profile, &bench, readings, std::iter::empty(), height_m).items
}

/// What the job was begun with, if it was said.
fn facts_begun(events: &[Event]) -> impl Iterator<Item = &Fact> {
    let facts = events.iter().flat_map(|e| &e.facts);
    facts.filter(|f| matches!(f, Fact::Begun { .. }))
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
    assert!(all[0].1.contains("38.0 N/mm"), "{}", all[0].1);
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
    assert!(has("9 of 24 steps called; next is 5, stage 2"), "{all:?}");
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

fn bolt(number: Option<u8>, stage: Option<u8>, quantity: Quantity, value: Value) -> Fact {
    let part = Part::Bolt {
        kind: Fastener::HeadBolt,
        cam: None,
        number,
        stage,
    };
    read(None, Some(part), quantity, value)
}

/// The demo's head bolts: 20 and 40 N·m, then 60°, in the order 4, 5, 3, 6, 2, 7, 1, 8.
#[test]
fn the_angle_is_a_stage_and_every_stage_has_its_order() {
    let all_done = |stage| bolt(None, Some(stage), Quantity::Torque, Value::Done);
    let has = |all: &[(Verdict, String)], words: &str| all.iter().any(|(_, r)| r.contains(words));
    let torqued = found(&profile(), [all_done(1), all_done(2)]);
    assert!(
        has(
            &torqued,
            "16 of 24 steps called; next is 4, stage 3, by 60°"
        ),
        "{torqued:?}"
    );
    assert!(
        torqued.iter().all(|(v, _)| *v == Verdict::Doubtful),
        "{torqued:?}"
    );
    let degrees = |deg: i64| Value::Amount(milli(deg * 1_000, Unit::Degree));
    let turned =
        [4, 5, 3, 6, 2, 7, 1, 8].map(|n| bolt(Some(n), None, Quantity::AngleStage, degrees(60)));
    let whole = found(
        &profile(),
        [all_done(1), all_done(2)].into_iter().chain(turned),
    );
    assert!(has(&whole, "all 8 done in 3 stages"), "{whole:?}");
    assert!(whole.iter().all(|(v, _)| *v == Verdict::Good), "{whole:?}");
    let far = found(
        &profile(),
        [bolt(Some(4), None, Quantity::AngleStage, degrees(90))],
    );
    assert_eq!(far[0].0, Verdict::OutOfLimit, "{far:?}");
    let at = |n, stage| bolt(Some(n), Some(stage), Quantity::Torque, Value::Done);
    let crossed = found(&profile(), [all_done(1), at(4, 2), at(3, 2), at(5, 2)]);
    assert!(
        has(&crossed, "stage 2: 3 was called before 5"),
        "{crossed:?}"
    );
    let ninth = found(&profile(), [at(9, 1)]);
    assert!(
        has(&ninth, "there is no bolt 9: the profile has 8"),
        "{ninth:?}"
    );
}

fn begun(gauge: Unit, wrench: Unit) -> Fact {
    Fact::Begun {
        engine: "triple".to_owned(),
        unit: LengthUnit::Thou,
        profile: String::new(),
        blades_nm: Vec::new(),
        gauge,
        wrench,
        language: "en".to_owned(),
    }
}

/// 100 (80 - 74) / 80 = 7.5 (trade arithmetic), in whatever unit both are said.
#[test]
fn a_ratio_is_taken_in_the_unit_that_was_said() {
    for unit in [Unit::Psi, Unit::Bar, Unit::Kilopascal] {
        let pair = Value::Pair(milli(80_000, unit), milli(74_000, unit));
        let all = found(
            &profile(),
            [read(None, cylinder(1, false), Quantity::LeakDown, pair)],
        );
        assert!(all[0].1.starts_with("leak-down 7.5 %:"), "{all:?}");
    }
}

/// 12.755 bar are 185 psi, 9.5 bar 137.8 psi (NIST SP 811, appendix B).
#[test]
fn pressures_and_torques_come_back_in_the_unit_of_the_job() {
    let psi = |number, psi: i64| {
        let value = Value::Amount(milli(psi * 1_000, Unit::Psi));
        read(None, cylinder(number, false), Quantity::Compression, value)
    };
    let foot = Value::Amount(milli(29_500, Unit::PoundFoot));
    let facts = [
        begun(Unit::Psi, Unit::PoundFoot),
        psi(1, 185),
        psi(2, 180),
        bolt(Some(4), Some(2), Quantity::Torque, foot),
    ];
    let all = found(&profile(), facts);
    let words: Vec<&str> = all.iter().map(|(_, r)| r.as_str()).collect();
    let has = |wanted: &str| words.iter().any(|w| w.contains(wanted));
    assert!(has("spread 5 psi"), "{words:#?}");
    assert!(
        has("compression 185 psi: inside the limit of at least 137.8 psi"),
        "{words:#?}"
    );
    // 40 N·m are 29.5 lbf·ft.
    assert!(has("29.5 lbf·ft for 29.5 lbf·ft"), "{words:#?}");
}

/// What a stem, a seat or a spring is among its sisters: invented, the rule is trade practice.
#[test]
fn the_odd_one_among_its_sisters_is_to_be_measured_again() {
    let valves: Vec<Position> = profile().valves();
    let exhausts = valves.into_iter().filter(|p| p.side == Side::Exhaust);
    for (quantity, usual, odd) in [
        (Quantity::SpringFreeLength, 40_500, 45_000),
        (Quantity::StemDiameter, 5_465, 5_645),
        (Quantity::SeatWidth, 1_100, 2_100),
    ] {
        let facts = exhausts.clone().zip(0..).map(|(p, n)| {
            read(
                Some(p),
                None,
                quantity,
                um(if n == 3 { odd } else { usual }),
            )
        });
        let all = found(&profile(), facts);
        let doubted: Vec<_> = all
            .iter()
            .filter(|(_, r)| r.contains("off its sisters"))
            .collect();
        assert_eq!(doubted.len(), 1, "{quantity}: {all:#?}");
        assert_eq!(doubted[0].0, Verdict::Doubtful);
    }
}

/// 107 to 125 N at 31.50 mm, limit 102 N (a maker's workshop manual); a guide of at most 6.08 mm
/// (TM 9-2815-257-24).
#[test]
fn loads_at_a_height_and_guide_bores_have_their_limits() {
    let limits = "\n[[limit]]\nquantity = \"spring_load\"\nat_mm = \"31.5\"\nmin = \"102\"\n\
        new = [\"107\", \"125\"]\nunit = \"N\"\nsource = \"manual\"\n\
        [[limit]]\nquantity = \"guide_bore\"\nmax = \"6.08\"\nunit = \"mm\"\nsource = \"TM\"\n";
    let profile = Profile::parse(&format!("{}{limits}", SHIPPED[0].1), "x").unwrap();
    let load = |newton: i64, height: i64| {
        let height = Amount::LengthNm(Length::from_um(height));
        let pair = Value::Pair(milli(newton * 1_000, Unit::Newton), height);
        read(exhaust(), None, Quantity::SpringLoad, pair)
    };
    let at = |facts: Vec<Fact>| {
        let all = found(&profile, facts);
        let load = all
            .into_iter()
            .find(|(_, r)| r.starts_with("load at 31.50 mm"));
        load.unwrap()
    };
    assert_eq!(at(vec![load(101, 31_500)]).0, Verdict::OutOfLimit);
    assert_eq!(at(vec![load(104, 31_500)]).0, Verdict::Worn);
    assert_eq!(at(vec![load(115, 31_500)]).0, Verdict::Good);
    // On the line through 100 N at 32.5 and 130 N at 30.5: 115 N (arithmetic).
    let between = at(vec![load(100, 32_500), load(130, 30_500)]);
    assert!(between.1.contains("115 N"), "{between:?}");
    let bore = |um_: i64| {
        found(
            &profile,
            [read(exhaust(), None, Quantity::GuideBore, um(um_))],
        )
    };
    let verdict = |um_| {
        bore(um_)
            .iter()
            .find(|(_, r)| r.starts_with("bore"))
            .unwrap()
            .0
    };
    assert_eq!(
        (verdict(6_080), verdict(6_081)),
        (Verdict::Good, Verdict::OutOfLimit)
    );
}

/// 35.41 less 27.00 is 8.41 at the lobe, and 8.41 / 0.80 = 10.51 at the valve (arithmetic).
#[test]
fn the_lift_of_a_lobe_under_a_follower_has_its_own_limit() {
    let (key, text) = SHIPPED[6];
    let limit =
        "[[limit]]\nquantity = \"cam_lift\"\nmin = \"8.50\"\nunit = \"mm\"\nsource = \"x\"\n";
    let profile = Profile::parse(&format!("{text}\n{limit}"), key).unwrap();
    let lobe = Value::Pair(
        Amount::LengthNm(Length::from_um(35_410)),
        Amount::LengthNm(Length::from_um(27_000)),
    );
    let facts = [read(exhaust(), None, Quantity::LobeHeight, lobe)];
    let all = items(&profile, &profile.blades, &events(facts), 0);
    let lift = all.iter().find(|i| i.what == "cam lift").unwrap();
    let finding = lift.finding.as_ref().unwrap();
    assert_eq!(finding.verdict, Verdict::OutOfLimit);
    assert_eq!(
        finding.reason,
        "cam lift 8.41 mm: outside the limit of at least 8.50 mm; about 10.51 mm at the valve by the follower's ratio"
    );
}
