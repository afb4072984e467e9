//! Torques and angles as called, against the stages of the profile; what is still to be tightened,
//! and whether it was done in order.

use super::{Item, Readings, on_head};
use crate::engine::inspection::tightening::{is_near, is_near_angle};
use crate::engine::inspection::torque::{Stage, check_stages, unit_slip};
use crate::engine::inspection::{Figure, Finding, Verdict};
use crate::engine::profile::Torque;
use crate::event::{Fastener, Head, Part, Reading, Value};
use crate::measure::{Amount, LengthUnit, Quantity, Unit};

pub(super) fn items(readings: &Readings<'_>) -> Vec<Item> {
    let mut items: Vec<Item> = steps(readings)
        .filter_map(|r| called(readings, r))
        .collect();
    let with_bolts = readings.profile.torque.iter().filter(|t| t.bolts.is_some());
    let mut heads: Vec<Option<Head>> = steps(readings).map(|r| r.head).collect();
    heads.sort_unstable();
    heads.dedup();
    items.extend(readings.of(Quantity::Retorque).map(|r| again(readings, r)));
    items.extend(with_bolts.flat_map(|t| heads.iter().flat_map(|h| group(readings, t, *h))));
    items
}

/// Everything that was called of bolts, oldest first.
fn steps<'a>(readings: &'a Readings<'_>) -> impl Iterator<Item = &'a Reading> {
    let bolts = |r: &&Reading| matches!(r.quantity, Quantity::Torque | Quantity::AngleStage);
    readings.all.iter().filter(bolts)
}

fn spec<'a>(readings: &'a Readings<'_>, kind: Fastener) -> Option<&'a Torque> {
    readings
        .profile
        .torque
        .iter()
        .find(|t| t.bolts == Some(kind))
}

/// One torque or angle that was called with its figure.
fn called(readings: &Readings<'_>, reading: &Reading) -> Option<Item> {
    let (Some(Part::Bolt { kind, stage, .. }), Value::Amount(amount)) =
        (reading.part, reading.value)
    else {
        return None;
    };
    let place = reading.part_words().unwrap_or_default();
    let figure = Figure::Amount(amount);
    let what = match reading.quantity {
        Quantity::AngleStage => "angle",
        _ => "torque",
    };
    let no_limit = |reason: String| Finding {
        verdict: Verdict::NoLimit,
        value: figure,
        reason,
        limit_source: None,
    };
    let shown = figure.show(LengthUnit::Millimetre);
    let Some(spec) = spec(readings, kind) else {
        let reason = format!("{shown}; no torque for these in the profile: see the maker's manual");
        return Some(Item::of(place, what, Ok(no_limit(reason))));
    };
    let steps = spec.stages();
    if let Err(error) = check_stages(&steps) {
        return Some(Item::of(place, what, Err(error.to_string())));
    }
    let called = amount.base();
    let wanted = match (reading.quantity, stage.map(usize::from)) {
        (Quantity::AngleStage, _) => steps.last().copied(),
        (_, Some(stage)) => steps.get(stage.wrapping_sub(1)).copied(),
        (_, None) => spec.wanted_mnm(None, called).map(Stage::TorqueMnm),
    };
    let judged = match wanted {
        Some(Stage::TorqueMnm(wanted)) if reading.quantity == Quantity::Torque => {
            let target = Figure::Amount(Amount::Milli(wanted, Unit::NewtonMetre));
            let slip = unit_slip(called, wanted);
            (readings.in_job_unit(target), is_near(called, wanted), slip)
        }
        Some(Stage::AngleMdeg(wanted)) if reading.quantity == Quantity::AngleStage => {
            let target = Figure::Amount(Amount::Milli(wanted, Unit::Degree));
            let near = is_near_angle(called, wanted);
            (target, near, None)
        }
        _ => {
            let reason = format!("{shown}; {}", in_words(spec));
            return Some(Item::of(place, what, Ok(no_limit(reason))));
        }
    };
    let (target, near, slip) = judged;
    let target = target.show(LengthUnit::Millimetre);
    let (verdict, words) = match (near, slip) {
        (true, _) => (Verdict::Good, format!("{shown} for {target}")),
        (false, Some(slip)) => (Verdict::OutOfLimit, format!("{shown} for {target}: {slip}")),
        (false, None) => (Verdict::OutOfLimit, format!("{shown} for {target}")),
    };
    Some(Item::of(
        place,
        what,
        Ok(Finding {
            verdict,
            value: figure,
            reason: format!("{words} ({})", spec.name),
            limit_source: Some(readings.profile.source.clone()),
        }),
    ))
}

/// Bolts that were tightened once more, against the last torque of the profile.
fn again(readings: &Readings<'_>, reading: &Reading) -> Item {
    let place = reading.part_words().unwrap_or_default();
    let finding = |verdict, figure, reason| Finding {
        verdict,
        value: figure,
        reason,
        limit_source: Some(readings.profile.source.clone()),
    };
    let spec = match reading.part {
        Some(Part::Bolt { kind, .. }) => spec(readings, kind),
        _ => None,
    };
    let last = spec.and_then(|s| {
        let wanted = s.wanted_mnm(None, i64::MAX)?;
        Some((s, wanted))
    });
    let called = match reading.value {
        Value::Amount(amount) => Some(amount),
        _ => None,
    };
    let shown = called.map_or("no torque called".to_owned(), |a| {
        a.show(LengthUnit::Millimetre)
    });
    let none = Figure::Amount(Amount::Milli(0, Unit::NewtonMetre));
    let figure = called.map_or(none, Figure::Amount);
    let Some((spec, wanted)) = last else {
        let reason = format!("{shown}; no torque for these in the profile: see the maker's manual");
        let finding = Finding {
            limit_source: None,
            ..finding(Verdict::NoLimit, figure, reason)
        };
        return Item::of(place, "re-torque", Ok(finding));
    };
    let target = Figure::Amount(Amount::Milli(wanted, Unit::NewtonMetre));
    let target = readings.in_job_unit(target).show(LengthUnit::Millimetre);
    let words = format!("{shown} for {target} ({})", spec.name);
    let found = match called {
        _ if spec.angle_deg.is_some() => finding(
            Verdict::Doubtful,
            figure,
            format!(
                "{words}; they are tightened by angle: the maker's manual says whether they may be tightened again"
            ),
        ),
        Some(amount) if is_near(amount.base(), wanted) => finding(Verdict::Good, figure, words),
        Some(_) => finding(Verdict::OutOfLimit, figure, words),
        None => finding(Verdict::Doubtful, figure, words),
    };
    Item::of(place, "re-torque", Ok(found))
}

/// The stages of the profile.
fn in_words(spec: &Torque) -> String {
    let angle = if spec.angle_deg.is_some() {
        ", the last by angle"
    } else {
        ""
    };
    format!("the profile has {} stages{angle}", spec.stages().len())
}

/// What holds for a group of bolts of one head of which the order is known and some are done.
fn group(readings: &Readings<'_>, spec: &Torque, head: Option<Head>) -> Vec<Item> {
    let of_head = steps(readings).filter(|r| r.head == head);
    let called: Vec<(Option<u8>, usize)> = of_head.filter_map(|r| spec.step(r)).collect();
    if called.is_empty() || spec.order.is_empty() {
        return Vec::new();
    }
    let stages = spec.stages().len();
    let place = on_head(head, &spec.name);
    let mut items = Vec::new();
    let finding = |verdict, number: usize, reason: String| {
        let milli = i64::try_from(number).unwrap_or(i64::MAX);
        let count = Amount::Milli(milli.saturating_mul(1_000), Unit::Count);
        Finding {
            verdict,
            value: Figure::Amount(count),
            reason,
            limit_source: Some(readings.profile.source.clone()),
        }
    };
    let numbers = called.iter().filter_map(|(number, _)| *number);
    let mut absent: Vec<u8> = numbers.filter(|n| !spec.order.contains(n)).collect();
    absent.sort_unstable();
    absent.dedup();
    for number in absent {
        let reason = format!(
            "there is no bolt {number}: the profile has {}",
            spec.order.len()
        );
        let finding = finding(Verdict::OutOfLimit, usize::from(number), reason);
        items.push(Item::of(&place, "bolt", Ok(finding)));
    }
    for stage in 0..stages {
        if let Some((late, early)) = out_of_order(spec, &called, stage) {
            let reason = format!(
                "stage {}: {early} was called before {late}, which comes first; loosen and tighten again as the maker's manual says",
                stage + 1
            );
            let finding = finding(Verdict::OutOfLimit, usize::from(late), reason);
            items.push(Item::of(&place, "order of tightening", Ok(finding)));
        }
    }
    let done: Vec<(u8, usize)> = called
        .iter()
        .flat_map(|(number, stage)| match number {
            Some(number) => vec![(*number, *stage)],
            None => spec.order.iter().map(|n| (*n, *stage)).collect(),
        })
        .collect();
    let all = spec.order.len() * stages;
    let steps = spec.order.iter();
    let steps = steps.flat_map(|bolt| (0..stages).map(|stage| (*bolt, stage)));
    let counted = steps.filter(|step| done.contains(step)).count();
    let (verdict, reason) = match spec.due(&done) {
        None => (
            Verdict::Good,
            format!("all {} done in {} stages", spec.order.len(), stages),
        ),
        Some((bolt, stage)) => {
            let by_angle = stage >= spec.torques.len();
            let angle = spec.angle_deg.filter(|_| by_angle);
            let angle = angle.map(|deg| format!(", by {deg}°")).unwrap_or_default();
            (
                Verdict::Doubtful,
                format!(
                    "{counted} of {all} steps called; next is {bolt}, stage {}{angle}",
                    stage + 1
                ),
            )
        }
    };
    let finding = finding(verdict, counted, reason);
    items.push(Item::of(&place, "order of tightening", Ok(finding)));
    items
}

/// The first bolt of a stage that was called after one that follows it, and that one.
fn out_of_order(spec: &Torque, called: &[(Option<u8>, usize)], stage: usize) -> Option<(u8, u8)> {
    let of_stage = called.iter().filter(|(_, s)| *s == stage);
    let mut furthest: Option<usize> = None;
    for number in of_stage.filter_map(|(number, _)| *number) {
        let Some(at) = spec.order.iter().position(|n| *n == number) else {
            continue;
        };
        if let Some(before) = furthest.filter(|f| at < *f) {
            return Some((number, *spec.order.get(before)?));
        }
        furthest = Some(at);
    }
    None
}
