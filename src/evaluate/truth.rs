//! A recorded session's truth, and how what was heard compares with it.

use crate::event::Outcome;
use crate::report::Line;
use crate::understand::Recognised;
use anyhow::{Context, Result};
use serde_json::{Map, Value};
use std::fmt;
use std::path::Path;

/// Keys that make up the meaning of a line.
const MEANING: &[&str] = &[
    "outcome", "quantity", "cylinder", "side", "valve", "value_nm", "goes_nm", "stops_nm", "note",
    "command",
];

/// The lines of a session with their times and what they mean.
pub struct Script {
    lines: Vec<(u64, u64, Map<String, Value>)>,
}

/// A line of a session.
pub(crate) struct Spoken<'a> {
    /// When it begins.
    pub(crate) start_ms: u64,
    /// When it ends.
    pub(crate) end_ms: u64,
    /// Its words.
    pub(crate) text: &'a str,
    /// It was not other talk.
    pub(crate) is_for_the_tool: bool,
}

/// How a session came out.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Comparison {
    /// Lines spoken.
    pub lines: usize,
    /// Understood as meant, or rightly ignored or refused.
    pub exact: usize,
    /// Not stored, and the person was asked or will ask again.
    pub asked: usize,
    /// Not stored, silently: the person hears no read-back.
    pub missed: usize,
    /// Notes with another word: kept with their sound, and no sum rests on them.
    pub notes_differ: usize,
    /// Stored as something else.
    pub stored_wrong: usize,
    /// What did not come out as meant, in words.
    pub details: Vec<String>,
}

impl Script {
    /// Reads `session.tsv` (line, `start_ms`, `end_ms`, text) and `truth.jsonl` of a folder.
    ///
    /// # Errors
    /// Unreadable files, or a number of lines that differs.
    pub fn read(folder: &Path) -> Result<Self> {
        let text = |name: &str| {
            let path = folder.join(name);
            std::fs::read_to_string(&path)
                .with_context(|| format!("cannot read {}", path.display()))
        };
        let (times, truth) = (text("session.tsv")?, text("truth.jsonl")?);
        let mut lines = Vec::new();
        for (time, meaning) in times.lines().zip(truth.lines()) {
            let mut columns = time.split('\t').skip(1).map(str::parse::<u64>);
            let (Some(Ok(start)), Some(Ok(end))) = (columns.next(), columns.next()) else {
                anyhow::bail!("session.tsv: \"{time}\" has no start and end in milliseconds");
            };
            lines.push((
                start,
                end,
                serde_json::from_str(meaning).context("truth.jsonl")?,
            ));
        }
        anyhow::ensure!(
            lines.len() == truth.lines().count(),
            "session.tsv and truth.jsonl differ in length"
        );
        Ok(Self { lines })
    }

    /// What was said when, and whether to the tool.
    pub(crate) fn lines(&self) -> impl Iterator<Item = Spoken<'_>> {
        self.lines.iter().map(|(start_ms, end_ms, truth)| {
            let of = |key| truth.get(key).and_then(Value::as_str).unwrap_or_default();
            Spoken {
                start_ms: *start_ms,
                end_ms: *end_ms,
                text: of("text"),
                is_for_the_tool: of("outcome") != "ignored",
            }
        })
    }

    /// How many lines were spoken.
    #[must_use]
    pub fn len(&self) -> usize {
        self.lines.len()
    }

    /// Whether nothing was spoken.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.lines.is_empty()
    }

    /// Compares what was heard with what was said. An utterance belongs to the line in which its
    /// speech ended; of several pieces of one line, one that stored something counts.
    #[must_use]
    pub fn compare(&self, heard: &[Recognised]) -> Comparison {
        let mut result = Comparison {
            lines: self.lines.len(),
            ..Comparison::default()
        };
        for (i, (start, end, truth)) in self.lines.iter().enumerate() {
            let until = self.lines.get(i + 1).map_or(u64::MAX, |l| l.0);
            let pieces: Vec<&Recognised> = heard
                .iter()
                .filter(|h| {
                    h.timing.speech_end_ms >= *start && h.timing.speech_end_ms < until.max(*end)
                })
                .collect();
            let lines: Vec<Map<String, Value>> = pieces.iter().map(|h| meaning(h)).collect();
            let exact = |l: &Map<String, Value>| same(truth, l);
            let ignored = truth.get("outcome").and_then(Value::as_str) == Some("ignored");
            let stores = |h: &&&Recognised| h.event.outcome == Outcome::Stored;
            let said: Vec<&str> = pieces.iter().map(|h| h.event.said.as_str()).collect();
            let mut note = |what: &str| {
                let text = truth
                    .get("text")
                    .and_then(Value::as_str)
                    .unwrap_or_default();
                result.details.push(format!(
                    "{what}: \"{text}\" was heard as \"{}\"",
                    said.join(" / ")
                ));
            };
            let others_store = lines
                .iter()
                .zip(&pieces)
                .any(|(l, h)| !exact(l) && h.event.outcome == Outcome::Stored);
            let differs = |l: &Map<String, Value>| !same(truth, l) && !note_differs(truth, l);
            let only_notes = lines
                .iter()
                .zip(&pieces)
                .all(|(l, h)| !differs(l) || h.event.outcome != Outcome::Stored);
            if others_store && only_notes {
                note("a note with another word");
                result.notes_differ += 1;
            } else if others_store {
                note("stored as something else");
                result.stored_wrong += 1;
            } else if lines.iter().any(exact)
                || (ignored && pieces.iter().find(stores).is_none() && !asks(&pieces))
            {
                result.exact += 1;
            } else if asks(&pieces) {
                note("asked or refused");
                result.asked += 1;
            } else {
                note("missed");
                result.missed += 1;
            }
        }
        result
    }
}

/// A reading must agree in every key; of a command, a note or a refusal only what the truth names.
fn same(truth: &Map<String, Value>, line: &Map<String, Value>) -> bool {
    let reading = truth.get("quantity").is_some_and(|q| !q.is_null());
    MEANING.iter().all(|key| {
        let wanted = truth.get(*key).unwrap_or(&Value::Null);
        let free = wanted.is_null() && (!reading || *key == "command");
        free || line.get(*key).unwrap_or(&Value::Null) == wanted
    })
}

/// A note on the same valve with other words.
fn note_differs(truth: &Map<String, Value>, line: &Map<String, Value>) -> bool {
    let mut wanted = truth.clone();
    let is_note = |of: &Map<String, Value>| of.get("note").is_some_and(Value::is_string);
    let both = is_note(truth) && is_note(line);
    wanted.remove("note");
    both && same(&wanted, line)
}

fn asks(pieces: &[&Recognised]) -> bool {
    pieces
        .iter()
        .any(|h| matches!(h.event.outcome, Outcome::Asked | Outcome::Refused))
}

fn meaning(heard: &Recognised) -> Map<String, Value> {
    match serde_json::to_value(Line::of(&heard.event, None)) {
        Ok(Value::Object(map)) => map,
        _ => Map::new(),
    }
}

impl fmt::Display for Comparison {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "Against the script: {} of {} lines as meant, {} asked, {} missed, {} notes with another word, {} stored as something else.",
            self.exact, self.lines, self.asked, self.missed, self.notes_differ, self.stored_wrong
        )?;
        self.details.iter().try_for_each(|d| write!(f, "\n  {d}"))
    }
}
