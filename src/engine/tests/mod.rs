//! Tests of the engine. Check values stand beside their sources.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod allocation;
mod bench;
mod clearances;
mod exhaustive;
mod followers;
mod layouts;
mod plans;
mod profiles;
mod properties;
mod reference;
mod remeasured;

use super::clearance::interval::GapError;
use super::clearance::remeasure::{Remeasure, Swapped};
use super::clearance::shim::{ideal, judge, nearest, predict};
use super::clearance::valve_state::Shim;
use super::plan::Fitting;
use super::plan::supply::Score;
use super::plan::whatif::WhatIfError;
use super::sums::assign::{Levels, assign};
use super::*;
use crate::event::{Event, Fact, Gap, Outcome, Position, Reading, Side, Source, Value};
use crate::measure::{Length, LengthUnit, Quantity};

/// A four-cylinder engine of two valves a cylinder with these bands in micrometres:
/// check low, check high, set low, set high, target.
fn four(inlet: [i64; 5], exhaust: [i64; 5]) -> Profile {
    let side = |name: &str, b: [i64; 5]| {
        let mm = |um: i64| format!("\"{}\"", mm(um));
        format!(
            "[{name}]\nvalves = []\ncheck_band_mm = [{}, {}]\nset_band_mm = [{}, {}]\ntarget_mm = {}\n",
            mm(b[0]),
            mm(b[1]),
            mm(b[2]),
            mm(b[3]),
            mm(b[4])
        )
    };
    let text = format!(
        "key = \"four\"\nname = \"four\"\nsource = \"test\"\n[cylinders]\ncount = 4\nnumbering = \"left\"\n\
         firing_order = [1, 3, 4, 2]\ncrank_deg = [0, 540, 180, 360]\n{}{}\
         [shims]\nkind = \"over_bucket\"\nranges = [{{ from_mm = \"2.00\", to_mm = \"3.50\", step_mm = \"0.05\" }}]\n\
         [feeler]\nblades_mm = [\"0.05\", \"0.10\", \"0.15\", \"0.20\", \"0.25\", \"0.30\"]\n",
        side("inlet", inlet),
        side("exhaust", exhaust)
    );
    Profile::parse(&text, "four.toml").unwrap()
}

fn mm(um: i64) -> String {
    format!("{}.{:03}", um / 1_000, um % 1_000)
}

fn um(um: i64) -> Length {
    Length::from_um(um)
}

fn at(cylinder: u8, side: Side) -> Position {
    Position {
        cylinder,
        side,
        valve: None,
    }
}

fn triple() -> Profile {
    Profile::parse(SHIPPED[0].1, "triple.toml").unwrap()
}

fn sheet(profile: &Profile, bench: &Bench) -> Sheet {
    let plan = ShimPlan::of(profile, bench, &Options::default());
    Sheet::of(profile, bench, &plan)
}

/// A job's events, made from facts.
fn events(facts: Vec<Fact>) -> Vec<Event> {
    facts
        .into_iter()
        .zip(1..)
        .map(|(fact, id)| Event {
            id,
            at_ms: 0,
            said: String::new(),
            outcome: Outcome::Stored,
            why: String::new(),
            spoken: String::new(),
            command: None,
            subject: None,
            confidence: 1.0,
            rival: None,
            sound: None,
            grammar: String::new(),
            facts: vec![fact],
        })
        .collect()
}

fn gap(position: Position, gap: Gap) -> Fact {
    Fact::Read(Reading {
        position: Some(position),
        part: None,
        head: None,
        quantity: Quantity::Clearance,
        value: Value::Gap(gap),
        unit: LengthUnit::Millimetre,
    })
}

fn between(position: Position, goes: i64, stops: i64) -> Fact {
    gap(
        position,
        Gap::Between {
            goes_nm: um(goes),
            stops_nm: um(stops),
        },
    )
}

fn marked(position: Position, size: i64) -> Fact {
    shim(position, Some(size), None)
}

fn shim(position: Position, marked: Option<i64>, measured: Option<i64>) -> Fact {
    Fact::Read(Reading {
        position: Some(position),
        part: None,
        head: None,
        quantity: Quantity::ShimFitted,
        value: Value::Shim {
            marked_nm: marked.map(um),
            measured_nm: measured.map(um),
        },
        unit: LengthUnit::Millimetre,
    })
}
