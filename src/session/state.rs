//! The state of a job: nothing but the fold of its events.

use crate::engine::Profile;
use crate::event::review::{cancelled, reviewed};
use crate::event::{Event, Fact, Outcome, Part, Position, Question, Reading};
use crate::grammar::Command;
use crate::measure::{Length, Quantity};
use std::collections::{BTreeMap, BTreeSet};

/// What the conversation knows. Rebuilt from the events at every start.
#[derive(Clone, Debug, Default)]
pub struct State {
    events: Vec<Event>,
    cancelled: BTreeSet<u64>,
    reviewed: BTreeMap<u64, Vec<Fact>>,
    /// The valve that values belong to now.
    pub open: Option<Position>,
    /// Not listening until "listen".
    pub standing_by: bool,
    /// A long note is being dictated; when its last sentence was said.
    pub dictating_since_ms: Option<i64>,
    /// The question that waits.
    pub question: Option<Question>,
    /// What was said last.
    pub last_spoken: String,
}

impl State {
    /// The fold of all events.
    #[must_use]
    pub fn fold(events: Vec<Event>) -> Self {
        let mut state = Self::default();
        for event in &events {
            state.apply(event);
        }
        state
    }

    /// Adds one event.
    pub fn apply(&mut self, event: &Event) {
        let mut recount = false;
        for fact in &event.facts {
            match fact {
                Fact::Opened(position) => self.open = Some(*position),
                // What that one had cancelled counts again.
                Fact::Cancelled(_) => recount = true,
                Fact::Asked(question) => self.question = Some((**question).clone()),
                Fact::Closed => self.question = None,
                Fact::NoteBegun(_) | Fact::NoteLine(_) => {
                    self.dictating_since_ms = Some(event.at_ms);
                }
                Fact::NoteEnded => self.dictating_since_ms = None,
                Fact::StandBy => self.standing_by = true,
                Fact::Listening => self.standing_by = false,
                Fact::Reviewed { event, facts, .. } => {
                    self.reviewed.insert(*event, facts.clone());
                    recount = true;
                }
                Fact::Begun { .. }
                | Fact::Read(_)
                | Fact::Spare { .. }
                | Fact::Checked { .. }
                | Fact::Task { .. }
                | Fact::Ticked(_)
                | Fact::Stage { .. }
                | Fact::Note { .. }
                | Fact::Forgot { .. } => {}
            }
        }
        if !event.spoken.is_empty() {
            self.last_spoken.clone_from(&event.spoken);
        }
        self.events.push(event.clone());
        if recount {
            self.cancelled = cancelled(&self.events, &reviewed(&self.events));
        }
    }

    /// All events, cancelled ones too.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// What was named and still lacks its value, as it was said: "stem two exhaust left".
    #[must_use]
    pub fn begun(&self) -> Option<&str> {
        let last = self
            .events
            .iter()
            .rev()
            .find(|e| e.outcome != Outcome::Ignored)?;
        let begun = last.command.as_deref() == Some(Command::MeasureBegun.key());
        begun.then_some(last.said.as_str())
    }

    /// The number of the next event.
    #[must_use]
    pub fn next_id(&self) -> u64 {
        self.events.last().map_or(1, |e| e.id + 1)
    }

    /// Facts that still count, newest first, with the event that brought them.
    fn live(&self) -> impl Iterator<Item = (u64, &Fact)> {
        let live = self
            .events
            .iter()
            .rev()
            .filter(|e| !self.cancelled.contains(&e.id));
        live.flat_map(|e| {
            let facts = self.reviewed.get(&e.id).unwrap_or(&e.facts);
            facts.iter().rev().map(move |f| (e.id, f))
        })
    }

    /// The latest reading that counts.
    #[must_use]
    pub fn last_reading(&self) -> Option<(u64, Reading)> {
        self.live().find_map(|(id, fact)| {
            if let Fact::Read(r) = fact {
                Some((id, *r))
            } else {
                None
            }
        })
    }

    /// The latest reading of a quantity at a valve.
    #[must_use]
    pub fn latest(&self, position: Position, quantity: Quantity) -> Option<(u64, Reading)> {
        self.live().find_map(|(id, fact)| match fact {
            Fact::Read(r) if r.position == Some(position) && r.quantity == quantity => {
                Some((id, *r))
            }
            _ => None,
        })
    }

    /// The latest reading of each quantity of a valve, in the order of the quantities.
    #[must_use]
    pub fn latest_of(&self, position: Position) -> Vec<Reading> {
        let mut all: BTreeMap<Quantity, Reading> = BTreeMap::new();
        for (_, fact) in self.live() {
            if let Fact::Read(r) = fact
                && r.position == Some(position)
            {
                all.entry(r.quantity).or_insert(*r);
            }
        }
        all.into_values().collect()
    }

    /// The latest reading of the same quantity at the same valve and part.
    #[must_use]
    pub fn latest_like(&self, like: &Reading) -> Option<(u64, Reading)> {
        let same_part = |part: Option<Part>| match (part, like.part) {
            (Some(a), Some(b)) => a.same(b),
            (a, b) => a == b,
        };
        self.live().find_map(|(id, fact)| match fact {
            Fact::Read(r)
                if r.quantity == like.quantity
                    && r.position == like.position
                    && same_part(r.part) =>
            {
                Some((id, *r))
            }
            _ => None,
        })
    }

    /// Valves that have no clearance yet, in the order of the engine.
    #[must_use]
    pub fn unmeasured(&self, profile: &Profile) -> Vec<Position> {
        let measured = |p: &Position| self.latest(*p, Quantity::Clearance).is_some();
        profile
            .valves()
            .into_iter()
            .filter(|p| !measured(p))
            .collect()
    }

    /// All notes that count, oldest first; the sentences of a long one joined.
    #[must_use]
    pub fn notes(&self) -> Vec<NoteText> {
        let mut all: Vec<NoteText> = Vec::new();
        let mut open = None;
        let mut live: Vec<(u64, &Fact)> = self.live().collect();
        live.reverse();
        for (event, fact) in live {
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
        self.live()
            .take_while(|(_, fact)| !matches!(fact, Fact::NoteBegun(_) | Fact::NoteEnded))
            .find_map(|(id, fact)| matches!(fact, Fact::NoteLine(_)).then_some(id))
    }

    /// The latest fact that "disregard" can take back: a reading, a spare or a note.
    #[must_use]
    pub fn last_undoable(&self) -> Option<(u64, Fact)> {
        self.live().find_map(|(id, fact)| match fact {
            Fact::Read(_)
            | Fact::Spare { .. }
            | Fact::Checked { .. }
            | Fact::Task { .. }
            | Fact::Note { .. } => Some((id, fact.clone())),
            _ => None,
        })
    }

    /// How many spares of a size are noted, by other events than `without`.
    #[must_use]
    pub fn spares(&self, size: Length, without: Option<u64>) -> u16 {
        let count = self.live().find_map(|(id, fact)| match fact {
            Fact::Spare { size_nm, count } if *size_nm == size && Some(id) != without => {
                Some(*count)
            }
            _ => None,
        });
        count.unwrap_or(0)
    }

    /// The event of the spares that were called last.
    #[must_use]
    pub fn last_spare(&self) -> Option<u64> {
        let spare = |(id, fact): (u64, &Fact)| matches!(fact, Fact::Spare { .. }).then_some(id);
        self.live().find_map(spare)
    }

    /// The valve that was open before the present one.
    #[must_use]
    pub fn opened_before(&self) -> Option<Position> {
        let mut opened = self.live().filter_map(|(_, fact)| match fact {
            Fact::Opened(position) => Some(*position),
            _ => None,
        });
        opened.find(|p| Some(*p) != self.open)
    }

    /// Tasks that are still open, oldest first: event, kind, words, valve.
    #[must_use]
    pub fn tasks(&self) -> Vec<Task<'_>> {
        let ticked: BTreeSet<u64> = self
            .live()
            .filter_map(|(_, fact)| match fact {
                Fact::Ticked(id) => Some(*id),
                _ => None,
            })
            .collect();
        let mut all: Vec<Task<'_>> = self
            .live()
            .filter(|(id, _)| !ticked.contains(id))
            .filter_map(|(event, fact)| match fact {
                Fact::Task {
                    kind,
                    text,
                    position,
                } => Some(Task {
                    event,
                    kind,
                    text,
                    position: *position,
                }),
                _ => None,
            })
            .collect();
        all.reverse();
        all
    }

    /// The stage that was begun or finished last, and whether it is finished.
    #[must_use]
    pub fn stage(&self) -> Option<(&str, bool)> {
        self.live().find_map(|(_, fact)| match fact {
            Fact::Stage { stage, done } => Some((stage.as_str(), *done)),
            _ => None,
        })
    }

    /// The latest of everything that was looked at, in order of their keys and valves.
    #[must_use]
    pub fn checks(&self) -> Vec<&Fact> {
        let mut latest: BTreeMap<(&str, Option<Position>), &Fact> = BTreeMap::new();
        for (_, fact) in self.live() {
            if let Fact::Checked { item, position, .. } = fact {
                latest.entry((item, *position)).or_insert(fact);
            }
        }
        latest.into_values().collect()
    }

    /// How far a stage is: finished, begun or neither.
    #[must_use]
    pub fn stage_is(&self, key: &str) -> Option<bool> {
        self.live().find_map(|(_, fact)| match fact {
            Fact::Stage { stage, done } if stage == key => Some(*done),
            _ => None,
        })
    }

    /// Whether a stage was ever begun: its cautions were read then.
    #[must_use]
    pub fn was_begun(&self, stage: &str) -> bool {
        let begun =
            |fact: &Fact| matches!(fact, Fact::Stage { stage: s, done: false } if s == stage);
        self.live().any(|(_, fact)| begun(fact))
    }

    /// The latest fact that says something of the job: what "where am I" answers with.
    #[must_use]
    pub fn last_done(&self) -> Option<&Fact> {
        self.live().map(|(_, fact)| fact).find(|fact| {
            matches!(
                fact,
                Fact::Read(_) | Fact::Spare { .. } | Fact::Checked { .. }
            )
        })
    }
}

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
