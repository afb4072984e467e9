//! What a person sees of an utterance on the terminal.

use crate::app::job::Job;
use crate::event::Outcome;
use crate::report::Line;
use anyhow::Result;
use std::borrow::Cow;
use std::fmt::Arguments;
use std::io::{self, ErrorKind, Write};
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

/// Writes a line to standard output, all of it.
pub(super) fn write(text: Arguments<'_>) -> io::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(harmless(&text.to_string()).as_bytes())?;
    out.write_all(b"\n")?;
    out.flush()
}

/// Tells of something beside the output, if anybody can still read it.
pub(super) fn tell(what: &str) {
    let _ = writeln!(io::stderr(), "benchcall: {}", harmless(what));
}

/// Text in which nothing commands a terminal or turns the order of what is read: names, notes and
/// imported reports may hold anything. Line ends and tabs stay.
fn harmless(text: &str) -> Cow<'_, str> {
    let commands = |c: char| {
        let turns = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        turns || c.is_control() && !matches!(c, '\n' | '\t')
    };
    // Lines of CSV end in both.
    let lone = text.replace("\r\n", "\n");
    if !lone.contains(commands) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len());
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        if commands(c) && !(c == '\r' && rest.peek() == Some(&'\n')) {
            shown.extend(c.escape_unicode());
        } else {
            shown.push(c);
        }
    }
    Cow::Owned(shown)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_commands_the_terminal() {
        assert_eq!(harmless("a\tb\r\nµ „x“\n"), "a\tb\r\nµ „x“\n");
        assert_eq!(
            harmless("red \u{1b}[31m, bell \u{7}, over\rwritten, \u{9b}2J, \u{202e}turned"),
            "red \\u{1b}[31m, bell \\u{7}, over\\u{d}written, \\u{9b}2J, \\u{202e}turned"
        );
    }
}
