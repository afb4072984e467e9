//! What is written of a job beside its readings: whose machine it is, and who worked on it.

use serde::{Deserialize, Serialize};

/// What a line of it tells.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum About {
    Owner,
    Machine,
    FrameNumber,
    EngineNumber,
    Mileage,
    WorkedBy,
    NextCheck,
}

impl About {
    /// Everything that can be told, in the order of a report.
    pub(crate) const ALL: [Self; 7] = [
        Self::Owner,
        Self::Machine,
        Self::FrameNumber,
        Self::EngineNumber,
        Self::Mileage,
        Self::WorkedBy,
        Self::NextCheck,
    ];

    /// Its name in JSON and in grammar files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Owner => "owner",
            Self::Machine => "machine",
            Self::FrameNumber => "frame_number",
            Self::EngineNumber => "engine_number",
            Self::Mileage => "mileage",
            Self::WorkedBy => "worked_by",
            Self::NextCheck => "next_check",
        }
    }

    /// By that name.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|about| about.key() == key)
    }

    /// Whether it is a number that is spelled: letters and figures, one by one.
    #[must_use]
    pub(crate) const fn is_spelled(self) -> bool {
        matches!(
            self,
            Self::FrameNumber | Self::EngineNumber | Self::Mileage | Self::NextCheck
        )
    }
}
