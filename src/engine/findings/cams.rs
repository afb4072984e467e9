//! Flatness of the head, journals, end float, lobes, lobe centres, chain pins.

use super::{Item, Readings, amounts, on_head};
use crate::engine::crank::timing::{
    Lobe, check_pins, middle_mdeg, overlap_mdeg, separation_cam_mdeg,
};
use crate::engine::inspection::{
    Extreme, Figure, Finding, Verdict, direct, flatness, judge, lift, odd_ones_out, sisters_agree,
};
use crate::engine::profile::FollowerRatio;
use crate::event::{Gap, Head, Part, Position, Reading, Side, Value};
use crate::measure::{Amount, Decimal, Length, Quantity, Unit, scaled};

pub(super) fn items(readings: &Readings<'_>, blades: &[Length]) -> Vec<Item> {
    let mut items: Vec<Item> = flat(readings, blades);
    items.extend(lobes(readings));
    items.extend(lifts(readings));
    for (quantity, what) in [
        (Quantity::JournalClearance, "journal clearance"),
        (Quantity::EndFloat, "end float"),
        (Quantity::CamRunout, "camshaft runout"),
    ] {
        for reading in readings.of(quantity) {
            let place = reading.part_words().unwrap_or_default();
            let called = amounts(std::iter::once(reading));
            let limit = (quantity.key(), reading.side());
            let mut item = readings.item_on(reading.head, place, what, limit, |against| {
                direct(what, &called, Extreme::Largest, against)
            });
            let thread = matches!(reading.part, Some(Part::Journal { thread: true, .. }));
            if let Some(finding) = item.finding.as_mut().filter(|_| thread) {
                let by = "; by plastic thread: the clearance is read off the strip's own scale at its widest place";
                finding.reason.push_str(by);
            }
            items.push(item);
        }
    }
    items.extend(centres(readings));
    items.extend(pins(readings));
    items
}

fn flat(readings: &Readings<'_>, blades: &[Length]) -> Vec<Item> {
    let mut heads: Vec<Option<Head>> = readings.of(Quantity::Flatness).map(|r| r.head).collect();
    heads.sort_unstable();
    heads.dedup();
    let of_head = |head: &Option<Head>| {
        let of = readings.of(Quantity::Flatness).filter(|r| r.head == *head);
        let lines: Vec<(String, Gap)> = of
            .filter_map(|r| match r.value {
                Value::Gap(gap) => Some((r.part.map(|p| p.to_string()).unwrap_or_default(), gap)),
                _ => None,
            })
            .collect();
        let lines: Vec<_> = lines.iter().map(|(l, g)| (l.as_str(), *g)).collect();
        let limit = (Quantity::Flatness.key(), None);
        let face = on_head(*head, "head face");
        readings.item_on(*head, face, "flatness", limit, |against| {
            flatness(&lines, blades, against)
        })
    };
    heads.iter().map(of_head).collect()
}

/// The lift of each lobe whose base circle was measured with it.
fn lifts(readings: &Readings<'_>) -> Vec<Item> {
    let with_base = |r: &Reading| match (r.position, r.value) {
        (Some(position), Value::Pair(Amount::LengthNm(height), Amount::LengthNm(base))) => {
            Some((position, height, base))
        }
        _ => None,
    };
    let lobes = readings.of(Quantity::LobeHeight).filter_map(with_base);
    let what = "cam lift";
    let item = |(position, height, base): (Position, Length, Length)| {
        let follower = readings.profile.shims.ratio;
        let bucket = follower == FollowerRatio::BUCKET;
        // A bucket lifts its valve as the lobe does. A follower's ratio changes over the lift, so what
        // it makes of it is told and not judged.
        let own = readings.limit("cam_lift", Some(position.side), None);
        let name = match own {
            Ok(None) if bucket => Quantity::ValveLift.key(),
            _ => "cam_lift",
        };
        let mut item = readings.item(position, what, (name, Some(position.side)), |against| {
            judge(what, Figure::length(lift(height, base)?), against)
        });
        if let (Some(finding), Ok(at_lobe), false) = (&mut item.finding, lift(height, base), bucket)
        {
            // To a hundredth of a millimetre, as a lobe is measured.
            let hundredths = scaled(follower.at_valve(at_lobe).nm(), 1, 10_000).unwrap_or(0);
            let at_valve = Length::from_um(hundredths * 10).show(readings.unit);
            let words = format!("; about {at_valve} at the valve by the follower's ratio");
            finding.reason.push_str(&words);
        }
        item
    };
    lobes.map(item).collect()
}

/// Each lobe against its limit, and the ones that do not agree with their sisters.
fn lobes(readings: &Readings<'_>) -> Vec<Item> {
    let mut items = Vec::new();
    for side in [Side::Inlet, Side::Exhaust] {
        let sisters: Vec<_> = readings
            .of(Quantity::LobeHeight)
            .filter_map(|r| Some((r.position.filter(|p| p.side == side)?, r)))
            .filter_map(|(p, r)| match r.value {
                Value::Amount(amount) | Value::Pair(amount, _) => Some((p, amount.length()?)),
                _ => None,
            })
            .collect();
        let odd = sisters_agree(Quantity::LobeHeight).map(|agree| odd_ones_out(&sisters, agree));
        for (position, height) in &sisters {
            let key = Quantity::LobeHeight.key();
            let called = [Amount::LengthNm(*height)];
            let mut item = readings.item(position, "lobe height", (key, Some(side)), |against| {
                direct("lobe height", &called, Extreme::Smallest, against)
            });
            let mut apart = odd.iter().flatten().filter(|s| s.position == *position);
            if let (Some(sister), Some(finding)) = (apart.next(), &mut item.finding) {
                if finding.verdict != Verdict::OutOfLimit {
                    finding.verdict = Verdict::Doubtful;
                }
                finding.reason.push_str(&format!(
                    "; {} off its sisters: measure it again",
                    sister.off_nm.show(readings.unit)
                ));
            }
            items.push(item);
        }
    }
    items
}

/// Lobe centres as called, or from equal lift on both flanks; and what the profile's angles give.
fn centres(readings: &Readings<'_>) -> Vec<Item> {
    let mut items = Vec::new();
    for reading in readings.of(Quantity::LobeCentre) {
        let Some(Part::Camshaft(side)) = reading.part else {
            continue;
        };
        let centre = match reading.value {
            Value::Amount(amount) => Some(amount.base()),
            Value::Pair(up, down) => middle_mdeg(up.base(), down.base()),
            _ => None,
        };
        let Some(centre) = centre else { continue };
        let key = Quantity::LobeCentre.key();
        let mut item = readings.item_on(
            reading.head,
            reading.part_words().unwrap_or_default(),
            "lobe centre",
            (key, Some(side)),
            |against| {
                let figure = Figure::Amount(Amount::Milli(centre, Unit::Degree));
                judge("lobe centre", figure, against)
            },
        );
        // Between the same lift on both flanks lies the duration at that lift (arithmetic).
        if let (Some(finding), Value::Pair(up, down)) = (&mut item.finding, reading.value) {
            let between = Decimal::new((up.base() - down.base()).abs(), 3).to_string();
            let between = between.trim_end_matches('0').trim_end_matches('.');
            finding.reason.push_str(&format!(
                "; {between}° between the same lift on both flanks"
            ));
        }
        if let (Some(finding), Some(words)) = (&mut item.finding, by_angles(readings, side)) {
            finding.reason.push_str(&words);
        }
        items.push(item);
    }
    items
}

/// Centre, duration and overlap by the opening and closing angles of the profile.
fn by_angles(readings: &Readings<'_>, side: Side) -> Option<String> {
    let lobe = |side| {
        let spec = readings.profile.side(side);
        Some(Lobe {
            opens_mdeg: i64::from(spec.opens_deg?) * 1_000,
            closes_mdeg: i64::from(spec.closes_deg?) * 1_000,
        })
    };
    let own = lobe(side)?;
    let centre = match side {
        Side::Inlet => own.inlet_centre_atdc_mdeg(),
        Side::Exhaust => own.exhaust_centre_btdc_mdeg(),
    };
    let show = |mdeg| {
        let text = Decimal::new(mdeg, 3).to_string();
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    let overlap = lobe(Side::Inlet).zip(lobe(Side::Exhaust));
    let overlap = overlap.map_or_else(String::new, |(inlet, exhaust)| {
        format!(
            ", overlap {}°, lobe separation {}° of the cam",
            show(overlap_mdeg(inlet, exhaust)),
            show(separation_cam_mdeg(inlet, exhaust))
        )
    });
    Some(format!(
        "; by the profile's angles the centre is {}°, the duration {}°{overlap}",
        show(centre),
        show(own.duration_mdeg())
    ))
}

/// The pins of each head's chain.
fn pins(readings: &Readings<'_>) -> Vec<Item> {
    let all = readings.of(Quantity::ChainPins);
    all.filter_map(|reading| pins_of(readings, reading))
        .collect()
}

fn pins_of(readings: &Readings<'_>, reading: &Reading) -> Option<Item> {
    let called = amounts(std::iter::once(reading)).first()?.base() / 1_000;
    let figure = Figure::Amount(Amount::Milli(called * 1_000, Unit::Count));
    let place = on_head(reading.head, "");
    let chain = readings.profile.chain;
    let wanted = chain.and_then(|c| Some((c.cam_teeth, c.pins_between_marks?)));
    let Some((teeth, wanted)) = wanted else {
        let limit = ("chain_pins", None);
        return Some(
            readings.item_on(reading.head, place, "chain pins", limit, |against| {
                judge("chain pins", figure, against)
            }),
        );
    };
    let found = check_pins(called, i64::from(wanted), i64::from(teeth));
    let found = found.map_err(|e| e.to_string());
    Some(Item::of(
        place,
        "chain pins",
        found.map(|check| Finding {
            verdict: if check.off_pins == 0 {
                Verdict::Good
            } else {
                Verdict::OutOfLimit
            },
            value: figure,
            reason: format!(
                "{called} called, {wanted} wanted, the pin at the mark counted as one in both: {}",
                check.words
            ),
            limit_source: Some(readings.profile.source.clone()),
        }),
    ))
}
