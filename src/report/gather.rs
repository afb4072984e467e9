//! From the events of a job to its record.

use super::words::{self, fact, facts, value};
use super::{
    CAUTIONS, Check, Correction, Engine, Fitted, Lot, Measured, Note, Repaired, Report,
    SCHEMA_VERSION, Source, Told, Utterances, Valve, Versions,
};
use crate::engine::{At, Bench, InRound, Profile, Sheet};
use crate::event::{About, Event, Fact, Outcome, Position, Reached, Repair, until_next_check};
use crate::measure::Quantity;
use crate::record::{JobView, Task};
use std::collections::BTreeSet;

pub(super) fn gather(source: &Source<'_>) -> Report {
    let Source { profile, view, .. } = *source;
    let (bench, sheet, events) = (view.bench(), view.sheet(), view.counting().events());
    let at = |e: Option<&Event>| e.map_or(source.made_at_ms, |e| e.at_ms);
    let lot = |(size_nm, count)| Lot { size_nm, count };
    let spare = bench.loose.iter().filter_map(|(size, count)| {
        let count = u32::try_from(*count).ok().filter(|c| *c > 0)?;
        Some((*size, count))
    });
    let mut report = Report {
        report: SCHEMA_VERSION,
        damage: None,
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
        about: about(view),
        next_check: next_check(view),
        round: sheet.round,
        unit: source.unit,
        blades_nm: source.blades.to_vec(),
        valves: valves(profile, bench, sheet),
        remarks: remarks(sheet),
        fitted: fitted(bench),
        repaired: repaired(view),
        bought: bench.bought().into_iter().map(lot).collect(),
        spare: spare.map(lot).collect(),
        plan: view.plan().clone(),
        checks: Vec::new(),
        findings: view.findings(0).items,
        looked_at: [false, true].map(|good| looked_at(source, good)).concat(),
        faults: looked_at(source, false),
        stages: stages(source),
        open: open(view),
        notes: Vec::new(),
        corrections: corrections(source),
        utterances: utterances(events),
        versions: versions(source.software, events),
        cautions: CAUTIONS.to_vec(),
    };
    for (event, facts) in view.counting().all() {
        for (at, fact) in facts.iter().enumerate() {
            take(&mut report, source, event, (at, fact));
        }
    }
    report.notes.retain(|n| !n.text.is_empty());
    report
}

/// The last that was seen of everything that was looked at; whether as it should be, or not.
fn looked_at(source: &Source<'_>, good: bool) -> Vec<String> {
    let checks = source.view.counting().checks().into_iter();
    checks
        .filter(|f| matches!(f, Fact::Checked { good: g, .. } if *g == good))
        .map(|f| fact(f, source.unit))
        .collect()
}

/// How far each stage is, in the order in which they were first named.
fn stages(source: &Source<'_>) -> Vec<String> {
    let mut stages: Vec<(&str, String)> = Vec::new();
    for fact in source.view.counting().all().flat_map(|(_, facts)| facts) {
        let Fact::Stage { stage, .. } = fact else {
            continue;
        };
        let words = words::fact(fact, source.unit);
        // Of an engine without shims the stage is that of its screws.
        let screws = stage == "shims" && source.view.plan().screws;
        let words = match screws {
            true => words.replacen("shims", "screws", 1),
            false => words,
        };
        match stages.iter_mut().find(|(key, _)| key == stage) {
            Some((_, known)) => *known = words,
            None => stages.push((stage, words)),
        }
    }
    stages.into_iter().map(|(_, words)| words).collect()
}

/// What the room did to the readings, and which of them overturned others: each once, with how often.
fn remarks(sheet: &Sheet) -> Vec<String> {
    let mut counted: Vec<(&String, usize)> = Vec::new();
    for words in sheet.room.iter().chain(&sheet.conflicts) {
        match counted.iter_mut().find(|(known, _)| *known == words) {
            Some((_, count)) => *count += 1,
            None => counted.push((words, 1)),
        }
    }
    let remark = |(words, count): (&String, usize)| match count {
        1 => words.clone(),
        n => format!("{words} ({n} times)"),
    };
    let counted = counted.into_iter().map(remark);
    counted.chain(sheet.remeasure.words(sheet.unit)).collect()
}

/// What is still to be done.
fn open(view: &JobView) -> Vec<String> {
    let one = |task: Task<'_>| {
        let place = task.position.map(|p| p.to_string()).unwrap_or_default();
        [place.as_str(), task.kind, task.text]
            .into_iter()
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    };
    view.counting().tasks().into_iter().map(one).collect()
}

fn valves(profile: &Profile, bench: &Bench, sheet: &Sheet) -> Vec<Valve> {
    let valve = |row: &crate::engine::Row| {
        let spec = profile.side(row.position.side);
        let state = bench.valves.get(&row.position);
        let measured = |one: &InRound| Measured {
            event: Some(one.event),
            clearance: one.clearance,
            shim_nm: one.shim_nm,
        };
        let rounds = row.rounds.iter();
        let before = rounds.clone().rfind(|r| r.round.is_as_found());
        let after = rounds.clone().rfind(|r| !r.round.is_as_found());
        Valve {
            position: row.position,
            check_nm: spec.check,
            set_nm: spec.set,
            target_nm: spec.target,
            before: before.map(measured),
            after: after.map(measured),
            rounds: row.rounds.clone(),
            shim_nm: row.shim_nm,
            expected: state
                .filter(|v| v.clearance.is_none())
                .and_then(|v| v.predicted()),
            verdict: row.verdict,
            reason: row.reason.clone(),
            near_limit: row.near_limit,
            single: row.single,
        }
    };
    sheet.rows.iter().map(valve).collect()
}

/// What was replaced or worked on, as it was said.
fn repaired(view: &JobView) -> Vec<Repaired> {
    let repairs = view.counting().repairs();
    let one = |((event, _), position, work): (At, Position, Repair)| Repaired {
        event,
        position,
        work: work.key(),
    };
    repairs.map(one).collect()
}

fn about(view: &JobView) -> Vec<Told> {
    let told = view.counting().about().into_iter();
    let one = |(what, text): (About, &str)| Told {
        what: what.key(),
        text: text.to_owned(),
        reached: Reached::parse(text).map(|r| (r.count, r.unit)),
    };
    told.map(one).collect()
}

/// When to check again, and how far that is from what the machine has run.
fn next_check(view: &JobView) -> Option<String> {
    let told = view.counting().about();
    let mut checks = told.iter().filter(|(what, _)| *what == About::NextCheck);
    let (_, next) = checks.next()?;
    let left = until_next_check(&told).map(|left| format!(", {left} from now"));
    let left = left.unwrap_or_default();
    Some(format!(
        "Next check of the clearances: {next}{left}. Run in new parts as the maker's manual says."
    ))
}

fn fitted(bench: &Bench) -> Vec<Fitted> {
    let changed = bench.valves.iter().filter_map(|(position, state)| {
        let shim = state.shim?;
        Some(Fitted {
            position: *position,
            event: shim.event,
            old_nm: state.shim_before()?,
            new_nm: shim.size,
        })
    });
    changed.collect()
}

fn take(report: &mut Report, source: &Source<'_>, event: &Event, (at, fact): (usize, &Fact)) {
    let clip = event.sound.as_ref().map(|s| s.sha256.clone());
    match fact {
        Fact::Note { position, text } => report.notes.push(Note {
            event: event.id,
            at_ms: event.at_ms,
            position: *position,
            text: text.clone(),
            clip,
        }),
        Fact::NoteBegun(position) => report.notes.push(Note {
            event: event.id,
            at_ms: event.at_ms,
            position: *position,
            text: String::new(),
            clip,
        }),
        // The sentences of a long note are one note; its clip is that of the first of them.
        Fact::NoteLine(line) => {
            if let Some(note) = report.notes.last_mut() {
                note.text = format!("{} {line}.", note.text).trim_start().to_owned();
                note.clip = note.clip.take().or(clip);
            }
        }
        Fact::Read(reading) if !is_shim_work(reading.quantity) => report.checks.push(Check {
            event: event.id,
            at_ms: event.at_ms,
            position: reading.position,
            part: reading.part_words(),
            quantity: reading.quantity.key(),
            value: value(reading, source.unit),
            clip,
            replaced: (source.view.counting())
                .replaced_by((event.id, at), reading)
                .map(Repair::key),
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

fn corrections(source: &Source<'_>) -> Vec<Correction> {
    let counting = source.view.counting();
    let show = |list: &[Fact]| facts(list, source.unit);
    let of = |id: u64| {
        let event = counting.event(id);
        event.map_or(String::new(), |e| show(&e.facts))
    };
    let mut found = Vec::new();
    for event in counting.events() {
        let now: Vec<Fact> = event.facts.clone();
        for one in &event.facts {
            let (id, now, how) = match one {
                Fact::Cancelled(id) if counting.is_cancelled(*id) => (*id, show(&now), "spoken"),
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

fn versions(software: &str, events: &[Event]) -> Versions {
    let events = events.iter();
    let models: BTreeSet<String> = events
        .clone()
        .filter_map(|e| e.sound.as_ref().map(|s| s.model.clone()))
        .collect();
    let grammars: BTreeSet<String> = events.map(|e| e.grammar.clone()).collect();
    Versions {
        software: software.to_owned(),
        models: models.into_iter().collect(),
        grammars: grammars.into_iter().filter(|g| !g.is_empty()).collect(),
    }
}
