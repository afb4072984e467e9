//! The jobs of one folder: those that lie there, and new ones made of answers.

use super::in_words::in_words;
use super::job::{Job, Units};
use super::recover::{Recovered, recover};
use super::report::Imported;
use super::{assets, now_ms, settings};
use crate::engine::{Profile, SHIPPED, blade_fault};
use crate::event::{About, Fact, Position, Side, Valve};
use crate::measure::{Length, LengthUnit, one_line};
use crate::report::Error as ReportError;
use crate::store::{Saved, make_private_folder};
use crate::web::{NewJob, Rest};
use anyhow::{Context, Result, anyhow, bail};
use jiff::tz::TimeZone;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// What the page of jobs shows.
#[derive(Serialize)]
struct Home {
    /// Where the jobs lie, for whoever makes copies of them.
    folder: String,
    /// The job that is open.
    open: Option<String>,
    /// The one that is being opened.
    opening: Option<String>,
    /// Why the last one was closed, if nobody asked for it.
    trouble: String,
    jobs: Vec<Entry>,
    engines: Vec<Engine>,
    languages: Vec<(&'static str, &'static str)>,
}

#[derive(Serialize)]
struct Entry {
    name: String,
    engine: String,
    /// Whose machine it is, as far as it was told.
    about: String,
    measured: usize,
    total: usize,
    /// Questions and tasks that are open.
    open: usize,
    stage: String,
    last_ms: i64,
    /// Why it cannot be gone on with; empty if it can.
    fault: String,
    /// Something is left of it that can be saved into another.
    saveable: bool,
}

#[derive(Serialize)]
struct Engine {
    key: String,
    /// Entered by this person, who may change it.
    own: bool,
    name: String,
    source: String,
    numbering: String,
    blades: Vec<Blade>,
    valves: Vec<Shown>,
}

#[derive(Serialize)]
struct Blade {
    nm: i64,
    mm: String,
    thou: String,
}

/// A valve of a head that is drawn as one stands before it.
#[derive(Serialize)]
pub(super) struct Shown {
    place: String,
    cylinder: u8,
    side: &'static str,
    name: &'static str,
    /// The head, where there are several.
    head: String,
    verdict: &'static str,
    words: &'static str,
    value: &'static str,
}

/// Where jobs lie if no folder is named: where the system keeps a person's data.
///
/// # Errors
/// There is no such place.
pub(crate) fn usual_folder() -> Result<PathBuf> {
    let set = |name| {
        std::env::var_os(name)
            .filter(|v| !v.is_empty())
            .map(PathBuf::from)
    };
    let system = set("XDG_DATA_HOME").or_else(|| Some(set("HOME")?.join(".local/share")));
    let system =
        system.context("neither XDG_DATA_HOME nor HOME says where data is kept: name a folder")?;
    Ok(system.join("benchcall/jobs"))
}

/// The page of jobs as JSON; `open` is the job that is open, if one is.
///
/// # Errors
/// The folder cannot be read.
pub(crate) fn home(
    folder: &Path,
    open: Option<&str>,
    opening: Option<&str>,
    trouble: &str,
) -> Result<String> {
    let mut jobs: Vec<Entry> = folders(folder)?.iter().map(|path| of(path)).collect();
    jobs.sort_by_key(|j| std::cmp::Reverse(j.last_ms));
    let shipped = SHIPPED.iter().map(|(key, _)| engine(key, false));
    let mut engines: Vec<Engine> = shipped.collect::<Result<_>>()?;
    let mut trouble = trouble.to_owned();
    for key in settings::engine_keys() {
        match engine(&key, true) {
            Ok(own) => engines.push(own),
            Err(why) => {
                trouble += &format!(" The engine {key} cannot be used: {}.", in_words(&why));
            }
        }
    }
    Ok(serde_json::to_string(&Home {
        folder: folder.display().to_string(),
        open: open.map(str::to_owned),
        opening: opening.map(str::to_owned),
        trouble: trouble.trim().to_owned(),
        jobs,
        engines,
        languages: assets::languages(),
    })?)
}

fn of(path: &Path) -> Entry {
    let name = name_of(path);
    let job = match Job::look(path) {
        Ok(job) => job,
        Err(error) => {
            return Entry {
                name,
                engine: String::new(),
                about: String::new(),
                measured: 0,
                total: 0,
                open: 0,
                stage: String::new(),
                last_ms: 0,
                fault: in_words(&error),
                saveable: Saved::open(path).is_ok(),
            };
        }
    };
    let (view, counting) = (&job.state.view, job.state.counting());
    let total = job.setup.profile.valves().len();
    let stage = counting.stage().filter(|(_, done)| !done);
    let stage = stage.and_then(|(key, _)| job.setup.grammar.stage(key));
    Entry {
        name,
        engine: job.setup.profile.name.clone(),
        about: (counting.about().iter().map(|(_, text)| *text))
            .collect::<Vec<_>>()
            .join(", "),
        measured: total - view.remaining().len(),
        total,
        open: job.state.left_open.len()
            + counting.tasks().len()
            + usize::from(job.state.question.is_some()),
        stage: stage
            .map(|s| job.setup.name_of(s).to_owned())
            .unwrap_or_default(),
        last_ms: job.state.events().last().map_or(0, |e| e.at_ms),
        fault: job
            .damage
            .as_ref()
            .map(ToString::to_string)
            .unwrap_or_default(),
        saveable: job.damage.is_some(),
    }
}

fn engine(key: &str, own: bool) -> Result<Engine> {
    let (profile, _) = assets::engine(key)?;
    let blade = |b: &Length| Blade {
        nm: b.nm(),
        mm: b.show(LengthUnit::Millimetre),
        thou: b.show(LengthUnit::Thou),
    };
    Ok(Engine {
        key: key.to_owned(),
        own,
        blades: profile.blades.iter().map(blade).collect(),
        valves: drawn(&profile.valves(), Some(&profile)),
        name: profile.name,
        source: profile.source,
        numbering: profile.numbering,
    })
}

/// Valves to draw of which nothing is measured; their heads are known once there is a profile.
pub(super) fn drawn(valves: &[Position], profile: Option<&Profile>) -> Vec<Shown> {
    let shown = |p: &Position| Shown {
        place: p.to_string(),
        cylinder: p.cylinder,
        side: Side::key(p.side),
        name: p.valve.map_or("", Valve::key),
        head: profile
            .and_then(|profile| profile.head_called(p.cylinder))
            .unwrap_or_default(),
        verdict: "unmeasured",
        words: "",
        value: "",
    };
    valves.iter().map(shown).collect()
}

/// So long may a name or a number of the machine be; the page says the same.
const LONGEST: usize = 80;

/// What numbers are in a job of this engine, both as a page names them.
fn chosen(engine: &str, unit: &str) -> Result<Units> {
    let shipped = SHIPPED.iter().any(|(key, _)| *key == engine);
    // A key of the list alone, never a path.
    if !shipped && !settings::engine_keys().iter().any(|key| key == engine) {
        bail!("choose an engine from the list");
    }
    Ok(Units::from(match unit {
        "mm" => LengthUnit::Millimetre,
        "thou" => LengthUnit::Thou,
        other => bail!("the unit is \"{other}\": expected mm or thou"),
    }))
}

/// Saves what is left of a damaged job into a new one beside it; its name, and what was saved.
///
/// # Errors
/// As [`recover`]; an engine or unit that cannot be.
pub(crate) fn save_rest(folder: &Path, rest: &Rest) -> Result<(String, Recovered)> {
    let engine = match rest.engine.as_deref() {
        Some(key) => Some((key, chosen(key, &rest.unit)?)),
        None => None,
    };
    let name = free(folder, &format!("{}-saved", rest.job));
    let saved = recover(&folder.join(&rest.job), &folder.join(&name), engine)?;
    Ok((name, saved))
}

/// Makes a job of the answers; its name.
///
/// # Errors
/// An answer that cannot be, in words; the disk.
pub(crate) fn make(folder: &Path, new: &NewJob) -> Result<String> {
    let units = chosen(&new.engine, &new.unit)?;
    let mut blades: Vec<Length> = new.blades_nm.iter().copied().map(Length::from_nm).collect();
    blades.sort_unstable();
    if blades.is_empty() {
        bail!("choose the blades that you own");
    }
    if let Some(fault) = blade_fault(&blades) {
        bail!("the blades: {fault}");
    }
    let about = [
        (About::Machine, &new.machine),
        (About::Owner, &new.owner),
        (About::FrameNumber, &new.number),
        (About::Mileage, &new.mileage),
    ];
    for (what, text) in about {
        one_line(text, LONGEST)
            .map_err(|fault| anyhow!("the {}: {fault}", what.key().replace('_', " ")))?;
    }
    let about: Vec<Fact> = about
        .into_iter()
        .map(|(what, text)| (what, text.trim().to_owned()))
        .filter(|(_, text)| !text.is_empty())
        .map(|(what, text)| Fact::About { what, text })
        .collect();
    make_private_folder(folder).with_context(|| format!("cannot make {}", folder.display()))?;
    let name = free_name(folder, &new.machine);
    let mut job = Job::create_in(
        &new.language,
        &folder.join(&name),
        &new.engine,
        units,
        blades,
    )?;
    if !about.is_empty() {
        job.tell("about the machine", about)?;
    }
    Ok(name)
}

/// Makes a job of the text that was saved of another; its name.
///
/// # Errors
/// It is not such a text, or a damaged one, in words; the disk.
pub(crate) fn bring_back(folder: &Path, text: &str) -> Result<String> {
    let imported = Imported::of(text, "the file").map_err(|error| match error.downcast_ref() {
        Some(ReportError::Json { .. } | ReportError::Shape(_)) => {
            anyhow!("this is not a saved job: choose the file that “save all (JSON)” made")
        }
        Some(ReportError::TooNew { .. }) => {
            anyhow!("it was saved by a newer benchcall: bring this one up to date first")
        }
        _ => error,
    })?;
    make_private_folder(folder).with_context(|| format!("cannot make {}", folder.display()))?;
    let name = free_name(folder, imported.machine());
    imported.make(&folder.join(&name))?;
    Ok(name)
}

/// A name of a folder that is not there yet: the machine and the day.
fn free_name(folder: &Path, machine: &str) -> String {
    let safe = |c: char| {
        if c.is_alphanumeric() {
            c.to_ascii_lowercase()
        } else {
            '-'
        }
    };
    let machine: String = machine.trim().chars().take(40).map(safe).collect();
    let machine = if machine.is_empty() {
        "head".to_owned()
    } else {
        machine
    };
    let now = jiff::Timestamp::from_millisecond(now_ms()).unwrap_or_default();
    let zone = TimeZone::system();
    let day = zone.to_datetime(now).strftime("%Y-%m-%d").to_string();
    free(folder, &format!("{day}-{machine}"))
}

/// That name, or the first that is not there yet with a number behind it.
fn free(folder: &Path, name: &str) -> String {
    let numbered = (2..).map(|n| format!("{name}-{n}"));
    std::iter::once(name.to_owned())
        .chain(numbered)
        .find(|n| !folder.join(n).exists())
        .unwrap_or_else(|| name.to_owned())
}

/// The jobs of the same engine that were begun before this one, the latest first: name, and when each
/// was begun.
pub(crate) fn earlier(folder: &Path, than: &Job) -> Result<Vec<(String, i64)>> {
    let begun = |job: &Job| job.state.events().first().map_or(0, |e| e.at_ms);
    let mut found = Vec::new();
    for path in folders(folder)? {
        let Ok(job) = Job::look(&path) else { continue };
        let same = job.setup.profile.key == than.setup.profile.key;
        if same && begun(&job) < begun(than) {
            found.push((name_of(&path), begun(&job)));
        }
    }
    found.sort_by_key(|(_, begun_ms)| std::cmp::Reverse(*begun_ms));
    Ok(found)
}

/// The folders of the jobs that lie in this one.
fn folders(folder: &Path) -> Result<Vec<PathBuf>> {
    let entries = std::fs::read_dir(folder)
        .with_context(|| format!("cannot read the folder {}", folder.display()))?;
    let mut found = Vec::new();
    for entry in entries {
        let path = entry?.path();
        if path.join("job.sqlite").is_file() {
            found.push(path);
        }
    }
    Ok(found)
}

/// What a job is called on the pages: its folder's name.
pub(crate) fn name_of(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default();
    name.to_string_lossy().into_owned()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// The page limits its boxes; whoever sends something else is refused all the same.
    #[test]
    fn what_is_told_of_the_machine_is_one_short_line() {
        let dir = tempfile::tempdir().unwrap();
        let with = |owner: &str| NewJob {
            engine: "triple".to_owned(),
            unit: "mm".to_owned(),
            language: "en".to_owned(),
            blades_nm: vec![100_000, 150_000],
            machine: String::new(),
            owner: owner.to_owned(),
            number: String::new(),
            mileage: String::new(),
        };
        for wrong in ["two\nlines", "a\u{1b}[2J", &"x".repeat(LONGEST + 1)] {
            let refused = make(dir.path(), &with(wrong)).unwrap_err().to_string();
            assert!(refused.starts_with("the owner: "), "{refused}");
            assert!(refused.contains("expected one line of 80"), "{refused}");
        }
        for nm in [i64::MIN, -1, 0, i64::MAX] {
            let mut new = with("");
            new.blades_nm.push(nm);
            let refused = make(dir.path(), &new).unwrap_err().to_string();
            assert!(refused.starts_with("the blades: "), "{refused}");
        }
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
        make(dir.path(), &with(&"ä".repeat(LONGEST))).unwrap();
    }
}
