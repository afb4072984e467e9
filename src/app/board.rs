//! What the board shows, worked out from the state of the job.

use super::job::Job;
use super::results_view::headline;
use crate::engine::{Clearance, ShimPlan, ValveState};
use crate::event::{Event, Fact, Gap, Outcome, Position, Question, Reading, Value};
use crate::measure::{Length, LengthUnit, Quantity};
use crate::report::{fact_words, verdict_words};
use crate::session::{State, asks_whether_changed, examples};
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
    /// The language that is spoken.
    language: &'a str,
    source: &'a str,
    /// The last utterance that was for the tool.
    last: Option<Last>,
    /// The last one that was not.
    ignored: Option<&'a str>,
    open: Option<String>,
    /// What the question that waits is about.
    asks: Option<Asked>,
    /// What can be said now, likeliest first, in the job's language.
    examples: Vec<String>,
    /// Valves with a question that was left behind.
    left_open: Vec<String>,
    next: Option<Next>,
    /// Which round of measuring it is.
    round: String,
    measured: usize,
    /// Valves whose shim is known.
    shims: usize,
    total: usize,
    /// What comes once all is measured.
    plan: Option<Plan>,
    /// The feeler blades owned, thinnest first.
    blades: Vec<Blade>,
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
    /// What was measured, where it is no clearance.
    what: String,
    /// How much, in figures: large.
    value: String,
    /// What is said aloud.
    words: String,
}

/// Beside a value that is asked: what stands, and where it should lie.
#[derive(Serialize)]
struct Asked {
    /// The question, in words.
    words: String,
    /// What counts at that valve now.
    stands: String,
    /// The band of that valve.
    band: String,
    /// Whether a shim was changed or read again, which no yes or no answers.
    changed: bool,
}

#[derive(Serialize)]
struct Plan {
    headline: String,
    /// The next steps.
    steps: Vec<String>,
    /// How many follow.
    more: usize,
}

#[derive(Serialize)]
struct Blade {
    nm: i64,
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
    /// The head, where there are several.
    head: String,
    verdict: &'static str,
    words: &'static str,
    value: String,
    /// The size of its shim, if that is known.
    shim: String,
    /// `single`, `near` or nothing: what must be known of the reading beside its verdict.
    mark: &'static str,
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

    /// The board as it is now, as JSON.
    ///
    /// # Errors
    /// None that can be met; serde's type asks for it.
    pub(crate) fn json(&self, job: &Job) -> Result<String> {
        let setup = &job.setup;
        let events = job.state.events();
        let (view, valves) = (&job.state.view, setup.profile.valves());
        let next = view.next(job.state.open);
        let asked = |p: &Position| job.state.asks_about(*p);
        let open = job.state.open.filter(|_| !valves.iter().any(asked));
        let spoken = |e: &&Event| e.outcome != Outcome::Ignored && !e.spoken.is_empty();
        let last = events.iter().rev().find(spoken);
        let talk = events.last().filter(|e| e.outcome == Outcome::Ignored);
        let valve = |p: &Position| {
            let verdict = view.verdict(*p);
            let on_bench = view.bench().valves.get(p);
            let reading = on_bench.and_then(|v| v.clearance);
            let shim = shim_of(job, *p);
            let single = reading.is_some_and(|r| matches!(r.gap, Gap::Single(_)));
            Valve {
                place: p.to_string(),
                cylinder: p.cylinder,
                side: p.side.key(),
                name: p.valve.map_or("", |v| v.key()),
                head: setup.profile.head_called(p.cylinder).unwrap_or_default(),
                verdict: verdict.key(),
                words: verdict_words(verdict),
                value: reading.map(|r| gap(&r, setup.unit)).unwrap_or_default(),
                shim: shim
                    .map(|s| bare(s, LengthUnit::Millimetre))
                    .unwrap_or_default(),
                mark: match (view.is_near_limit(*p), single) {
                    (true, _) => "near",
                    (_, true) => "single",
                    _ => "",
                },
                open: asked(p) || open == Some(*p),
                asked: asked(p),
                next: next == Some(*p),
            }
        };
        let shown = Shown {
            engine: &setup.profile.name,
            numbering: &setup.profile.numbering,
            unit: setup.unit.sign(),
            language: &job.language,
            source: &self.source,
            last: last.map(|e| match &job.state.question {
                // An answer that was none shows what is still asked.
                Some(question) => of(e, setup.unit).or_asked(question, setup.unit),
                None => of(e, setup.unit),
            }),
            ignored: talk.map(|e| e.said.as_str()),
            open: open.map(|p| p.to_string()),
            asks: job.state.question.as_ref().map(|q| asked_of(job, q)),
            examples: examples(setup, &job.state),
            left_open: job
                .state
                .left_open
                .iter()
                .map(|left| left.words(&setup.grammar.wording))
                .collect(),
            round: view.sheet().round.words(),
            measured: valves.len() - view.remaining().len(),
            shims: valves
                .iter()
                .filter(|p| shim_of(job, **p).is_some())
                .count(),
            total: valves.len(),
            plan: view.remaining().is_empty().then(|| plan(view.plan())),
            blades: setup.blades.iter().map(|b| blade(*b, setup.unit)).collect(),
            valves: valves.iter().map(valve).collect(),
            next: next.map(|p| coming(&job.state, p)),
            crank_deg: &setup.profile.crank_deg,
            assumed_timing: view.assumes_timing(),
        };
        Ok(serde_json::to_string(&shown)?)
    }
}

fn shim_of(job: &Job, valve: Position) -> Option<Length> {
    let bench = job.state.view.bench();
    bench.valves.get(&valve).and_then(ValveState::size)
}

/// What stands at the valve that is asked about, and its band; both only of what is measured there.
fn asked_of(job: &Job, question: &Question) -> Asked {
    let (setup, view) = (&job.setup, &job.state.view);
    let reading = question.proposed.iter().find_map(|f| match f {
        Fact::Read(reading) => Some(reading),
        _ => None,
    });
    let mut asked = Asked {
        words: question.words.clone(),
        stands: String::new(),
        band: String::new(),
        changed: asks_whether_changed(&job.state),
    };
    let Some((reading, valve)) = reading.and_then(|r| Some((r, r.position?))) else {
        return asked;
    };
    match reading.quantity {
        Quantity::Clearance => {
            let on_bench = view.bench().valves.get(&valve);
            let stands = on_bench.and_then(|v| v.clearance);
            asked.stands = stands.map(|r| gap(&r, setup.unit)).unwrap_or_default();
            let band = setup.profile.side(valve.side).check;
            let (low, high) = (bare(band.low, setup.unit), bare(band.high, setup.unit));
            asked.band = format!("{low}–{high}");
        }
        Quantity::ShimFitted => {
            let size = shim_of(job, valve).map(|s| bare(s, LengthUnit::Millimetre));
            asked.stands = size.unwrap_or_default();
        }
        _ => {}
    }
    asked
}

/// The plan's first steps: as many as can be read at a distance.
fn plan(plan: &ShimPlan) -> Plan {
    const SHOWN: usize = 3;
    Plan {
        headline: headline(plan),
        steps: plan
            .moves
            .iter()
            .take(SHOWN)
            .map(|m| m.words.clone())
            .collect(),
        more: plan.moves.len().saturating_sub(SHOWN),
    }
}

fn blade(blade: Length, unit: LengthUnit) -> Blade {
    Blade {
        nm: blade.nm(),
        words: bare(blade, unit),
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
    let (what, value) = figures(facts, unit).unwrap_or_default();
    Last {
        event: event.id,
        at_ms: event.at_ms,
        outcome: event.outcome,
        said: event.said.clone(),
        place: event.subject.map(|p| p.to_string()).unwrap_or_default(),
        what,
        value,
        words: event.spoken.clone(),
    }
}

impl Last {
    /// What the question is about, if the event itself brought no figures.
    fn or_asked(mut self, question: &Question, unit: LengthUnit) -> Self {
        let place = question.proposed.iter().find_map(|f| match f {
            Fact::Read(reading) => reading.position,
            _ => None,
        });
        if let (true, Some((what, value))) =
            (self.value.is_empty(), figures(&question.proposed, unit))
        {
            (self.what, self.value) = (what, value);
            self.place = place.map_or(self.place, |p| p.to_string());
        }
        self
    }
}

/// What the first of them that has figures is about, and these.
fn figures<'a>(
    facts: impl IntoIterator<Item = &'a Fact>,
    unit: LengthUnit,
) -> Option<(String, String)> {
    let shown = facts.into_iter().map(|f| match f {
        Fact::Read(r) => (what(r), large(r, unit)),
        Fact::Spare { .. } => (String::new(), fact_words(f, unit)),
        Fact::Note { text, .. } | Fact::NoteLine(text) => ("note".to_owned(), text.clone()),
        _ => (String::new(), String::new()),
    });
    let mut shown = shown.filter(|(_, value)| !value.is_empty());
    shown.next()
}

/// What was measured, so that a shim does not look like a clearance, which goes without saying.
fn what(reading: &Reading) -> String {
    match reading.quantity {
        Quantity::Clearance => String::new(),
        Quantity::ShimFitted => "shim".to_owned(),
        other => other.to_string(),
    }
}

/// A value in few figures, to be read from three metres; the words below it say it whole.
fn large(reading: &Reading, unit: LengthUnit) -> String {
    let show = |l: Length| l.show(unit);
    let mm = |l: Length| l.show(LengthUnit::Millimetre);
    match reading.value {
        Value::Gap(Gap::Between { goes_nm, stops_nm }) => {
            format!("{}–{}", bare(goes_nm, unit), show(stops_nm))
        }
        Value::Gap(Gap::Single(l)) => show(l),
        Value::Shim { .. } => reading.value.shim_size().map(mm).unwrap_or_default(),
        _ => crate::report::value_words(reading, unit),
    }
}

/// A clearance in few figures, for a small cell.
fn gap(reading: &Clearance, unit: LengthUnit) -> String {
    let bare = |l: Length| bare(l, unit);
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

/// A length without its unit.
fn bare(length: Length, unit: LengthUnit) -> String {
    let shown = length.show(unit);
    shown.split(' ').next().unwrap_or_default().to_owned()
}
