//! `engine`: a profile as a page, to check against the maker's manual.

use super::args::Engine;
use crate::app::assets;
use crate::engine::{Limit, ShimKind, SideSpec, Torque};
use crate::measure::{Length, LengthUnit};
use anyhow::Result;
use std::process::ExitCode;

pub(super) fn run(args: &Engine) -> Result<ExitCode> {
    let (profile, _) = assets::engine(&args.file)?;
    outln!("{}: {}", profile.key, profile.name);
    for line in [&profile.note, &profile.source] {
        if !line.is_empty() {
            outln!("{line}");
        }
    }
    outln!(
        "{} cylinders, {}; firing order {}, at {} degrees of the crank",
        profile.cylinders,
        profile.numbering,
        list(&profile.firing_order),
        list(&profile.crank_deg)
    );
    side("Inlet", &profile.inlet);
    side("Exhaust", &profile.exhaust);
    let sizes = &profile.shims.series;
    let lie = match profile.shims.kind {
        ShimKind::OverBucket => "over",
        ShimKind::UnderBucket => "under",
    };
    outln!(
        "Shims {lie} the buckets: {} sizes, {}",
        sizes.len(),
        runs(sizes)
    );
    let blades = profile
        .blades
        .iter()
        .map(|b| b.show(LengthUnit::Millimetre));
    outln!("Blades: {}", blades.collect::<Vec<_>>().join(", "));
    for table in &profile.torque {
        outln!("{}", torque(table));
    }
    if let Some(chain) = profile.chain {
        let pins = chain
            .pins_between_marks
            .map(|p| format!(", {p} pins between the marks"));
        outln!(
            "Chain: camshaft sprocket of {} teeth{}",
            chain.cam_teeth,
            pins.unwrap_or_default()
        );
    }
    if let Some(angle) = profile.seat_angle_deg {
        outln!("Seats: {angle} degrees");
    }
    for one in &profile.limits {
        outln!("{}", limit(one));
    }
    let missing = profile.missing();
    if !missing.is_empty() {
        outln!("Not in it, so nothing is judged by: {}", missing.join(", "));
    }
    outln!("Check every line against the maker's manual before you work by it.");
    Ok(ExitCode::SUCCESS)
}

fn list<T: ToString>(all: &[T]) -> String {
    let all: Vec<String> = all.iter().map(ToString::to_string).collect();
    all.join(", ")
}

fn side(name: &str, side: &SideSpec) {
    let names: Vec<&str> = side.valves.iter().map(|v| v.key()).collect();
    let valves = if names.is_empty() {
        "one valve".to_owned()
    } else {
        format!("valves {}", names.join(", "))
    };
    let angles = side.opens_deg.zip(side.closes_deg);
    let angles = angles.map(|(opens, closes)| format!("; opens {opens}, closes {closes} degrees"));
    outln!(
        "{name}: {valves}; left alone from {}, fitted to land in {}, aimed at {}{}",
        side.check,
        side.set,
        side.target,
        angles.unwrap_or_default()
    );
}

/// Sizes as runs of one step: "2.00 mm to 3.50 mm by 0.05 mm".
fn runs(sizes: &[Length]) -> String {
    let mut runs: Vec<(Length, Length, Option<Length>)> = Vec::new();
    for size in sizes {
        match runs.last_mut() {
            Some((_, to, step)) if step.is_none_or(|s| *size - *to == s) => {
                (*step, *to) = (Some(*size - *to), *size);
            }
            _ => runs.push((*size, *size, None)),
        }
    }
    let one = |(from, to, step): &(Length, Length, Option<Length>)| match step {
        Some(step) => format!("{from} to {to} by {step}"),
        None => from.to_string(),
    };
    runs.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn torque(table: &Torque) -> String {
    let stages = list(&table.stages_newton_metre);
    let angle = table.angle_deg.map(|deg| format!(", then {deg} degrees"));
    let order = if table.order.is_empty() {
        String::new()
    } else {
        format!("; in the order {}", list(&table.order))
    };
    format!(
        "{}: {stages} N·m{}{order}",
        table.name,
        angle.unwrap_or_default()
    )
}

fn limit(limit: &Limit) -> String {
    let side = limit
        .side
        .map(|s| format!("{} ", s.key()))
        .unwrap_or_default();
    let unit = &limit.unit;
    let ends = match (limit.min, limit.max) {
        (Some(min), Some(max)) => format!("{min} to {max} {unit}"),
        (Some(min), None) => format!("at least {min} {unit}"),
        (None, Some(max)) => format!("at most {max} {unit}"),
        (None, None) => String::new(),
    };
    let new = limit.new.map(|(from, to)| format!(", new {from} to {to}"));
    let at = limit.at.map(|at| format!(" at {at}"));
    format!(
        "Limit of {side}{}{}: {ends}{} ({})",
        limit.quantity.replace('_', " "),
        at.unwrap_or_default(),
        new.unwrap_or_default(),
        limit.source
    )
}
