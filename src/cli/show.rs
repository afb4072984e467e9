//! What a person sees of an utterance on the terminal.

use crate::event::Outcome;
use crate::report::Line;
use anyhow::Result;
use std::fmt::Arguments;
use std::io::{ErrorKind, Write};

/// Shows one utterance: as JSON, or in two lines.
pub(super) fn utterance(line: &Line, json: bool) -> Result<()> {
    if json {
        outln!("{}", serde_json::to_string(line)?);
        return Ok(());
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
    outln!("{at}{:<8} {said}", word(line.outcome));
    let indent = " ".repeat(at.len() + 9);
    if !line.read_back.is_empty() {
        outln!("{indent}» {}", line.read_back);
    }
    if matches!(line.outcome, Outcome::Asked | Outcome::Refused) {
        outln!("{indent}  ({})", line.why);
    }
    Ok(())
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
    let mut out = std::io::stdout().lock();
    let written = out
        .write_fmt(text)
        .and_then(|()| out.write_all(b"\n"))
        .and_then(|()| out.flush());
    if let Err(error) = written {
        if error.kind() != ErrorKind::BrokenPipe {
            eprintln!("benchcall: cannot write to standard output: {error}");
        }
        std::process::exit(i32::from(error.kind() != ErrorKind::BrokenPipe));
    }
}
