//! Something in the readings that the person should know of. Its words are made when they are asked
//! for: a log that is folded again makes none.

use crate::engine::clearance::interval::{GapError, Interval};
use crate::event::Position;
use crate::measure::{Length, LengthUnit};

/// One reading against another, or against what can be.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Conflict {
    /// At which valve.
    pub position: Option<Position>,
    /// The event that counts, or that was left out.
    pub event: u64,
    /// Which of its facts.
    pub fact: usize,
    /// What disagrees.
    pub what: Clash,
}

/// What disagrees.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Clash {
    /// Another clearance was read with the same shim.
    Clearance {
        /// Before.
        before: Result<Interval, GapError>,
        /// What holds.
        now: Result<Interval, GapError>,
    },
    /// A clearance cannot be as it was said.
    Impossible(GapError),
    /// Another shim was read before the valve was measured.
    Shim {
        /// Before.
        before: Length,
        /// What holds.
        now: Length,
    },
    /// The spares of a size were counted again.
    Spares {
        /// The size.
        size: Length,
        /// Before.
        before: i32,
        /// What holds.
        now: i32,
    },
    /// A shim without thickness was left out.
    NoThickness,
    /// A reading of a valve that the engine has not was left out.
    NoSuchValve,
}

impl Conflict {
    /// In a sentence, lengths in the job's unit.
    #[must_use]
    pub fn words(&self, unit: LengthUnit) -> String {
        let gap = |of: Result<Interval, GapError>| {
            of.map_or_else(|error| error.to_string(), |interval| interval.show(unit))
        };
        let place = self.position.map(|p| format!("{p}: ")).unwrap_or_default();
        match (self.what, self.position) {
            (Clash::Clearance { before, now }, _) => format!(
                "{place}{} before, {} now; the last holds.",
                gap(before),
                gap(now)
            ),
            (Clash::Impossible(error), _) => format!("{place}{error}."),
            (Clash::Shim { before, now }, _) => format!(
                "{place}shim {} before, {} now; the last holds.",
                before.show(unit),
                now.show(unit)
            ),
            (Clash::Spares { size, before, now }, _) => format!(
                "{} shims: {before} before, {now} now; the last count holds.",
                size.show(unit)
            ),
            (Clash::NoThickness, Some(_)) => {
                format!("{place}a shim is thicker than zero; left out.")
            }
            (Clash::NoThickness, None) => "A spare shim is thicker than zero; left out.".to_owned(),
            (Clash::NoSuchValve, position) => {
                let valve = position.map(|p| p.to_string()).unwrap_or_default();
                format!("The engine has no {valve}; left out.")
            }
        }
    }
}
