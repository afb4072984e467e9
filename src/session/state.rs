//! The state of a job: nothing but the fold of its events.

use crate::engine::Profile;
use crate::event::review::{cancelled, reviewed};
use crate::event::{Event, Fact, Position, Question, Reading};
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
        let mut looked_again = false;
        for fact in &event.facts {
            match fact {
                Fact::Opened(position) => self.open = Some(*position),
                Fact::Cancelled(id) => {
                    self.cancelled.insert(*id);
                }
                Fact::Asked(question) => self.question = Some((**question).clone()),
                Fact::Closed => self.question = None,
                Fact::StandBy => self.standing_by = true,
                Fact::Listening => self.standing_by = false,
                Fact::Reviewed { event, facts, .. } => {
                    self.reviewed.insert(*event, facts.clone());
                    looked_again = true;
                }
                Fact::Begun { .. } | Fact::Read(_) | Fact::Spare { .. } | Fact::Note { .. } => {}
            }
        }
        if !event.spoken.is_empty() {
            self.last_spoken.clone_from(&event.spoken);
        }
        self.events.push(event.clone());
        if looked_again {
            self.cancelled = cancelled(&self.events, &reviewed(&self.events));
        }
    }

    /// All events, cancelled ones too.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
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

    /// The latest fact that "disregard" can take back: a reading, a spare or a note.
    #[must_use]
    pub fn last_undoable(&self) -> Option<(u64, Fact)> {
        self.live().find_map(|(id, fact)| match fact {
            Fact::Read(_) | Fact::Spare { .. } | Fact::Note { .. } => Some((id, fact.clone())),
            _ => None,
        })
    }

    /// How many spares of a size are noted.
    #[must_use]
    pub fn spares(&self, size: Length) -> u16 {
        let count = self.live().find_map(|(_, fact)| match fact {
            Fact::Spare { size_nm, count } if *size_nm == size => Some(*count),
            _ => None,
        });
        count.unwrap_or(0)
    }
}
