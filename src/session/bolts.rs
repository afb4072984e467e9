//! Bolts: what must be said at once of a bolt that is called, and what is asked about torque.

use super::{Decision, JobSetup, State};
use crate::engine::Torque;
use crate::engine::inspection::tightening::{is_near, is_near_angle};
use crate::engine::inspection::torque::{Stage, unit_slip};
use crate::event::{Fact, Fastener, Head, Outcome, Part, Reading, Value};
use crate::grammar::Whereabouts;
use crate::measure::{Amount, LengthUnit, Quantity, Unit};

/// What is wrong with a bolt as it was called.
pub(super) enum Wrong {
    /// The engine has no such bolt: it cannot be stored.
    NoSuchBolt(String),
    /// It may be so all the same: asked, with this said first.
    Asked(String),
    /// Nobody said yet that these bolts are new, as they have to be: a yes says so.
    NotNew(String),
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
        let part = Part::Bolt {
            kind,
            cam,
            number: Some(number),
            stage: None,
        };
        let bolt = wording.part(part, reading.head);
        let count = wording.whole(u32::try_from(spec.order.len()).unwrap_or(u32::MAX));
        return Some(Wrong::NoSuchBolt(
            setup.answer("no_bolt", &[("bolt", &bolt), ("count", &count)]),
        ));
    }
    if reading.quantity == Quantity::Retorque {
        return wrong_again(setup, spec, reading);
    }
    let stages = spec.stages().len();
    if let Some(stage) =
        stage.filter(|s| reading.quantity == Quantity::Torque && usize::from(*s) > stages)
    {
        let count = wording.whole(u32::try_from(stages).unwrap_or(u32::MAX));
        let stage = wording.whole(u32::from(stage));
        return Some(Wrong::NoSuchBolt(
            setup.answer("no_stage", &[("stage", &stage), ("count", &count)]),
        ));
    }
    if reading.quantity == Quantity::Torque
        && let Value::Amount(amount) = reading.value
        && let Some(words) = off(setup, spec, stage, amount)
    {
        return Some(Wrong::Asked(words));
    }
    if reading.quantity == Quantity::AngleStage
        && let Value::Amount(amount) = reading.value
        && let Some(words) = off_angle(setup, spec, amount)
    {
        return Some(Wrong::Asked(words));
    }
    if spec.new_bolts && !known_new(state, spec, reading.head) {
        let words = wording.items.get(NEW_BOLTS).cloned();
        return Some(Wrong::NotNew(words.unwrap_or_default()));
    }
    let (bolt, stage) = out_of_order(state, spec, reading)?;
    let part = Part::Bolt {
        kind,
        cam,
        number: Some(bolt),
        stage: Some(stage),
    };
    let bolt = wording.part(part, reading.head);
    Some(Wrong::Asked(
        setup.answer("out_of_order", &[("bolt", &bolt)]),
    ))
}

/// What is wrong with a bolt whose torque is still to come.
pub(super) fn wrong_if_called(
    setup: &JobSetup,
    state: &State,
    part: Part,
    head: Option<Head>,
) -> Option<Wrong> {
    let reading = Reading {
        position: None,
        part: Some(part),
        head,
        quantity: Quantity::Torque,
        value: Value::Done,
        unit: setup.unit,
    };
    wrong(setup, state, &reading)
}

/// What is wrong with bolts that are tightened once more: stretched ones, or another torque than the
/// last.
fn wrong_again(setup: &JobSetup, spec: &Torque, reading: &Reading) -> Option<Wrong> {
    if spec.angle_deg.is_some() {
        return Some(Wrong::Asked(setup.answer("set_by_angle", &[])));
    }
    match reading.value {
        Value::Amount(amount) => {
            let last = spec.wanted_mnm(None, i64::MAX)?;
            let far = !is_near(amount.base(), last);
            let value = in_words(setup, Stage::TorqueMnm(last));
            let words = || setup.answer("wanted", &[("value", &value)]);
            far.then(|| Wrong::Asked(words()))
        }
        _ => None,
    }
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

/// What was wanted, if the called torque is not that.
fn off(setup: &JobSetup, spec: &Torque, stage: Option<u8>, amount: Amount) -> Option<String> {
    let called = amount.base();
    let wanted = spec.wanted_mnm(stage, called);
    let wanted = wanted.filter(|w| !is_near(called, *w))?;
    let value = in_words(setup, Stage::TorqueMnm(wanted));
    let key = match unit_slip(called, wanted) {
        Some(_) => "check_the_unit",
        None => "wanted",
    };
    Some(setup.answer(key, &[("value", &value)]))
}

/// What is wrong with an angle, if anything is: none is wanted, or another.
fn off_angle(setup: &JobSetup, spec: &Torque, amount: Amount) -> Option<String> {
    let Some(wanted) = spec.angle_deg else {
        return Some(setup.answer("no_angle", &[]));
    };
    let wanted = i64::from(wanted) * 1_000;
    if is_near_angle(amount.base(), wanted) {
        return None;
    }
    let value = setup.amount_words(Amount::Milli(wanted, Unit::Degree));
    Some(setup.answer("wanted", &[("value", &value)]))
}

/// The item that says that the bolts are new.
pub(super) const NEW_BOLTS: &str = "new_bolts";

/// Whether it was said that the bolts are new, or work on them has begun; of each head by itself.
fn known_new(state: &State, spec: &Torque, head: Option<Head>) -> bool {
    let looked = state.counting().check_on(NEW_BOLTS, head);
    let good = matches!(looked, Some(Fact::Checked { good: true, head: h, .. }) if *h == head);
    done(state, spec, head).is_some_and(|done| !done.is_empty()) || good
}

/// A stage of tightening, in words.
fn in_words(setup: &JobSetup, stage: Stage) -> String {
    match stage {
        Stage::TorqueMnm(torque) => setup.amount_words(Amount::Milli(torque, Unit::NewtonMetre)),
        Stage::AngleMdeg(angle) => {
            let angle = setup.amount_words(Amount::Milli(angle, Unit::Degree));
            setup.answer("plus", &[("value", &angle)])
        }
    }
}

/// The bolt and stage that are due, if another was called. A bolt that is called again is not out of
/// order: it is asked as what it is, a reading that overturns one.
fn out_of_order(state: &State, spec: &Torque, reading: &Reading) -> Option<(u8, u8)> {
    let (number, called) = spec.step(reading)?;
    let done = done(state, spec, reading.head)?;
    if number.is_some_and(|number| done.contains(&(number, called))) {
        return None;
    }
    let (bolt, stage) = spec.due(&done)?;
    // Of all at once the stage before must be done on each, once it is known how far they are.
    let before = |n: &u8| called == 0 || done.contains(&(*n, called - 1));
    let all_may = done.is_empty() || spec.order.iter().all(before);
    let is_due = number.map_or(all_may, |number| (bolt, stage) == (number, called));
    (!is_due).then_some((bolt, u8::try_from(stage + 1).ok()?))
}

/// Bolts and stages that are done on a head, of bolts that are called by voice. Each is looked up, so it costs
/// the same however long the job is.
fn done(state: &State, spec: &Torque, head: Option<Head>) -> Option<Vec<(u8, usize)>> {
    let kind = spec.bolts?;
    let numbers = || spec.order.iter().map(|n| Some(*n)).chain([None]);
    let stages = (1..=u8::try_from(spec.stages().len()).ok()?).map(Some);
    let mut all = Vec::new();
    for stage in stages.chain([None]) {
        for (number, quantity) in numbers()
            .map(|n| (n, Quantity::Torque))
            .chain(numbers().map(|n| (n, Quantity::AngleStage)))
        {
            let call = Reading {
                position: None,
                part: Some(Part::Bolt {
                    kind,
                    cam: None,
                    number,
                    stage,
                }),
                head,
                quantity,
                value: Value::Done,
                unit: LengthUnit::Millimetre,
            };
            if state.counting().latest_like(&call).is_none() {
                continue;
            }
            let Some((number, stage)) = spec.step(&call) else {
                continue;
            };
            match number {
                Some(number) => all.push((number, stage)),
                None => all.extend(spec.order.iter().map(|n| (*n, stage))),
            }
        }
    }
    Some(all)
}

/// The kind of bolt that was called last.
fn last_kind(state: &State) -> Option<Fastener> {
    match state.said_last()?.part? {
        Part::Bolt { kind, .. } => Some(kind),
        _ => None,
    }
}

/// The kind of bolt that work goes on at: the last that was called, else the first of the profile.
fn kind(setup: &JobSetup, state: &State) -> Option<Fastener> {
    last_kind(state).or_else(|| setup.profile.torque.iter().find_map(|t| t.bolts))
}

/// "Which bolt next?" Of the head that was named, or that work goes on at; else of each.
pub(super) fn next(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let answer =
        |spoken: String| Decision::new(Outcome::Stored, "by the profile's order").say(spoken);
    let spec = kind(setup, state).and_then(|kind| Some((kind, spec(setup, kind)?)));
    let Some((kind, spec)) = spec.filter(|(_, s)| !s.order.is_empty()) else {
        return answer(setup.answer("no_order", &[]));
    };
    let last = state
        .said_last()
        .filter(|r| last_kind(state).is_some() && r.head.is_some());
    let head = said.head.or(state.head).or(last.and_then(|r| r.head));
    let heads: Vec<Option<Head>> = match (head, setup.profile.heads.is_empty()) {
        (None, false) => setup.profile.head_names().into_iter().map(Some).collect(),
        _ => vec![head],
    };
    let one = |head: &Option<Head>| {
        let done = done(state, spec, *head).unwrap_or_default();
        let (bolt, stage) = spec.due(&done)?;
        let value = spec.stages().get(stage).map(|s| in_words(setup, *s));
        let part = Part::Bolt {
            kind,
            cam: None,
            number: Some(bolt),
            stage: u8::try_from(stage + 1).ok(),
        };
        let bolt = setup.wording(state).part(part, *head);
        let values = [
            ("bolt", bolt.as_str()),
            ("value", &value.unwrap_or_default()),
        ];
        Some(setup.answer("next_bolt", &values))
    };
    let due: Vec<String> = heads.iter().filter_map(one).collect();
    match due.is_empty() {
        true => answer(setup.answer("all_bolts", &[])),
        false => answer(due.join(". ")),
    }
}

/// "What's the torque?": of the bolts that were named, or that work goes on at; else of all.
pub(super) fn torque(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let wording = setup.wording(state);
    let asked = said.bolts.or_else(|| last_kind(state));
    let one = |spec: &Torque| {
        let kind = spec.bolts.filter(|k| asked.is_none_or(|a| a == *k))?;
        let steps: Vec<String> = spec
            .stages()
            .into_iter()
            .map(|stage| in_words(setup, stage))
            .collect();
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
