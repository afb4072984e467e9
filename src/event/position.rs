//! Where a reading was taken: cylinder, side and valve.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Inlet or exhaust.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Inlet, "intake" to some.
    Inlet,
    /// Exhaust.
    Exhaust,
}

/// Which of several valves on one side of a cylinder.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Valve {
    Left,
    Middle,
    Right,
    Front,
    Rear,
    Inner,
    Outer,
}

/// A valve of the engine, or as much of one as was said.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
pub struct Position {
    /// Cylinder, counted as the engine's profile says, from 1.
    pub cylinder: u8,
    /// Side.
    pub side: Side,
    /// Which valve of that side; `None` where the side has one.
    pub valve: Option<Valve>,
}

impl Position {
    /// Before every valve of any engine, in the order of positions.
    pub(crate) const FIRST: Self = Self {
        cylinder: 0,
        side: Side::Inlet,
        valve: None,
    };
}

impl Side {
    /// The key written in JSON and in the store.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Inlet => "inlet",
            Self::Exhaust => "exhaust",
        }
    }
}

impl Valve {
    /// The key written in JSON and in the store.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Middle => "middle",
            Self::Right => "right",
            Self::Front => "front",
            Self::Rear => "rear",
            Self::Inner => "inner",
            Self::Outer => "outer",
        }
    }

    /// The valve of a key.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Self> {
        [
            Self::Left,
            Self::Middle,
            Self::Right,
            Self::Front,
            Self::Rear,
            Self::Inner,
            Self::Outer,
        ]
        .into_iter()
        .find(|v| v.key() == key)
    }
}

impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.cylinder, self.side.key())?;
        self.valve.map_or(Ok(()), |v| write!(f, " {}", v.key()))
    }
}
