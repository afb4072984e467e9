//! What one utterance can add to a job, and the event that carries it.

use super::{About, Head, Part, Position, Repair, Side, Valve};
use crate::measure::{Amount, Home, Length, LengthUnit, Quantity, Unit};
use serde::{Deserialize, Serialize};

/// A clearance as the feeler blades showed it.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Gap {
    /// Largest blade that goes, smallest that does not.
    Between {
        /// Goes.
        goes_nm: Length,
        /// Does not.
        stops_nm: Length,
    },
    /// One value alone: the interval to the next owned blade.
    Single(Length),
    /// Only a lower bound: this blade goes, no larger one was tried.
    AtLeast(Length),
    /// Only an upper bound: this blade does not go.
    Below(Length),
    /// "No gap": the smallest blade does not go. Never zero; the valve may be held open.
    None,
}

/// The value of a reading.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Value {
    /// A clearance.
    Gap(Gap),
    /// Anything else.
    Amount(Amount),
    /// Two that belong together: a load at a height, the angles of equal lift on both flanks, the
    /// pressures behind and in a cylinder, the outer and inner ring of a seat.
    Pair(Amount, Amount),
    /// Done, without a figure: a bolt taken to its stage.
    Done,
    /// A shim: what is marked on it, what it measures; at least one of them.
    Shim {
        /// As marked.
        marked_nm: Option<Length>,
        /// By micrometer; wins over the mark.
        measured_nm: Option<Length>,
    },
}

impl Value {
    /// The size of a shim that counts: measured beats marked. `None` if it is not a shim.
    #[must_use]
    pub fn shim_size(self) -> Option<Length> {
        match self {
            Self::Shim {
                marked_nm,
                measured_nm,
            } => measured_nm.or(marked_nm),
            _ => None,
        }
    }
}

/// A measured value of one valve, or of the engine where `position` is `None`.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
pub struct Reading {
    /// Which valve.
    pub position: Option<Position>,
    /// Which part, where it is not a valve or a part of one. (Since version 2.)
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<Part>,
    /// On which head, where the engine has several and it is not a valve's. (Since version 7.)
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head: Option<Head>,
    /// What.
    pub quantity: Quantity,
    /// How much.
    pub value: Value,
    /// The unit it was said in; the job's where none was said.
    pub unit: LengthUnit,
}

impl Reading {
    /// The part, with its head: "rear head bolt 7".
    #[must_use]
    pub(crate) fn part_words(&self) -> Option<String> {
        let part = self.part.map(|p| p.to_string());
        match (self.head, part) {
            (None, part) => part,
            (Some(head), None) => Some(head.key().to_owned()),
            (Some(head), Some(part)) => Some(format!("{} {part}", head.key())),
        }
    }

    /// The cylinder that it is of, if it is of a cylinder and no valve.
    #[must_use]
    pub(crate) fn cylinder(&self) -> Option<u8> {
        match self.part {
            Some(Part::Cylinder { number, .. }) => Some(number),
            _ => None,
        }
    }

    /// Whether it is of a cylinder, and which was not said.
    #[must_use]
    pub(crate) fn lacks_cylinder(&self) -> bool {
        self.quantity.home() == Home::Cylinder && self.part.is_none()
    }

    /// The side that a limit of it may hold for: of the valve, or of the camshaft.
    #[must_use]
    pub(crate) fn side(&self) -> Option<Side> {
        match self.part {
            Some(Part::Camshaft(side)) => Some(side),
            Some(Part::Journal { cam, .. }) => cam,
            _ => self.position.map(|p| p.side),
        }
    }
}

/// What is in doubt about an utterance.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Doubt {
    /// Which valve of a side that has several.
    Valve,
    /// Which position at all.
    Position,
    /// Which of several values.
    Value,
    /// Outside the usual range.
    Unusual,
    /// The recogniser was not certain.
    Uncertain,
    /// It would overturn an earlier reading.
    Overturns,
    /// "Correction" was said alone: the value is still to come.
    Correction,
    /// A spare of that size is noted already.
    Repeated,
    /// One phrase for several valves, or for a shim that was not named itself.
    Several,
    /// "Note" was said alone or with a place only: its text is still to come.
    Dictation,
}

/// A question that waits for an answer. It stores nothing until it is answered.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Question {
    /// Why it is asked.
    pub doubt: Doubt,
    /// What "affirm" stores, where a plain yes can answer it.
    pub proposed: Vec<Fact>,
    /// A reading that still lacks its position or valve.
    pub unplaced: Option<Unplaced>,
    /// Other meanings, offered by name.
    pub choices: Vec<Fact>,
    /// The question as it was spoken.
    pub words: String,
}

impl Question {
    /// A question that a yes or no answers, or a value that is to be said anew.
    #[must_use]
    pub const fn plain(doubt: Doubt, proposed: Vec<Fact>, words: String) -> Self {
        Self {
            doubt,
            proposed,
            unplaced: None,
            choices: Vec::new(),
            words,
        }
    }

    /// A question that one of these facts answers.
    #[must_use]
    pub const fn choice(choices: Vec<Fact>, words: String) -> Self {
        Self {
            doubt: Doubt::Value,
            proposed: Vec::new(),
            unplaced: None,
            choices,
            words,
        }
    }

    /// A question that waits for what is still to be said of `unplaced`.
    #[must_use]
    pub fn waiting(doubt: Doubt, unplaced: Unplaced, words: String) -> Self {
        Self {
            unplaced: Some(unplaced),
            ..Self::plain(doubt, Vec::new(), words)
        }
    }
}

/// A reading whose place is not complete yet.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Unplaced {
    /// What is known of its cylinder.
    pub cylinder: Option<u8>,
    /// What is known of its side.
    pub side: Option<Side>,
    /// What is known of its valve.
    pub valve: Option<Valve>,
    /// The reading, its position being `None`; `None` where only a position was called.
    pub reading: Option<Reading>,
}

/// Where a shim comes from.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// From a valve: its own, if it stays.
    Valve(Position),
    /// From the box of spares.
    Box,
    /// Bought.
    Bought,
}

/// A fact that an utterance adds to the job.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fact {
    /// The first event of a job: what was fixed before the first reading.
    Begun {
        /// Key of the engine's profile.
        engine: String,
        /// The unit that bare numbers are said in.
        unit: LengthUnit,
        /// The engine's profile as it stood, so that the record makes sense without the tool.
        profile: String,
        /// Feeler blades owned, smallest first.
        blades_nm: Vec<Length>,
        /// The unit of bare compressions. (Since version 2.)
        #[serde(default = "bar")]
        gauge: Unit,
        /// The unit of bare torques. (Since version 2.)
        #[serde(default = "newton_metre")]
        wrench: Unit,
        /// The language that is spoken, by its folder in `grammars`. (Since version 2.)
        #[serde(default = "english")]
        language: String,
    },
    /// A valve was opened: values called from now on belong to it.
    Opened(Position),
    /// A head was named alone: what is called of it from now on belongs to it. (Since version 7.)
    OpenedHead(Head),
    /// A reading.
    Read(Reading),
    /// Where the shim comes from that the same event reads at a valve, as far as it is known.
    /// (Since version 5.)
    ShimFrom {
        /// At which valve it is fitted.
        position: Position,
        /// Where it comes from.
        source: Source,
    },
    /// A part of a valve was replaced or worked on: what was measured of it before is void.
    /// (Since version 6.)
    Repaired {
        /// Which valve.
        position: Position,
        /// What was done.
        work: Repair,
    },
    /// All clearances are measured again. (Since version 6.)
    RoundBegun,
    /// Spare shims in the box: that many of that size now.
    Spare {
        /// Thickness.
        size_nm: Length,
        /// How many.
        count: u16,
    },
    /// Something looked at: plugs in, dowels two, marks in line.
    Checked {
        /// What, by its key in the grammar; [`super::Wish`] names those that the plan knows.
        item: String,
        /// How many, where it was counted.
        count: Option<u16>,
        /// Whether it is as it should be.
        good: bool,
        /// On which valve.
        position: Option<Position>,
        /// On which head, where the engine has several and it is of one. (Since version 8.)
        #[serde(default, skip_serializing_if = "Option::is_none")]
        head: Option<Head>,
    },
    /// Whose machine it is, who worked on it and the like. (Since version 6.)
    About {
        /// What is told.
        what: About,
        /// In words.
        text: String,
    },
    /// The engine's profile from now on. (Since version 6.)
    ProfileChanged {
        /// As its file stands.
        profile: String,
    },
    /// Something to be done later.
    Task {
        /// What kind, by its key in the grammar.
        kind: String,
        /// In words.
        text: String,
        /// On which valve.
        position: Option<Position>,
    },
    /// The task of that event is done.
    Ticked(u64),
    /// A stage of the job was begun or finished, by its key in the grammar.
    Stage {
        /// Which.
        stage: String,
        /// Finished.
        done: bool,
    },
    /// An earlier event no longer counts.
    Cancelled(u64),
    /// A note, on a valve or on the job.
    Note {
        /// On which valve.
        position: Option<Position>,
        /// Its text.
        text: String,
    },
    /// A long note begins: what is said until it ends is a sentence of it.
    NoteBegun(Option<Position>),
    /// A sentence of the long note.
    NoteLine(String),
    /// The long note ends.
    NoteEnded,
    /// A question now waits.
    Asked(Box<Question>),
    /// The waiting question is closed.
    Closed,
    /// Not listening until "listen".
    StandBy,
    /// Listening again.
    Listening,
    /// An earlier event was looked at again: it now counts as having added `facts`.
    Reviewed {
        /// Which.
        event: u64,
        /// What was really said; empty where nothing was meant for the tool.
        truth: String,
        /// What it adds.
        facts: Vec<Fact>,
    },
    /// The sounds of those events were given up and their clips removed; what was understood of
    /// them stays. (Since version 2.)
    Forgot {
        /// Which.
        events: Vec<u64>,
    },
}

impl Fact {
    /// Whether it is an entry of the work, which "disregard" can take back: a reading, a spare, a
    /// check, a repair, a task or a note. An event with one puts it in the place of what it cancels.
    #[must_use]
    pub const fn is_entry(&self) -> bool {
        matches!(
            self,
            Self::Read(_)
                | Self::Spare { .. }
                | Self::Checked { .. }
                | Self::Repaired { .. }
                | Self::RoundBegun
                | Self::About { .. }
                | Self::Task { .. }
                | Self::Note { .. }
        )
    }
}

const fn bar() -> Unit {
    Unit::Bar
}

const fn newton_metre() -> Unit {
    Unit::NewtonMetre
}

fn english() -> String {
    "en".to_owned()
}

/// What became of an utterance.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// It added what it said.
    Stored,
    /// A question waits.
    Asked,
    /// It cannot be.
    Refused,
    /// It was not for the tool.
    Ignored,
}

/// The sound that an event came from.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Sound {
    /// SHA-256 of the clip's WAV file, in hex; its name in the job's `clips` folder.
    pub sha256: String,
    /// Length in milliseconds.
    pub length_ms: u32,
    /// Samples lost while it was captured.
    pub overruns: u32,
    /// Which recogniser heard it: the model file's SHA-256, first 16 hex digits; with the profile of
    /// a voice also "+" and the same of that profile's numbers.
    pub model: String,
}

/// What the recogniser would have heard next.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Rival {
    /// The likeliest phrase of another meaning.
    pub said: String,
    /// How far it lies below what was heard, in nats.
    pub margin_nats: f32,
}

/// One utterance, and what it added. Never changed after it is stored.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Event {
    /// Order in the job, from 1.
    pub id: u64,
    /// When, in milliseconds since 1970 UTC.
    pub at_ms: i64,
    /// As heard or typed.
    pub said: String,
    /// What became of it.
    pub outcome: Outcome,
    /// Why, in a short sentence.
    pub why: String,
    /// What was read back.
    pub spoken: String,
    /// The command that was given, by its name.
    pub command: Option<String>,
    /// The valve it was about, as far as it is known.
    pub subject: Option<Position>,
    /// How certain the recogniser was, 0–1; 1 for typed text.
    pub confidence: f32,
    /// The likeliest phrase of another meaning, where one was near. (Since version 3.)
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rival: Option<Rival>,
    /// Where the sound is kept; `None` for typed text.
    pub sound: Option<Sound>,
    /// Hash of the grammar that read it.
    pub grammar: String,
    /// What it added.
    pub facts: Vec<Fact>,
}

impl Event {
    /// An event of the program's own: nobody said anything, and it adds nothing.
    #[must_use]
    pub fn unspoken(id: u64, at_ms: i64, outcome: Outcome, why: impl Into<String>) -> Self {
        Self {
            id,
            at_ms,
            said: String::new(),
            outcome,
            why: why.into(),
            spoken: String::new(),
            command: None,
            subject: None,
            confidence: 0.0,
            rival: None,
            sound: None,
            grammar: String::new(),
            facts: Vec::new(),
        }
    }
}
