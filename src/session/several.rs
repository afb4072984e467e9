//! One phrase for several valves, another shim by steps, and a reading that belonged elsewhere.
//! Each of them is shown whole and asked before it is stored.

use super::place::{self, Placed};
use super::{Decision, Hearing, JobSetup, State, reading};
use crate::event::{Doubt, Fact, Gap, Outcome, Position, Question, Reading, Value};
use crate::grammar::{Group, Meaning, Said, Whereabouts};
use crate::measure::{Length, LengthUnit, Quantity};

fn ask(doubt: Doubt, words: String, proposed: Vec<Fact>, why: String) -> Decision {
    let question = Question {
        doubt,
        proposed,
        unplaced: None,
        choices: Vec::new(),
        words,
    };
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
    let read = |position: Position| {
        Fact::Read(Reading {
            position: Some(position),
            part: None,
            quantity: Quantity::Clearance,
            value: Value::Gap(gap),
            unit,
        })
    };
    let wording = &setup.grammar.wording;
    let places: Vec<String> = valves.iter().map(|p| wording.place(*p)).collect();
    let value = wording.reading(&Reading {
        position: None,
        part: None,
        quantity: Quantity::Clearance,
        value: Value::Gap(gap),
        unit,
    });
    let words = setup.answer(
        "confirm",
        &[("reading", &format!("{}, {value}", places.join(", ")))],
    );
    let facts = valves.iter().map(|p| read(*p)).collect();
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
    let now = fitted.and_then(|(_, r)| match r.value {
        Value::Shim {
            marked_nm,
            measured_nm,
        } => measured_nm.or(marked_nm),
        _ => None,
    });
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
        quantity: Quantity::ShimFitted,
        value: Value::Shim {
            marked_nm: Some(size),
            measured_nm: None,
        },
        unit: LengthUnit::Millimetre,
    };
    let spoken = setup.grammar.wording.reading(&reading);
    let words = setup.answer("confirm", &[("reading", &spoken)]);
    let facts = reading::shim_from(state, &reading)
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
    let last = state.counting().last_reading();
    let Some((id, old, from)) = last.and_then(|(id, r)| Some((id, r, r.position?))) else {
        return Decision::new(Outcome::Refused, "there is no reading to move")
            .say(setup.answer("nothing_to_correct", &[]));
    };
    let joined = place::join(said, &place::whereabouts(from));
    let Placed::At(position) = place::complete(&setup.profile, &joined) else {
        return Decision::new(Outcome::Refused, "which valve was not said")
            .say(setup.answer("which_position", &[]));
    };
    let reading = Reading {
        position: Some(position),
        ..old
    };
    reading::settle(
        setup,
        state,
        reading,
        reading::Force {
            fixes: Some(id),
            // Moving a reading changes two valves: always asked.
            unusual: true,
            fresh: false,
        },
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
                reading::spare(setup, state, (size, count), false, false)
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
    let wording = &setup.grammar.wording;
    let spoken: Vec<String> = proposed.iter().map(|f| wording.fact(f)).collect();
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
