//! One phrase for several valves, another shim by steps, and a reading that belonged elsewhere.
//! Each of them is shown whole and asked before it is stored.

use super::place::{self, Placed};
use super::settle::{Force, settle, shim_from};
use super::{Decision, Hearing, JobSetup, State, reading, spares};
use crate::event::{Doubt, Fact, Gap, Head, Outcome, Position, Question, Reading, Value};
use crate::grammar::{Group, Meaning, Said, Whereabouts};
use crate::measure::{Length, LengthUnit, Quantity};

fn ask(doubt: Doubt, words: String, proposed: Vec<Fact>, why: String) -> Decision {
    let question = Question::plain(doubt, proposed, words);
    Decision::new(Outcome::Asked, why).asks(question)
}

/// "All four inlets are fifteen": the list is read out, and only a yes stores it.
pub(super) fn group(
    setup: &JobSetup,
    state: &State,
    said: &Whereabouts,
    group: Group,
    gap: Gap,
    unit: LengthUnit,
) -> Decision {
    let wanted = |p: &Position| {
        let cylinder = match group {
            Group::Range(from, to) => (from..=to).contains(&p.cylinder),
            _ => said.cylinder.is_none_or(|c| c == p.cylinder),
        };
        cylinder
            && said.side.is_none_or(|s| s == p.side)
            && said.valve.is_none_or(|v| Some(v) == p.valve)
    };
    let remaining = state.view.remaining();
    let valves: Vec<Position> = setup
        .profile
        .valves()
        .into_iter()
        .filter(wanted)
        .filter(|p| group != Group::Rest || remaining.contains(p))
        .collect();
    if valves.is_empty() || (group == Group::Both && valves.len() != 2) {
        return Decision::new(
            Outcome::Refused,
            format!("{} valves fit what was said", valves.len()),
        )
        .say(setup.answer("no_such_valve", &[]));
    }
    let read = |position: Position| Reading {
        position: Some(position),
        part: None,
        head: None,
        quantity: Quantity::Clearance,
        value: Value::Gap(gap),
        unit,
    };
    let readings: Vec<Reading> = valves.iter().map(|p| read(*p)).collect();
    let read_back = read_back(setup, state, &readings);
    let words = setup.answer("confirm", &[("reading", &read_back)]);
    let facts = readings.into_iter().map(Fact::Read).collect();
    ask(
        Doubt::Several,
        words,
        facts,
        format!("{} valves at once", valves.len()),
    )
}

/// "Up one size": the shim that would follow the one that is in.
pub(super) fn shim_step(
    setup: &JobSetup,
    state: &State,
    steps: i8,
    by: Option<Length>,
) -> Decision {
    let fitted = state
        .open
        .and_then(|p| state.counting().latest(p, Quantity::ShimFitted));
    let now = fitted.and_then(|(_, r)| r.value.shim_size());
    let series = &setup.profile.shims.series;
    let size = now.and_then(|now| {
        if let Some(by) = by {
            Some(now + by).filter(|s| series.contains(s))
        } else {
            let at = series
                .iter()
                .enumerate()
                .min_by_key(|(_, s)| (**s - now).abs())?
                .0;
            series
                .get(at.checked_add_signed(isize::from(steps))?)
                .copied()
        }
    });
    let (Some(position), Some(size)) = (state.open, size) else {
        return Decision::new(
            Outcome::Refused,
            "no shim is known at the open valve, or the series has none there",
        )
        .say(setup.answer("no_step", &[]));
    };
    let reading = Reading {
        position: Some(position),
        part: None,
        head: None,
        quantity: Quantity::ShimFitted,
        value: Value::Shim {
            marked_nm: Some(size),
            measured_nm: None,
        },
        unit: LengthUnit::Millimetre,
    };
    let spoken = setup.wording(state).reading(&reading);
    let words = setup.answer("confirm", &[("reading", &spoken)]);
    let facts = shim_from(state, &reading)
        .into_iter()
        .chain([Fact::Read(reading)]);
    ask(
        Doubt::Several,
        words,
        facts.collect(),
        "another shim, by steps from the one that is in".to_owned(),
    )
    .about(Some(position))
}

/// "Wrong hole, that was two": the last reading, moved to where it belongs.
pub(super) fn moved(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    if let Some(head) = said.head {
        return to_head(setup, state, head);
    }
    let Some((fixes, old, from)) = to_move(state).and_then(|(id, r)| Some((id, r, r.position?)))
    else {
        return Decision::new(Outcome::Refused, "there is no reading to move")
            .say(setup.answer("nothing_to_correct", &[]));
    };
    let joined = place::join(said, &Whereabouts::from(from));
    let Placed::At(position) = place::complete(&setup.profile, &joined) else {
        return Decision::new(Outcome::Refused, "which valve was not said")
            .say(setup.answer("which_position", &[]));
    };
    let reading = Reading {
        position: Some(position),
        ..old
    };
    // A whole valve, and nothing is known there: both are read back. Anything else is asked.
    let plain = said.cylinder.is_some()
        && said.side.is_some()
        && state.counting().latest_like(&reading).is_none();
    let force = Force {
        fixes,
        unusual: !plain,
        fresh: false,
    };
    let moved = settle(setup, state, reading, force);
    if moved.outcome != Outcome::Stored || fixes.is_none() {
        return moved;
    }
    let from = setup.wording(state).place(from);
    let gone = setup.answer("no_plan", &[("place", &from)]);
    let spoken = format!("{}. {gone}", moved.spoken);
    moved.say(spoken)
}

/// What belongs elsewhere: what is asked while a question waits, else the last reading, with the event
/// that holds it.
fn to_move(state: &State) -> Option<(Option<u64>, Reading)> {
    let last = || {
        let (id, reading) = state.counting().last_reading()?;
        Some((Some(id), reading))
    };
    state.asked_reading().or_else(last)
}

/// "That was the rear": the last reading of a head, or the one that is asked, moved to another. Asked
/// if something is known there.
fn to_head(setup: &JobSetup, state: &State, head: Head) -> Decision {
    let Some((fixes, old)) = to_move(state).filter(|(_, r)| r.head.is_some()) else {
        return Decision::new(Outcome::Refused, "there is no reading of a head to move")
            .say(setup.answer("nothing_to_correct", &[]));
    };
    let head = Some(head);
    let moved = Reading { head, ..old };
    let force = Force {
        fixes,
        unusual: state.counting().latest_like(&moved).is_some(),
        fresh: false,
    };
    settle(setup, state, moved, force)
}

/// Readings of several valves: where, and once what, if it is the same for all.
pub(super) fn read_back(setup: &JobSetup, state: &State, readings: &[Reading]) -> String {
    let wording = setup.wording(state);
    let Some(first) = readings.first() else {
        return String::new();
    };
    let alike = |r: &Reading| {
        (r.quantity, r.part, r.head, r.value)
            == (first.quantity, first.part, first.head, first.value)
    };
    if !readings.iter().all(alike) || readings.iter().any(|r| r.position.is_none()) {
        let mut sorted = readings.to_vec();
        sorted.sort_by_key(|r| (r.position, r.quantity));
        let all: Vec<String> = sorted.iter().map(|r| wording.reading(r)).collect();
        return all.join(". ");
    }
    let places: Vec<String> = readings
        .iter()
        .filter_map(|r| r.position)
        .map(|p| wording.place(p))
        .collect();
    let value = wording.reading(&Reading {
        position: None,
        ..*first
    });
    format!("{}, {value}", places.join(", "))
}

/// "I had left and right the wrong way round on cylinder two": what was read at the two valves of
/// each side changes places, once it is affirmed.
pub(super) fn swapped(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let last = state.named.or(state.open).map(|p| p.cylinder);
    let Some(cylinder) = said.cylinder.or(last) else {
        return Decision::new(Outcome::Refused, "which cylinder was not said")
            .say(setup.answer("which_position", &[]));
    };
    let other = |p: Position| {
        let names = place::names(&setup.profile, p.side);
        let here = p.cylinder == cylinder && said.side.is_none_or(|s| s == p.side);
        match (names, p.valve) {
            ([a, b], Some(valve)) if here => {
                let valve = Some(if valve == *a { *b } else { *a });
                Some(Position { valve, ..p })
            }
            _ => None,
        }
    };
    let moved = |r: &Reading| {
        let position = other(r.position?)?;
        Some(Reading {
            position: Some(position),
            ..*r
        })
    };
    let counting = state.counting();
    let valves = setup.profile.valves().into_iter();
    let readings: Vec<Reading> = valves
        .filter(|p| other(*p).is_some())
        .flat_map(|p| counting.latest_of(p))
        .collect();
    let mut events: Vec<u64> = readings
        .iter()
        .filter_map(|r| counting.latest_like(r).map(|(id, _)| id))
        .collect();
    events.sort_unstable();
    events.dedup();
    if events.is_empty() {
        return Decision::new(Outcome::Refused, "there is no reading to move")
            .say(setup.answer("nothing_to_correct", &[]));
    }
    let facts: Vec<Fact> = events
        .iter()
        .flat_map(|id| counting.instead(*id, |r| moved(r).or(Some(*r))))
        .collect();
    let after: Vec<Reading> = readings.iter().filter_map(moved).collect();
    let words = setup.answer("confirm", &[("reading", &read_back(setup, state, &after))]);
    ask(
        Doubt::Several,
        words,
        facts,
        format!("left and right change places on cylinder {cylinder}"),
    )
}

/// Several readings of one breath that cannot each be stored, or a list of spares: all of it is read
/// back, and only a yes stores it.
pub(super) fn in_one_breath(
    setup: &JobSetup,
    state: &State,
    hearing: &Hearing,
    all: &[Said],
) -> Decision {
    let mut proposed: Vec<Fact> = Vec::new();
    let mut unusual = false;
    for said in all {
        let decision = match said.meaning {
            Meaning::Spare { size, count, .. } => {
                spares::spare(setup, state, (size, count), false, false)
            }
            _ => reading::read(setup, state, hearing, said),
        };
        if decision.outcome == Outcome::Refused {
            return decision;
        }
        unusual |= decision.outcome == Outcome::Asked;
        let asked = decision.facts.iter().flat_map(|fact| match fact {
            Fact::Asked(question) => question.proposed.clone(),
            Fact::Closed => Vec::new(),
            fact => vec![fact.clone()],
        });
        let asked: Vec<Fact> = asked.collect();
        if asked.is_empty() {
            return Decision::new(Outcome::Asked, "one of several readings was not clear")
                .say(setup.answer("not_understood", &[]));
        }
        proposed.extend(asked);
    }
    let wording = setup.wording(state);
    // A reading names the valve that it opens.
    let told = proposed.iter().filter(|f| !matches!(f, Fact::Opened(_)));
    let spoken: Vec<String> = told.map(|f| wording.fact(f)).collect();
    let spoken: Vec<&str> = spoken
        .iter()
        .map(String::as_str)
        .filter(|t| !t.is_empty())
        .collect();
    let words = setup.answer("confirm", &[("reading", &spoken.join(". "))]);
    let doubt = if unusual {
        Doubt::Unusual
    } else {
        Doubt::Several
    };
    ask(
        doubt,
        words,
        proposed,
        format!("{} in one breath", all.len()),
    )
}
