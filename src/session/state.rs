//! What the conversation keeps in mind, beside the job itself.

use super::JobSetup;
use super::manner::Manner;
use crate::event::{Doubt, Event, Fact, Head, Outcome, Part, Position, Question, Reading};
use crate::grammar::Command;
use crate::measure::Quantity;
use crate::record::{Counting, JobView};

/// What a question that was left behind is about.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum LeftOpen {
    /// A valve, as far as it was said.
    Valve(Position),
    /// A reading or a look of which the head or the cylinder was not said.
    OfAPart(Fact),
}

/// What the conversation knows. Rebuilt from the events at every start.
#[derive(Clone, Debug)]
pub struct State {
    /// The job as it stands.
    pub view: JobView,
    /// The valve that values belong to now: the one that was asked about, while a question waits. `None`
    /// also after a place was begun that is not known yet.
    pub open: Option<Position>,
    /// The valve that was named last, whatever was said of it: what "that one" is.
    pub named: Option<Position>,
    /// Something of another place was said since the open valve was named: a bare value may be of that.
    pub elsewhere: bool,
    /// The head that was named alone, until another or a valve of another is named: what is called
    /// of a head belongs to it.
    pub head: Option<Head>,
    /// The valve that was open before the question that waits.
    open_before: Option<Position>,
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
    /// How the tool is to speak and to wait.
    pub manner: Manner,
    /// Questions that were left behind.
    pub left_open: Vec<LeftOpen>,
    /// The valve of the plan's step that was said last, while the plan is gone through.
    pub plan_step: Option<Position>,
    begun: Option<String>,
    last_command: Option<Command>,
    /// The valve whose shim was asked for just now.
    shim_asked: Option<Position>,
}

impl State {
    /// A job in which nothing was said yet.
    #[must_use]
    pub fn new(setup: &JobSetup) -> Self {
        Self {
            view: JobView::new(&setup.profile, &setup.blades),
            open: None,
            named: None,
            elsewhere: false,
            head: None,
            open_before: None,
            standing_by: false,
            dictating_since_ms: None,
            question: None,
            asked_of: None,
            last_spoken: String::new(),
            manner: Manner::default(),
            left_open: Vec::new(),
            plan_step: None,
            begun: None,
            last_command: None,
            shim_asked: None,
        }
    }

    /// The fold of all events.
    #[must_use]
    pub fn fold<'a>(setup: &JobSetup, events: impl IntoIterator<Item = &'a Event>) -> Self {
        let mut state = Self::new(setup);
        for event in events {
            state.apply(event);
        }
        state
    }

    /// Adds one event.
    pub fn apply(&mut self, event: &Event) {
        let left = self.leaves_behind(event);
        self.left_open.retain(|left| !left.is_answered_by(event));
        self.left_open.extend(left);
        self.walk(event);
        if denies(event) && self.place_in_doubt() {
            self.open = None;
        }
        for fact in &event.facts {
            match fact {
                Fact::Opened(position) => {
                    self.open = Some(*position);
                    let its = self.view.profile().head_of(position.cylinder);
                    self.head = self.head.filter(|h| its == Some(*h));
                }
                Fact::OpenedHead(head) => self.head = Some(*head),
                Fact::Read(reading) => {
                    self.head = self.head.filter(|h| reading.head.is_none_or(|r| r == *h));
                }
                Fact::Asked(question) => {
                    self.open_before = self.open;
                    match valves_of(question)[..] {
                        [one] => self.open = Some(one),
                        [] if waits_for_a_place(question) => self.open = None,
                        _ => {}
                    }
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
                | Fact::ShimFrom { .. }
                | Fact::Repaired { .. }
                | Fact::RoundBegun
                | Fact::Spare { .. }
                | Fact::Checked { .. }
                | Fact::About { .. }
                | Fact::ProfileChanged { .. }
                | Fact::Task { .. }
                | Fact::Ticked(_)
                | Fact::Stage { .. }
                | Fact::Cancelled(_)
                | Fact::Note { .. }
                | Fact::Reviewed { .. }
                | Fact::Forgot { .. } => {}
            }
        }
        if event.outcome != Outcome::Ignored {
            self.elsewhere = self.goes_elsewhere(event);
            if !event.spoken.is_empty() {
                self.last_spoken.clone_from(&event.spoken);
            }
            let command = event.command.as_deref().and_then(Command::from_key);
            // By what was called or put right, not by a question or an order.
            if event.command.is_none() || command == Some(Command::Moved) {
                self.named = event.subject.or(self.named);
            }
            let awaited = [Command::MeasureBegun.key(), Command::WhichBlade.key()];
            let begun = event
                .command
                .as_deref()
                .is_some_and(|c| awaited.contains(&c));
            self.last_command = command;
            let which_shim = self.last_command == Some(Command::WhichShim);
            self.shim_asked = event.subject.filter(|_| which_shim);
            if let Some(command) = self.last_command {
                self.manner.apply(command);
            }
            self.begun = begun.then(|| event.said.clone());
        }
        self.view.apply(event);
    }

    /// Whether the last thing that was named is not the open valve.
    fn goes_elsewhere(&self, event: &Event) -> bool {
        let named = event.facts.iter().rev().find_map(|f| match f {
            Fact::Opened(position) => Some(Some(*position)),
            Fact::Read(reading) => Some(reading.position),
            _ => None,
        });
        let named = named.or(event.subject.map(Some));
        named.map_or(self.elsewhere, |named| named != self.open)
    }

    /// What the question that waits is about, where an event that is not an answer to it closes it.
    #[must_use]
    pub fn leaves_behind(&self, event: &Event) -> Vec<LeftOpen> {
        let Some(question) = &self.question else {
            return Vec::new();
        };
        let closes = |f: &Fact| matches!(f, Fact::Closed | Fact::Asked(_));
        let command = event.command.as_deref().and_then(Command::from_key);
        if !event.facts.iter().any(closes) || command.is_some_and(Command::is_an_answer) {
            return Vec::new();
        }
        let unplaced = question.unplaced.filter(|u| u.reading.is_some());
        let begun = self.asked_of.filter(|_| unplaced.is_some());
        let mut valves = read_at(&question.proposed);
        valves.extend(read_at(&question.choices));
        valves.extend(begun);
        valves.dedup();
        let valves = valves.into_iter().map(LeftOpen::Valve);
        let of_a_part = waits_for_a_part(question).map(LeftOpen::OfAPart);
        let mut left: Vec<LeftOpen> = valves.chain(of_a_part).collect();
        left.retain(|one| !one.is_answered_by(event) && !self.left_open.contains(one));
        left
    }

    /// Going through the plan step by step, until something else is measured or opened.
    fn walk(&mut self, event: &Event) {
        let command = event.command.as_deref().and_then(Command::from_key);
        let opens = |f: &Fact| match f {
            Fact::Opened(p) => self.plan_step != Some(*p),
            Fact::Read(r) => r.quantity == Quantity::Clearance,
            _ => false,
        };
        match command {
            Some(Command::Plan) => self.plan_step = event.subject,
            Some(Command::Next | Command::Back) if self.plan_step.is_some() => {
                self.plan_step = event.subject;
            }
            _ if event.facts.iter().any(opens) => self.plan_step = None,
            _ => {}
        }
    }

    /// Whether shims are being fitted: a shim that is called may be one of the plan.
    #[must_use]
    pub fn is_fitting(&self) -> bool {
        self.counting().stage() == Some(("shims", false))
            || self.plan_step.is_some()
            || self.last_command == Some(Command::WhichShim)
    }

    /// The valve at which a shim is being fitted: of the plan's step, or of the shim that was asked for.
    #[must_use]
    pub fn fitting_at(&self) -> Option<Position> {
        self.shim_asked.or(self.plan_step)
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

    /// The command of the last event that was not ignored, if it was one.
    #[must_use]
    pub fn last_command(&self) -> Option<Command> {
        self.last_command
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

    /// The only valve that the question that waits is about.
    #[must_use]
    pub fn asked_valve(&self) -> Option<Position> {
        match valves_of(self.question.as_ref()?)[..] {
            [one] => Some(one),
            _ => None,
        }
    }

    /// Whether the place itself, not only its value, was not certain in what is asked.
    #[must_use]
    pub fn place_in_doubt(&self) -> bool {
        let uncertain = self
            .question
            .as_ref()
            .is_some_and(|q| q.doubt == Doubt::Uncertain);
        uncertain
            && self
                .asked_valve()
                .is_some_and(|p| self.open_before != Some(p))
    }

    /// The only reading that waits for a yes, and the event that it would replace.
    #[must_use]
    pub fn asked_reading(&self) -> Option<(Option<u64>, Reading)> {
        let proposed = &self.question.as_ref()?.proposed;
        let mut readings = proposed.iter().filter_map(|f| match f {
            Fact::Read(reading) => Some(*reading),
            _ => None,
        });
        let (one, more) = (readings.next()?, readings.next());
        let replaces = proposed.iter().find_map(|f| match f {
            Fact::Cancelled(id) => Some(*id),
            _ => None,
        });
        more.is_none().then_some((replaces, one))
    }

    /// The reading that a correction or a bare value follows: the one that is asked, or the last.
    #[must_use]
    pub fn said_last(&self) -> Option<Reading> {
        let asked = self.asked_reading().map(|(_, reading)| reading);
        asked.or_else(|| Some(self.counting().last_reading()?.1))
    }

    /// The question that waits for a place, with what is known of it.
    #[must_use]
    pub fn place_question(&self) -> Option<&Question> {
        self.question.as_ref().filter(|q| waits_for_a_place(q))
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

/// The valves at which facts read something.
fn read_at(facts: &[Fact]) -> Vec<Position> {
    let place = |fact: &Fact| match fact {
        Fact::Read(reading) => reading.position,
        _ => None,
    };
    facts.iter().filter_map(place).collect()
}

impl LeftOpen {
    /// Whether an event reads or looks at what was left open, or asks about it.
    fn is_answered_by(&self, event: &Event) -> bool {
        let asked = event.facts.iter().flat_map(|f| match f {
            Fact::Asked(question) => waits_for_a_part(question)
                .into_iter()
                .chain(question.proposed.clone())
                .collect(),
            _ => Vec::new(),
        });
        match self {
            Self::Valve(position) => answers(event, *position),
            Self::OfAPart(left) => {
                let mut facts = event.facts.iter().cloned().chain(asked);
                facts.any(|fact| same_but_for_the_part(left, &fact))
            }
        }
    }
}

/// Whether two facts read or look at the same, on whatever head or cylinder.
fn same_but_for_the_part(one: &Fact, other: &Fact) -> bool {
    match (one, other) {
        (Fact::Read(a), Fact::Read(b)) => {
            let bolt = |r: &Reading| match r.part {
                Some(Part::Bolt { kind, number, .. }) => Some((kind, number)),
                _ => None,
            };
            let same_bolt = bolt(a).is_some() && bolt(a) == bolt(b);
            let same_part = a.part == b.part || same_bolt || a.lacks_cylinder();
            a.quantity == b.quantity && same_part
        }
        (Fact::Checked { item: a, .. }, Fact::Checked { item: b, .. }) => a == b,
        _ => false,
    }
}

/// The reading or the look of which a question asks the head.
pub(super) fn waits_for_a_head(question: &Question) -> Option<Fact> {
    if !waits_for_a_place(question) {
        return None;
    }
    let reading = question.unplaced.and_then(|u| u.reading);
    let reading = reading.filter(|r| r.quantity.is_of_a_head() && r.head.is_none());
    let looks = question.proposed.iter();
    let mut looks = looks.filter(|f| matches!(f, Fact::Checked { head: None, .. }));
    reading.map(Fact::Read).or_else(|| looks.next().cloned())
}

/// The reading or the look of which a question asks the head or the cylinder.
fn waits_for_a_part(question: &Question) -> Option<Fact> {
    let reading = question.unplaced.and_then(|u| u.reading);
    let of_a_cylinder = reading.filter(Reading::lacks_cylinder).map(Fact::Read);
    waits_for_a_head(question).or(of_a_cylinder)
}

/// Whether an event reads something at a valve, or asks about it: of one that was not said whole, at
/// any that it can be.
fn answers(event: &Event, valve: Position) -> bool {
    let is = |p: Position| {
        (p.cylinder, p.side) == (valve.cylinder, valve.side)
            && (p.valve == valve.valve || valve.valve.is_none() || p.valve.is_none())
    };
    read_at(&event.facts).into_iter().any(is) || event.subject.is_some_and(is)
}

/// The valves that a question proposes or offers something for, each once.
fn valves_of(question: &Question) -> Vec<Position> {
    let mut all: Vec<Position> = Vec::new();
    for fact in question.proposed.iter().chain(&question.choices) {
        let place = match fact {
            Fact::Read(reading) => reading.position,
            Fact::Opened(position) => Some(*position),
            _ => None,
        };
        all.extend(place.filter(|p| !all.contains(p)));
    }
    all
}

/// A place was begun, and the rest of it is still to come.
fn waits_for_a_place(question: &Question) -> bool {
    question.unplaced.is_some() && matches!(question.doubt, Doubt::Position | Doubt::Valve)
}

/// Whether an event says no to the question that waits.
fn denies(event: &Event) -> bool {
    let denial = [
        Command::Negative,
        Command::Disregard,
        Command::DisregardIfMeant,
    ];
    let denial = denial.map(Command::key);
    let denial = event
        .command
        .as_deref()
        .is_some_and(|c| denial.contains(&c));
    denial && event.facts == [Fact::Closed]
}
