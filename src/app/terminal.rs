//! What is written to the terminal: nothing else in the program writes there, so nothing that a name, a
//! note or a file holds can command it.

use crate::measure::commands;
use std::borrow::Cow;
use std::fmt::Arguments;
use std::io::{self, IsTerminal, Write};

/// Writes a line to standard output, all of it.
pub(crate) fn write(text: Arguments<'_>) -> io::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(harmless(&text.to_string()).as_bytes())?;
    out.write_all(b"\n")?;
    out.flush()
}

/// Tells of something beside the output, if anybody can still read it.
pub(crate) fn tell(what: &str) {
    aside(&format!("benchcall: {what}"));
}

/// The same without the program's name before it: what is no trouble.
pub(crate) fn aside(text: &str) {
    let _ = writeln!(io::stderr(), "{}", harmless(text));
}

/// How far a long work is, on one line that is written over; nothing if no person watches.
pub(crate) struct Progress(bool);

impl Progress {
    /// Watched if it is wanted and standard error is a terminal.
    pub(crate) fn new(wanted: bool) -> Self {
        Self(wanted && io::stderr().is_terminal())
    }

    /// Shows how far it is.
    pub(crate) fn at(&self, text: &str) {
        if self.0 {
            let _ = write!(io::stderr(), "\r{}", harmless(text));
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.0 {
            aside("");
        }
    }
}

/// Text in which nothing commands a terminal or turns the order of what is read: names, notes and
/// imported reports may hold anything. Line ends and tabs stay.
fn harmless(text: &str) -> Cow<'_, str> {
    let commands = |c: char| commands(c) && !matches!(c, '\n' | '\t');
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
