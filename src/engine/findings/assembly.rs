//! After a skim: what was taken off the face, the gasket, piston to head, the chamber and the
//! compression ratio; and true top dead centre.

use super::{Item, Readings, amounts, lengths, on_head};
use crate::engine::crank::timing::middle_mdeg;
use crate::engine::inspection::{Extreme, Figure, Finding, Verdict, Volumes, direct, judge};
use crate::event::{Head, Reading, Value};
use crate::measure::{Amount, Decimal, Length, Quantity, Unit};

pub(super) fn items(readings: &Readings<'_>) -> Vec<Item> {
    let mut items = Vec::new();
    for head in heads(readings) {
        items.extend(cut(readings, head));
    }
    for reading in readings.of(Quantity::GasketThickness) {
        let place = on_head(reading.head, "head gasket");
        let limit = (Quantity::GasketThickness.key(), None);
        let called = amounts(std::iter::once(reading));
        items.push(
            readings.item_on(reading.head, place, "thickness", limit, |against| {
                direct("thickness", &called, Extreme::Largest, against)
            }),
        );
    }
    for reading in readings.of(Quantity::Squish) {
        let place = reading.part.map(|p| p.to_string()).unwrap_or_default();
        let limit = (Quantity::Squish.key(), None);
        let called = amounts(std::iter::once(reading));
        items.push(readings.item(place, "piston to head", limit, |against| {
            direct("piston to head", &called, Extreme::Smallest, against)
        }));
    }
    items.extend((1..=readings.profile.cylinders).filter_map(|c| squish_by_parts(readings, c)));
    items.extend(chambers(readings));
    items.extend(readings.of(Quantity::TopDeadCentre).filter_map(dead_centre));
    items
}

/// How far a piston stays below the deck, as called or as in the profile; below zero if it stands above.
fn deck_of(readings: &Readings<'_>, cylinder: u8) -> Option<Length> {
    let called = readings.of(Quantity::DeckHeight);
    let called = lengths(called.filter(|r| r.cylinder() == Some(cylinder))).pop();
    called.or(readings.profile.displacement?.deck)
}

/// The gasket over a cylinder, as called.
fn gasket_over(readings: &Readings<'_>, cylinder: u8) -> Option<Length> {
    let head = readings.profile.head_of(cylinder);
    let called = readings.of(Quantity::GasketThickness);
    lengths(called.filter(|r| r.head == head)).pop()
}

/// Piston to head of a cylinder of which it was not measured: the gasket and what the piston stays
/// below the deck (arithmetic; over a flat squish band).
pub(super) fn squish_of(readings: &Readings<'_>, cylinder: u8) -> Option<Length> {
    let mut measured = readings.of(Quantity::Squish);
    if measured.any(|r| r.cylinder() == Some(cylinder)) {
        return None;
    }
    Some(gasket_over(readings, cylinder)? + deck_of(readings, cylinder)?)
}

/// The same with its verdict.
fn squish_by_parts(readings: &Readings<'_>, cylinder: u8) -> Option<Item> {
    let left = squish_of(readings, cylinder)?;
    let (place, what) = (format!("cylinder {cylinder}"), "piston to head");
    let limit = (Quantity::Squish.key(), None);
    let mut item = readings.item(place, what, limit, |against| {
        judge(what, Figure::length(left), against)
    });
    if let Some(finding) = &mut item.finding {
        let by = "; the gasket and the piston's height at the deck, where the head is flat";
        finding.reason.push_str(by);
        if left <= Length::ZERO {
            finding.verdict = Verdict::OutOfLimit;
            finding.reason.push_str(": the piston meets the head");
        }
    }
    Some(item)
}

/// Chamber, deck and decompressor of each cylinder as called, and the ratio that the chamber gives.
fn chambers(readings: &Readings<'_>) -> Vec<Item> {
    let mut items = Vec::new();
    for (quantity, what) in [
        (Quantity::DeckHeight, "piston below the deck"),
        (Quantity::DecompressorLift, "decompressor lift"),
        (Quantity::ChamberVolume, "chamber volume"),
    ] {
        for reading in readings.of(quantity) {
            let place = reading.part_words().unwrap_or_default();
            let Value::Amount(called) = reading.value else {
                continue;
            };
            let limit = (quantity.key(), None);
            let mut item = readings.item(&place, what, limit, |against| {
                judge(what, Figure::Amount(called), against)
            });
            let above = |f: &&mut Finding| f.value.base() < 0;
            if let Some(finding) = item.finding.as_mut().filter(above) {
                finding.reason.push_str("; the piston stands above it");
            }
            items.push(item);
            items.extend((quantity == Quantity::ChamberVolume).then(|| {
                let what = "compression ratio";
                match ratio(readings, reading) {
                    Ok(milli) => readings.item(&place, what, ("compression_ratio", None), |a| {
                        judge(what, Figure::Amount(Amount::Milli(milli, Unit::Count)), a)
                    }),
                    Err(missing) => Item::of(&place, what, Err(missing.to_owned())),
                }
            }));
        }
    }
    items
}

/// The compression ratio in thousandths that a chamber gives, or what is missing for it.
fn ratio(readings: &Readings<'_>, chamber: &Reading) -> Result<i64, &'static str> {
    let missing = "the profile gives no bore and stroke: expected [displacement]";
    let own = readings.profile.displacement.ok_or(missing)?;
    let number = chamber.cylinder().ok_or("no cylinder")?;
    let Value::Amount(volume) = chamber.value else {
        return Err("no volume");
    };
    let volumes = Volumes {
        bore: own.bore,
        stroke: own.stroke,
        gasket_bore: own.gasket_bore,
        gasket: gasket_over(readings, number).ok_or("the gasket's thickness was not called")?,
        deck: deck_of(readings, number)
            .ok_or("how far the piston stays below the deck was not called")?,
        chamber_milli: volume.base(),
        dome_milli: own.dome.milli().unwrap_or(0),
    };
    volumes
        .ratio_milli()
        .ok_or("nothing is left above the piston: measure the chamber again")
}

/// The compression ratio of a cylinder, as soon as all of it is known.
pub(super) fn ratio_of(readings: &Readings<'_>, cylinder: u8) -> Option<i64> {
    let mut chambers = readings.of(Quantity::ChamberVolume);
    ratio(readings, chambers.find(|r| r.cylinder() == Some(cylinder))?).ok()
}

/// The heads of which something was cut, in order.
fn heads(readings: &Readings<'_>) -> Vec<Option<Head>> {
    let all = readings.of(Quantity::FaceCut).map(|r| r.head);
    let mut heads: Vec<Option<Head>> = all.collect();
    heads.sort_unstable();
    heads.dedup();
    heads
}

/// All that was taken off the face of a head.
fn cut(readings: &Readings<'_>, head: Option<Head>) -> Option<Item> {
    let of_head = readings.of(Quantity::FaceCut).filter(|r| r.head == head);
    let total = lengths(of_head).into_iter().reduce(|a, b| a + b)?;
    let limit = (Quantity::FaceCut.key(), None);
    let what = "cut off the face";
    Some(
        readings.item_on(head, on_head(head, "head face"), what, limit, |against| {
            judge(what, Figure::length(total), against)
        }),
    )
}

/// Where the wheel stands at true top dead centre: the mean of the two readings at a positive stop, the
/// one before it being negative.
pub(crate) fn wheel_at_dead_centre_mdeg(reading: &Reading) -> Option<i64> {
    match reading.value {
        Value::Pair(before, after) => middle_mdeg(-before.base(), after.base()),
        _ => None,
    }
}

fn dead_centre(reading: &Reading) -> Option<Item> {
    let off = wheel_at_dead_centre_mdeg(reading)?;
    let degrees = Decimal::new(off.abs(), 3).to_string();
    let degrees = degrees.trim_end_matches('0').trim_end_matches('.');
    let (verdict, words) = match off {
        0 => (Verdict::Good, "the wheel is right".to_owned()),
        1.. => (
            Verdict::Doubtful,
            format!(
                "the wheel shows {degrees}° after at true top dead centre: set it to zero there"
            ),
        ),
        _ => (
            Verdict::Doubtful,
            format!(
                "the wheel shows {degrees}° before at true top dead centre: set it to zero there"
            ),
        ),
    };
    let finding = Finding {
        verdict,
        value: Figure::Amount(Amount::Milli(off, Unit::Degree)),
        reason: words,
        limit_source: None,
    };
    Some(Item::of("crank", "top dead centre", Ok(finding)))
}
