//! `engine`: a profile as a page, to check against the maker's manual; and a job's profile, changed.

use super::args::Engine;
use super::show;
use crate::app::assets;
use crate::app::engine_change::Change;
use crate::app::engine_words::{CHECK, page};
use crate::app::job::Job;
use crate::engine::Profile;
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
    change(&mut job, &profile, &text)?;
    Ok(ExitCode::SUCCESS)
}

fn print(profile: &Profile) {
    for line in page(profile) {
        outln!("{line}");
    }
    outln!("{CHECK}");
}

/// The text of a profile with some entries set.
fn set(text: &str, entries: &[String]) -> Result<(Profile, String)> {
    let mut table: Table = toml::from_str(text).context("the profile of the job")?;
    for entry in entries {
        let (key, value) = entry.split_once('=').with_context(|| {
            format!("--set: \"{entry}\" sets nothing: expected ENTRY=VALUE, such as inlet.target_mm=0.17")
        })?;
        let parts: Vec<&str> = key.trim().split('.').collect();
        let (last, parts) = parts.split_last().map_or(("", &[][..]), |(l, p)| (*l, p));
        let inside = inside(&mut table, parts)?;
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

/// The table of an entry. One of several limits, torques or heads is found by what it is for:
/// `limit.seat_width`, `torque.head_bolt`, `head.front`.
fn inside<'a>(table: &'a mut Table, parts: &[&str]) -> Result<&'a mut Table> {
    let Some((part, rest)) = parts.split_first() else {
        return Ok(table);
    };
    match (table.get_mut(*part), rest) {
        (Some(Value::Table(found)), _) => inside(found, rest),
        (Some(Value::Array(list)), [name, rest @ ..]) => {
            let is = |one: &&mut Table| {
                let keys = ["quantity", "bolts", "place"].iter();
                let mut texts = keys.filter_map(|key| one.get(*key)?.as_str());
                texts.any(|text| text == *name)
            };
            let mut found = list.iter_mut().filter_map(Value::as_table_mut).filter(is);
            match (found.next(), found.next()) {
                (Some(one), None) => inside(one, rest),
                (None, _) => {
                    bail!("--set: the profile has no {part} \"{name}\": for a new one use --from")
                }
                (Some(_), Some(_)) => {
                    bail!("--set: the profile has several {part} \"{name}\": use --from")
                }
            }
        }
        _ => bail!(
            "--set: the profile has no table \"{part}\": expected such as inlet.target_mm or limit.seat_width.max"
        ),
    }
}

fn read_value(text: &str) -> Option<Value> {
    let mut table: Table = toml::from_str(&format!("value = {text}")).ok()?;
    table.remove("value")
}

/// Puts another profile in the place of the job's, and tells what that changes.
fn change(job: &mut Job, profile: &Profile, text: &str) -> Result<()> {
    let change = Change::of(job, profile)?;
    for line in &change.lines {
        outln!("{line}");
    }
    if change.verdicts.is_empty() {
        outln!("No verdict changes.");
    }
    for line in &change.verdicts {
        outln!("{line}");
    }
    job.change_profile(text)?;
    Ok(())
}
