//! A profile in words, line by line, to check against the maker's manual.

use crate::engine::{Called, Displacement, Limit, Profile, ShimKind, SideSpec, Torque};
use crate::measure::{Length, LengthUnit};

/// What stands under it wherever it is shown.
pub(crate) const CHECK: &str = "Check every line against the maker's manual before you work by it.";

/// A profile line by line.
#[must_use]
pub(crate) fn page(profile: &Profile) -> Vec<String> {
    let mut lines = Vec::new();
    lines.push(format!("{}: {}", profile.key, profile.name));
    for line in [&profile.note, &profile.source] {
        if !line.is_empty() {
            lines.push(line.clone());
        }
    }
    lines.push(format!(
        "{} cylinders, {}; firing order {}, at {} degrees of the crank",
        profile.cylinders,
        profile.numbering,
        list(&profile.firing_order),
        list(&profile.crank_deg)
    ));
    for spec in &profile.heads {
        let (head, of) = (spec.head.key(), list(&spec.cylinders));
        lines.push(format!("Head {head}: cylinders {of}"));
    }
    lines.push(side("Inlet", &profile.inlet));
    lines.push(side("Exhaust", &profile.exhaust));
    let sizes = &profile.shims.series;
    lines.push(match profile.shims.kind.has_shims() {
        true => format!(
            "Shims {}: {} sizes, {}",
            profile.shims.kind.lie(),
            sizes.len(),
            runs(sizes)
        ),
        false => "No shims: screws with locknuts".to_owned(),
    });
    lines.extend(follower(profile));
    let blades = profile
        .blades
        .iter()
        .map(|b| b.show(LengthUnit::Millimetre));
    lines.push(format!("Blades: {}", blades.collect::<Vec<_>>().join(", ")));
    for table in &profile.torque {
        lines.push(torque(table));
    }
    if let Some(chain) = profile.chain {
        let pins = chain
            .pins_between_marks
            .map(|p| format!(", {p} pins between the marks"));
        lines.push(format!(
            "Chain: camshaft sprocket of {} teeth{}",
            chain.cam_teeth,
            pins.unwrap_or_default()
        ));
    }
    if let Some(angle) = profile.seat_angle_deg {
        lines.push(format!("Seats: {angle} degrees"));
    }
    lines.extend(profile.displacement.as_ref().map(displacement));
    for one in &profile.limits {
        lines.push(limit(one));
    }
    for own in &profile.names {
        let called = match own.called {
            Called::Cylinder(n) => format!("cylinder {n}"),
            Called::Side(side) => side.key().to_owned(),
            Called::Valve(valve) => valve.key().to_owned(),
            Called::Head(head) => head.key().to_owned(),
        };
        lines.push(format!("You say \"{}\" for {called}", own.name));
    }
    let missing = profile.missing();
    if !missing.is_empty() {
        lines.push(format!(
            "Not in it, so nothing is judged by: {}",
            missing.join(", ")
        ));
    }
    lines
}

/// What a shim under a follower does, and whether camshafts come out for it.
fn follower(profile: &Profile) -> Option<String> {
    if profile.shims.kind != ShimKind::UnderFollower {
        return None;
    }
    let cams = match profile.shims.cams_out {
        true => "comes out",
        false => "stays in",
    };
    Some(format!(
        "Followers: a shim changes the clearance at the lobe by {} of its own change; for a shim the camshaft {cams}",
        profile.shims.ratio.decimal()
    ))
}

fn displacement(of: &Displacement) -> String {
    let deck = of.deck.map(|d| match d < Length::ZERO {
        true => format!(", piston {} above the deck", Length::ZERO - d),
        false => format!(", piston {d} below the deck"),
    });
    format!(
        "Bore {}, stroke {}, hole of the gasket {}{}, dome {} cm³",
        of.bore,
        of.stroke,
        of.gasket_bore,
        deck.unwrap_or_default(),
        of.dome
    )
}

fn list<T: ToString>(all: &[T]) -> String {
    let all: Vec<String> = all.iter().map(ToString::to_string).collect();
    all.join(", ")
}

fn side(name: &str, side: &SideSpec) -> String {
    let names: Vec<&str> = side.valves.iter().map(|v| v.key()).collect();
    let valves = if names.is_empty() {
        "one valve".to_owned()
    } else {
        format!("valves {}", names.join(", "))
    };
    let angles = side.opens_deg.zip(side.closes_deg);
    let angles = angles.map(|(opens, closes)| format!("; opens {opens}, closes {closes} degrees"));
    format!(
        "{name}: {valves}; left alone from {}, fitted to land in {}, aimed at {}{}",
        side.check,
        side.set,
        side.target,
        angles.unwrap_or_default()
    )
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
    let stages = list(&table.torques);
    let angle = table.angle_deg.map(|deg| format!(", then {deg} degrees"));
    let order = if table.order.is_empty() {
        String::new()
    } else {
        format!("; in the order {}", list(&table.order))
    };
    let new = match table.new_bolts {
        true => "; new ones every time",
        false => "",
    };
    format!(
        "{}: {stages} {}{}{order}{new}",
        table.name,
        table.unit.sign(),
        angle.unwrap_or_default()
    )
}

fn limit(limit: &Limit) -> String {
    let side = limit
        .side
        .map(|s| format!("{} ", s.key()))
        .unwrap_or_default();
    let head = limit.head.map(|h| format!("{} ", h.key()));
    let head = head.unwrap_or_default();
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
        "Limit of {head}{side}{}{}: {ends}{} ({})",
        limit.quantity.replace('_', " "),
        at.unwrap_or_default(),
        new.unwrap_or_default(),
        limit.source
    )
}
