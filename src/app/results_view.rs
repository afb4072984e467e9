//! What the readings come to, as the pages show it: sheet, plan, crank stops, findings, progress. All
//! of it is the answer of the record; here it gets its words.

use super::job::Job;
use super::progress::{self, Progress};
use crate::engine::crank::turns::{self, TurnPlan};
use crate::engine::inspection::Verdict as Found;
use crate::engine::{Action, InRound, Item, Options, Row, ShimPlan, Stuck, Verdict, WhatIf, shown};
use crate::measure::{Length, LengthUnit};
use crate::report::{item_words, verdict_words};
use anyhow::Result;
use serde::Serialize;
use std::collections::BTreeSet;

#[derive(Serialize)]
struct Results<'a> {
    engine: &'a str,
    source: &'a str,
    /// Only "listen" counts now.
    standing_by: bool,
    measured: usize,
    in_band: usize,
    valves: Vec<Valve>,
    /// What must be known of the readings as a whole.
    remarks: Vec<String>,
    plan: Plan,
    spares: Vec<Spare>,
    /// The sign of the job's unit.
    unit: &'static str,
    stops: Vec<Stop>,
    assumed_timing: bool,
    /// Why there are no stops.
    no_stops: Option<String>,
    findings: Vec<Finding>,
    progress: Progress,
}

#[derive(Serialize)]
struct Valve {
    place: String,
    verdict: &'static str,
    words: &'static str,
    /// In band or out of it by less than the uncertainty of the reading.
    near: bool,
    clearance: String,
    /// What it showed in each round, oldest first.
    rounds: Vec<String>,
    shim: String,
    reason: String,
    /// What to do, if the reading does not decide.
    next: Option<String>,
    fit: String,
    fit_reason: Option<String>,
    /// The shim of the plan surely lands in its band.
    sure: bool,
    expected: String,
}

#[derive(Serialize)]
struct Plan {
    headline: String,
    steps: Vec<Step>,
    buy: Vec<String>,
    /// What the purchases cost together, if all have a price.
    together: Option<String>,
    left_alone: Vec<String>,
    waiting: Vec<String>,
    disturbs: Vec<String>,
    /// Screws are set: there is nothing to buy.
    screws: bool,
    proven: bool,
}

#[derive(Serialize)]
struct Step {
    place: String,
    words: String,
    /// The shim that is in once the step is done; `None` for a step that leaves the bucket without.
    fits_nm: Option<i64>,
}

#[derive(Serialize)]
struct Spare {
    size_nm: i64,
    words: String,
    count: i32,
}

#[derive(Serialize)]
pub(super) struct Stop {
    /// Degrees after the firing of cylinder 1.
    crank_deg: i64,
    /// Where to turn.
    words: String,
    /// What to measure there, and how its lobe stands.
    valves: Vec<String>,
}

#[derive(Serialize)]
struct Finding {
    place: String,
    verdict: &'static str,
    words: &'static str,
    reason: String,
    source: Option<String>,
}

/// All of it as JSON.
///
/// # Errors
/// None that can be met; serde's type asks for it.
pub(crate) fn results(job: &Job) -> Result<String> {
    let (setup, view) = (&job.setup, &job.state.view);
    let (sheet, unit) = (view.sheet(), setup.unit);
    let turns = view.turns();
    let remarks = sheet.room.iter().chain(&sheet.conflicts).cloned();
    let found = view.findings(0);
    Ok(serde_json::to_string(&Results {
        engine: &setup.profile.name,
        source: &setup.profile.source,
        standing_by: job.state.standing_by,
        measured: sheet.measured,
        in_band: sheet.in_band,
        valves: sheet.rows.iter().map(|r| valve(r, unit)).collect(),
        remarks: remarks.chain(sheet.remeasure.words(unit)).collect(),
        plan: plan(view.plan(), unit),
        spares: spares(job),
        unit: unit.sign(),
        stops: turns.as_ref().map(stops).unwrap_or_default(),
        assumed_timing: turns.as_ref().is_ok_and(|t| t.assumed_timing),
        no_stops: turns.as_ref().err().map(ToString::to_string),
        findings: found.items.iter().map(finding).collect(),
        progress: progress::of(job),
    })?)
}

fn valve(row: &Row, unit: LengthUnit) -> Valve {
    let size = |l: Option<Length>| l.map(|l| shown(l, unit)).unwrap_or_default();
    Valve {
        place: row.position.to_string(),
        verdict: row.verdict.key(),
        words: verdict_words(row.verdict),
        near: row.near_limit && row.verdict == Verdict::InBand,
        clearance: clearance(row, unit),
        rounds: row.rounds.iter().map(|r| in_round(r, unit)).collect(),
        shim: size(row.shim_nm),
        reason: row.reason.clone(),
        next: row.next.clone(),
        fit: size(row.fit_nm),
        fit_reason: row.fit_reason.clone(),
        sure: row.fit_sure != Some(false),
        expected: row.expected.map(|e| e.show(unit)).unwrap_or_default(),
    }
}

fn in_round(found: &InRound, unit: LengthUnit) -> String {
    format!("{}: {}", found.round.words(), found.clearance.show(unit))
}

/// The plan as it would be, as JSON: each change in words such as `inlet_target=0.15`.
///
/// # Errors
/// A change that cannot be read or made.
pub(crate) fn what_if(job: &Job, changes: &[String]) -> Result<String> {
    let (setup, unit) = (&job.setup, job.setup.unit);
    let mut what_if = WhatIf::default();
    for change in changes {
        what_if.set(change, unit)?;
    }
    let (profile, bench) = what_if.apply(&setup.profile, job.state.view.bench())?;
    let found = ShimPlan::of(&profile, &bench, &Options::default());
    Ok(serde_json::to_string(&plan(&found, unit))?)
}

/// The box of spares: every size on sale, and what else lies in it.
fn spares(job: &Job) -> Vec<Spare> {
    let loose = &job.state.view.bench().loose;
    let series = job.setup.profile.shims.series.iter();
    let all: BTreeSet<Length> = series.chain(loose.keys()).copied().collect();
    let spare = |size: Length| Spare {
        size_nm: size.nm(),
        words: shown(size, job.setup.unit),
        count: loose.get(&size).copied().unwrap_or(0).max(0),
    };
    all.into_iter().map(spare).collect()
}

/// What valves wait for, those that wait for the same in one line.
fn waiting(stuck: &[Stuck]) -> Vec<String> {
    let mut groups: Vec<(&Stuck, Vec<String>)> = Vec::new();
    for one in stuck {
        let same = |(first, _): &&mut (&Stuck, Vec<String>)| {
            (&first.reason, &first.next) == (&one.reason, &one.next)
        };
        match groups.iter_mut().find(same) {
            Some((_, valves)) => valves.push(one.position.to_string()),
            None => groups.push((one, vec![one.position.to_string()])),
        }
    }
    let line = |(first, valves): (&Stuck, Vec<String>)| match valves.len() {
        1 => first.words(),
        n => format!(
            "{n} valves: {} {} ({})",
            first.reason,
            first.next,
            valves.join(", ")
        ),
    };
    groups.into_iter().map(line).collect()
}

fn plan(plan: &ShimPlan, unit: LengthUnit) -> Plan {
    let step = |m: &crate::engine::Move| Step {
        place: m.position.to_string(),
        words: m.words.clone(),
        fits_nm: matches!(m.action, Action::Fit(_)).then(|| m.shim_nm.nm()),
    };
    let left = plan.untouched.iter().filter(|u| u.as_said);
    Plan {
        headline: headline(plan),
        steps: plan.moves.iter().map(step).collect(),
        buy: plan.purchases.iter().map(|p| p.words(unit)).collect(),
        together: plan.together().map(|price| price.to_string()),
        left_alone: left
            .map(|u| format!("{}: {}", u.position, u.reason))
            .collect(),
        waiting: waiting(&plan.stuck),
        disturbs: plan
            .cams_words()
            .into_iter()
            .chain(plan.disturbs())
            .collect(),
        screws: plan.screws,
        proven: plan.proven,
    }
}

pub(super) fn stops(plan: &TurnPlan) -> Vec<Stop> {
    let stop = |s: &turns::Stop| Stop {
        crank_deg: s.crank_mdeg / 1_000,
        words: s.words(),
        valves: s.lobes().collect(),
    };
    plan.stops.iter().map(stop).collect()
}

fn finding(item: &Item) -> Finding {
    let words = item_words(item);
    Finding {
        place: item.place.clone(),
        verdict: item.finding.as_ref().map_or("doubtful", |f| key(f.verdict)),
        words: words.verdict,
        reason: words.reason.to_owned(),
        source: words.source.map(str::to_owned),
    }
}

const fn key(verdict: Found) -> &'static str {
    match verdict {
        Found::Good => "good",
        Found::Worn => "worn",
        Found::OutOfLimit => "out_of_limit",
        Found::Doubtful => "doubtful",
        Found::NoLimit => "no_limit",
    }
}

/// How much is to be done, and what cannot be planned yet.
#[must_use]
pub(crate) fn headline(plan: &ShimPlan) -> String {
    let changes = match (plan.screws, plan.moves.len()) {
        (true, 0) if plan.stuck.is_empty() => return "No screw needs to be set.".to_owned(),
        (true, 0) => "No screw to set so far".to_owned(),
        (true, 1) => "1 valve to set".to_owned(),
        (true, n) => format!("{n} valves to set"),
        (false, _) => shims(plan),
    };
    if changes.ends_with('.') {
        return changes;
    }
    match plan.stuck.len() {
        0 => format!("{changes}."),
        1 => format!("{changes}; 1 valve waits for something else first."),
        n => format!("{changes}; {n} valves wait for something else first."),
    }
}

/// How many shims are to be changed.
fn shims(plan: &ShimPlan) -> String {
    match plan.fittings.len() {
        0 if plan.stuck.is_empty() => "No shim needs to change.".to_owned(),
        0 => "No shim to change so far".to_owned(),
        1 => "1 shim to change".to_owned(),
        n => format!("{n} shims to change"),
    }
}

/// A clearance as it was measured.
#[must_use]
pub(crate) fn clearance(row: &Row, unit: LengthUnit) -> String {
    let show = |l: Length| l.show(unit);
    match (row.goes_nm, row.stops_nm) {
        (Some(goes), Some(_)) if row.single => format!("{} (single)", show(goes)),
        (Some(goes), Some(stops)) => {
            format!(
                "{} .. {}",
                show(goes).trim_end_matches(&format!(" {}", unit.sign())),
                show(stops)
            )
        }
        (Some(goes), None) => format!("{} or more", show(goes)),
        (None, Some(stops)) => format!("below {}", show(stops)),
        (None, None) => "-".to_owned(),
    }
}
