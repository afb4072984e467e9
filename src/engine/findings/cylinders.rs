//! Compression: its spread under every rule that the job has, dry against wet; leak-down.

use super::{Item, Readings};
use crate::engine::inspection::pressure::{
    PressureError, Rule, Spread, at_height, leak_down_milli_percent, leaks as leaks_at, spread,
    to_pa,
};
use crate::engine::inspection::{Figure, Finding, Verdict, judge};
use crate::event::{Part, Value};
use crate::measure::{Amount, Decimal, LengthUnit, Quantity, Unit, scaled};

/// A squirt of oil that raises the pressure by this share points to the rings, less to the valves
/// (the test: TM 5-4210-230-14&P-1; the share that counts as a rise is from memory of the trade).
const RISE_MILLI: i64 = 50;

pub(super) fn items(readings: &Readings<'_>, height_m: i64) -> Vec<Item> {
    let dry = pressures(readings, false);
    let mut items = Vec::new();
    if dry.len() > 1 {
        let pascals: Vec<(u8, i64)> = dry.iter().map(|(c, a)| (*c, pascal(*a))).collect();
        match spread(&pascals) {
            Ok(found) => items.extend(spreads(readings, &found)),
            Err(error) => items.push(Item::of("", "compression", Err(error.to_string()))),
        }
    }
    items.extend(dry.iter().map(|r| least(readings, *r, height_m)));
    for (cylinder, wet) in pressures(readings, true) {
        let before = dry.iter().find(|(c, _)| *c == cylinder).map(|(_, p)| *p);
        items.extend(before.map(|dry| oil(readings, cylinder, dry, wet)));
    }
    items.extend(leaks(readings));
    items
}

/// Cylinder and pressure, as called last.
fn pressures(readings: &Readings<'_>, with_oil: bool) -> Vec<(u8, Amount)> {
    let mut all: Vec<(u8, Amount)> = readings
        .of(Quantity::Compression)
        .filter_map(|r| match (r.part, r.value) {
            (Some(Part::Cylinder { number, wet, .. }), Value::Amount(amount))
                if wet == with_oil =>
            {
                Some((number, amount))
            }
            _ => None,
        })
        .collect();
    all.sort_unstable_by_key(|(cylinder, _)| *cylinder);
    all
}

/// To the pascal, so that readings of different gauges can be compared.
fn pascal(amount: Amount) -> i64 {
    match amount {
        Amount::Milli(milli, unit) => to_pa(Decimal::new(milli, 3), unit).unwrap_or(0),
        Amount::LengthNm(_) => 0,
    }
}

/// A pressure in the unit of the job.
fn in_job_unit(readings: &Readings<'_>, pa: i64) -> Figure {
    let milli = pa.saturating_add(50).div_euclid(100);
    readings.in_job_unit(Figure::Amount(Amount::Milli(milli, Unit::Bar)))
}

fn shown(readings: &Readings<'_>, pa: i64) -> String {
    in_job_unit(readings, pa).show(LengthUnit::Millimetre)
}

fn percent(ppm: i64) -> String {
    let tenths = scaled(ppm, 1, 1_000).unwrap_or(0);
    format!("{} %", Decimal::new(tenths, 1))
}

/// One verdict under each rule of the profile; where it has none, the figures alone.
fn spreads(readings: &Readings<'_>, found: &Spread) -> Vec<Item> {
    let figures = format!(
        "spread {}, lowest {} of the highest, mean {}",
        shown(readings, found.spread_pa),
        percent(found.ratio_ppm),
        shown(readings, found.mean_pa)
    );
    let mut items = Vec::new();
    for name in [
        "compression_share_of_highest",
        "compression_within_mean",
        "compression_apart",
    ] {
        let limit = match readings.limit(name, None, None) {
            Ok(None) => continue,
            Ok(Some(limit)) => limit,
            Err(error) => {
                items.push(Item::of("", "compression", Err(error)));
                continue;
            }
        };
        let bound = limit.least.or(limit.most).map_or(0, Figure::base);
        let rule = match name {
            "compression_share_of_highest" => Rule::ShareOfHighest(bound),
            "compression_within_mean" => Rule::WithinOfMean(bound),
            _ => Rule::WithinOfEachOther(bound.saturating_mul(100)),
        };
        let verdict = found.under(rule, &limit.source);
        items.push(Item::of(
            "",
            "compression",
            Ok(Finding {
                verdict: if verdict.failing.is_empty() {
                    Verdict::Good
                } else {
                    Verdict::OutOfLimit
                },
                value: in_job_unit(readings, found.spread_pa),
                reason: format!("{figures}: {}", verdict.reason),
                limit_source: Some(limit.source),
            }),
        ));
    }
    if items.is_empty() {
        items.push(Item::of(
            "",
            "compression",
            Ok(Finding {
                verdict: Verdict::NoLimit,
                value: in_job_unit(readings, found.spread_pa),
                reason: format!(
                    "{figures}; the job names no rule to judge a spread by: see the maker's manual"
                ),
                limit_source: None,
            }),
        ));
    }
    items
}

/// One cylinder against the least that the profile asks for, carried to where it was tested.
fn least(readings: &Readings<'_>, (cylinder, called): (u8, Amount), height_m: i64) -> Item {
    let place = format!("cylinder {cylinder}");
    let found = readings
        .limit(Quantity::Compression.key(), None, None)
        .and_then(|limit| {
            let carry = |figure: Option<Figure>| {
                let Some(figure) = figure.filter(|_| height_m != 0) else {
                    return Ok(figure);
                };
                at_height(figure.base().saturating_mul(100), 0, height_m)
                    .map(|pa| Some(in_job_unit(readings, pa)))
                    .map_err(|e: PressureError| e.to_string())
            };
            let limit = limit
                .map(|l| {
                    let (least, most) = (carry(l.least)?, carry(l.most)?);
                    Ok::<_, String>(crate::engine::inspection::Limit { least, most, ..l })
                })
                .transpose()?;
            let against = crate::engine::inspection::Against {
                limit: limit.as_ref(),
                unit: readings.unit,
            };
            let figure = Figure::Amount(called);
            judge("compression", figure, against).map_err(|e| e.to_string())
        })
        .map(|mut finding| {
            let held = readings.profile.has_decompressor();
            if held && finding.verdict == Verdict::OutOfLimit {
                finding
                    .reason
                    .push_str("; with the decompressor in it reads low: hold it off");
            }
            if height_m != 0 && finding.limit_source.is_some() {
                finding
                    .reason
                    .push_str(&format!("; the limit at {height_m} m above the sea"));
            }
            finding
        });
    Item::of(place, "compression", found)
}

/// Dry against wet.
fn oil(readings: &Readings<'_>, cylinder: u8, dry: Amount, wet: Amount) -> Item {
    let rise = pascal(wet) - pascal(dry);
    let rise = scaled(rise, 1_000, pascal(dry)).unwrap_or(0);
    let points = if rise >= RISE_MILLI {
        "rings or bore"
    } else {
        "valves or gasket"
    };
    let rise = Decimal::new(rise, 1);
    Item::of(
        format!("cylinder {cylinder}"),
        "oil test",
        Ok(Finding {
            verdict: Verdict::NoLimit,
            value: Figure::Amount(wet),
            reason: format!(
                "{} dry, {} with oil, {rise} % more: if this cylinder is low, it points to {points}",
                dry.show(readings.unit),
                wet.show(readings.unit)
            ),
            limit_source: None,
        }),
    )
}

/// Two pressures as they were said, if in one unit; a ratio needs no other.
fn as_said(first: Amount, second: Amount) -> (i64, i64) {
    match (first, second) {
        (Amount::Milli(first, a), Amount::Milli(second, b)) if a == b => (first, second),
        _ => (pascal(first), pascal(second)),
    }
}

fn leaks(readings: &Readings<'_>) -> Vec<Item> {
    let mut items = Vec::new();
    for reading in readings.of(Quantity::LeakDown) {
        let Some(Part::Cylinder { number, heard, .. }) = reading.part else {
            continue;
        };
        let loss = match reading.value {
            Value::Amount(amount) => Ok(amount.base()),
            Value::Pair(supply, cylinder) => {
                let (supply, cylinder) = as_said(supply, cylinder);
                // To a tenth of a per cent: gauges show no more.
                leak_down_milli_percent(supply, cylinder)
                    .map(|milli| milli.saturating_add(50).div_euclid(100) * 100)
                    .map_err(|e| e.to_string())
            }
            _ => continue,
        };
        let place = format!("cylinder {number}");
        let mut item = match loss {
            Ok(loss) => readings.item(place, "leak-down", ("leak_down", None), |against| {
                let figure = Figure::Amount(Amount::Milli(loss, Unit::Percent));
                judge("leak-down", figure, against)
            }),
            Err(error) => Item::of(place, "leak-down", Err(error)),
        };
        if let (Some(finding), Some(heard)) = (&mut item.finding, heard) {
            finding
                .reason
                .push_str(&format!("; air heard there: {}", leaks_at(heard)));
        }
        items.push(item);
    }
    items
}
