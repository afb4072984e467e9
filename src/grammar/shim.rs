//! Shims: fitted ones as marked or by micrometer, spares in the box, and steps along the series.

use super::amount::{self, Candidate};
use super::meaning::Meaning;
use super::net::Match;
use super::refusal::{Refusal, refuse};
use super::scope::Scope;
use crate::event::Value;
use crate::measure::{Length, LengthUnit, Place, Quantity, Zone, bounds};

fn shim_lengths(m: &Match, slot: &str, scope: &Scope) -> Result<Option<Vec<Candidate>>, Refusal> {
    let Some(raw) = m.slot(slot) else {
        return Ok(None);
    };
    let row = bounds(Quantity::ShimFitted, scope.shims);
    let all = amount::lengths(raw, m.slot("unit"), Quantity::ShimFitted, row, scope);
    if all.is_empty() {
        Err(refuse(raw, row))
    } else {
        Ok(Some(all))
    }
}

/// A fitted shim.
pub(super) fn shim(m: &Match, scope: &Scope) -> Result<Vec<Meaning>, Refusal> {
    let value = shim_lengths(m, "value", scope)?;
    let marked = shim_lengths(m, "marked", scope)?;
    let measured = shim_lengths(m, "measured", scope)?;
    let (fix, fresh) = (m.slot("fix").is_some(), m.slot("fresh").is_some());
    let reading = |marked: Option<&Candidate>, measured: Option<&Candidate>| {
        let both = [marked, measured];
        Meaning::Reading {
            quantity: Quantity::ShimFitted,
            part: None,
            value: Value::Shim {
                marked_nm: marked.map(|c| c.length),
                measured_nm: measured.map(|c| c.length),
            },
            unit: both
                .iter()
                .flatten()
                .next()
                .map_or(LengthUnit::Millimetre, |c| c.unit),
            fix,
            fresh,
            unusual: both.iter().flatten().any(|c| c.zone != Zone::Usual),
        }
    };
    Ok(match (value, marked, measured) {
        (Some(value), None, None) => value.iter().map(|c| reading(Some(c), None)).collect(),
        (None, Some(marked), None) => marked.iter().map(|c| reading(Some(c), None)).collect(),
        (None, None, Some(measured)) => measured.iter().map(|c| reading(None, Some(c))).collect(),
        (None, Some(marked), Some(measured)) => marked
            .iter()
            .flat_map(|a| measured.iter().map(move |b| (a, b)))
            .map(|(a, b)| reading(Some(a), Some(b)))
            .collect(),
        _ => Vec::new(),
    })
}

/// Spares in the box.
pub(super) fn spare(m: &Match, scope: &Scope) -> Result<Vec<Meaning>, Refusal> {
    let count = m.slot("count").and_then(|c| c.parse().ok()).unwrap_or(1);
    let values = shim_lengths(m, "value", scope)?.unwrap_or_default();
    let spare = |c: &Candidate| Meaning::Spare {
        size: c.length,
        count,
        fix: m.slot("fix").is_some(),
        unusual: c.zone != Zone::Usual,
    };
    Ok(values.iter().map(spare).collect())
}

/// A list of spares: sizes, each with the count that was said before it.
pub(super) fn spares(m: &Match, scope: &Scope) -> Result<Vec<Meaning>, Refusal> {
    let row = bounds(Quantity::ShimFitted, scope.shims);
    let mut count = 1;
    let mut all = Vec::new();
    for (slot, said) in &m.slots {
        match slot.as_str() {
            "count" => count = said.parse().unwrap_or(1),
            "value" => {
                let sizes = amount::lengths(said, None, Quantity::ShimFitted, row, scope);
                let size = sizes.first().ok_or_else(|| refuse(said, row))?;
                all.push(Meaning::Spare {
                    size: size.length,
                    count: std::mem::replace(&mut count, 1),
                    fix: false,
                    unusual: true,
                });
            }
            _ => {}
        }
    }
    Ok(all)
}

/// "Up one size": another shim by steps of the series or by a length.
pub(super) fn step(m: &Match, scope: &Scope) -> Result<Meaning, Refusal> {
    let sign = if m.slot("way") == Some("down") { -1 } else { 1 };
    let steps = m.slot("steps").and_then(|n| n.parse::<i8>().ok());
    let by = by(m, scope)?;
    Ok(Meaning::ShimStep {
        steps: steps.unwrap_or(0) * sign,
        by: by.map(|b| if sign < 0 { -b } else { b }),
    })
}

/// The length of the slot `by`: what a shim is to differ by, or what a cut takes off.
fn by(m: &Match, scope: &Scope) -> Result<Option<Length>, Refusal> {
    let Some(raw) = m.slot("by") else {
        return Ok(None);
    };
    let row = bounds(Quantity::Clearance, Place::Any);
    let all = amount::lengths(raw, m.slot("unit"), Quantity::Clearance, row, scope);
    let first = all.first().map(|c| c.length);
    first.map(Some).ok_or_else(|| refuse(raw, row))
}

/// "What if I take five hundredths off": by how much.
pub(super) fn cut(m: &Match, scope: &Scope) -> Result<Option<Meaning>, Refusal> {
    Ok(by(m, scope)?.map(Meaning::WhatIfCut))
}
