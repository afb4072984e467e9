//! `engine`: a profile as a page, to check against the maker's manual; and a job's profile, changed.

use super::args::Engine;
use super::show;
use crate::app::assets;
use crate::app::job::Job;
use crate::engine::{Item, Limit, Profile, ShimKind, SideSpec, Torque};
use crate::event::Fact;
use crate::measure::{Length, LengthUnit};
use crate::record::JobView;
use crate::report::{finding_words, verdict_words};
use anyhow::{Context, Result, bail};
use std::process::ExitCode;
use toml::{Table, Value};

pub(super) fn run(args: &Engine) -> Result<ExitCode> {
    let Some(folder) = &args.job else {
        let (profile, _) = assets::engine(args.file.as_deref().unwrap_or_default())?;
        print(&profile);
        return Ok(ExitCode::SUCCESS);
    };
    if args.set.is_empty() && args.from.is_none() {
        print(&show::job(folder)?.setup.profile);
        return Ok(ExitCode::SUCCESS);
    }
    let mut job = Job::open(folder)?;
    let (profile, text) = match &args.from {
        Some(file) => assets::engine(file)?,
        None => set(
            job.state.counting().profile().unwrap_or_default(),
            &args.set,
        )?,
    };
    change(&mut job, &profile, text)?;
    Ok(ExitCode::SUCCESS)
}

fn print(profile: &Profile) {
    for line in page(profile) {
        outln!("{line}");
    }
    outln!("Check every line against the maker's manual before you work by it.");
}

/// The text of a profile with some entries set.
fn set(text: &str, entries: &[String]) -> Result<(Profile, String)> {
    let mut table: Table = toml::from_str(text).context("the profile of the job")?;
    for entry in entries {
        let (key, value) = entry.split_once('=').with_context(|| {
            format!("--set: \"{entry}\" sets nothing: expected ENTRY=VALUE, such as inlet.target_mm=0.17")
        })?;
        let mut parts = key.trim().split('.').rev();
        let last = parts.next().unwrap_or_default();
        let mut inside = &mut table;
        for part in parts.rev() {
            let found = inside.get_mut(part).and_then(Value::as_table_mut);
            inside = found.with_context(|| {
                format!(
                    "--set: the profile has no table \"{part}\": expected such as inlet.target_mm"
                )
            })?;
        }
        let known: Vec<&str> = inside.keys().map(String::as_str).collect();
        let known = known.join(", ");
        let old = inside.get_mut(last).with_context(|| {
            format!("--set: there is no \"{last}\" in it: expected one of {known}; for a new entry use --from")
        })?;
        *old = match old {
            Value::String(_) => Value::String(value.trim().trim_matches('"').to_owned()),
            _ => read_value(value).with_context(|| {
                format!("--set: \"{value}\" is no value for {key}: expected it as in the file, such as {old}")
            })?,
        };
    }
    let text = toml::to_string(&table)?;
    let profile = Profile::parse(&text, "the changed profile")?;
    Ok((profile, text))
}

fn read_value(text: &str) -> Option<Value> {
    let mut table: Table = toml::from_str(&format!("value = {text}")).ok()?;
    table.remove("value")
}

/// Puts another profile in the place of the job's, and tells what that changes.
fn change(job: &mut Job, profile: &Profile, text: String) -> Result<()> {
    let old = &job.setup.profile;
    if old.valves() != profile.valves() || old.shims.kind != profile.shims.kind {
        bail!(
            "{} has other valves or shims than {}: begin a new job for another engine",
            profile.key,
            old.key
        );
    }
    let (before, after) = (page(old), page(profile));
    let gone = before.iter().filter(|line| !after.contains(line));
    let come = after.iter().filter(|line| !before.contains(line));
    let gone: Vec<String> = gone.map(|line| format!("- {line}")).collect();
    let come: Vec<String> = come.map(|line| format!("+ {line}")).collect();
    if gone.is_empty() && come.is_empty() {
        bail!("nothing would change: the job's profile says the same");
    }
    for line in gone.iter().chain(&come) {
        outln!("{line}");
    }
    let view = JobView::of(profile, &job.setup.blades, job.state.events());
    let verdicts = verdicts(&job.state.view, &view, profile);
    if verdicts.is_empty() {
        outln!("No verdict changes.");
    }
    for line in verdicts {
        outln!("{line}");
    }
    let fact = Fact::ProfileChanged { profile: text };
    job.tell("the engine's profile was changed", vec![fact])
}

/// The verdicts that are not as before.
fn verdicts(before: &JobView, after: &JobView, profile: &Profile) -> Vec<String> {
    let valves = profile.valves().into_iter().filter_map(|p| {
        let (was, is) = (before.verdict(p), after.verdict(p));
        let words = |v| verdict_words(v);
        (was != is).then(|| format!("{p}: {} before, now {}", words(was), words(is)))
    });
    let (old, new) = (before.findings(0).items, after.findings(0).items);
    let verdict = |item: &Item| item.finding.as_ref().map(|f| f.verdict);
    let same = |a: &Item, b: &Item| (&a.place, a.what) == (&b.place, b.what);
    let found = new.iter().filter_map(|item| {
        let was = old.iter().find(|o| same(o, item)).and_then(verdict)?;
        let is = verdict(item)?;
        let words = |v| finding_words(v);
        let place = format!("{} {}", item.place, item.what);
        (was != is).then(|| format!("{}: {} before, now {}", place.trim(), words(was), words(is)))
    });
    valves.chain(found).collect()
}

/// A profile line by line.
fn page(profile: &Profile) -> Vec<String> {
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
    lines.push(side("Inlet", &profile.inlet));
    lines.push(side("Exhaust", &profile.exhaust));
    let sizes = &profile.shims.series;
    let lie = match profile.shims.kind {
        ShimKind::OverBucket => "over",
        ShimKind::UnderBucket => "under",
    };
    lines.push(format!(
        "Shims {lie} the buckets: {} sizes, {}",
        sizes.len(),
        runs(sizes)
    ));
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
    for one in &profile.limits {
        lines.push(limit(one));
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
