//! What a matched phrase means: captured words to positions, values and commands.

use super::amount::{self, Candidate};
use super::net::Match;
use super::scope::Scope;
use super::source::Phrase;
use super::measured;
use crate::event::{Gap, Part, Side, Value, Valve};
use crate::measure::{Amount, Bounds, Length, LengthUnit, Place, Quantity, Unit, Zone, bounds};
use serde::{Deserialize, Serialize};

/// What a phrase of the grammar is for; the `means` of its file.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Means {
    Clearance,
    ShimFitted,
    ShimSpare,
    Measure,
    Check,
    Task,
    StageBegun,
    StageDone,
    Group,
    ShimStep,
    Moved,
    Unclear,
    Open,
    Answer,
    Note,
    SayAgain,
    Correction,
    Disregard,
    Affirm,
    Negative,
    Roger,
    StandBy,
    Listen,
    Next,
    WhatsNext,
    ReadBack,
    HowManyLeft,
    WhatsTight,
    WhichShim,
    SameAgain,
    Ticked,
    Back,
    Hold,
    WhatsOpen,
    WhereAmI,
    HowManyPins,
    WhereToTurn,
}

/// A command, named as it is written in JSON.
pub type Command = Means;

impl Means {
    /// Its name in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Clearance => "clearance",
            Self::ShimFitted => "shim_fitted",
            Self::ShimSpare => "shim_spare",
            Self::Measure => "measure",
            Self::Check => "check",
            Self::Task => "task",
            Self::StageBegun => "stage_begun",
            Self::StageDone => "stage_done",
            Self::Group => "group",
            Self::ShimStep => "shim_step",
            Self::Moved => "moved",
            Self::Unclear => "unclear",
            Self::Back => "back",
            Self::Hold => "hold",
            Self::Open => "open",
            Self::Answer => "answer",
            Self::Note => "note",
            Self::SayAgain => "say_again",
            Self::Correction => "correction",
            Self::Disregard => "disregard",
            Self::Affirm => "affirm",
            Self::Negative => "negative",
            Self::Roger => "roger",
            Self::StandBy => "stand_by",
            Self::Listen => "listen",
            Self::Next => "next",
            Self::WhatsNext => "whats_next",
            Self::ReadBack => "read_back",
            Self::HowManyLeft => "how_many_left",
            Self::WhatsTight => "whats_tight",
            Self::WhichShim => "which_shim",
            Self::SameAgain => "same_again",
            Self::Ticked => "ticked",
            Self::WhatsOpen => "whats_open",
            Self::WhereAmI => "where_am_i",
            Self::HowManyPins => "how_many_pins",
            Self::WhereToTurn => "where_to_turn",
        }
    }
}

/// As much of a position as was said.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Whereabouts {
    /// Cylinder.
    pub cylinder: Option<u8>,
    /// Side.
    pub side: Option<Side>,
    /// Valve.
    pub valve: Option<Valve>,
}

impl Whereabouts {
    /// Whether nothing was said of a place.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.cylinder.is_none() && self.side.is_none() && self.valve.is_none()
    }
}

/// Several valves at once.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Group {
    /// Every valve of what was named.
    All,
    /// Two of them; the engine must have just two there.
    Both,
    /// From one cylinder to another.
    Range(u8, u8),
    /// Those that are not measured yet.
    Rest,
}

/// What was said, its place aside.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Meaning {
    /// A place called alone.
    Open,
    /// A part of a place, in answer to a question.
    Answer,
    /// A reading.
    Reading {
        /// What.
        quantity: Quantity,
        /// Which part, where it is no valve or a part of one.
        part: Option<Part>,
        /// How much.
        value: Value,
        /// Unit it was said in.
        unit: LengthUnit,
        /// It began with "correction" or the like.
        fix: bool,
        /// It said "new": it is meant to follow an earlier one.
        fresh: bool,
        /// Outside the usual range.
        unusual: bool,
    },
    /// Spare shims.
    Spare {
        /// Thickness.
        size: Length,
        /// How many.
        count: u16,
        /// Outside the usual range.
        unusual: bool,
    },
    /// The same clearance on several valves.
    Group(Group, Gap, LengthUnit),
    /// Another shim by steps of the series, or by a length; below zero thinner.
    ShimStep {
        /// Steps.
        steps: i8,
        /// Or by this much.
        by: Option<Length>,
    },
    /// The last reading belongs elsewhere.
    Moved,
    /// Something looked at.
    Check {
        /// Of the open valve, where none is named.
        here: bool,
        /// What, by its key.
        item: String,
        /// How many.
        count: Option<u16>,
        /// As it should be.
        good: bool,
    },
    /// Something to be done later.
    Task {
        /// What kind, by its key.
        kind: String,
        /// In words.
        text: String,
    },
    /// A task is done: the one with these words.
    Tick(String),
    /// A stage of the job, by its key.
    Stage {
        /// Which.
        stage: String,
        /// Finished.
        done: bool,
    },
    /// A note.
    Note(String),
    /// A command.
    Command(Command),
}

/// A meaning and its place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Said {
    /// Where.
    pub place: Whereabouts,
    /// What.
    pub meaning: Meaning,
}

/// Why a phrase that was understood cannot be.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Refusal {
    /// The engine has no such cylinder.
    Cylinder(u8),
    /// That side has no such valve.
    Valve(Side, Valve),
    /// Outside what the quantity can be.
    Range {
        /// The number as said.
        raw: String,
        /// The row it broke.
        words: &'static str,
        /// Hard range in base units.
        hard: (i64, i64),
        /// The unit of its thousandths; `None` where the row holds nanometres.
        unit: Option<Unit>,
    },
    /// The blade that goes is not the smaller one.
    Crossed(Length, Length),
    /// One phrase said two things.
    Contradiction,
}

/// What a text means in a job.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Heard {
    /// One meaning.
    Accepted(Said),
    /// Several meanings: to be asked.
    Ambiguous(Vec<Said>),
    /// Understood, and it cannot be.
    Refused(Refusal),
    /// No phrase of the bench.
    Nothing,
}

/// The meanings of one matched phrase.
pub(super) fn read(phrase: &Phrase, m: &Match, scope: &Scope) -> Result<Vec<Said>, Refusal> {
    let place = whereabouts(m, scope)?;
    let said = |meaning| Said { place, meaning };
    for slot in [
        "unit", "value", "goes", "stops", "cylinder", "side", "valve", "cam", "number",
    ] {
        if m.contradicts(slot) {
            return Err(Refusal::Contradiction);
        }
    }
    let slot = |name| m.slot(name).unwrap_or_default().to_owned();
    Ok(match phrase.means {
        Means::Open => vec![said(Meaning::Open)],
        Means::Answer => vec![said(Meaning::Answer)],
        Means::Note => vec![said(Meaning::Note(
            m.slot("text").unwrap_or_default().to_owned(),
        ))],
        // With a shim called at this valve just before, a bare number may be another.
        Means::Clearance if place.is_empty() && scope.shim_in_hand && bare(m) => {
            let gap = clearance(m, place, scope);
            let shim = shim(m, scope);
            in_hand(gap, shim)?.into_iter().map(said).collect()
        }
        // "Correction, two seventy" is of the quantity of the reading that it corrects.
        Means::Clearance
            if place.is_empty() && m.slot("fix").is_some() && m.slot("value").is_some() =>
        {
            let meanings = match scope.last {
                None | Some(Quantity::Clearance) => clearance(m, place, scope)?,
                Some(Quantity::ShimFitted) => shim(m, scope)?,
                Some(quantity) => measured::readings(m, quantity, &place, scope)?,
            };
            meanings.into_iter().map(said).collect()
        }
        Means::Clearance => clearance(m, place, scope)?.into_iter().map(said).collect(),
        Means::Measure => {
            let quantity = phrase.quantity.unwrap_or(Quantity::Clearance);
            let place = measured::valve_place(quantity, place);
            let meanings = measured::readings(m, quantity, &whereabouts(m, scope)?, scope)?;
            let said = |meaning| Said { place, meaning };
            meanings.into_iter().map(said).collect()
        }
        Means::Group => {
            let number = |slot| m.slot(slot).and_then(|n| n.parse::<u8>().ok());
            let group = match (m.slot("group"), number("from"), number("to")) {
                (Some("rest"), ..) => Group::Rest,
                (Some("both"), ..) => Group::Both,
                (None, Some(from), Some(to)) if from < to && to <= scope.cylinders => {
                    Group::Range(from, to)
                }
                (None, _, Some(to)) => return Err(Refusal::Cylinder(to)),
                _ => Group::All,
            };
            let one = |meaning| match meaning {
                Meaning::Reading {
                    value: Value::Gap(gap),
                    unit,
                    ..
                } => Some(said(Meaning::Group(group, gap, unit))),
                _ => None,
            };
            clearance(m, place, scope)?.into_iter().filter_map(one).collect()
        }
        Means::ShimStep => {
            let sign = if m.slot("way") == Some("down") { -1 } else { 1 };
            let steps = m.slot("steps").and_then(|n| n.parse::<i8>().ok());
            let by = m.slot("by").map(|raw| {
                let row = bounds(Quantity::Clearance, Place::Any);
                let all = amount::lengths(raw, m.slot("unit"), Quantity::Clearance, row, scope);
                all.first().map(|c| c.length).ok_or_else(|| refuse(raw, row))
            });
            let by = by.transpose()?;
            vec![said(Meaning::ShimStep {
                steps: steps.unwrap_or(0) * sign,
                by: by.map(|b| if sign < 0 { -b } else { b }),
            })]
        }
        Means::Moved => vec![said(Meaning::Moved)],
        Means::Check => vec![said(Meaning::Check {
            here: m.slot("here").is_some(),
            item: slot("item"),
            count: m.slot("count").and_then(|c| c.parse().ok()),
            good: m.slot("bad").is_none(),
        })],
        Means::Task => vec![said(Meaning::Task {
            kind: slot("kind"),
            text: slot("text"),
        })],
        Means::Ticked => vec![said(Meaning::Tick(slot("text")))],
        Means::StageBegun | Means::StageDone => vec![said(Meaning::Stage {
            stage: slot("stage"),
            done: phrase.means == Means::StageDone,
        })],
        Means::ShimFitted => shim(m, scope)?.into_iter().map(said).collect(),
        Means::ShimSpare => spare(m, scope)?.into_iter().map(said).collect(),
        command => vec![said(Meaning::Command(command))],
    })
}

/// Weighs the meanings of all matched phrases against each other.
pub(super) fn weigh(all: Vec<Result<Vec<Said>, Refusal>>) -> Heard {
    let mut accepted: Vec<Said> = Vec::new();
    let mut refused = None;
    for one in all {
        match one {
            Ok(said) => {
                for s in said {
                    if !accepted.contains(&s) {
                        accepted.push(s);
                    }
                }
            }
            Err(refusal) => refused = Some(refusal),
        }
    }
    match (accepted.len(), refused) {
        (0, Some(refusal)) => Heard::Refused(refusal),
        (0, None) => Heard::Nothing,
        (1, _) => Heard::Accepted(accepted.swap_remove(0)),
        _ => Heard::Ambiguous(accepted),
    }
}

fn whereabouts(m: &Match, scope: &Scope) -> Result<Whereabouts, Refusal> {
    let cylinder = m.slot("cylinder").and_then(|c| c.parse::<u8>().ok());
    let side = m.slot("side").map(|s| {
        if s == "inlet" {
            Side::Inlet
        } else {
            Side::Exhaust
        }
    });
    let valve = m.slot("valve").and_then(Valve::from_key);
    let same = scope.open.filter(|_| m.slot("same").is_some());
    let cylinder = cylinder.or(same.map(|p| p.cylinder));
    // "The other side": of a pair, the one that is not open.
    let other = scope.open.filter(|_| m.slot("other").is_some()).and_then(|p| {
        match scope.valves(p.side) {
            [a, b] => [*a, *b].into_iter().find(|v| Some(*v) != p.valve),
            _ => None,
        }
    });
    let valve = valve.or(other);
    if let Some(cylinder) = cylinder
        && (cylinder == 0 || cylinder > scope.cylinders)
    {
        return Err(Refusal::Cylinder(cylinder));
    }
    if let (Some(side), Some(valve)) = (side, valve)
        && !scope.valves(side).contains(&valve)
    {
        return Err(Refusal::Valve(side, valve));
    }
    Ok(Whereabouts {
        cylinder,
        side,
        valve,
    })
}

pub(super) fn refuse(raw: &str, row: &Bounds) -> Refusal {
    Refusal::Range {
        raw: raw.to_owned(),
        words: row.words,
        hard: row.hard,
        unit: row.quantity.unit(),
    }
}

/// A single number without a unit, and nothing else.
fn bare(m: &Match) -> bool {
    m.slot("value").is_some()
        && ["unit", "fix", "added"].iter().all(|slot| m.slot(slot).is_none())
}

/// Which of two quantities a bare number fits: the usual ones, else all that are possible.
fn in_hand(
    gap: Result<Vec<Meaning>, Refusal>,
    shim: Result<Vec<Meaning>, Refusal>,
) -> Result<Vec<Meaning>, Refusal> {
    let (gap, shim) = match (gap, shim) {
        (Err(refusal), Err(_)) => return Err(refusal),
        (gap, shim) => (gap.unwrap_or_default(), shim.unwrap_or_default()),
    };
    let usual = |m: &Meaning| matches!(m, Meaning::Reading { unusual: false, .. });
    let mut all: Vec<Meaning> = gap.into_iter().chain(shim).collect();
    if all.iter().any(usual) {
        all.retain(usual);
    }
    Ok(all)
}

fn clearance(m: &Match, place: Whereabouts, scope: &Scope) -> Result<Vec<Meaning>, Refusal> {
    let side = place
        .side
        .or_else(|| scope.open.filter(|_| place.is_empty()).map(|p| p.side));
    let row = bounds(
        Quantity::Clearance,
        match side {
            Some(Side::Inlet) => Place::Inlet,
            Some(Side::Exhaust) => Place::Exhaust,
            None => Place::Any,
        },
    );
    blades(m, row, None, scope)
}

/// What feeler blades showed: of a valve's clearance, or of a gap under the straight edge.
pub(super) fn blades(
    m: &Match,
    row: &Bounds,
    part: Option<Part>,
    scope: &Scope,
) -> Result<Vec<Meaning>, Refusal> {
    let quantity = row.quantity;
    let candidates = |slot: &str| -> Result<Option<Vec<Candidate>>, Refusal> {
        let Some(raw) = m.slot(slot) else {
            return Ok(None);
        };
        let all = amount::lengths(raw, m.slot("unit"), quantity, row, scope);
        if all.is_empty() {
            Err(refuse(raw, row))
        } else {
            Ok(Some(all))
        }
    };
    let fix = m.slot("fix").is_some();
    let doubt = m.slot("doubt").is_some();
    let reading = |gap, unit, unusual: bool| Meaning::Reading {
        quantity,
        part,
        value: Value::Gap(gap),
        unit,
        fix,
        fresh: false,
        unusual: unusual || doubt,
    };
    // Blades held together: their sum.
    if let (Some(one), Some(other)) = (candidates("value")?, candidates("added")?) {
        let sum = |a: &Candidate, b: &Candidate| (a.length + b.length, a.unit);
        return Ok(one
            .iter()
            .flat_map(|a| other.iter().map(move |b| sum(a, b)))
            .map(|(length, unit)| {
                let usual = row.zone(Amount::LengthNm(length)) == Zone::Usual;
                reading(Gap::Single(length), unit, !usual)
            })
            .collect());
    }
    if m.slot("none").is_some() {
        return Ok(vec![reading(Gap::None, scope.unit, false)]);
    }
    let unusual = |c: &Candidate| c.zone != Zone::Usual;
    match (
        candidates("goes")?,
        candidates("stops")?,
        candidates("value")?,
    ) {
        (Some(goes), Some(stops), _) => {
            let mut all = Vec::new();
            for g in &goes {
                for s in stops.iter().filter(|s| s.length > g.length) {
                    let gap = Gap::Between {
                        goes_nm: g.length,
                        stops_nm: s.length,
                    };
                    all.push(reading(gap, g.unit, unusual(g) || unusual(s)));
                }
            }
            match (all.is_empty(), goes.first(), stops.first()) {
                (true, Some(g), Some(s)) => Err(Refusal::Crossed(g.length, s.length)),
                _ => Ok(all),
            }
        }
        (Some(goes), None, _) => Ok(goes
            .iter()
            .map(|c| reading(Gap::AtLeast(c.length), c.unit, unusual(c)))
            .collect()),
        (None, Some(stops), _) => Ok(stops
            .iter()
            .map(|c| reading(Gap::Below(c.length), c.unit, unusual(c)))
            .collect()),
        // A bare "zero" is never stored as no length: it means that the smallest blade does not go.
        (None, None, Some(values)) => Ok(values
            .iter()
            .map(|c| match c.length {
                Length::ZERO => reading(Gap::None, c.unit, true),
                length => reading(Gap::Single(length), c.unit, unusual(c)),
            })
            .collect()),
        (None, None, None) => Ok(Vec::new()),
    }
}

fn shim_lengths(m: &Match, slot: &str, scope: &Scope) -> Result<Option<Vec<Candidate>>, Refusal> {
    let Some(raw) = m.slot(slot) else {
        return Ok(None);
    };
    let row = bounds(Quantity::ShimFitted, scope.shims);
    let all = amount::lengths(raw, m.slot("unit"), Quantity::ShimFitted, row, scope);
    if all.is_empty() {
        Err(refuse(raw, row))
    } else {
        Ok(Some(all))
    }
}

fn shim(m: &Match, scope: &Scope) -> Result<Vec<Meaning>, Refusal> {
    let value = shim_lengths(m, "value", scope)?;
    let marked = shim_lengths(m, "marked", scope)?;
    let measured = shim_lengths(m, "measured", scope)?;
    let (fix, fresh) = (m.slot("fix").is_some(), m.slot("fresh").is_some());
    let reading = |marked: Option<&Candidate>, measured: Option<&Candidate>| {
        let both = [marked, measured];
        Meaning::Reading {
            quantity: Quantity::ShimFitted,
            part: None,
            value: Value::Shim {
                marked_nm: marked.map(|c| c.length),
                measured_nm: measured.map(|c| c.length),
            },
            unit: both
                .iter()
                .flatten()
                .next()
                .map_or(LengthUnit::Millimetre, |c| c.unit),
            fix,
            fresh,
            unusual: both.iter().flatten().any(|c| c.zone != Zone::Usual),
        }
    };
    Ok(match (value, marked, measured) {
        (Some(value), None, None) => value.iter().map(|c| reading(Some(c), None)).collect(),
        (None, Some(marked), None) => marked.iter().map(|c| reading(Some(c), None)).collect(),
        (None, None, Some(measured)) => measured.iter().map(|c| reading(None, Some(c))).collect(),
        (None, Some(marked), Some(measured)) => marked
            .iter()
            .flat_map(|a| measured.iter().map(move |b| (a, b)))
            .map(|(a, b)| reading(Some(a), Some(b)))
            .collect(),
        _ => Vec::new(),
    })
}

fn spare(m: &Match, scope: &Scope) -> Result<Vec<Meaning>, Refusal> {
    let count = m.slot("count").and_then(|c| c.parse().ok()).unwrap_or(1);
    let values = shim_lengths(m, "value", scope)?.unwrap_or_default();
    let spare = |c: &Candidate| Meaning::Spare {
        size: c.length,
        count,
        unusual: c.zone != Zone::Usual || m.slot("doubt").is_some(),
    };
    Ok(values.iter().map(spare).collect())
}

impl Refusal {
    /// In a sentence, with what would have been accepted.
    #[must_use]
    pub fn explain(&self, scope: &Scope) -> String {
        match self {
            Self::Cylinder(n) => {
                format!(
                    "this engine has no cylinder {n}: expected 1 to {}",
                    scope.cylinders
                )
            }
            Self::Valve(side, valve) => {
                let names: Vec<&str> = scope.valves(*side).iter().map(|v| v.key()).collect();
                let expected = if names.len() < 2 {
                    "no valve name".to_owned()
                } else {
                    names.join(" or ")
                };
                format!(
                    "there is no {} valve called {}: expected {expected}",
                    side.key(),
                    valve.key()
                )
            }
            Self::Range {
                raw,
                words,
                hard,
                unit,
            } => {
                let show = |base: i64| {
                    let amount = match unit {
                        None => Amount::LengthNm(Length::from_nm(base)),
                        Some(unit) => Amount::Milli(base, *unit),
                    };
                    amount.show(LengthUnit::Millimetre)
                };
                format!(
                    "\"{raw}\" can be no {words}: expected {} to {}",
                    show(hard.0),
                    show(hard.1)
                )
            }
            Self::Crossed(goes, stops) => {
                format!(
                    "{goes} goes and {stops} does not: the blade that goes must be the smaller one"
                )
            }
            Self::Contradiction => "one phrase named two places or units: expected one".to_owned(),
        }
    }
}
