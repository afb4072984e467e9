//! What a person sees of an utterance on the terminal.

use crate::app::job::Job;
use crate::app::terminal::{tell, write};
use crate::event::Outcome;
use crate::report::Line;
use anyhow::Result;
use serde::Serialize;
use std::fmt::Arguments;
use std::io::ErrorKind;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

/// Something that was to be shown or written is not there: the program then ends with a failure, so
/// that a script notices too.
static INCOMPLETE: AtomicBool = AtomicBool::new(false);

/// Opens a job to look at it; of a damaged one what checks out, with a warning.
pub(super) fn job(folder: &Path) -> Result<Job> {
    let job = Job::look(folder)?;
    if let Some(damage) = &job.damage {
        incomplete(&format!(
            "{damage}. Only what checks out is shown. `benchcall recover` saves it into a new job"
        ));
    }
    Ok(job)
}

/// What stands above everything that is printed of a damaged job.
pub(super) fn damage(job: &Job) {
    if let Some(line) = job.damage_line() {
        outln!("{line}\n");
    }
}

/// What a job comes to, as JSON; of a damaged one with what is wrong.
pub(super) fn json(job: &Job, all: &impl Serialize) -> Result<()> {
    #[derive(Serialize)]
    struct Marked<'a, T> {
        #[serde(skip_serializing_if = "Option::is_none")]
        damage: Option<String>,
        #[serde(flatten)]
        all: &'a T,
    }
    let damage = job.damage_line();
    outln!("{}", serde_json::to_string_pretty(&Marked { damage, all })?);
    Ok(())
}

/// Says what is not there.
pub(super) fn incomplete(what: &str) {
    tell(what);
    INCOMPLETE.store(true, Ordering::Relaxed);
}

/// Whether anything was not there.
pub(super) fn is_incomplete() -> bool {
    INCOMPLETE.load(Ordering::Relaxed)
}

/// One utterance: as JSON, or in two lines.
pub(super) fn utterance(line: &Line, json: bool) -> Result<String> {
    if json {
        return Ok(serde_json::to_string(line)?);
    }
    let at = line.speech_end_ms.map(|ms| {
        format!(
            "{:>3}:{:02}.{}  ",
            ms / 60_000,
            ms / 1_000 % 60,
            ms / 100 % 10
        )
    });
    let at = at.unwrap_or_default();
    let said = if line.said.is_empty() {
        "(nothing)"
    } else {
        &line.said
    };
    let mut text = format!("{at}{:<8} {said}", word(line.outcome));
    let indent = " ".repeat(at.len() + 9);
    if !line.read_back.is_empty() {
        text.push_str(&format!("\n{indent}» {}", line.read_back));
    }
    if matches!(line.outcome, Outcome::Asked | Outcome::Refused) {
        text.push_str(&format!("\n{indent}  ({})", line.why));
    }
    Ok(text)
}

/// An outcome in a word.
pub(super) const fn word(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Stored => "stored",
        Outcome::Asked => "asked",
        Outcome::Refused => "refused",
        Outcome::Ignored => "-",
    }
}

/// Writes one line; see `outln!`.
pub(super) fn line(text: Arguments<'_>) {
    if let Err(error) = write(text) {
        if error.kind() != ErrorKind::BrokenPipe {
            tell(&format!("cannot write to standard output: {error}"));
        }
        std::process::exit(i32::from(error.kind() != ErrorKind::BrokenPipe));
    }
}
