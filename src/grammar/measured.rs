//! Readings other than clearances and shims: what was measured, on which part, how much.

use super::amount::{self, Found};
use super::gap::blades;
use super::meaning::{Meaning, Whereabouts};
use super::net::Match;
use super::refusal::{Refusal, refuse};
use super::scope::Scope;
use crate::event::{Coil, Escape, Fastener, Height, Line, Part, Side, Value};
use crate::measure::{Amount, Bounds, Decimal, Home, Length, Place, Quantity, Unit, Zone, bounds};

/// As much of a place as belongs to a valve; a cylinder alone is a part. Of what belongs to a head,
/// that: bolts that are not named are those of the last head.
pub(super) fn valve_place(
    m: &Match,
    quantity: Quantity,
    place: Whereabouts,
    scope: &Scope,
) -> Whereabouts {
    if quantity.home() == Home::Valve {
        return place;
    }
    let same_bolts = quantity.home() == Home::Bolt && m.slot("bolt").is_none();
    let last = scope.last_head.filter(|_| same_bolts);
    Whereabouts {
        head: place.head.or(last).filter(|_| quantity.is_of_a_head()),
        ..Whereabouts::default()
    }
}

/// What one phrase says was measured; several meanings where the number has several.
pub(super) fn readings(
    m: &Match,
    quantity: Quantity,
    place: &Whereabouts,
    scope: &Scope,
) -> Result<Vec<Meaning>, Refusal> {
    let row = bounds(quantity, Place::Any);
    let part = part(m, quantity, place, scope);
    if quantity == Quantity::Flatness {
        return blades(m, row, part, scope);
    }
    let reading = |value, unit, unusual| Meaning::Reading {
        quantity,
        part,
        value,
        unit,
        fix: m.slot("fix").is_some(),
        fresh: false,
        unusual,
    };
    let Some(raw) = m.slot("value") else {
        return Ok(vec![reading(Value::Done, scope.unit, false)]);
    };
    // The second of a pair is a height, an angle, a pressure: in the row of its own.
    let second_row = match quantity {
        Quantity::SpringLoad => bounds(Quantity::InstalledHeight, Place::Any),
        Quantity::SeatWidth => bounds(quantity, Place::Ring),
        _ => row,
    };
    let first_row = match (quantity, m.slot("second")) {
        (Quantity::SeatWidth, Some(_)) => second_row,
        _ => row,
    };
    let firsts = match (quantity, m.slot("second")) {
        // The pressure behind and in the cylinder: the loss is worked out, never spoken.
        (Quantity::LeakDown, Some(second)) => {
            let all = pressures(raw, second, m.slot("unit"), scope)?;
            let one = |(supply, cylinder): (Found, Amount)| {
                let unusual = supply.zone != Zone::Usual;
                reading(Value::Pair(supply.amount, cylinder), scope.unit, unusual)
            };
            return Ok(all.into_iter().map(one).collect());
        }
        // The flanks of a lobe stand on both sides of its centre: only the mean has a range.
        (Quantity::LobeCentre, Some(second)) => {
            return flanks(raw, second, row)
                .map(|(value, unusual)| vec![reading(value, scope.unit, unusual)]);
        }
        _ => amount::amounts(raw, m.slot("unit"), first_row, scope),
    };
    if firsts.is_empty() {
        return Err(refuse(raw, first_row));
    }
    let Some(second) = m.slot("second") else {
        let above = m.slot("above").is_some();
        let one = |f: &Found| {
            let amount = match f.amount {
                Amount::LengthNm(length) if above => Amount::LengthNm(Length::ZERO - length),
                other => other,
            };
            match row.zone(amount) {
                Zone::Impossible => None,
                zone => Some(reading(
                    Value::Amount(amount),
                    f.unit,
                    zone != Zone::Usual || f.zone != Zone::Usual,
                )),
            }
        };
        let all: Vec<Meaning> = firsts.iter().filter_map(one).collect();
        return match all.is_empty() {
            true => Err(refuse(raw, row)),
            false => Ok(all),
        };
    };
    let unit = m
        .slot("second_unit")
        .or(m.slot("unit").filter(|_| quantity == Quantity::SeatWidth));
    let seconds = amount::amounts(second, unit, second_row, scope);
    if seconds.is_empty() {
        return Err(refuse(second, second_row));
    }
    let pair = |a: &Found, b: &Found| {
        let unusual = a.zone != Zone::Usual || b.zone != Zone::Usual;
        reading(Value::Pair(a.amount, b.amount), a.unit, unusual)
    };
    Ok(firsts
        .iter()
        .flat_map(|a| seconds.iter().map(move |b| pair(a, b)))
        .collect())
}

/// The part that a match names, if it is not a valve.
pub(super) fn part(
    m: &Match,
    quantity: Quantity,
    place: &Whereabouts,
    scope: &Scope,
) -> Option<Part> {
    let number = |slot: &str| m.slot(slot).and_then(|n| n.parse::<u8>().ok());
    let cam = m.slot("cam").map(|side| {
        if side == "inlet" {
            Side::Inlet
        } else {
            Side::Exhaust
        }
    });
    let again = m.slot("fix").is_some().then_some(scope.last_part).flatten();
    match quantity.home() {
        Home::Cylinder => place.cylinder.map(|number| Part::Cylinder {
            number,
            wet: m.slot("wet").is_some(),
            heard: m.slot("heard").and_then(Escape::from_key),
        }),
        Home::Camshaft => cam.map(Part::Camshaft),
        Home::Journal => number("number").map(|number| Part::Journal {
            cam,
            number,
            thread: m.slot("thread").is_some(),
        }),
        Home::Bolt => match (m.slot("bolt").and_then(Fastener::from_key), scope.last_part) {
            (Some(kind), _) => Some(Part::Bolt {
                kind,
                cam: place.side,
                number: number("number"),
                stage: number("stage"),
            }),
            // "Plus ninety": the bolts that were named last.
            (
                None,
                Some(Part::Bolt {
                    kind,
                    cam,
                    number: last,
                    ..
                }),
            ) => Some(Part::Bolt {
                kind,
                cam,
                number: number("number").or(last.filter(|_| m.slot("every").is_none())),
                stage: number("stage"),
            }),
            _ => None,
        },
        Home::Head => m.slot("line").and_then(Line::from_key).map(Part::Line),
        Home::Valve => {
            let coil = m.slot("coil").and_then(Coil::from_key);
            let height = m.slot("height").and_then(Height::from_key);
            let angle = number("angle").map(Part::SeatAngle);
            coil.map(Part::Spring).or(height.map(Part::At)).or(angle)
        }
        Home::Spares => None,
    }
    .or(again)
}

/// A leak-down as two pressures of one unit: behind the orifice, and in the cylinder.
fn pressures(
    raw: &str,
    second: &str,
    unit: Option<&str>,
    scope: &Scope,
) -> Result<Vec<(Found, Amount)>, Refusal> {
    let row = bounds(Quantity::Compression, Place::Supply);
    let cylinder = raw.parse::<Decimal>().ok().and_then(Decimal::milli);
    let cylinder = cylinder.ok_or(refuse(raw, row))?;
    let supplies = amount::amounts(second, unit, row, scope);
    if supplies.is_empty() {
        return Err(refuse(second, row));
    }
    // "Seventy-four over eighty": the cylinder is never above its supply.
    let with_cylinder = |supply: Found| match supply.amount {
        Amount::Milli(milli, unit) if cylinder <= milli => {
            Some((supply, Amount::Milli(cylinder, unit)))
        }
        _ => None,
    };
    let all: Vec<_> = supplies.into_iter().filter_map(with_cylinder).collect();
    match all.is_empty() {
        true => Err(refuse(raw, bounds(Quantity::LeakDown, Place::Any))),
        false => Ok(all),
    }
}

/// Equal lift on both flanks of a lobe, in degrees of crank.
fn flanks(raw: &str, second: &str, row: &Bounds) -> Result<(Value, bool), Refusal> {
    let read = |raw: &str| {
        let milli = raw.parse::<Decimal>().ok()?.milli()?;
        Some((milli, Amount::Milli(milli, Unit::Degree)))
    };
    let (Some((up, first)), Some((down, last))) = (read(raw), read(second)) else {
        return Err(refuse(raw, row));
    };
    match row.zone(Amount::Milli(i64::midpoint(up, down), Unit::Degree)) {
        Zone::Impossible => Err(refuse(raw, row)),
        zone => Ok((Value::Pair(first, last), zone != Zone::Usual)),
    }
}
