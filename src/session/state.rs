//! What the conversation keeps in mind, beside the job itself.

use super::Desk;
use crate::event::{Event, Fact, Outcome, Position, Question};
use crate::grammar::Command;
use crate::record::{Counting, JobView};

/// What the conversation knows. Rebuilt from the events at every start.
#[derive(Clone, Debug)]
pub struct State {
    /// The job as it stands.
    pub view: JobView,
    /// The valve that values belong to now.
    pub open: Option<Position>,
    /// Not listening until "listen".
    pub standing_by: bool,
    /// A long note is being dictated; when its last sentence was said.
    pub dictating_since_ms: Option<i64>,
    /// The question that waits.
    pub question: Option<Question>,
    /// What that question is about, as far as it was said.
    asked_of: Option<Position>,
    /// What was said last.
    pub last_spoken: String,
    begun: Option<String>,
}

impl State {
    /// A job in which nothing was said yet.
    #[must_use]
    pub fn new(desk: &Desk) -> Self {
        Self {
            view: JobView::new(&desk.profile, &desk.blades),
            open: None,
            standing_by: false,
            dictating_since_ms: None,
            question: None,
            asked_of: None,
            last_spoken: String::new(),
            begun: None,
        }
    }

    /// The fold of all events.
    #[must_use]
    pub fn fold<'a>(desk: &Desk, events: impl IntoIterator<Item = &'a Event>) -> Self {
        let mut state = Self::new(desk);
        for event in events {
            state.apply(event);
        }
        state
    }

    /// Adds one event.
    pub fn apply(&mut self, event: &Event) {
        for fact in &event.facts {
            match fact {
                Fact::Opened(position) => self.open = Some(*position),
                Fact::Asked(question) => {
                    self.question = Some((**question).clone());
                    self.asked_of = event.subject;
                }
                Fact::Closed => self.question = None,
                Fact::NoteBegun(_) | Fact::NoteLine(_) => {
                    self.dictating_since_ms = Some(event.at_ms);
                }
                Fact::NoteEnded => self.dictating_since_ms = None,
                Fact::StandBy => self.standing_by = true,
                Fact::Listening => self.standing_by = false,
                Fact::Begun { .. }
                | Fact::Read(_)
                | Fact::Spare { .. }
                | Fact::Checked { .. }
                | Fact::Task { .. }
                | Fact::Ticked(_)
                | Fact::Stage { .. }
                | Fact::Cancelled(_)
                | Fact::Note { .. }
                | Fact::Reviewed { .. }
                | Fact::Forgot { .. } => {}
            }
        }
        if !event.spoken.is_empty() {
            self.last_spoken.clone_from(&event.spoken);
        }
        if event.outcome != Outcome::Ignored {
            let begun = event.command.as_deref() == Some(Command::MeasureBegun.key());
            self.begun = begun.then(|| event.said.clone());
        }
        self.view.apply(event);
    }

    /// The facts that count.
    #[must_use]
    pub const fn counting(&self) -> &Counting {
        self.view.counting()
    }

    /// All events, cancelled ones too.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        self.counting().events()
    }

    /// What was named and still lacks its value, as it was said: "stem two exhaust left".
    #[must_use]
    pub fn begun(&self) -> Option<&str> {
        self.begun.as_deref()
    }

    /// The number of the next event.
    #[must_use]
    pub fn next_id(&self) -> u64 {
        self.events().last().map_or(1, |e| e.id + 1)
    }

    /// Whether the question that waits is about a valve; of one that was not said whole, about any
    /// that it can be.
    #[must_use]
    pub fn asks_about(&self, valve: Position) -> bool {
        let Some(question) = &self.question else {
            return false;
        };
        let place = |fact: &Fact| match fact {
            Fact::Read(reading) => reading.position,
            Fact::Opened(position) => Some(*position),
            _ => None,
        };
        let mut named = question.proposed.iter().filter_map(place).peekable();
        if named.peek().is_some() {
            return named.any(|p| p == valve);
        }
        self.asked_of.is_some_and(|p| {
            p.cylinder == valve.cylinder
                && p.side == valve.side
                && p.valve.is_none_or(|v| Some(v) == valve.valve)
        })
    }
}
