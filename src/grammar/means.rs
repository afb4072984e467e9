//! What phrases are for: the `means` of the grammar files, and their names in JSON.

use serde::{Deserialize, Serialize};

/// What a phrase of the grammar is for; the `means` of its file.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Means {
    Clearance,
    ShimFitted,
    ShimSpare,
    Measure,
    MeasureBegun,
    Check,
    Task,
    StageBegun,
    StageDone,
    Group,
    ShimStep,
    Moved,
    Unclear,
    WhichPlace,
    Open,
    Answer,
    Note,
    NoteBegun,
    NoteEnded,
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
    Ticked,
    Back,
    Hold,
    WhatsOpen,
    WhereAmI,
    HowManyPins,
    WhereToTurn,
}

/// A command, named as it is written in JSON.
pub type Command = Means;

impl Means {
    /// Its name in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Clearance => "clearance",
            Self::ShimFitted => "shim_fitted",
            Self::ShimSpare => "shim_spare",
            Self::Measure => "measure",
            Self::MeasureBegun => "measure_begun",
            Self::Check => "check",
            Self::Task => "task",
            Self::StageBegun => "stage_begun",
            Self::StageDone => "stage_done",
            Self::Group => "group",
            Self::ShimStep => "shim_step",
            Self::Moved => "moved",
            Self::Unclear => "unclear",
            Self::WhichPlace => "which_place",
            Self::Back => "back",
            Self::Hold => "hold",
            Self::Open => "open",
            Self::Answer => "answer",
            Self::Note => "note",
            Self::NoteBegun => "note_begun",
            Self::NoteEnded => "note_ended",
            Self::SayAgain => "say_again",
            Self::Correction => "correction",
            Self::Disregard => "disregard",
            Self::Affirm => "affirm",
            Self::Negative => "negative",
            Self::Roger => "roger",
            Self::StandBy => "stand_by",
            Self::Listen => "listen",
            Self::Next => "next",
            Self::WhatsNext => "whats_next",
            Self::ReadBack => "read_back",
            Self::HowManyLeft => "how_many_left",
            Self::WhatsTight => "whats_tight",
            Self::WhichShim => "which_shim",
            Self::SameAgain => "same_again",
            Self::Ticked => "ticked",
            Self::WhatsOpen => "whats_open",
            Self::WhereAmI => "where_am_i",
            Self::HowManyPins => "how_many_pins",
            Self::WhereToTurn => "where_to_turn",
        }
    }
}
