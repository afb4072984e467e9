//! What the board shows, worked out from the state of the job.

use super::job::Job;
use crate::engine::Clearance;
use crate::event::{Event, Fact, Gap, Outcome, Position, Reading, Value};
use crate::measure::{Length, LengthUnit};
use crate::report::{fact_words, verdict_words};
use crate::session::State;
use anyhow::Result;
use serde::Serialize;

/// Makes the board's JSON, event by event.
pub(crate) struct Board {
    source: String,
}

#[derive(Serialize)]
struct Shown<'a> {
    engine: &'a str,
    numbering: &'a str,
    unit: &'static str,
    /// `starting`, `listening`, `stand_by`, `asking`, `ended`.
    state: &'static str,
    source: &'a str,
    /// The last utterance that was for the tool.
    last: Option<Last>,
    /// The last one that was not.
    ignored: Option<&'a str>,
    open: Option<String>,
    /// Valves with a question that was left behind.
    left_open: Vec<String>,
    next: Option<Next>,
    measured: usize,
    total: usize,
    valves: Vec<Valve>,
    crank_deg: &'a [u16],
    assumed_timing: bool,
}

#[derive(Serialize)]
struct Last {
    event: u64,
    at_ms: i64,
    outcome: Outcome,
    said: String,
    /// Where, in figures.
    place: String,
    /// What, in figures: large.
    value: String,
    /// What is said aloud.
    words: String,
}

#[derive(Serialize)]
struct Next {
    place: String,
    /// Where the crank stands for it, in whole degrees after cylinder 1 fires, 0–719.
    crank_deg: Option<i64>,
    /// The valves of this stop that are still to measure.
    here: Vec<String>,
}

#[derive(Serialize)]
struct Valve {
    place: String,
    cylinder: u8,
    side: &'static str,
    name: &'static str,
    verdict: &'static str,
    words: &'static str,
    value: String,
    /// Values called now belong to it; the valve that is asked about, while one is.
    open: bool,
    /// The question that waits is about it.
    asked: bool,
    next: bool,
}

impl Board {
    /// A board; `source` names the microphone.
    #[must_use]
    pub(crate) fn new(source: &str) -> Self {
        Self {
            source: source.to_owned(),
        }
    }

    /// The board as it is now, as JSON. `state` is `None` for what the job itself says.
    ///
    /// # Errors
    /// None that can be met; serde's type asks for it.
    pub(crate) fn json(&self, job: &Job, state: Option<&'static str>) -> Result<String> {
        let setup = &job.setup;
        let events = job.state.events();
        let (view, valves) = (&job.state.view, setup.profile.valves());
        let next = view.next(job.state.open);
        let asked = |p: &Position| job.state.asks_about(*p);
        let open = job.state.open.filter(|_| !valves.iter().any(asked));
        let spoken = |e: &&Event| e.outcome != Outcome::Ignored && !e.spoken.is_empty();
        let last = events.iter().rev().find(spoken);
        let talk = events.last().filter(|e| e.outcome == Outcome::Ignored);
        let said = match (job.state.standing_by, job.state.question.is_some()) {
            (true, _) => "stand_by",
            (_, true) => "asking",
            _ => "listening",
        };
        let valve = |p: &Position| {
            let verdict = view.verdict(*p);
            let reading = view.bench().valves.get(p).and_then(|v| v.clearance);
            Valve {
                place: p.to_string(),
                cylinder: p.cylinder,
                side: p.side.key(),
                name: p.valve.map_or("", |v| v.key()),
                verdict: verdict.key(),
                words: verdict_words(verdict),
                value: reading.map(|r| gap(&r, setup.unit)).unwrap_or_default(),
                open: asked(p) || open == Some(*p),
                asked: asked(p),
                next: next == Some(*p),
            }
        };
        let shown = Shown {
            engine: &setup.profile.name,
            numbering: &setup.profile.numbering,
            unit: setup.unit.sign(),
            state: state.unwrap_or(said),
            source: &self.source,
            last: last.map(|e| of(e, setup.unit)),
            ignored: talk.map(|e| e.said.as_str()),
            open: open.map(|p| p.to_string()),
            left_open: job
                .state
                .left_open
                .iter()
                .map(ToString::to_string)
                .collect(),
            measured: valves.len() - view.remaining().len(),
            total: valves.len(),
            valves: valves.iter().map(valve).collect(),
            next: next.map(|p| coming(&job.state, p)),
            crank_deg: &setup.profile.crank_deg,
            assumed_timing: view.assumes_timing(),
        };
        Ok(serde_json::to_string(&shown)?)
    }
}

/// The valve that comes next, and its stop of the crank.
fn coming(state: &State, next: Position) -> Next {
    let stop = state.view.stop_of(next);
    let here = stop.iter().flat_map(|s| &s.valves);
    Next {
        place: next.to_string(),
        crank_deg: stop.as_ref().map(|s| s.crank_mdeg / 1_000),
        here: here.map(ToString::to_string).collect(),
    }
}

fn of(event: &Event, unit: LengthUnit) -> Last {
    let facts = event.facts.iter().flat_map(|f| match f {
        Fact::Asked(question) => question.proposed.as_slice(),
        other => std::slice::from_ref(other),
    });
    let value = facts
        .map(|f| match f {
            Fact::Read(r) => large(r, unit),
            Fact::Spare { .. } => fact_words(f, unit),
            _ => String::new(),
        })
        .find(|w| !w.is_empty());
    Last {
        event: event.id,
        at_ms: event.at_ms,
        outcome: event.outcome,
        said: event.said.clone(),
        place: event.subject.map(|p| p.to_string()).unwrap_or_default(),
        value: value.unwrap_or_default(),
        words: event.spoken.clone(),
    }
}

/// A value in few figures, to be read from three metres; the words below it say it whole.
fn large(reading: &Reading, unit: LengthUnit) -> String {
    let show = |l: Length| l.show(unit);
    let mm = |l: Length| l.show(LengthUnit::Millimetre);
    match reading.value {
        Value::Gap(Gap::Between { goes_nm, stops_nm }) => {
            let goes = show(goes_nm);
            let goes = goes.split(' ').next().unwrap_or_default();
            format!("{goes}–{}", show(stops_nm))
        }
        Value::Gap(Gap::Single(l)) => show(l),
        Value::Shim { .. } => reading.value.shim_size().map(mm).unwrap_or_default(),
        _ => crate::report::value_words(reading, unit),
    }
}

/// A clearance in few figures, for a small cell.
fn gap(reading: &Clearance, unit: LengthUnit) -> String {
    let bare = |l: Length| {
        let shown = l.show(unit);
        shown.split(' ').next().unwrap_or_default().to_owned()
    };
    let Ok(interval) = reading.interval else {
        return String::new();
    };
    match (interval.low, interval.high) {
        (Some(goes), Some(_)) if matches!(reading.gap, Gap::Single(_)) => bare(goes),
        (Some(goes), Some(stops)) => format!("{}–{}", bare(goes), bare(stops)),
        (Some(goes), None) => format!("≥{}", bare(goes)),
        (None, Some(stops)) => format!("<{}", bare(stops)),
        (None, None) => String::new(),
    }
}
