//! Bolts: what must be said at once of a bolt that is called, and what is asked about torque.

use super::{Decision, JobSetup, State};
use crate::engine::Torque;
use crate::engine::torque::{next_bolt, unit_slip};
use crate::event::{Fastener, Outcome, Part, Reading, Value};
use crate::measure::{Amount, LengthUnit, Quantity, Unit};

/// A called torque may differ from the manual's by this many thousandths: a click wrench is good to
/// 4 % (ISO 6789, from memory), and "twenty" is said for 20.3.
const WRENCH_MILLI: i64 = 40;

/// What is wrong with a bolt as it was called.
pub(super) enum Wrong {
    /// The engine has no such bolt: it cannot be stored.
    NoSuchBolt(String),
    /// It may be so all the same: asked, with this said first.
    Asked(String),
}

/// What is wrong with a bolt as it was called, if anything is.
pub(super) fn wrong(setup: &JobSetup, state: &State, reading: &Reading) -> Option<Wrong> {
    let Some(Part::Bolt {
        kind,
        number,
        stage,
        cam,
    }) = reading.part
    else {
        return None;
    };
    let spec = spec(setup, kind)?;
    let wording = setup.wording(state);
    if let Some(number) = number.filter(|n| setup.profile.lacks_bolt(kind, *n)) {
        let bolt = wording.part(Part::Bolt {
            kind,
            cam,
            number: Some(number),
            stage: None,
        });
        let count = wording.whole(u32::try_from(spec.order.len()).unwrap_or(u32::MAX));
        return Some(Wrong::NoSuchBolt(
            setup.answer("no_bolt", &[("bolt", &bolt), ("count", &count)]),
        ));
    }
    let stages = spec.stages_newton_metre.len();
    if let Some(stage) =
        stage.filter(|s| reading.quantity == Quantity::Torque && usize::from(*s) > stages)
    {
        let count = wording.whole(u32::try_from(stages).unwrap_or(u32::MAX));
        let stage = wording.whole(u32::from(stage));
        return Some(Wrong::NoSuchBolt(
            setup.answer("no_stage", &[("stage", &stage), ("count", &count)]),
        ));
    }
    if reading.quantity != Quantity::Torque {
        return None;
    }
    if let Value::Amount(amount) = reading.value
        && let Some(words) = off(setup, spec, stage, amount)
    {
        return Some(Wrong::Asked(words));
    }
    let next = out_of_order(state, spec, kind, number?, stage)?;
    let (bolt, stage) = next;
    let bolt = wording.part(Part::Bolt {
        kind,
        cam,
        number: Some(bolt),
        stage: Some(stage),
    });
    Some(Wrong::Asked(
        setup.answer("out_of_order", &[("bolt", &bolt)]),
    ))
}

/// Whether `said` is the bolt `asked`, its stage left out.
pub(super) fn is_without_stage(asked: Part, said: Part) -> bool {
    match asked {
        Part::Bolt {
            kind, cam, number, ..
        } => {
            said == Part::Bolt {
                kind,
                cam,
                number,
                stage: None,
            }
        }
        _ => false,
    }
}

fn spec(setup: &JobSetup, kind: Fastener) -> Option<&Torque> {
    setup.profile.torque.iter().find(|t| t.bolts == Some(kind))
}

/// The stages' torques in thousandths of a newton metre.
fn stages(spec: &Torque) -> Vec<i64> {
    spec.stages_newton_metre
        .iter()
        .filter_map(|d| d.milli())
        .collect()
}

/// What was wanted, where the called torque is not that.
fn off(setup: &JobSetup, spec: &Torque, stage: Option<u8>, amount: Amount) -> Option<String> {
    let called = amount.base();
    let near = |wanted: i64| (called - wanted).abs() * 1_000 <= wanted * WRENCH_MILLI;
    let stages = stages(spec);
    let wanted = match stage {
        Some(stage) => stages.get(usize::from(stage).checked_sub(1)?).copied(),
        None if stages.iter().any(|w| near(*w)) => return None,
        None => stages.last().copied(),
    };
    let wanted = wanted.filter(|w| !near(*w))?;
    let value = setup.grammar.wording.amount_words(
        Amount::Milli(wanted, Unit::NewtonMetre),
        LengthUnit::Millimetre,
    );
    let key = match unit_slip(called, wanted) {
        Some(_) => "check_the_unit",
        None => "wanted",
    };
    Some(setup.answer(key, &[("value", &value)]))
}

/// The bolt and stage that are due, where another was called. A bolt that is called again is no
/// matter: it is asked as what it is, a reading that overturns one.
fn out_of_order(
    state: &State,
    spec: &Torque,
    kind: Fastener,
    number: u8,
    stage: Option<u8>,
) -> Option<(u8, u8)> {
    let count = spec.stages_newton_metre.len();
    let called = (
        number,
        usize::from(stage.map_or(u8::try_from(count).ok()?, |s| s)).checked_sub(1)?,
    );
    let done = done(state, spec, kind);
    if done.contains(&called) {
        return None;
    }
    let (bolt, stage) = next_bolt(&spec.order, count, &done)?;
    let due = (bolt, stage) == called;
    (!due).then_some((bolt, u8::try_from(stage + 1).ok()?))
}

/// Bolts and stages that are done; each is looked up, so it costs the same however long the job is.
fn done(state: &State, spec: &Torque, kind: Fastener) -> Vec<(u8, usize)> {
    let stages = u8::try_from(spec.stages_newton_metre.len()).unwrap_or(u8::MAX);
    let was_called = |number: Option<u8>, stage: Option<u8>| {
        let reading = Reading {
            position: None,
            part: Some(Part::Bolt {
                kind,
                cam: None,
                number,
                stage,
            }),
            quantity: Quantity::Torque,
            value: Value::Done,
            unit: LengthUnit::Millimetre,
        };
        state.counting().latest_like(&reading).is_some()
    };
    let mut all = Vec::new();
    for stage in 1..=stages {
        // Without a stage the last one is meant.
        let of_stage =
            |number| was_called(number, Some(stage)) || stage == stages && was_called(number, None);
        let every = of_stage(None);
        let bolts = spec.order.iter().filter(|n| every || of_stage(Some(**n)));
        all.extend(bolts.map(|n| (*n, usize::from(stage) - 1)));
    }
    all
}

/// The kind of bolt that work goes on at: the last that was called, else the first of the profile.
fn kind(setup: &JobSetup, state: &State) -> Option<Fastener> {
    let last = match state.said_last().and_then(|r| r.part) {
        Some(Part::Bolt { kind, .. }) => Some(kind),
        _ => None,
    };
    last.or_else(|| setup.profile.torque.iter().find_map(|t| t.bolts))
}

/// "Which bolt next?"
pub(super) fn next(setup: &JobSetup, state: &State) -> Decision {
    let answer =
        |spoken: String| Decision::new(Outcome::Stored, "by the profile's order").say(spoken);
    let spec = kind(setup, state).and_then(|kind| Some((kind, spec(setup, kind)?)));
    let Some((kind, spec)) = spec.filter(|(_, s)| !s.order.is_empty()) else {
        return answer(setup.answer("no_order", &[]));
    };
    let count = spec.stages_newton_metre.len();
    let Some((bolt, stage)) = next_bolt(&spec.order, count, &done(state, spec, kind)) else {
        return answer(setup.answer("all_bolts", &[]));
    };
    let stage_number = u8::try_from(stage + 1).ok();
    let part = Part::Bolt {
        kind,
        cam: None,
        number: Some(bolt),
        stage: stage_number,
    };
    let torque = stages(spec)
        .get(stage)
        .map(|milli| Amount::Milli(*milli, Unit::NewtonMetre));
    let wording = setup.wording(state);
    let value = torque
        .map(|t| wording.amount_words(t, LengthUnit::Millimetre))
        .unwrap_or_default();
    let bolt = wording.part(part);
    answer(setup.answer("next_bolt", &[("bolt", &bolt), ("value", &value)]))
}

/// "What's the torque?": of the bolts that work goes on at, or of all.
pub(super) fn torque(setup: &JobSetup, state: &State) -> Decision {
    let wording = setup.wording(state);
    let last = match state.said_last().and_then(|r| r.part) {
        Some(Part::Bolt { kind, .. }) => Some(kind),
        _ => None,
    };
    let one = |spec: &Torque| {
        let kind = spec.bolts.filter(|k| last.is_none_or(|l| l == *k))?;
        let mut steps: Vec<String> = stages(spec)
            .into_iter()
            .map(|milli| {
                wording.amount_words(
                    Amount::Milli(milli, Unit::NewtonMetre),
                    LengthUnit::Millimetre,
                )
            })
            .collect();
        steps.extend(spec.angle_deg.map(|deg| {
            let turn = Amount::Milli(i64::from(deg) * 1_000, Unit::Degree);
            setup.answer(
                "plus",
                &[("value", &wording.amount_words(turn, LengthUnit::Millimetre))],
            )
        }));
        let bolts = wording.fastener(kind);
        Some(setup.answer("torque", &[("bolts", &bolts), ("steps", &steps.join(", "))]))
    };
    let all: Vec<String> = setup.profile.torque.iter().filter_map(one).collect();
    let spoken = match all.is_empty() {
        true => setup.answer("not_in_profile", &[]),
        false => all.join(". "),
    };
    Decision::new(Outcome::Stored, "as the engine's profile has it").say(spoken)
}
