//! Torques as called, against the stages of the profile; what is still to be tightened.

use super::{Item, Readings};
use crate::engine::inspect::{Figure, Finding, Verdict};
use crate::engine::profile::Torque;
use crate::engine::torque::{Stage, check_stages, next_bolt, unit_slip};
use crate::event::{Fastener, Part, Reading, Value};
use crate::measure::{Amount, LengthUnit, Quantity, Unit};

/// A called torque may differ from the manual's by this share: a click wrench is good to 4 % (ISO
/// 6789, from memory), and "twenty" is said for 20.3.
const WRENCH_MILLI: i64 = 40;

pub(super) fn items(readings: &Readings<'_>) -> Vec<Item> {
    let mut items: Vec<Item> = readings
        .of(Quantity::Torque)
        .filter_map(|r| called(readings, r))
        .collect();
    let with_bolts = readings.profile.torque.iter().filter(|t| t.bolts.is_some());
    items.extend(with_bolts.filter_map(|t| remaining(readings, t)));
    items
}

fn spec<'a>(readings: &'a Readings<'_>, kind: Fastener) -> Option<&'a Torque> {
    readings
        .profile
        .torque
        .iter()
        .find(|t| t.bolts == Some(kind))
}

/// One torque that was called with its figure.
fn called(readings: &Readings<'_>, reading: &Reading) -> Option<Item> {
    let (Some(part @ Part::Bolt { kind, stage, .. }), Value::Amount(amount)) =
        (reading.part, reading.value)
    else {
        return None;
    };
    let figure = Figure::Amount(amount);
    let what = "torque";
    let no_limit = |reason: String| Finding {
        verdict: Verdict::NoLimit,
        value: figure,
        reason,
        limit_source: None,
    };
    let shown = figure.show(LengthUnit::Millimetre);
    let Some(spec) = spec(readings, kind) else {
        let reason = format!("{shown}; no torque for these in the profile: see the maker's manual");
        return Some(Item::of(part, what, Ok(no_limit(reason))));
    };
    let stages: Vec<i64> = spec
        .stages_newton_metre
        .iter()
        .filter_map(|d| d.milli())
        .collect();
    let steps: Vec<Stage> = stages.iter().map(|t| Stage::TorqueMnm(*t)).collect();
    if let Err(error) = check_stages(&steps) {
        return Some(Item::of(part, what, Err(error.to_string())));
    }
    let near = |wanted: i64| (amount.base() - wanted).abs() * 1_000 <= wanted * WRENCH_MILLI;
    let wanted = match stage {
        Some(stage) => stages.get(usize::from(stage).wrapping_sub(1)).copied(),
        None => stages
            .iter()
            .copied()
            .find(|w| near(*w))
            .or(stages.last().copied()),
    };
    let Some(wanted) = wanted else {
        let reason = format!("{shown}; the profile has {} stages", stages.len());
        return Some(Item::of(part, what, Ok(no_limit(reason))));
    };
    let target = Figure::Amount(Amount::Milli(wanted, Unit::NewtonMetre));
    let target = target.show(LengthUnit::Millimetre);
    let (verdict, words) = match (near(wanted), unit_slip(amount.base(), wanted)) {
        (true, _) => (Verdict::Good, format!("{shown} for {target}")),
        (false, Some(slip)) => (Verdict::OutOfLimit, format!("{shown} for {target}: {slip}")),
        (false, None) => (Verdict::OutOfLimit, format!("{shown} for {target}")),
    };
    Some(Item::of(
        part,
        what,
        Ok(Finding {
            verdict,
            value: figure,
            reason: format!("{words} ({})", spec.name),
            limit_source: Some(readings.profile.source.clone()),
        }),
    ))
}

/// The next bolt and stage of a group of which some are done and the order is known.
fn remaining(readings: &Readings<'_>, spec: &Torque) -> Option<Item> {
    let stages = spec.stages_newton_metre.len();
    let done: Vec<(u8, usize)> = readings
        .of(Quantity::Torque)
        .filter_map(|r| match r.part {
            Some(Part::Bolt {
                kind,
                number,
                stage,
                ..
            }) if Some(kind) == spec.bolts => {
                // Without a stage the last one is meant.
                let stage = stage.map_or(stages, usize::from).checked_sub(1)?;
                Some((number, stage))
            }
            _ => None,
        })
        .flat_map(|(number, stage)| match number {
            Some(number) => vec![(number, stage)],
            None => spec.order.iter().map(|n| (*n, stage)).collect(),
        })
        .collect();
    if done.is_empty() || spec.order.is_empty() {
        return None;
    }
    let steps = spec.order.len() * stages;
    let counted = spec
        .order
        .iter()
        .flat_map(|bolt| (0..stages).map(move |stage| (*bolt, stage)))
        .filter(|step| done.contains(step))
        .count();
    let figure = |n: usize| {
        let milli = i64::try_from(n).unwrap_or(i64::MAX).saturating_mul(1_000);
        Figure::Amount(Amount::Milli(milli, Unit::Count))
    };
    let (verdict, reason) = match next_bolt(&spec.order, stages, &done) {
        None => (
            Verdict::Good,
            format!("all {} done in {stages} stages", spec.order.len()),
        ),
        Some((bolt, stage)) => (
            Verdict::Doubtful,
            format!(
                "{counted} of {steps} steps called; next is {bolt}, stage {}",
                stage + 1
            ),
        ),
    };
    Some(Item::of(
        &spec.name,
        "order of tightening",
        Ok(Finding {
            verdict,
            value: figure(counted),
            reason,
            limit_source: Some(readings.profile.source.clone()),
        }),
    ))
}
