//! What is taken in event by event against the same worked out from all events at once.
#![allow(clippy::unwrap_used)]

use super::{Counting, JobView};
use crate::engine::{Bench, Profile, SHIPPED};
use crate::event::review::counting;
use crate::event::{Event, Fact, Gap, NewRound, Outcome, Part, Position, Reading, Repair, Value};
use crate::measure::{Amount, Length, LengthUnit, Quantity, Unit};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

fn profile() -> Profile {
    Profile::parse(SHIPPED[0].1, "triple").unwrap()
}

pub(super) fn event(id: u64, facts: Vec<Fact>) -> Event {
    Event {
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
        facts,
    }
}

/// Three valves, so that events meet.
fn position() -> impl Strategy<Value = Position> {
    (0_usize..3).prop_map(|at| profile().valves()[at])
}

fn reading(quantity: Quantity, position: Option<Position>, value: Value) -> Fact {
    Fact::Read(Reading {
        position,
        part: None,
        head: None,
        quantity,
        value,
        unit: LengthUnit::Millimetre,
    })
}

fn clearance() -> impl Strategy<Value = Fact> {
    (position(), 5_i64..30, 1_i64..3).prop_map(|(p, goes, step)| {
        let um = |n: i64| Length::from_um(n * 10);
        let gap = Gap::Between {
            goes_nm: um(goes),
            stops_nm: um(goes + step),
        };
        reading(Quantity::Clearance, Some(p), Value::Gap(gap))
    })
}

fn shim(quantity: Quantity) -> impl Strategy<Value = Fact> {
    (position(), 250_i64..254).prop_map(move |(p, size)| {
        let value = Value::Shim {
            marked_nm: Some(Length::from_um(size * 10)),
            measured_nm: None,
        };
        reading(quantity, Some(p), value)
    })
}

fn plain() -> impl Strategy<Value = Fact> {
    let words = prop_oneof![Just("seals".to_owned()), Just("gasket".to_owned())];
    let stage = prop_oneof![Just("lapping".to_owned()), Just("springs".to_owned())];
    let work = prop_oneof![
        Just(Repair::NewValve),
        Just(Repair::NewGuide),
        Just(Repair::GroundTip)
    ];
    let item = prop_oneof![
        Just("lapped".to_owned()),
        Just("leak_check".to_owned()),
        Just("leave".to_owned()),
        Just("comes_out".to_owned()),
        Just("dowels".to_owned())
    ];
    prop_oneof![
        4 => clearance(),
        3 => shim(Quantity::ShimFitted),
        1 => shim(Quantity::ShimSpare),
        1 => (position(), work).prop_map(|(position, work)| Fact::Repaired { position, work }),
        1 => (position(), 540_i64..550).prop_map(|(p, size)| {
            let bore = Value::Amount(Amount::LengthNm(Length::from_um(size * 10)));
            reading(Quantity::GuideBore, Some(p), bore)
        }),
        1 => Just(Fact::RoundBegun),
        2 => (249_i64..254, 0_u16..4).prop_map(|(size, count)| Fact::Spare {
            size_nm: Length::from_um(size * 10),
            count,
        }),
        1 => (10_i64..30).prop_map(|degrees| reading(
            Quantity::RoomTemperature,
            None,
            Value::Amount(Amount::Milli(degrees * 1_000, Unit::Celsius)),
        )),
        1 => (1_u8..3, any::<bool>()).prop_map(|(number, heard)| Fact::Read(Reading {
            position: None,
            part: Some(Part::Cylinder {
                number,
                wet: false,
                heard: heard.then_some(crate::event::Escape::Exhaust),
            }),
            head: None,
            quantity: Quantity::LeakDown,
            value: Value::Amount(Amount::Milli(8_000, Unit::Percent)),
            unit: LengthUnit::Millimetre,
        })),
        2 => (item, proptest::option::of(position())).prop_map(|(item, position)| Fact::Checked {
            head: None,
            item,
            count: None,
            good: true,
            position,
        }),
        1 => words.clone().prop_map(|text| Fact::Task {
            kind: "order".to_owned(),
            text,
            position: None,
        }),
        1 => (1_u64..12).prop_map(Fact::Ticked),
        1 => (stage, any::<bool>()).prop_map(|(stage, done)| Fact::Stage { stage, done }),
        1 => words.clone().prop_map(|text| Fact::Note { position: None, text }),
        1 => Just(Fact::NoteBegun(None)),
        1 => words.prop_map(Fact::NoteLine),
        1 => Just(Fact::NoteEnded),
        2 => position().prop_map(Fact::Opened),
    ]
}

fn fact() -> impl Strategy<Value = Fact> {
    // Some cancel or review themselves, or what does not exist.
    let cancelled = (1_u64..26).prop_map(Fact::Cancelled);
    let with_cancelled = prop_oneof![3 => plain(), 2 => (1_u64..26).prop_map(Fact::Cancelled)];
    let reviewed = (1_u64..26, proptest::collection::vec(with_cancelled, 0..3));
    prop_oneof![
        6 => plain(),
        3 => cancelled,
        1 => reviewed.prop_map(|(event, facts)| Fact::Reviewed {
            event,
            truth: String::new(),
            facts,
        }),
    ]
}

/// The latest of what `wanted` picks, found by looking through everything.
fn latest<T>(all: &[(u64, &Fact)], wanted: impl Fn(&Fact) -> Option<T>) -> Option<(u64, T)> {
    let found = |(id, fact): &(u64, &Fact)| Some((*id, wanted(fact)?));
    all.iter().rev().find_map(found)
}

fn read(fact: &Fact) -> Option<Reading> {
    match fact {
        Fact::Read(reading) => Some(*reading),
        _ => None,
    }
}

/// What stands of all that counts: nothing that came later has closed it.
fn standing<'a>(all: &[(u64, &'a Fact)]) -> Vec<(u64, &'a Fact)> {
    let closed = |fact: &Fact, later: &Fact| match fact {
        Fact::Read(r) => {
            let round = r.quantity == Quantity::Clearance && NewRound::of(later).is_some();
            let repaired = Repair::of(later).is_some_and(|(position, work)| {
                Some(position) == r.position && work.closes().contains(&r.quantity)
            });
            round || repaired
        }
        Fact::Checked { item, position, .. } => Repair::of(later)
            .is_some_and(|(valve, work)| Some(valve) == *position && work.closes_look(item)),
        _ => false,
    };
    let stands = |(at, (_, fact)): &(usize, &(u64, &Fact))| {
        !all[at + 1..].iter().any(|(_, later)| closed(fact, later))
    };
    let all = all.iter().enumerate().filter(stands);
    all.map(|(_, one)| *one).collect()
}

/// Every answer against a search through all that counts.
fn compare(counting: &Counting, all: &[(u64, &Fact)]) {
    assert_eq!(counting.last_reading(), latest(all, read));
    let stands = standing(all);
    let readings = stands.iter().filter_map(|(_, fact)| read(fact));
    let taken: Vec<Reading> = counting.readings().copied().collect();
    assert_eq!(taken, readings.collect::<Vec<_>>());
    let repairs = all.iter().filter_map(|(_, fact)| Repair::of(fact));
    let taken: Vec<_> = counting.repairs().map(|(_, p, work)| (p, work)).collect();
    assert_eq!(taken, repairs.collect::<Vec<_>>());
    for (_, fact) in all {
        let Fact::Read(r) = fact else { continue };
        let same_part = |part: Option<Part>| match (part, r.part) {
            (Some(a), Some(b)) => a.same(b),
            (a, b) => a == b,
        };
        let like = |other: &Reading| {
            (other.quantity, other.position) == (r.quantity, r.position) && same_part(other.part)
        };
        let expected = latest(&stands, |f| read(f).filter(like));
        assert_eq!(counting.latest_like(r), expected);
        let Some(position) = r.position else { continue };
        let here = |other: &Reading| other.position == Some(position);
        let of_valve =
            |q: Quantity| latest(&stands, |f| read(f).filter(|o| here(o) && o.quantity == q));
        assert_eq!(counting.latest(position, r.quantity), of_valve(r.quantity));
        let quantities: BTreeSet<Quantity> = all
            .iter()
            .filter_map(|(_, f)| read(f).filter(here).map(|o| o.quantity))
            .collect();
        let each = quantities.into_iter().filter_map(of_valve);
        let each: Vec<Reading> = each.map(|(_, r)| r).collect();
        assert_eq!(counting.latest_of(position), each);
    }
    let undoable = |f: &Fact| {
        let undoable = matches!(
            f,
            Fact::Read(_)
                | Fact::Spare { .. }
                | Fact::Checked { .. }
                | Fact::Task { .. }
                | Fact::Note { .. }
                | Fact::Repaired { .. }
        );
        let undoable = undoable || NewRound::of(f).is_some();
        undoable.then(|| f.clone())
    };
    let last = counting.last_undoable().map(|(id, f)| (id, f.clone()));
    assert_eq!(last, latest(all, undoable));
    let spare = |f: &Fact| match f {
        Fact::Spare { size_nm, count } => Some((*size_nm, *count)),
        _ => None,
    };
    assert_eq!(counting.last_spare(), latest(all, spare).map(|(id, _)| id));
    for um in [2_490, 2_500, 2_530] {
        let size = Length::from_um(um);
        let of_size = |f: &Fact| spare(f).filter(|(s, _)| *s == size);
        let without = latest(all, of_size).map(|(id, _)| id);
        let rest: Vec<_> = (all.iter().copied())
            .filter(|(id, _)| Some(*id) != without)
            .collect();
        let count = |all| latest(all, of_size).map_or(0, |(_, (_, count))| count);
        assert_eq!(counting.spares(size, None), count(all));
        assert_eq!(counting.spares(size, without), count(&rest));
    }
    let ticked = |id: u64| all.iter().any(|(_, f)| **f == Fact::Ticked(id));
    let open = all.iter().filter_map(|(id, f)| match f {
        Fact::Task { text, .. } if !ticked(*id) => Some((*id, text.as_str())),
        _ => None,
    });
    let tasks: Vec<_> = counting.tasks().iter().map(|t| (t.event, t.text)).collect();
    assert_eq!(tasks, open.collect::<Vec<_>>());
    let stage = |f: &Fact| match f {
        Fact::Stage { stage, done } => Some((stage.clone(), *done)),
        _ => None,
    };
    let last = counting
        .stage()
        .map(|(stage, done)| (stage.to_owned(), done));
    assert_eq!(last, latest(all, stage).map(|(_, s)| s));
    for key in ["lapping", "springs"] {
        let this = |f: &Fact| stage(f).filter(|(s, _)| s == key);
        assert_eq!(counting.stage_is(key), latest(all, this).map(|(_, s)| s.1));
        let begun = |f: &Fact| this(f).filter(|(_, done)| !done);
        assert_eq!(counting.was_begun(key), latest(all, begun).is_some());
    }
    let mut checks: BTreeMap<(&str, Option<Position>), &Fact> = BTreeMap::new();
    for (_, fact) in all {
        if let Fact::Checked { item, position, .. } = fact {
            checks.insert((item, *position), fact);
        }
    }
    checks.retain(|_, last| stands.iter().any(|(_, fact)| std::ptr::eq(*fact, *last)));
    assert_eq!(counting.checks(), checks.into_values().collect::<Vec<_>>());
    let long = |f: &Fact| match f {
        Fact::NoteLine(_) => Some(true),
        Fact::NoteBegun(_) | Fact::NoteEnded => Some(false),
        _ => None,
    };
    let line = latest(all, long).and_then(|(id, is_line)| is_line.then_some(id));
    assert_eq!(counting.last_line(), line);
    let opened = |f: &Fact| match f {
        Fact::Opened(position) => Some(*position),
        _ => None,
    };
    let open = latest(all, opened).map(|(_, p)| p);
    let before = latest(all, |f| opened(f).filter(|p| Some(*p) != open));
    assert_eq!(counting.opened_before(open), before.map(|(_, p)| p));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    /// Cancellations of cancellations, reviews of reviews, of the past and of what is still to come.
    #[test]
    fn what_counts_is_the_same_taken_in_one_by_one(
        facts in proptest::collection::vec(proptest::collection::vec(fact(), 0..4), 1..24),
    ) {
        let profile = profile();
        let mut view = JobView::new(&profile, &profile.blades);
        let mut events = Vec::new();
        let begun = vec![Fact::Begun {
            engine: "triple".to_owned(),
            unit: LengthUnit::Thou,
            profile: String::new(),
            blades_nm: Vec::new(),
            gauge: Unit::Bar,
            wrench: Unit::NewtonMetre,
            language: "en".to_owned(),
        }];
        for (facts, id) in std::iter::once(begun).chain(facts).zip(1..) {
            let event = event(id, facts);
            view.apply(&event);
            events.push(event);
            let expected = counting(&events);
            let taken: Vec<_> = view.counting().all().collect();
            prop_assert_eq!(&taken, &expected);
            let flat = expected.iter().flat_map(|(e, facts)| facts.iter().map(|f| (e.id, f)));
            compare(view.counting(), &flat.collect::<Vec<_>>());
            let bench = Bench::fold(&profile, &profile.blades, &events);
            prop_assert_eq!(view.bench(), &bench);
            prop_assert_eq!(view.remaining(), bench.to_measure(&profile));
        }
    }
}

/// One reading that is put right so often, each time what was said last.
fn corrections(count: u64) -> Counting {
    let mut counting = Counting::default();
    for id in 1..=count {
        let mut facts = vec![reading(
            Quantity::Clearance,
            Some(profile().valves()[0]),
            Value::Gap(Gap::Between {
                goes_nm: Length::from_um(100 + (id % 7) as i64),
                stops_nm: Length::from_um(130),
            }),
        )];
        if id > 1 {
            facts.insert(0, Fact::Cancelled(id - 1));
        }
        counting.apply(&event(id, facts));
    }
    counting
}

#[test]
fn a_correction_put_right_brings_nothing_back_and_a_disregard_the_one_before() {
    let ids = |counting: &Counting| counting.all().map(|(e, _)| e.id).collect::<Vec<_>>();
    let mut counting = corrections(3);
    assert_eq!(ids(&counting), [3]);
    counting.apply(&event(4, vec![Fact::Cancelled(3)]));
    assert_eq!(ids(&counting), [2, 4]);
    counting.apply(&event(5, vec![Fact::Cancelled(2)]));
    assert_eq!(ids(&counting), [1, 4, 5]);
    counting.apply(&event(6, vec![Fact::Cancelled(4)]));
    assert_eq!(ids(&counting), [3, 5, 6]);
}

#[test]
fn a_chain_of_corrections_leaves_one_reading() {
    assert_eq!(corrections(1_000).all().count(), 1);
}
