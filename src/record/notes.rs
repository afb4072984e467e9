//! Notes and tasks that count.

use super::counting::Counting;
use super::kind::Kind;
use crate::event::{Fact, Position};

/// A note, and the events it came from.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct NoteText {
    /// The events, each with its clip.
    pub events: Vec<u64>,
    /// On which valve.
    pub position: Option<Position>,
    /// Its text.
    pub text: String,
}

/// A task that is still open.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Task<'a> {
    /// The event that brought it.
    pub event: u64,
    /// What kind, by its key in the grammar.
    pub kind: &'a str,
    /// In words.
    pub text: &'a str,
    /// On which valve.
    pub position: Option<Position>,
}

impl Counting {
    /// All notes that count, oldest first; the sentences of a long one joined.
    #[must_use]
    pub fn notes(&self) -> Vec<NoteText> {
        let mut all: Vec<NoteText> = Vec::new();
        let mut open = None;
        for ((event, _), fact) in self.of(&Kind::Note) {
            match fact {
                Fact::Note { position, text } => all.push(NoteText {
                    events: vec![event],
                    position: *position,
                    text: text.clone(),
                }),
                Fact::NoteBegun(position) => {
                    open = Some(all.len());
                    all.push(NoteText {
                        events: vec![event],
                        position: *position,
                        text: String::new(),
                    });
                }
                Fact::NoteLine(line) => {
                    if let Some(note) = open.and_then(|at| all.get_mut(at)) {
                        note.events.push(event);
                        if !note.text.is_empty() {
                            note.text.push_str(". ");
                        }
                        note.text.push_str(line);
                    }
                }
                Fact::NoteEnded => open = None,
                _ => {}
            }
        }
        all.retain(|n| !n.text.is_empty());
        all
    }

    /// The last sentence of the long note that is open.
    #[must_use]
    pub fn last_line(&self) -> Option<u64> {
        match self.last(&Kind::LongNote)? {
            (id, Fact::NoteLine(_)) => Some(id),
            _ => None,
        }
    }

    /// Tasks that are still open, oldest first.
    #[must_use]
    pub fn tasks(&self) -> Vec<Task<'_>> {
        let mut open = Vec::new();
        for ((event, _), fact) in self.of(&Kind::Task) {
            let Fact::Task {
                kind,
                text,
                position,
            } = fact
            else {
                continue;
            };
            if self.last(&Kind::Ticked(event)).is_none() {
                open.push(Task {
                    event,
                    kind,
                    text,
                    position: *position,
                });
            }
        }
        open
    }
}
