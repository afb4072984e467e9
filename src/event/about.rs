//! What is written of a job beside its readings: whose machine it is, and who worked on it.

use serde::{Deserialize, Serialize};
use std::fmt;

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

    /// Whether it is told by a distance or by hours.
    #[must_use]
    pub(crate) const fn is_reached(self) -> bool {
        matches!(self, Self::Mileage | Self::NextCheck)
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

/// How far it is to the next check, by what was told; `None` if it is not known, or in other units.
#[must_use]
pub(crate) fn until_next_check(told: &[(About, &str)]) -> Option<Reached> {
    let of = |wanted: About| {
        let (_, text) = told.iter().find(|(what, _)| *what == wanted)?;
        Reached::parse(text)
    };
    let (due, run) = (of(About::NextCheck)?, of(About::Mileage)?);
    let count = due.count.checked_sub(run.count)?;
    (due.unit == run.unit).then_some(Reached { count, ..due })
}

/// How far a machine has run, or is to run: a mileage, or hours of running.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Reached {
    /// How much.
    pub(crate) count: u32,
    /// Of what: `km`, `miles` or `h`.
    pub(crate) unit: &'static str,
}

impl Reached {
    /// Other ways to write the units.
    const UNITS: [(&str, &str); 10] = [
        ("km", "km"),
        ("kilometre", "km"),
        ("kilometres", "km"),
        ("kilometers", "km"),
        ("miles", "miles"),
        ("mile", "miles"),
        ("mi", "miles"),
        ("h", "h"),
        ("hour", "h"),
        ("hours", "h"),
    ];

    /// "24 312 km", "24,312 miles", "310 h"; `None` if it is anything else.
    #[must_use]
    pub(crate) fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let letters = text.find(|c: char| c.is_ascii_alphabetic())?;
        let (figures, unit) = text.split_at(letters);
        let unit = Self::UNITS.iter().find(|(name, _)| *name == unit)?.1;
        let count = Self::figures(figures)?;
        Some(Self { count, unit })
    }

    /// "24 312" or "24,312" without its unit.
    #[must_use]
    pub(crate) fn figures(text: &str) -> Option<u32> {
        let groups = |c: char| c == ' ' || c == ',' || c == '\u{a0}';
        let digits: String = text.chars().filter(|c| !groups(*c)).collect();
        let whole = digits.bytes().all(|b| b.is_ascii_digit());
        digits.parse().ok().filter(|_| whole)
    }
}

impl fmt::Display for Reached {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.count, self.unit)
    }
}

#[cfg(test)]
mod tests {
    use super::Reached;

    #[test]
    fn a_distance_is_read_however_it_is_written() {
        let read = |text| Reached::parse(text).map(|r| r.to_string());
        for (text, expected) in [
            ("24312 km", Some("24312 km")),
            ("24 312 kilometres", Some("24312 km")),
            ("24,312miles", Some("24312 miles")),
            ("310 h", Some("310 h")),
            ("24312", None),
            ("24.5 km", None),
            ("about 300 km", None),
            ("km", None),
        ] {
            assert_eq!(read(text).as_deref(), expected, "{text}");
        }
    }
}
