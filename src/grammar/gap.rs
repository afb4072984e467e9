//! Clearances as feeler blades show them: of one valve, of several, of a gap under a straight edge.

use super::amount::{self, Candidate};
use super::meaning::{Group, Meaning, Whereabouts};
use super::net::Match;
use super::refusal::{Refusal, refuse};
use super::scope::Scope;
use crate::event::{Gap, Part, Side, Value};
use crate::measure::{Amount, Bounds, Length, Place, Quantity, Zone, bounds};

/// A single number, with or without a unit, and nothing else.
pub(super) fn single(m: &Match) -> bool {
    let none = |slot: &&str| m.slot(slot).is_none();
    m.slot("value").is_some() && ["fix", "added"].iter().all(none)
}

/// Which of two quantities a bare number fits: the usual ones, else all that are possible.
pub(super) fn in_hand(
    gap: Result<Vec<Meaning>, Refusal>,
    shim: Result<Vec<Meaning>, Refusal>,
) -> Result<Vec<Meaning>, Refusal> {
    let (gap, shim) = match (gap, shim) {
        (Err(refusal), Err(_)) => return Err(refusal),
        (gap, shim) => (gap.unwrap_or_default(), shim.unwrap_or_default()),
    };
    let usual = |m: &Meaning| matches!(m, Meaning::Reading { unusual: false, .. });
    let mut all: Vec<Meaning> = gap.into_iter().chain(shim).collect();
    if all.iter().any(usual) {
        all.retain(usual);
    }
    Ok(all)
}

/// A clearance, of the valve that is named or of the open one.
pub(super) fn clearance(
    m: &Match,
    place: Whereabouts,
    scope: &Scope,
) -> Result<Vec<Meaning>, Refusal> {
    let side = place
        .side
        .or_else(|| scope.open.filter(|_| place.is_empty()).map(|p| p.side));
    let row = bounds(
        Quantity::Clearance,
        match side {
            Some(Side::Inlet) => Place::Inlet,
            Some(Side::Exhaust) => Place::Exhaust,
            None => Place::Any,
        },
    );
    blades(m, row, None, scope)
}

/// What feeler blades showed: of a valve's clearance, or of a gap under the straight edge.
pub(super) fn blades(
    m: &Match,
    row: &Bounds,
    part: Option<Part>,
    scope: &Scope,
) -> Result<Vec<Meaning>, Refusal> {
    let quantity = row.quantity;
    let candidates = |slot: &str| -> Result<Option<Vec<Candidate>>, Refusal> {
        let Some(raw) = m.slot(slot) else {
            return Ok(None);
        };
        let all = amount::lengths(raw, m.slot("unit"), quantity, row, scope);
        if all.is_empty() {
            Err(refuse(raw, row))
        } else {
            Ok(Some(all))
        }
    };
    let fix = m.slot("fix").is_some();
    let doubt = m.slot("doubt").is_some();
    let reading = |gap, unit, unusual: bool| Meaning::Reading {
        quantity,
        part,
        value: Value::Gap(gap),
        unit,
        fix,
        fresh: false,
        unusual: unusual || doubt,
    };
    // Blades held together: their sum.
    if let (Some(one), Some(other)) = (candidates("value")?, candidates("added")?) {
        let sum = |a: &Candidate, b: &Candidate| (a.length + b.length, a.unit);
        return Ok(one
            .iter()
            .flat_map(|a| other.iter().map(move |b| sum(a, b)))
            .map(|(length, unit)| {
                let usual = row.zone(Amount::LengthNm(length)) == Zone::Usual;
                reading(Gap::Single(length), unit, !usual)
            })
            .collect());
    }
    if m.slot("none").is_some() {
        return Ok(vec![reading(Gap::None, scope.unit, false)]);
    }
    let unusual = |c: &Candidate| c.zone != Zone::Usual;
    match (
        candidates("goes")?,
        candidates("stops")?,
        candidates("value")?,
    ) {
        (Some(goes), Some(stops), _) => {
            let mut all = Vec::new();
            for g in &goes {
                for s in stops.iter().filter(|s| s.length > g.length) {
                    let gap = Gap::Between {
                        goes_nm: g.length,
                        stops_nm: s.length,
                    };
                    all.push(reading(gap, g.unit, unusual(g) || unusual(s)));
                }
            }
            match (all.is_empty(), goes.first(), stops.first()) {
                (true, Some(g), Some(s)) => Err(Refusal::Crossed(g.length, s.length)),
                _ => Ok(all),
            }
        }
        (Some(goes), None, _) => Ok(goes
            .iter()
            .map(|c| reading(Gap::AtLeast(c.length), c.unit, unusual(c)))
            .collect()),
        (None, Some(stops), _) => Ok(stops
            .iter()
            .map(|c| reading(Gap::Below(c.length), c.unit, unusual(c)))
            .collect()),
        // A bare "zero" is never stored as no length: it means that the smallest blade does not go.
        (None, None, Some(values)) => Ok(values
            .iter()
            .map(|c| match c.length {
                Length::ZERO => reading(Gap::None, c.unit, true),
                length => reading(Gap::Single(length), c.unit, unusual(c)),
            })
            .collect()),
        (None, None, None) => Ok(Vec::new()),
    }
}

/// The same clearance on several valves.
pub(super) fn group(m: &Match, place: Whereabouts, scope: &Scope) -> Result<Vec<Meaning>, Refusal> {
    let number = |slot| m.slot(slot).and_then(|n| n.parse::<u8>().ok());
    let group = match (m.slot("group"), number("from"), number("to")) {
        (Some("rest"), ..) => Group::Rest,
        (Some("both"), ..) => Group::Both,
        (None, Some(from), Some(to)) if from < to && to <= scope.cylinders => {
            Group::Range(from, to)
        }
        (None, _, Some(to)) => return Err(Refusal::Cylinder(to)),
        _ => Group::All,
    };
    let one = |meaning| match meaning {
        Meaning::Reading {
            value: Value::Gap(gap),
            unit,
            ..
        } => Some(Meaning::Group(group, gap, unit)),
        _ => None,
    };
    Ok(clearance(m, place, scope)?
        .into_iter()
        .filter_map(one)
        .collect())
}
