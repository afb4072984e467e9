//! Every reading that can be read back is understood as that reading, in every language.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::de::german;
use super::{english, show, triple};
use crate::event::{Coil, Fastener, Gap, Line, Part, Position, Reading, Side, Value, Valve};
use crate::grammar::*;
use crate::measure::{
    Amount, BOUNDS, Bounds, Home, Length, LengthUnit, Place, Quantity, Unit, bounds,
};

fn positions() -> Vec<Position> {
    let mut all = Vec::new();
    for cylinder in 1..=3 {
        for side in [Side::Inlet, Side::Exhaust] {
            for valve in [Valve::Left, Valve::Right] {
                all.push(Position {
                    cylinder,
                    side,
                    valve: Some(valve),
                });
            }
        }
    }
    all
}

/// Amounts from one end of the usual range to the other, as finely as they are read.
fn amounts(row: &Bounds, n: i64) -> Vec<Amount> {
    let (low, high) = row.soft;
    let step = ((high - low) / n).max(1);
    let at = |i: i64| low + i * step;
    match row.quantity.unit() {
        None => (0..=n)
            .map(|i| Amount::LengthNm(Length::from_um(at(i) / 10_000 * 10)))
            .collect(),
        Some(Unit::Count) => (0..=n)
            .map(|i| Amount::Milli(at(i) / 1_000 * 1_000, Unit::Count))
            .collect(),
        Some(unit) => (0..=n)
            .map(|i| Amount::Milli(at(i) / 500 * 500, unit))
            .collect(),
    }
}

fn parts(home: Home, quantity: Quantity) -> Vec<Option<Part>> {
    let cam = |side| Part::Camshaft(side);
    let all = match home {
        Home::Cylinder => vec![
            Part::Cylinder {
                number: 1,
                wet: false,
                heard: None,
            },
            Part::Cylinder {
                number: 3,
                wet: quantity == Quantity::Compression,
                heard: None,
            },
        ],
        Home::Camshaft => vec![cam(Side::Inlet), cam(Side::Exhaust)],
        Home::Journal => [None, Some(Side::Inlet)]
            .into_iter()
            .flat_map(|cam| {
                [1, 4].map(|number| Part::Journal {
                    cam,
                    number,
                    thread: number == 4,
                })
            })
            .collect(),
        Home::Bolt => [(Some(7), None), (Some(2), Some(3)), (None, Some(1))]
            .into_iter()
            .map(|(number, stage)| Part::Bolt {
                kind: Fastener::HeadBolt,
                cam: None,
                number,
                stage: stage.filter(|_| quantity == Quantity::Torque),
            })
            .collect(),
        Home::Head if quantity == Quantity::Flatness => vec![Part::Line(Line::Diagonal)],
        Home::Valve if quantity == Quantity::SpringFreeLength => {
            return vec![None, Some(Part::Spring(Coil::Outer))];
        }
        _ => return vec![None],
    };
    all.into_iter().map(Some).collect()
}

/// Readings over all positions, parts, quantities and forms.
fn readings() -> Vec<Reading> {
    let places = positions();
    let mut all = Vec::new();
    let mut add = |quantity: Quantity, part, value| {
        let at = places[all.len() % places.len()];
        all.push(Reading {
            position: (quantity.home() == Home::Valve).then_some(at),
            part,
            head: None,
            quantity,
            value,
            unit: LengthUnit::Millimetre,
        });
    };
    for um in (50..=320).step_by(10) {
        let (value, next) = (Length::from_um(um), Length::from_um(um + 30));
        for gap in [
            Gap::Single(value),
            Gap::AtLeast(value),
            Gap::Below(value),
            Gap::None,
            Gap::Between {
                goes_nm: value,
                stops_nm: next,
            },
        ] {
            add(Quantity::Clearance, None, Value::Gap(gap));
        }
    }
    for um in (2_025..=3_500).step_by(25) {
        let mark = Some(Length::from_um(um));
        let measured = Some(Length::from_um(um - 2));
        for (marked_nm, measured_nm) in [(mark, None), (None, mark), (mark, measured)] {
            let value = Value::Shim {
                marked_nm,
                measured_nm,
            };
            add(Quantity::ShimFitted, None, value);
        }
    }
    for row in BOUNDS {
        let quantity = row.quantity;
        let gap = matches!(quantity, Quantity::Clearance | Quantity::ShimFitted);
        if gap || row.place != Place::Any {
            continue;
        }
        for part in parts(quantity.home(), quantity) {
            for amount in amounts(row, 23) {
                let value = match (quantity, amount) {
                    (Quantity::Flatness, Amount::LengthNm(Length::ZERO)) => continue,
                    (Quantity::Flatness, Amount::LengthNm(l)) => Value::Gap(Gap::Below(l)),
                    (Quantity::TopDeadCentre, amount) => Value::Pair(amount, amount),
                    _ => Value::Amount(amount),
                };
                add(quantity, part, value);
            }
            if quantity == Quantity::Torque {
                add(quantity, part, Value::Done);
            }
        }
    }
    let mm = |um| Amount::LengthNm(Length::from_um(um));
    let milli = Amount::Milli;
    add(
        Quantity::SeatWidth,
        None,
        Value::Pair(mm(29_000), mm(27_300)),
    );
    add(
        Quantity::SpringLoad,
        None,
        Value::Pair(milli(180_000, Unit::Newton), mm(33_500)),
    );
    add(
        Quantity::LobeCentre,
        Some(Part::Camshaft(Side::Inlet)),
        Value::Pair(milli(151_500, Unit::Degree), milli(58_500, Unit::Degree)),
    );
    add(
        Quantity::LeakDown,
        Some(Part::Cylinder {
            number: 3,
            wet: false,
            heard: None,
        }),
        Value::Pair(milli(80_000, Unit::Psi), milli(74_000, Unit::Psi)),
    );
    all
}

fn comes_back(grammar: &Grammar, name: &str) {
    let scope = triple(LengthUnit::Millimetre);
    let (mut wrong, all) = (Vec::new(), readings());
    for reading in &all {
        let text = grammar.wording.reading(reading);
        let heard = grammar.parse(&text, &scope);
        // A value that is asked is not a wrong one; but in the usual range nothing is asked.
        let usual = match reading.value {
            Value::Amount(amount) => {
                bounds(reading.quantity, Place::Any).zone(amount) == crate::measure::Zone::Usual
            }
            _ => true,
        };
        // What was taken off is heard as the work and its reading.
        let heard = match heard {
            Heard::Accepted(Said {
                place,
                meaning:
                    Meaning::Repaired {
                        reading: Some(meaning),
                        ..
                    },
            }) => Heard::Accepted(Said {
                place,
                meaning: *meaning,
            }),
            heard => heard,
        };
        let same = matches!(&heard, Heard::Accepted(Said { place, meaning: Meaning::Reading { quantity, part, value, unusual, .. } })
            if (*quantity, *part, *value) == (reading.quantity, reading.part, reading.value)
                && (*unusual != usual)
                && place.cylinder == reading.position.map(|p| p.cylinder)
                && place.side == reading.position.map(|p| p.side)
                && place.valve == reading.position.and_then(|p| p.valve));
        if !same {
            wrong.push(format!("\"{text}\" => {}", show(&heard)));
        }
    }
    assert!(
        wrong.is_empty(),
        "{name}: {} of {}:\n{}",
        wrong.len(),
        all.len(),
        wrong.join("\n")
    );
}

#[test]
fn english_readings_come_back() {
    comes_back(&english(), "English");
}

#[test]
fn german_readings_come_back() {
    comes_back(&german(), "German");
}

#[test]
fn german_spares_come_back() {
    let (grammar, scope) = (german(), triple(LengthUnit::Millimetre));
    for um in (2_000..=3_500).step_by(50) {
        for count in 1..=9 {
            let size = Length::from_um(um);
            let text = grammar.wording.fact(&crate::event::Fact::Spare {
                size_nm: size,
                count,
            });
            let heard = grammar.parse(&text, &scope);
            assert!(
                matches!(&heard, Heard::Accepted(Said { meaning: Meaning::Spare { size: s, count: c, unusual: false, fix: false }, .. }) if (*s, *c) == (size, count)),
                "\"{text}\" => {heard:?}"
            );
        }
    }
}
