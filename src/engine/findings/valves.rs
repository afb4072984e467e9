//! Stem and guide, runout, margin, seat, springs, buckets: what belongs to one valve.

use super::{Item, Readings, amounts, lengths};
use crate::engine::inspection::{
    Against, Extreme, Figure, Finding, SpringLine, SpringPoint, Verdict, direct, fit, judge,
    odd_ones_out, out_of_square, rate_from_free_length, seat_width, sisters_agree,
};
use crate::event::{Coil, Part, Position, Reading, Side, Value};
use crate::measure::{Amount, Decimal, Length, Quantity, Unit};

pub(super) fn items(readings: &Readings<'_>) -> Vec<Item> {
    let valves = readings.profile.valves();
    let mut items: Vec<Item> = valves.iter().flat_map(|p| of(readings, *p)).collect();
    items.extend(SISTERS.iter().flat_map(|s| sisters(readings, s)));
    items
}

/// What is compared with its sisters beside the lobes, and of which part of a valve.
const SISTERS: [(Quantity, &str, Option<Part>); 6] = [
    (Quantity::StemDiameter, "stem", None),
    (Quantity::GuideBore, "guide bore", None),
    (Quantity::SeatWidth, "seat width", None),
    (Quantity::SpringFreeLength, "free length", None),
    (
        Quantity::SpringFreeLength,
        "free length",
        Some(Part::Spring(Coil::Inner)),
    ),
    (
        Quantity::SpringFreeLength,
        "free length",
        Some(Part::Spring(Coil::Outer)),
    ),
];

/// Parts that do not agree with their sisters; of several readings of one the smallest counts.
fn sisters(
    readings: &Readings<'_>,
    (quantity, what, part): &(Quantity, &'static str, Option<Part>),
) -> Vec<Item> {
    let mut items = Vec::new();
    let Some(agree) = sisters_agree(*quantity) else {
        return items;
    };
    for side in [Side::Inlet, Side::Exhaust] {
        let valves = readings.profile.valves().into_iter();
        let of_side = valves.filter(|p| p.side == side);
        let read = |position: Position| {
            let at = readings.at(*quantity, position).filter(|r| r.part == *part);
            Some((position, lengths(at).into_iter().min()?))
        };
        let all: Vec<(Position, Length)> = of_side.filter_map(read).collect();
        for odd in odd_ones_out(&all, agree) {
            let place = part.map_or_else(
                || odd.position.to_string(),
                |p| format!("{}, {p}", odd.position),
            );
            let (value, off) = (odd.value_nm, odd.off_nm.abs().show(readings.unit));
            let reason = format!(
                "{what} {} is {off} off its sisters: measure it again",
                value.show(readings.unit)
            );
            let finding = Finding {
                verdict: Verdict::Doubtful,
                value: Figure::length(value),
                reason,
                limit_source: None,
            };
            items.push(Item::of(place, what, Ok(finding)));
        }
    }
    items
}

fn of(readings: &Readings<'_>, position: Position) -> Vec<Item> {
    let side = Some(position.side);
    let at = |quantity| readings.at(quantity, position);
    let mut items = Vec::new();
    for (part, bore, what, limit) in [
        (
            Quantity::StemDiameter,
            Quantity::GuideBore,
            "stem to guide clearance",
            "stem_clearance",
        ),
        (
            Quantity::BucketDiameter,
            Quantity::BucketBore,
            "bucket clearance",
            "bucket_clearance",
        ),
    ] {
        let (parts, bores) = (lengths(at(part)), lengths(at(bore)));
        if !parts.is_empty() || !bores.is_empty() {
            items.push(readings.item(position, what, (limit, side), |against| {
                fit(what, &parts, &bores, against).map(|f| f.finding)
            }));
        }
        for (quantity, what, worst) in [
            (part, "diameter", Extreme::Smallest),
            (bore, "bore", Extreme::Largest),
        ] {
            let (called, key) = (amounts(at(quantity)), quantity.key());
            if !called.is_empty() && readings.limit(key, side, None) != Ok(None) {
                items.push(readings.item(position, what, (key, side), |against| {
                    direct(what, &called, worst, against)
                }));
            }
        }
    }
    for (quantity, what, worst) in [
        (
            Quantity::StemClearance,
            "stem clearance, as called",
            Extreme::Largest,
        ),
        (Quantity::Wobble, "wobble", Extreme::Largest),
        (Quantity::Runout, "stem runout", Extreme::Largest),
        (Quantity::SeatRunout, "seat runout", Extreme::Largest),
        (Quantity::ValveMargin, "valve margin", Extreme::Smallest),
        (
            Quantity::InstalledHeight,
            "installed height",
            Extreme::Largest,
        ),
        (Quantity::SpringShim, "spring shim", Extreme::Largest),
        (Quantity::TipHeight, "tip height", Extreme::Largest),
        (Quantity::ValveLift, "valve lift", Extreme::Smallest),
        (
            Quantity::PistonToValve,
            "piston to valve",
            Extreme::Smallest,
        ),
    ] {
        let called = amounts(at(quantity));
        if !called.is_empty() {
            let limit = (quantity.key(), side);
            let mut item = readings.item(position, what, limit, |against| {
                direct(what, &called, worst, against)
            });
            if quantity == Quantity::TipHeight {
                compare_with_before(readings, position, &called, &mut item);
            }
            if quantity == Quantity::InstalledHeight {
                shim_under_the_spring(readings, position, &called, &mut item);
            }
            items.push(item);
        }
    }
    items.extend(taper(readings, position));
    items.extend(seat(readings, position));
    items.extend(taken_off(readings, position));
    for spring in [None, Some(Coil::Inner), Some(Coil::Outer)] {
        items.extend(springs(readings, position, spring.map(Part::Spring)));
    }
    items
}

/// The tip rises with every cut of the seat: how high it stood before the work is said beside it.
fn compare_with_before(
    readings: &Readings<'_>,
    position: Position,
    now: &[Amount],
    item: &mut Item,
) {
    let of_tip = |r: &&Reading| r.quantity == Quantity::TipHeight && r.position == Some(position);
    let before = readings.closed.iter().rfind(of_tip).map(|r| r.value);
    let (Some(Value::Amount(before)), Some(now)) = (before, now.first()) else {
        return;
    };
    let risen = Length::from_nm(now.base() - before.base());
    if let Some(finding) = &mut item.finding {
        finding.reason.push_str(&format!(
            "; {} before the work, {} more",
            before.show(readings.unit),
            risen.show(readings.unit)
        ));
    }
}

/// A height that is too large is made up by a shim under the spring. Common practice, no source.
fn shim_under_the_spring(
    readings: &Readings<'_>,
    position: Position,
    called: &[Amount],
    item: &mut Item,
) {
    let limit = readings.limit(Quantity::InstalledHeight.key(), Some(position.side), None);
    let most = limit.ok().flatten().and_then(|l| l.most);
    let (Some(finding), Some(Figure::Amount(Amount::LengthNm(most)))) = (&mut item.finding, most)
    else {
        return;
    };
    let height = called.iter().filter_map(|a| a.length()).max();
    let Some(over) = height.map(|h| h - most).filter(|o| *o > Length::ZERO) else {
        return;
    };
    let words = format!(
        "; a shim of {} under the spring brings it to {}",
        over.show(readings.unit),
        most.show(readings.unit)
    );
    finding.reason.push_str(&words);
    let fitted = lengths(readings.at(Quantity::SpringShim, position)).pop();
    if let Some(fitted) = fitted {
        let words = format!(
            "; {} was fitted: measure the height again with it",
            fitted.show(readings.unit)
        );
        finding.reason.push_str(&words);
    }
}

/// How far the thickest and the thinnest place of a stem lie apart, if it was measured at more than one.
fn taper(readings: &Readings<'_>, position: Position) -> Option<Item> {
    let called = lengths(readings.at(Quantity::StemDiameter, position));
    let (thin, thick) = (called.iter().min()?, called.iter().max()?);
    if called.len() < 2 {
        return None;
    }
    let what = "stem taper";
    let apart = Figure::length(*thick - *thin);
    let limit = ("stem_taper", Some(position.side));
    Some(readings.item(position, what, limit, |against| judge(what, apart, against)))
}

/// Width as called, the widest and the narrowest place judged, or from two rings.
fn seat(readings: &Readings<'_>, position: Position) -> Vec<Item> {
    let limit = (Quantity::SeatWidth.key(), Some(position.side));
    let mut items = Vec::new();
    let at = |readings: &Readings<'_>, contact: bool| -> Vec<Reading> {
        let all = readings.at(Quantity::SeatWidth, position);
        let is = |r: &&Reading| readings.profile.is_contact(r) == contact;
        all.filter(is).copied().collect()
    };
    let called = amounts(at(readings, true).iter());
    let (mut ends, what) = (vec![Extreme::Largest], "seat width");
    if called.len() > 1 {
        ends.push(Extreme::Smallest);
    }
    for end in ends.into_iter().filter(|_| !called.is_empty()) {
        items.push(readings.item(position, what, limit, |against| {
            direct(what, &called, end, against)
        }));
    }
    items.extend(faces(readings, position));
    for reading in at(readings, false) {
        let (Some(part), Value::Amount(width)) = (reading.part, reading.value) else {
            continue;
        };
        // The faces above and below the contact only set where it lies: they have no limit.
        let against = Against {
            limit: None,
            unit: readings.unit,
        };
        let found = judge(what, Figure::Amount(width), against).map_err(|e| e.to_string());
        items.push(Item::of(format!("{position}, {part}"), what, found));
    }
    for reading in readings.at(Quantity::SeatWidth, position) {
        let Value::Pair(Amount::LengthNm(outer), Amount::LengthNm(inner)) = reading.value else {
            continue;
        };
        items.push(match readings.profile.seat_angle_deg {
            Some(deg) => readings.item(position, what, limit, |against| {
                seat_width(outer, inner, i64::from(deg) * 1_000, against)
            }),
            None => Item::of(
                position,
                what,
                Err("the profile gives no seat angle: expected [seat] angle_deg".to_owned()),
            ),
        });
    }
    items
}

/// The faces that were cut, whether or not their widths were called.
fn faces(readings: &Readings<'_>, position: Position) -> Option<Item> {
    let cut = readings.at(Quantity::SeatWidth, position);
    let mut cut: Vec<u8> = cut
        .filter_map(|r| match (r.part, r.value) {
            (Some(Part::SeatAngle(degrees)), Value::Done) => Some(degrees),
            _ => None,
        })
        .collect();
    cut.sort_unstable();
    cut.dedup();
    let first = *cut.first()?;
    let all: Vec<String> = cut.iter().map(|d| format!("{d}°")).collect();
    let contact = readings.profile.seat_angle_deg;
    let (verdict, words) = match contact {
        None => (
            Verdict::NoLimit,
            "the profile gives no seat angle".to_owned(),
        ),
        Some(angle) if cut.contains(&angle) => {
            (Verdict::Good, format!("the valve sits on that of {angle}°"))
        }
        Some(angle) => (
            Verdict::Doubtful,
            format!("that of {angle}°, on which the valve sits, is not among them"),
        ),
    };
    let finding = Finding {
        verdict,
        value: Figure::Amount(Amount::Milli(i64::from(first) * 1_000, Unit::Degree)),
        reason: format!("faces cut at {}: {words}", all.join(", ")),
        limit_source: contact.map(|_| readings.profile.source.clone()),
    };
    Some(Item::of(position, "seat faces", Ok(finding)))
}

/// All that was taken off a seat or a tip.
fn taken_off(readings: &Readings<'_>, position: Position) -> Vec<Item> {
    let one = |(quantity, what): (Quantity, &'static str)| {
        let called = lengths(readings.at(quantity, position));
        let total = called.iter().copied().reduce(|a, b| a + b)?;
        let limit = (quantity.key(), Some(position.side));
        Some(readings.item(position, what, limit, |against| {
            judge(what, Figure::length(total), against)
        }))
    };
    let all = [
        (Quantity::SeatCut, "cut off the seat"),
        (Quantity::TipGround, "ground off the tip"),
    ];
    all.into_iter().filter_map(one).collect()
}

/// Free length, squareness, rate and loads of one spring.
fn springs(readings: &Readings<'_>, position: Position, part: Option<Part>) -> Vec<Item> {
    let place = part.map_or_else(|| position.to_string(), |p| format!("{position}, {p}"));
    let side = Some(position.side);
    let at = |quantity| {
        readings
            .at(quantity, position)
            .filter(move |r| r.part == part)
    };
    let mut items = Vec::new();
    let free = amounts(at(Quantity::SpringFreeLength));
    if !free.is_empty() {
        let key = Quantity::SpringFreeLength.key();
        items.push(
            readings.item(&place, "free length", (key, side), |against| {
                direct("free length", &free, Extreme::Smallest, against)
            }),
        );
    }
    let free = free.last().and_then(|a| a.length());
    for gap in lengths(at(Quantity::SpringOutOfSquare)) {
        let key = Quantity::SpringOutOfSquare.key();
        let mut item = readings.item(&place, "out of square", (key, side), |against| {
            judge("out of square", Figure::length(gap), against)
        });
        let lean = free.and_then(|f| out_of_square(gap, f).ok());
        if let (Some(finding), Some(lean)) = (&mut item.finding, lean) {
            finding.reason.push_str(&format!(
                "; it leans {} degrees",
                Decimal::new((lean + 50) / 100, 1)
            ));
        }
        items.push(item);
    }
    let points: Vec<SpringPoint> = at(Quantity::SpringLoad).filter_map(point).collect();
    items.extend(loads(readings, position, &place, &points));
    if let [first, .., last] = points[..] {
        items.push(rate(readings, &place, SpringLine::new(first, last)));
    } else if let ([point], Some(free)) = (&points[..], free) {
        let rate = rate_from_free_length(free, *point).map_err(|e| e.to_string());
        items.push(Item::of(&place, "spring rate", rate.map(plain_rate)));
    }
    items
}

/// The load at each height for which the profile has a limit: as called there, or on the line
/// through two others.
fn loads(
    readings: &Readings<'_>,
    position: Position,
    place: &str,
    points: &[SpringPoint],
) -> Vec<Item> {
    let line = match points {
        [first, .., last] => SpringLine::new(*first, *last).ok(),
        _ => None,
    };
    let mut items = Vec::new();
    for height in readings.profile.load_heights() {
        let key = Quantity::SpringLoad.key();
        let limit = match readings
            .profile
            .limit_at(key, Some(position.side), None, Some(height))
        {
            Ok(None) => continue,
            limit => limit.map_err(|e| e.to_string()),
        };
        let called = points.iter().rfind(|p| p.height_nm == height);
        let load = called
            .map(|p| p.load_mn)
            .or_else(|| line.as_ref()?.load_mn_at(height));
        let Some(load) = load else { continue };
        let what = format!("load at {}", height.show(readings.unit));
        let judged = limit.and_then(|limit| {
            let against = Against {
                limit: limit.as_ref(),
                unit: readings.unit,
            };
            // To a newton: a spring tester shows no more.
            let newtons = (load + 500).div_euclid(1_000) * 1_000;
            let figure = Figure::Amount(Amount::Milli(newtons, Unit::Newton));
            judge(&what, figure, against).map_err(|e| e.to_string())
        });
        items.push(Item::of(place, "spring load", judged));
    }
    items
}

fn point(reading: &Reading) -> Option<SpringPoint> {
    match reading.value {
        Value::Pair(load, Amount::LengthNm(height_nm)) => Some(SpringPoint {
            height_nm,
            load_mn: load.base(),
        }),
        _ => None,
    }
}

fn rate(
    readings: &Readings<'_>,
    place: &str,
    line: Result<SpringLine, crate::engine::inspection::InspectError>,
) -> Item {
    let what = "spring rate";
    let found = line.map_err(|e| e.to_string()).and_then(|line| {
        let rate = line
            .rate_un_per_mm()
            .ok_or_else(|| "the rate does not fit a number".to_owned())?;
        let mut finding = plain_rate(rate);
        if let Some(free) = line.free_length_nm() {
            let free: Length = free;
            finding.reason.push_str(&format!(
                "; it would be {} long free",
                free.show(readings.unit)
            ));
        }
        if let Some(doubt) = line.doubt() {
            finding.verdict = Verdict::Doubtful;
            finding.reason.push_str(&format!("; {doubt}"));
        }
        Ok(finding)
    });
    Item::of(place, what, found)
}

/// A rate has no limit of its own in profiles: makers print loads at heights.
fn plain_rate(rate: i64) -> Finding {
    let value = Figure::RateUnPerMm(rate);
    Finding {
        verdict: Verdict::NoLimit,
        value,
        reason: format!(
            "spring rate {}; compare the loads with the maker's manual",
            value.show(crate::measure::LengthUnit::Millimetre)
        ),
        limit_source: None,
    }
}
