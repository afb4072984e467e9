//! What a text can mean in a job: places, values and commands.

use super::means::Command;
use super::refusal::Refusal;
use crate::event::{About, Fastener, Gap, Head, Part, Position, Repair, Side, Value, Valve};
use crate::measure::{Length, LengthUnit, Quantity};

/// As much of a position as was said.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Whereabouts {
    /// Cylinder.
    pub cylinder: Option<u8>,
    /// Side.
    pub side: Option<Side>,
    /// Valve.
    pub valve: Option<Valve>,
    /// Head, where the engine has several: of what is not a valve's.
    pub head: Option<Head>,
    /// The kind of bolt that a question is about.
    pub bolts: Option<Fastener>,
}

impl Whereabouts {
    /// Whether nothing was said of a place.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.cylinder.is_none()
            && self.side.is_none()
            && self.valve.is_none()
            && self.head.is_none()
            && self.bolts.is_none()
    }
}

impl From<Position> for Whereabouts {
    fn from(position: Position) -> Self {
        Self {
            cylinder: Some(position.cylinder),
            side: Some(position.side),
            valve: position.valve,
            ..Self::default()
        }
    }
}

/// Several valves at once.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Group {
    /// Every valve of what was named.
    All,
    /// Two of them; the engine must have just two there.
    Both,
    /// From one cylinder to another.
    Range(u8, u8),
    /// Those that are not measured yet.
    Rest,
}

/// What was said, its place aside.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Meaning {
    /// A place called alone.
    Open,
    /// A part of a place, in answer to a question.
    Answer,
    /// A reading.
    Reading {
        /// What.
        quantity: Quantity,
        /// Which part, where it is not a valve or a part of one.
        part: Option<Part>,
        /// How much.
        value: Value,
        /// Unit it was said in.
        unit: LengthUnit,
        /// It began with "correction" or the like.
        fix: bool,
        /// It said "new": it is meant to follow an earlier one.
        fresh: bool,
        /// Outside the usual range.
        unusual: bool,
    },
    /// Spare shims.
    Spare {
        /// Thickness.
        size: Length,
        /// How many.
        count: u16,
        /// It began with "correction" or the like.
        fix: bool,
        /// Outside the usual range.
        unusual: bool,
    },
    /// The same clearance on several valves.
    Group(Group, Gap, LengthUnit),
    /// Another shim by steps of the series, or by a length; below zero thinner.
    ShimStep {
        /// Steps.
        steps: i8,
        /// Or by this much.
        by: Option<Length>,
    },
    /// A bolt, whose torque is still to come.
    BoltCalled(Part),
    /// Something looked at.
    Check {
        /// Of the open valve, where none is named.
        here: bool,
        /// What, by its key, and how many; one after the other.
        items: Vec<(String, Option<u16>)>,
        /// As it should be.
        good: bool,
    },
    /// A part of a valve was replaced or worked on.
    Repaired {
        /// What was done.
        work: Repair,
        /// What was read of it in the same breath.
        reading: Option<Box<Meaning>>,
    },
    /// Whose machine it is and the like.
    About {
        /// What is told.
        what: About,
        /// In words.
        text: String,
    },
    /// Something to be done later.
    Task {
        /// What kind, by its key.
        kind: String,
        /// In words.
        text: String,
        /// It may have been said to anybody.
        unsure: bool,
    },
    /// A task is done: the one with these words.
    Tick(String),
    /// A stage of the job, by its key.
    Stage {
        /// Which.
        stage: String,
        /// Finished.
        done: bool,
    },
    /// A note.
    Note(String),
    /// What is seen at a valve, in words: a note of the one that is named, or was named last.
    Seen(String),
    /// Several readings, or several sizes of spares, in one breath.
    Several(Vec<Said>),
    /// "What if I cut that much?" Nothing is stored.
    WhatIfCut(Length),
    /// "When is the next check?" What was told of it is read back.
    AskedAbout(About),
    /// "What's the limit on seat width?"
    LimitOf(Quantity),
    /// A command.
    Command(Command),
}

/// A meaning and its place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Said {
    /// Where.
    pub place: Whereabouts,
    /// What.
    pub meaning: Meaning,
}

impl Said {
    /// Whether it names at least a cylinder and a side.
    pub(super) const fn is_placed(&self) -> bool {
        self.place.cylinder.is_some() && self.place.side.is_some()
    }
}

/// What a text means in a job.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Heard {
    /// One meaning.
    Accepted(Said),
    /// Several meanings: to be asked.
    Ambiguous(Vec<Said>),
    /// Understood, and it cannot be.
    Refused(Refusal),
    /// No phrase of the bench.
    Nothing,
}
