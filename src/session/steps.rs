//! The shim plan spoken: step by step, what to buy, which shim, and what a cut would do to it.

use super::place::{self, Placed};
use super::settle::{Force, settle};
use super::{Decision, JobSetup, State};
use crate::engine::inspection::{self, BeforeCut, Removed, after_cut};
use crate::engine::{Action, Cam, Move, Verdict};
use crate::event::{Outcome, Position, Reading, Source, Value};
use crate::grammar::Whereabouts;
use crate::measure::{Length, LengthUnit, Quantity};

fn answer(spoken: impl Into<String>) -> Decision {
    Decision::new(Outcome::Stored, "from the plan").say(spoken)
}

/// One step of the plan: what is done at one valve before the hand goes to another.
struct Step {
    position: Position,
    words: String,
}

fn steps(setup: &JobSetup, state: &State) -> Vec<Step> {
    let mut all: Vec<Step> = Vec::new();
    for one in &state.view.plan().moves {
        let words = action(setup, state, one);
        if let Some(step) = all.last_mut().filter(|s| s.position == one.position) {
            step.words = format!("{}, {words}", step.words);
        } else {
            let place = setup.wording(state).place(one.position);
            all.push(Step {
                position: one.position,
                words: format!("{place}, {words}"),
            });
        }
    }
    all
}

fn action(setup: &JobSetup, state: &State, one: &Move) -> String {
    let wording = setup.wording(state);
    let size = wording.length(one.shim_nm, LengthUnit::Millimetre);
    let (key, from) = match one.action {
        Action::TakeOut | Action::TakeOutFor(_) => ("take_out", String::new()),
        Action::FillIn if one.shim_nm == Length::ZERO => ("fill_in_thin", String::new()),
        Action::FillIn => ("fill_in", String::new()),
        Action::TakeFillerOut => ("take_filler_out", String::new()),
        Action::LayAside => ("lay_aside", String::new()),
        Action::Fit(Source::Valve(from)) => ("fit_from", wording.place(from)),
        Action::Fit(Source::Box) => ("fit_from_box", String::new()),
        Action::Fit(Source::Bought) => ("fit_new", String::new()),
        Action::Set { clearance_nm } => {
            let value = wording.length(clearance_nm, setup.unit);
            return setup.answer("set_screw", &[("value", &value)]);
        }
    };
    setup.answer(key, &[("value", &size), ("from", &from)])
}

/// The camshafts that come out, and the first step of the plan.
pub(super) fn begin(setup: &JobSetup, state: &State) -> Decision {
    let mut decision = say(steps(setup, state).first(), || nothing(setup, state));
    let wording = setup.wording(state);
    let cams = state.view.plan().cams_out.iter();
    let named = |cam: &Cam| {
        let head = cam.head.map(|h| wording.head(h)).unwrap_or_default();
        let cam = format!("{head} {}", wording.camshaft(cam.side));
        cam.trim_start().to_owned()
    };
    let cams: Vec<String> = cams.map(named).collect();
    if !cams.is_empty() {
        let out = setup.answer("cams_come_out", &[("cams", &cams.join(", "))]);
        decision.spoken = format!("{out}. {}", decision.spoken);
    }
    decision
}

/// The step after the one that was said, or before it. Where that one is done and gone, the first.
pub(super) fn walk(setup: &JobSetup, state: &State, from: Position, forward: bool) -> Decision {
    let steps = steps(setup, state);
    let at = steps.iter().position(|s| s.position == from);
    let next = match (at, forward) {
        (None, _) => Some(0),
        (Some(at), true) => Some(at + 1),
        (Some(at), false) => at.checked_sub(1),
    };
    let end = || answer(setup.answer("end_of_plan", &[])).about(Some(from));
    say(next.and_then(|at| steps.get(at)), end)
}

fn say(step: Option<&Step>, otherwise: impl FnOnce() -> Decision) -> Decision {
    match step {
        Some(step) => answer(&step.words).about(Some(step.position)),
        None => otherwise(),
    }
}

/// Why there is no step: all valves stay as they are, or they are not known well enough.
fn nothing(setup: &JobSetup, state: &State) -> Decision {
    let stuck = state.view.plan().stuck.len();
    if stuck == 0 {
        return answer(setup.answer("nothing_to_fit", &[]));
    }
    let count = setup
        .grammar
        .wording
        .whole(u32::try_from(stuck).unwrap_or(u32::MAX));
    answer(setup.answer("plan_waits", &[("count", &count)]))
}

/// What the plan buys.
pub(super) fn to_buy(setup: &JobSetup, state: &State) -> Decision {
    let wording = setup.wording(state);
    let lots = state.view.plan().purchases.iter().map(|p| {
        let count = wording.whole(u32::from(p.count));
        let value = wording.length(p.size_nm, LengthUnit::Millimetre);
        setup.answer("lot", &[("count", &count), ("value", &value)])
    });
    let lots: Vec<String> = lots.collect();
    if lots.is_empty() {
        return answer(setup.answer("nothing_to_buy", &[]));
    }
    answer(setup.answer("buy", &[("lots", &lots.join(", "))]))
}

/// The shim that goes into a valve, or why none is named.
pub(super) fn which_shim(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    let Placed::At(position) = place::resolve(setup, state, said) else {
        return Decision::new(Outcome::Refused, "no valve was named and none is open")
            .say(setup.answer("which_position", &[]));
    };
    let plan = state.view.plan();
    if let Some(setting) = plan.setting_of(position) {
        let words = action(setup, state, setting);
        let place = setup.wording(state).place(position);
        return answer(format!("{place}, {words}")).about(Some(position));
    }
    let fitting = plan.fittings.iter().find(|f| f.position == position);
    let stays = plan.untouched.iter().any(|u| u.position == position);
    let place = setup.wording(state).place(position);
    let wording = setup.wording(state);
    let rows = &state.view.sheet().rows;
    let row = rows.iter().find(|r| r.position == position);
    let unsure = row.filter(|r| r.fit_sure == Some(false));
    let finer = unsure.and_then(|r| r.fit_finer_nm);
    let key = match (fitting.is_some(), stays) {
        (true, _) if finer.is_some() => "fit_blade_first",
        (true, _) if unsure.is_some() => "fit_on_limit",
        (true, _) => "fit",
        (false, true) => "leave",
        (false, false) => why_none(state, position),
    };
    let size = fitting.map(|f| wording.length(f.new_nm, LengthUnit::Millimetre));
    let blade = finer.map(|b| wording.length(b, setup.unit));
    let (value, blade) = (size.unwrap_or_default(), blade.unwrap_or_default());
    let values = [
        ("place", place.as_str()),
        ("value", &value),
        ("blade", &blade),
    ];
    let mut decision = answer(setup.answer(key, &values));
    if let Some(row) = row {
        decision.why.clone_from(&row.reason);
    }
    decision.about(Some(position))
}

/// What is missing before a shim can be named for a valve.
fn why_none(state: &State, position: Position) -> &'static str {
    let shim = state
        .view
        .bench()
        .valves
        .get(&position)
        .and_then(|v| v.size());
    match state.view.verdict(position) {
        Verdict::Unmeasured => "no_plan",
        Verdict::NoGap => "shim_no_gap",
        Verdict::Refitted | Verdict::Contradictory => "shim_remeasure",
        _ if shim.is_none() => "shim_unknown",
        Verdict::Open => "shim_other_blade",
        _ => {
            let interval = state
                .view
                .bench()
                .valves
                .get(&position)
                .and_then(|v| v.interval());
            match interval.map(|i| i.twice_middle_nm()) {
                Some(None) => "shim_other_blade",
                _ => "shim_stuck",
            }
        }
    }
}

/// "It's in": the shim that the plan has for the valve it was just said for is fitted there.
pub(super) fn fitted(setup: &JobSetup, state: &State) -> Decision {
    let planned = state.fitting_at().and_then(|position| {
        let fittings = &state.view.plan().fittings;
        fittings.iter().find(|f| f.position == position)
    });
    let Some(planned) = planned else {
        return Decision::new(Outcome::Ignored, "no shim was named that could be in");
    };
    let fit = Reading {
        position: Some(planned.position),
        part: None,
        head: None,
        quantity: Quantity::ShimFitted,
        value: Value::Shim {
            marked_nm: Some(planned.new_nm),
            measured_nm: None,
        },
        unit: LengthUnit::Millimetre,
    };
    settle(setup, state, fit, Force::default())
}

/// What a cut would do: the clearance, the shim that it would need, and whether there is one.
pub(super) fn what_if_cut(
    setup: &JobSetup,
    state: &State,
    said: &Whereabouts,
    cut: Length,
) -> Decision {
    before_cut(setup, state, said, |position, before| {
        let angle = setup
            .profile
            .seat_angle_deg
            .map(|deg| i64::from(deg) * 1_000);
        // Off the seat, square to its face; where the angle is not known, along the stem.
        let removed = angle.map_or(Removed::Axial(cut), |angle| Removed::Square(cut, angle));
        let Ok(effect) = after_cut(removed, before, setup.unit) else {
            return answer(setup.answer("not_in_profile", &[]));
        };
        let wording = setup.wording(state);
        let hundredth = Length::from_um(10);
        let after = effect.clearance_after_nm;
        let clearance = match after > Length::ZERO {
            true => wording.length(nearest(after, hundredth), setup.unit),
            false => setup.answer("no_gap", &[]),
        };
        let (key, size) = match effect.finding.verdict {
            inspection::Verdict::OutOfLimit => ("cut_too_far", Some(effect.shim_needed_nm)),
            inspection::Verdict::Doubtful => ("cut_no_size", None),
            _ => ("cut", effect.fit_nm),
        };
        let shim = size.map(|s| wording.length(nearest(s, hundredth), LengthUnit::Millimetre));
        let (place, shim) = (wording.place(position), shim.unwrap_or_default());
        let values = [
            ("place", place.as_str()),
            ("clearance", &clearance),
            ("shim", &shim),
        ];
        let mut decision = answer(setup.answer(key, &values)).about(Some(position));
        decision.why = effect.finding.reason;
        decision
    })
}

/// How far a valve may be cut before no shim is thin enough.
pub(super) fn how_much_cut(setup: &JobSetup, state: &State, said: &Whereabouts) -> Decision {
    before_cut(setup, state, said, |position, before| {
        let effect = after_cut(Removed::Axial(Length::ZERO), before, setup.unit);
        let Some(drop) = effect.ok().and_then(|e| e.most_drop_nm) else {
            return answer(setup.answer("not_in_profile", &[]));
        };
        let place = setup.wording(state).place(position);
        if drop <= Length::ZERO {
            return answer(setup.answer("cut_none", &[("place", &place)])).about(Some(position));
        }
        let value = setup
            .wording(state)
            .length(below(drop, Length::from_um(10)), setup.unit);
        answer(setup.answer("cut_most", &[("place", &place), ("value", &value)]))
            .about(Some(position))
    })
}

fn before_cut(
    setup: &JobSetup,
    state: &State,
    said: &Whereabouts,
    work: impl FnOnce(Position, BeforeCut<'_>) -> Decision,
) -> Decision {
    let Placed::At(position) = place::resolve(setup, state, said) else {
        return Decision::new(Outcome::Refused, "no valve was named and none is open")
            .say(setup.answer("which_position", &[]));
    };
    let Ok(before) = BeforeCut::of(&setup.profile, state.view.bench(), position) else {
        let place = setup.wording(state).place(position);
        let key = match setup.profile.shims.kind.has_shims() {
            true => why_none(state, position),
            false => "no_shims",
        };
        return answer(setup.answer(key, &[("place", &place)])).about(Some(position));
    };
    work(position, before)
}

/// To the nearest whole `step`: what is spoken is no finer than what can be measured.
fn nearest(length: Length, step: Length) -> Length {
    Length::from_nm((length.nm() + step.nm() / 2).div_euclid(step.nm()) * step.nm())
}

/// Down to a whole `step`.
fn below(length: Length, step: Length) -> Length {
    Length::from_nm(length.nm().div_euclid(step.nm()) * step.nm())
}
