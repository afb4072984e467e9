//! What a fact can be asked for by.

use crate::engine::Log;
use crate::event::{About, Fact, Head, NewRound, Part, Position, Reading, Repair};
use crate::measure::{Length, Quantity};

/// A question that facts are filed under. Most facts answer several.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Kind {
    /// Any reading.
    Reading,
    /// Readings of the same quantity at the same valve, part and head.
    Like(Quantity, Option<Position>, Option<Part>, Option<Head>),
    /// Readings of a valve, of whatever part of it.
    At(Position, Quantity),
    /// Repairs of a valve.
    Repair(Position),
    /// Beginnings of rounds.
    Round,
    /// Any spares.
    Spares,
    /// Spares of a size.
    SpareOf(Length),
    /// Something looked at, by its key, valve and head.
    Checked(String, Option<Position>, Option<Head>),
    /// The engine's profile, from the beginning or from then on.
    Profile,
    /// Whose machine it is and the like.
    About(About),
    /// Tasks.
    Task,
    /// The task of that event is done.
    Ticked(u64),
    /// Any stage.
    Stage,
    /// A stage by its key.
    StageOf(String),
    /// A stage was begun, by its key.
    Begun(String),
    /// Notes of any kind.
    Note,
    /// The beginnings, sentences and ends of long notes.
    LongNote,
    /// A valve was opened.
    Opened,
    /// What "disregard" can take back.
    Undoable,
    /// What says something of the work.
    Done,
    /// What the bench folds together.
    Bench(Log),
}

impl Kind {
    /// What a reading is filed under beside the readings that it follows or corrects.
    #[must_use]
    pub fn like(reading: &Reading) -> Self {
        let part = reading.part.map(Part::plain);
        Self::Like(reading.quantity, reading.position, part, reading.head)
    }

    /// Everything that a fact is filed under.
    pub(super) fn of(fact: &Fact) -> Vec<Self> {
        let mut kinds = match fact {
            Fact::Read(reading) => {
                let mut kinds = vec![Self::Reading, Self::like(reading), Self::Done];
                kinds.extend(reading.position.map(|p| Self::At(p, reading.quantity)));
                kinds
            }
            Fact::Spare { size_nm, .. } => {
                let size = Self::SpareOf(*size_nm);
                vec![Self::Spares, size, Self::Done]
            }
            Fact::Checked {
                item,
                position,
                head,
                ..
            } => {
                let one = Self::Checked(item.clone(), *position, *head);
                vec![one, Self::Done]
            }
            Fact::About { what, .. } => vec![Self::About(*what)],
            Fact::Task { .. } => vec![Self::Task],
            Fact::Ticked(id) => vec![Self::Ticked(*id)],
            Fact::Stage { stage, done } => {
                let begun = (!done).then(|| Self::Begun(stage.clone()));
                let mut kinds = vec![Self::Stage, Self::StageOf(stage.clone())];
                kinds.extend(begun);
                kinds
            }
            Fact::Note { .. } => vec![Self::Note],
            Fact::NoteBegun(_) | Fact::NoteLine(_) | Fact::NoteEnded => {
                vec![Self::Note, Self::LongNote]
            }
            Fact::Opened(_) => vec![Self::Opened],
            Fact::Repaired { .. } | Fact::RoundBegun => vec![Self::Done],
            Fact::Begun { .. } | Fact::ProfileChanged { .. } => vec![Self::Profile],
            Fact::Cancelled(_)
            | Fact::OpenedHead(_)
            | Fact::ShimFrom { .. }
            | Fact::Asked(_)
            | Fact::Closed
            | Fact::StandBy
            | Fact::Listening
            | Fact::Reviewed { .. }
            | Fact::Forgot { .. } => Vec::new(),
        };
        kinds.extend(Repair::of(fact).map(|(position, _)| Self::Repair(position)));
        let begins_round = NewRound::of(fact).is_some();
        kinds.extend(begins_round.then_some(Self::Round));
        kinds.extend((begins_round || fact.is_entry()).then_some(Self::Undoable));
        kinds.extend(Log::of(fact).map(Self::Bench));
        kinds
    }
}
