//! The page of an engine: its profile as boxes, what they come to, and where it is kept.

use super::disk_space::room_for;
use super::engine_change::Change;
use super::in_words::in_words;
use super::job::Job;
use super::jobs::{Shown, drawn};
use super::results_view::{Stop, stops};
use super::{assets, engine_words, settings};
use crate::engine::crank::turns::{Places, turn_plan};
use crate::engine::form::{self, Boxes, Entered, Section};
use crate::engine::{Profile, SHIPPED};
use crate::web::Fault;
use anyhow::Result;
use serde::Serialize;

#[derive(Serialize)]
struct Page {
    title: String,
    sections: Vec<Section>,
    boxes: Boxes,
    /// What stands under it on paper.
    check: &'static str,
}

/// What the boxes come to.
#[derive(Serialize)]
struct Checked {
    faults: Vec<form::Fault>,
    firing_order: Vec<u16>,
    crank_deg: Vec<u16>,
    valves: Vec<Shown>,
    stops: Vec<Stop>,
    /// Why there are no stops.
    no_stops: Option<String>,
    assumed_timing: bool,
    /// What a manual gives besides.
    missing: Vec<String>,
    change: Option<Changed>,
}

/// What it would change in the job.
#[derive(Serialize)]
struct Changed {
    /// Why it cannot, or would change nothing.
    why: Option<String>,
    lines: Vec<String>,
    verdicts: Vec<String>,
}

/// Empty boxes.
///
/// # Errors
/// None that can be met; serde's type asks for it.
pub(crate) fn blank() -> Result<String> {
    page("New engine".to_owned(), Boxes::new())
}

/// The boxes of an engine that this person entered before.
///
/// # Errors
/// There is none of that key, or it cannot be shown.
pub(crate) fn own(key: &str) -> Result<String, Fault> {
    known(key)?;
    let (_, text) = assets::engine_text(key).map_err(broken)?;
    let boxes = form::boxes(&text).map_err(Fault::Refused)?;
    page("Engine".to_owned(), boxes).map_err(broken)
}

/// The boxes of the job's engine.
///
/// # Errors
/// It cannot be shown.
pub(crate) fn of_job(job: &Job) -> Result<String, Fault> {
    let text = job.state.counting().profile().unwrap_or_default();
    let boxes = form::boxes(text).map_err(Fault::Refused)?;
    page("Engine of this job".to_owned(), boxes).map_err(broken)
}

fn page(title: String, boxes: Boxes) -> Result<String> {
    Ok(serde_json::to_string(&Page {
        title,
        sections: form::sections(),
        boxes,
        check: engine_words::CHECK,
    })?)
}

/// What the boxes come to, as JSON; for a job also what they would change.
///
/// # Errors
/// As [`blank`].
pub(crate) fn checked(boxes: &Boxes, job: Option<&Job>) -> Result<String> {
    let Entered {
        profile,
        faults,
        crank_deg,
        firing_order,
        valves,
        ..
    } = entered(boxes, job);
    let plan = profile
        .as_ref()
        .map(|p| turn_plan(p, &p.valves(), Places::default()));
    let plan = plan.transpose();
    let change = job.zip(profile.as_ref()).map(|(job, profile)| {
        let change = Change::of(job, profile);
        Changed {
            why: change.as_ref().err().map(ToString::to_string),
            lines: change.as_ref().map(|c| c.lines.clone()).unwrap_or_default(),
            verdicts: change.map(|c| c.verdicts).unwrap_or_default(),
        }
    });
    Ok(serde_json::to_string(&Checked {
        faults,
        firing_order,
        crank_deg,
        valves: drawn(&valves, profile.as_ref()),
        no_stops: plan.as_ref().err().map(ToString::to_string),
        assumed_timing: (plan.as_ref()).is_ok_and(|p| p.as_ref().is_some_and(|p| p.assumed_timing)),
        stops: plan.ok().flatten().as_ref().map(stops).unwrap_or_default(),
        missing: profile.as_ref().map(Profile::missing).unwrap_or_default(),
        change,
    })?)
}

fn entered(boxes: &Boxes, job: Option<&Job>) -> Entered {
    let name = boxes.get("name").map(String::as_str).unwrap_or_default();
    let key = job.map_or_else(|| form::key_of(name), |j| j.setup.profile.key.clone());
    form::entered(boxes, &key)
}

/// The text of a profile that may take the place of the job's.
///
/// # Errors
/// A fault in the boxes, another engine, or no change.
pub(crate) fn for_job(boxes: &Boxes, job: &Job) -> Result<String, Fault> {
    let entered = entered(boxes, Some(job));
    let profile = whole(&entered)?;
    Change::of(job, profile).map_err(|e| Fault::Refused(in_words(&e)))?;
    Ok(entered.text)
}

/// Keeps an engine in the settings folder, in the place of the one with that key if there is one; its
/// key as JSON.
///
/// # Errors
/// A fault in the boxes, no settings folder, or the disk.
pub(crate) fn keep(boxes: &Boxes, key: Option<&str>) -> Result<String, Fault> {
    key.map_or(Ok(()), known)?;
    let name = boxes.get("name").map(String::as_str).unwrap_or_default();
    let key = key.map_or_else(|| free_key(&form::key_of(name)), str::to_owned);
    let entered = form::entered(boxes, &key);
    whole(&entered)?;
    let nowhere = || {
        let why =
            "neither BENCHCALL_SETTINGS, XDG_CONFIG_HOME nor HOME says where settings are kept";
        Fault::Refused(why.to_owned())
    };
    let file = settings::engine_file(&key).ok_or_else(nowhere)?;
    room_for(&file, 0).map_err(|e| Fault::Refused(in_words(&e)))?;
    settings::keep_engine(&file, &entered.text).map_err(broken)?;
    Ok(serde_json::json!({ "key": key }).to_string())
}

fn whole(entered: &Entered) -> Result<&Profile, Fault> {
    entered.profile.as_ref().ok_or_else(|| {
        let first = entered.faults.first().map(|f| f.message.clone());
        Fault::Refused(first.unwrap_or_default())
    })
}

fn known(key: &str) -> Result<(), Fault> {
    if settings::engine_keys().iter().any(|k| k == key) {
        return Ok(());
    }
    let why = format!("there is no engine \"{key}\" that you entered");
    Err(Fault::NotFound(why))
}

/// A key that no engine has.
fn free_key(key: &str) -> String {
    let own = settings::engine_keys();
    let taken = |k: &String| own.contains(k) || SHIPPED.iter().any(|(s, _)| s == k);
    let numbered = (2..).map(|n| format!("{key}_{n}"));
    let mut keys = std::iter::once(key.to_owned()).chain(numbered);
    keys.find(|k| !taken(k)).unwrap_or_default()
}

fn broken(error: impl Into<anyhow::Error>) -> Fault {
    Fault::Broken(in_words(&error.into()))
}
