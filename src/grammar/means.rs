//! What phrases are for: the `means` of the grammar files, and the commands among them.

use serde::de::{Deserialize, Deserializer, Error};

/// What a phrase of the grammar is for; the `means` of its file.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[allow(missing_docs)]
pub enum Means {
    Clearance,
    ShimFitted,
    ShimSpare,
    Measure,
    Check,
    Repaired,
    About,
    Task,
    Ticked,
    StageBegun,
    StageDone,
    Group,
    ShimStep,
    Open,
    Answer,
    Note,
    WhatIfCut,
    AskedAbout,
    LimitOf,
    /// It carries no reading, place or note of its own.
    Command(Command),
}

/// A command, named as it is written in JSON.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[allow(missing_docs)]
pub enum Command {
    MeasureBegun,
    NoteBegun,
    NoteEnded,
    Unclear,
    WhichPlace,
    WhichBlade,
    SayAgain,
    Correction,
    Disregard,
    Affirm,
    Negative,
    Roger,
    StandBy,
    Listen,
    Next,
    WhatsNext,
    ReadBack,
    HowManyLeft,
    WhatsTight,
    WhichShim,
    SameAgain,
    Back,
    Hold,
    WhatsOpen,
    WhereAmI,
    HowManyPins,
    WhereToTurn,
    FullReadBack,
    ShortReadBack,
    GiveMeTime,
    NormalPace,
    Slower,
    Faster,
    Louder,
    Quieter,
    StopTalking,
    WhatsLoose,
    WhatsOut,
    IsItIn,
    Plan,
    ToBuy,
    InTheBox,
    ShimIn,
    Target,
    Band,
    Limit,
    WhatTorque,
    NextBolt,
    HowMuchCut,
    DisregardTwo,
    DisregardIfMeant,
    SecondRound,
    Help,
    ReadAgain,
    Changed,
    PartOfNote,
    AQuestion,
    Swapped,
    /// What was read, or is asked, belongs elsewhere.
    Moved,
    Tightest,
    Loosest,
    ReadAll,
    Fitted,
    CompressionRatio,
    /// One of the choices of the question that waits, by a word of it.
    Choice,
}

impl Command {
    /// Whether it answers the question that waits, and so leaves none behind.
    #[must_use]
    pub const fn is_an_answer(self) -> bool {
        matches!(
            self,
            Self::Affirm
                | Self::Negative
                | Self::Disregard
                | Self::DisregardIfMeant
                | Self::ReadAgain
                | Self::Changed
                | Self::PartOfNote
                | Self::AQuestion
                | Self::Choice
                | Self::Moved
        )
    }

    /// Whether a person asks something of the tool, and stores nothing by it.
    #[must_use]
    pub const fn is_a_question(self) -> bool {
        matches!(
            self,
            Self::WhatsNext
                | Self::ReadBack
                | Self::HowManyLeft
                | Self::WhatsTight
                | Self::WhatsLoose
                | Self::WhatsOut
                | Self::IsItIn
                | Self::WhichShim
                | Self::ShimIn
                | Self::WhatsOpen
                | Self::WhereAmI
                | Self::HowManyPins
                | Self::WhereToTurn
                | Self::Plan
                | Self::ToBuy
                | Self::InTheBox
                | Self::Target
                | Self::Band
                | Self::Limit
                | Self::WhatTorque
                | Self::NextBolt
                | Self::HowMuchCut
                | Self::Tightest
                | Self::Loosest
                | Self::ReadAll
                | Self::CompressionRatio
                | Self::Help
        )
    }
}

/// Names in the grammar files and in JSON; `or` those of another kind that it may hold.
macro_rules! keyed {
    ($kind:ident { $($variant:ident = $key:literal),+ $(,)? } $(or $other:ident)?) => {
        impl $kind {
            const KEYS: &[&str] = &[$($key),+];

            /// Its name in the grammar files and in JSON.
            #[must_use]
            pub const fn key(self) -> &'static str {
                match self {
                    $(Self::$variant => $key,)+
                    $(Self::$other(other) => other.key(),)?
                }
            }

            /// The one of that name.
            #[must_use]
            pub fn from_key(key: &str) -> Option<Self> {
                match key {
                    $($key => Some(Self::$variant),)+
                    _ => None$(.or($other::from_key(key).map(Self::$other)))?,
                }
            }
        }
    };
}

keyed!(Means {
    Clearance = "clearance",
    ShimFitted = "shim_fitted",
    ShimSpare = "shim_spare",
    Measure = "measure",
    Check = "check",
    Repaired = "repaired",
    About = "about",
    Task = "task",
    Ticked = "ticked",
    StageBegun = "stage_begun",
    StageDone = "stage_done",
    Group = "group",
    ShimStep = "shim_step",
    Open = "open",
    Answer = "answer",
    Note = "note",
    WhatIfCut = "what_if_cut",
    AskedAbout = "asked_about",
    LimitOf = "limit_of",
} or Command);
keyed!(Command {
    MeasureBegun = "measure_begun",
    NoteBegun = "note_begun",
    NoteEnded = "note_ended",
    Unclear = "unclear",
    WhichPlace = "which_place",
    WhichBlade = "which_blade",
    SayAgain = "say_again",
    Correction = "correction",
    Disregard = "disregard",
    Affirm = "affirm",
    Negative = "negative",
    Roger = "roger",
    StandBy = "stand_by",
    Listen = "listen",
    Next = "next",
    WhatsNext = "whats_next",
    ReadBack = "read_back",
    HowManyLeft = "how_many_left",
    WhatsTight = "whats_tight",
    WhichShim = "which_shim",
    SameAgain = "same_again",
    Back = "back",
    Hold = "hold",
    WhatsOpen = "whats_open",
    WhereAmI = "where_am_i",
    HowManyPins = "how_many_pins",
    WhereToTurn = "where_to_turn",
    FullReadBack = "full_read_back",
    ShortReadBack = "short_read_back",
    GiveMeTime = "give_me_time",
    NormalPace = "normal_pace",
    Slower = "slower",
    Faster = "faster",
    Louder = "louder",
    Quieter = "quieter",
    StopTalking = "stop_talking",
    WhatsLoose = "whats_loose",
    WhatsOut = "whats_out",
    IsItIn = "is_it_in",
    Plan = "plan",
    ToBuy = "to_buy",
    InTheBox = "in_the_box",
    ShimIn = "shim_in",
    Target = "target",
    Band = "band",
    Limit = "limit",
    WhatTorque = "what_torque",
    NextBolt = "next_bolt",
    HowMuchCut = "how_much_cut",
    DisregardTwo = "disregard_two",
    DisregardIfMeant = "disregard_if_meant",
    SecondRound = "second_round",
    Help = "help",
    ReadAgain = "read_again",
    Changed = "changed",
    PartOfNote = "part_of_note",
    AQuestion = "a_question",
    Swapped = "swapped",
    Moved = "moved",
    Tightest = "tightest",
    Loosest = "loosest",
    ReadAll = "read_all",
    Fitted = "fitted",
    CompressionRatio = "compression_ratio",
    Choice = "choice",
});

impl<'de> Deserialize<'de> for Means {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let key = String::deserialize(from)?;
        Self::from_key(&key).ok_or_else(|| {
            let known = [Self::KEYS, Command::KEYS].concat().join("`, `");
            D::Error::custom(format!(
                "no phrase means `{key}`: expected one of `{known}`"
            ))
        })
    }
}
