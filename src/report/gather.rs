//! From the events of a job to its record.

use super::words::{fact, facts, value};
use super::{
    CAUTIONS, Check, Correction, Engine, Fitted, Lot, Measured, Note, Report, SCHEMA_VERSION,
    Source, Utterances, Valve, Versions,
};
use crate::engine::timing::{Counting, check_pins};
use crate::engine::torque::unit_slip;
use crate::engine::{Bench, Options, Profile, Sheet, ShimPlan};
use crate::event::review::{cancelled, counting, reviewed};
use crate::event::{Event, Fact, Outcome, Reading, Value};
use crate::measure::{Amount, Quantity};
use std::collections::BTreeSet;

pub(super) fn gather(source: &Source<'_>) -> Report {
    let Source {
        profile, events, ..
    } = *source;
    let bench = Bench::fold(profile, source.blades, events);
    let sheet = Sheet::of(profile, &bench);
    let at = |e: Option<&Event>| e.map_or(source.made_at_ms, |e| e.at_ms);
    let lots = |wanted: fn(i32) -> i32| {
        let lots = bench
            .loose
            .iter()
            .map(move |(size, count)| (*size, wanted(*count)));
        lots.filter_map(|(size_nm, count)| {
            let count = u32::try_from(count).ok().filter(|c| *c > 0)?;
            Some(Lot { size_nm, count })
        })
        .collect()
    };
    let mut report = Report {
        report: SCHEMA_VERSION,
        made_at_ms: source.made_at_ms,
        worked_ms: [at(events.first()), at(events.last())],
        engine: Engine {
            key: profile.key.clone(),
            name: profile.name.clone(),
            note: profile.note.clone(),
            source: profile.source.clone(),
            numbering: profile.numbering.clone(),
            cylinders: profile.cylinders,
        },
        unit: source.unit,
        blades_nm: source.blades.to_vec(),
        valves: valves(profile, &bench, &sheet),
        remarks: sheet.room.iter().chain(&sheet.conflicts).cloned().collect(),
        fitted: fitted(&bench),
        bought: lots(|count| -count),
        spare: lots(|count| count),
        plan: ShimPlan::of(profile, &bench, &Options::default()),
        checks: Vec::new(),
        notes: Vec::new(),
        corrections: corrections(source),
        utterances: utterances(events),
        versions: versions(source),
        cautions: CAUTIONS.to_vec(),
    };
    for (event, facts) in counting(events) {
        for fact in facts {
            take(&mut report, source, event, fact);
        }
    }
    report
}

fn valves(profile: &Profile, bench: &Bench, sheet: &Sheet) -> Vec<Valve> {
    let valve = |row: &crate::engine::Row| {
        let spec = profile.side(row.position.side);
        let state = bench.valves.get(&row.position);
        let now = state.and_then(|v| {
            let reading = v.clearance?;
            Some(Measured {
                event: Some(reading.event),
                clearance: reading.interval.ok()?,
                shim_nm: v.size(),
            })
        });
        let pair = state.and_then(|v| v.before).map(|pair| Measured {
            event: row.earlier_events.last().copied(),
            clearance: pair.interval,
            shim_nm: Some(pair.shim),
        });
        let (before, after) = if pair.is_some() {
            (pair, now)
        } else {
            (now, None)
        };
        Valve {
            position: row.position,
            check_nm: spec.check,
            set_nm: spec.set,
            target_nm: spec.target,
            before,
            after,
            shim_nm: row.shim_nm,
            expected: state
                .filter(|v| v.clearance.is_none())
                .and_then(|v| v.predicted()),
            verdict: row.verdict,
            reason: row.reason.clone(),
        }
    };
    sheet.rows.iter().map(valve).collect()
}

fn fitted(bench: &Bench) -> Vec<Fitted> {
    let changed = bench.valves.iter().filter_map(|(position, state)| {
        let (before, shim) = (state.before?, state.shim?);
        Some(Fitted {
            position: *position,
            event: shim.event,
            old_nm: before.shim,
            new_nm: shim.size,
        })
    });
    changed.collect()
}

fn take(report: &mut Report, source: &Source<'_>, event: &Event, fact: &Fact) {
    let clip = event.sound.as_ref().map(|s| s.sha256.clone());
    match fact {
        Fact::Note { position, text } => report.notes.push(Note {
            event: event.id,
            at_ms: event.at_ms,
            position: *position,
            text: text.clone(),
            clip,
        }),
        Fact::Read(reading) if !is_shim_work(reading.quantity) => report.checks.push(Check {
            event: event.id,
            at_ms: event.at_ms,
            position: reading.position,
            quantity: reading.quantity.key(),
            value: value(reading, source.unit),
            against: against(source.profile, reading),
            clip,
        }),
        _ => {}
    }
}

const fn is_shim_work(quantity: Quantity) -> bool {
    matches!(
        quantity,
        Quantity::Clearance | Quantity::ShimFitted | Quantity::ShimSpare
    )
}

/// What the profile says to a torque or a count of chain pins.
fn against(profile: &Profile, reading: &Reading) -> String {
    let Value::Amount(Amount::Milli(milli, _)) = reading.value else {
        return String::new();
    };
    match reading.quantity {
        Quantity::Torque => torque(profile, milli),
        Quantity::ChainPins => {
            let chain = profile.chain.and_then(|c| Some((c, c.pins_between_marks?)));
            let Some((chain, wanted)) = chain else {
                return String::new();
            };
            let called = (milli / 1_000, Counting::MarkIsOne);
            let wanted = (i64::from(wanted), Counting::MarkIsOne);
            check_pins(called, wanted, i64::from(chain.cam_teeth))
                .map_or_else(|e| e.to_string(), |check| check.words)
        }
        _ => String::new(),
    }
}

fn torque(profile: &Profile, milli: i64) -> String {
    let stages = profile.torque.iter().flat_map(|t| {
        let stages = t.stages_newton_metre.iter().zip(1..);
        stages.filter_map(|(stage, n)| Some((t.name.as_str(), n, stage.milli()?)))
    });
    let stages: Vec<(&str, i32, i64)> = stages.collect();
    let same: Vec<String> = stages
        .iter()
        .filter(|(_, _, wanted)| *wanted == milli)
        .map(|(name, n, _)| format!("{name}, stage {n}"))
        .collect();
    if !same.is_empty() {
        return format!("the profile's {}", same.join(" and "));
    }
    let slip = stages.iter().find_map(|(_, _, w)| unit_slip(milli, *w));
    slip.unwrap_or("no stage of the profile").to_owned()
}

fn corrections(source: &Source<'_>) -> Vec<Correction> {
    let events = source.events;
    let gone = cancelled(events, &reviewed(events));
    let show = |list: &[Fact]| facts(list, source.unit);
    let of = |id: u64| {
        let event = events.iter().find(|e| e.id == id);
        event.map_or(String::new(), |e| show(&e.facts))
    };
    let mut found = Vec::new();
    for event in events {
        let now: Vec<Fact> = event.facts.clone();
        for one in &event.facts {
            let (id, now, how) = match one {
                Fact::Cancelled(id) if gone.contains(id) => (*id, show(&now), "spoken"),
                Fact::Reviewed { event, facts, .. } => (*event, show(facts), "review"),
                _ => continue,
            };
            let was = of(id);
            if was == now || fact(one, source.unit) == was {
                continue; // confirmed as it was
            }
            found.push(Correction {
                event: event.id,
                at_ms: event.at_ms,
                of: id,
                was,
                now,
                how,
            });
        }
    }
    found
}

fn utterances(events: &[Event]) -> Utterances {
    let mut counts = Utterances::default();
    let said = |e: &&Event| e.sound.is_some() || !e.said.is_empty();
    for event in events.iter().filter(said) {
        if event.command.as_deref() == Some("review") {
            continue;
        }
        counts.total += 1;
        *match event.outcome {
            Outcome::Stored => &mut counts.stored,
            Outcome::Asked => &mut counts.asked,
            Outcome::Refused => &mut counts.refused,
            Outcome::Ignored => &mut counts.ignored,
        } += 1;
        counts.with_lost_sound += usize::from(event.sound.as_ref().is_some_and(|s| s.overruns > 0));
    }
    counts
}

fn versions(source: &Source<'_>) -> Versions {
    let events = source.events.iter();
    let models: BTreeSet<String> = events
        .clone()
        .filter_map(|e| e.sound.as_ref().map(|s| s.model.clone()))
        .collect();
    let grammars: BTreeSet<String> = events.map(|e| e.grammar.clone()).collect();
    Versions {
        software: source.software.to_owned(),
        models: models.into_iter().collect(),
        grammars: grammars.into_iter().filter(|g| !g.is_empty()).collect(),
    }
}
