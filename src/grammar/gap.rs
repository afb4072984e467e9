//! Clearances as feeler blades show them: of one valve, of several, of a gap under a straight edge.

use super::amount::{self, Candidate};
use super::breath;
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

/// A number of three figures without a point: "two fifty".
pub(super) fn is_three_figures(m: &Match) -> bool {
    m.slot("value").is_some_and(has_three_figures)
}

/// Whether a number was called by three figures and no point: "two fifty", and not "oh two five".
pub(super) fn has_three_figures(raw: &str) -> bool {
    raw.len() == 3 && !raw.contains('.') && !raw.starts_with('0')
}

/// Whether any of some meanings is a usual reading.
pub(super) fn any_usual(meanings: &[Meaning]) -> bool {
    meanings
        .iter()
        .any(|m| matches!(m, Meaning::Reading { unusual: false, .. }))
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

/// Two bare numbers in a row are blades only of a valve that is named.
pub(super) fn is_unlikely(m: &Match, place: &Whereabouts) -> bool {
    m.slot("run").is_some() && place.is_empty()
}

/// "On five", "for eight": the first word may as well have been a figure.
fn may_be_a_figure(m: &Match) -> bool {
    let figure = |slot: &str| m.slot(slot).is_some_and(|raw| raw.len() == 1);
    m.slot("alike").is_some() && ["value", "goes", "stops"].into_iter().any(figure)
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
    let mut all = blades(m, row, None, scope)?;
    // "Okay, ten" and "ten is fine" may be said to anybody; "eighteen doesn't, two inlet left" of the valve before.
    let judged = m.all("goes").chain(m.all("stops")).count();
    let loosely = m.slot("lead").is_some() && single(m) || m.slot("soft").is_some() && judged <= 1;
    // "The other one is eighteen" may be said of anything too.
    let unplaced = place.is_empty() || breath::of_the_open_pair(m);
    let to_anybody = unplaced && loosely;
    let of_the_one_before = m.slot("last").is_some()
        && scope
            .open
            .is_some_and(|open| place != Whereabouts::from(open));
    if to_anybody || of_the_one_before {
        for meaning in &mut all {
            if let Meaning::Reading { unusual, .. } = meaning {
                *unusual = true;
            }
        }
    }
    Ok(all)
}

/// What feeler blades showed: of a valve's clearance, or of a gap under the straight edge.
pub(super) fn blades(
    m: &Match,
    row: &Bounds,
    part: Option<Part>,
    scope: &Scope,
) -> Result<Vec<Meaning>, Refusal> {
    let quantity = row.quantity;
    let tried = |slot: &str| -> Result<Vec<Vec<Candidate>>, Refusal> {
        let one = |raw: &str| {
            let all = amount::lengths(raw, m.slot("unit"), quantity, row, scope);
            match all.is_empty() {
                true => Err(refuse(raw, row)),
                false => Ok(all),
            }
        };
        m.all(slot).map(one).collect()
    };
    let fix = m.slot("fix").is_some();
    let doubt = m.slot("run").is_some() || may_be_a_figure(m);
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
    if let (Some(one), Some(other)) = (tried("value")?.pop(), tried("added")?.pop()) {
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
    // Going up the blades: the largest that goes, the smallest that does not.
    let largest = |a: &Candidate, b: &Candidate| a.length >= b.length;
    let smallest = |a: &Candidate, b: &Candidate| a.length <= b.length;
    let goes = limit(tried("goes")?, largest);
    let stops = limit(tried("stops")?, smallest);
    match (goes.is_empty(), stops.is_empty()) {
        (false, false) => {
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
            if all.is_empty() {
                return Err(Refusal::Crossed(goes[0].length, stops[0].length));
            }
            Ok(all)
        }
        (false, true) => Ok(goes
            .iter()
            .map(|c| reading(Gap::AtLeast(c.length), c.unit, unusual(c)))
            .collect()),
        (true, false) => Ok(stops
            .iter()
            .map(|c| reading(Gap::Below(c.length), c.unit, unusual(c)))
            .collect()),
        // A bare "zero" is never stored as no length: it means that the smallest blade does not go.
        (true, true) => Ok(tried("value")?
            .pop()
            .unwrap_or_default()
            .iter()
            .map(|c| match c.length {
                Length::ZERO => reading(Gap::None, c.unit, true),
                length => reading(Gap::Single(length), c.unit, unusual(c)),
            })
            .collect()),
    }
}

/// Of several blades, each of which may be read in several ways, the one that bounds the gap.
fn limit(
    tried: Vec<Vec<Candidate>>,
    bounds_more: impl Fn(&Candidate, &Candidate) -> bool,
) -> Vec<Candidate> {
    let mut blades = tried.into_iter();
    let first = blades.next().unwrap_or_default();
    blades.fold(first, |limits, blade| {
        let mut all: Vec<Candidate> = Vec::new();
        for limit in &limits {
            for one in &blade {
                let (kept, other) = match bounds_more(limit, one) {
                    true => (*limit, one),
                    false => (*one, limit),
                };
                let zone = match other.zone {
                    Zone::Usual => kept.zone,
                    unusual => unusual,
                };
                let kept = Candidate { zone, ..kept };
                if !all.contains(&kept) {
                    all.push(kept);
                }
            }
        }
        all
    })
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
