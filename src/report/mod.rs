//! The record of a job: what was measured, changed and noted, as HTML, CSV and JSON.
//!
//! The schema of the JSON and the columns of the CSV stand in `README.md` beside this file.

mod compare;
mod csv;
mod front;
mod gather;
mod json;
mod looks;
mod page;
mod plot;
#[cfg(test)]
mod tests;
mod utterance;
mod words;

pub(crate) use compare::Compared;
pub(crate) use json::Sounds;
pub use json::{read, write};
pub use utterance::Line;
pub(crate) use utterance::Timing;
pub(crate) use words::{
    fact as fact_words, facts as facts_words, finding_words, item_words, value as value_words,
    verdict_words,
};

use crate::engine::{Band, InRound, Interval, Profile, Round, ShimPlan, Verdict};
use crate::event::Position;
use crate::measure::{Length, LengthUnit};
use crate::record::JobView;
use jiff::tz::TimeZone;
use serde::Serialize;

/// The version of the JSON that is written.
pub const SCHEMA_VERSION: u64 = 1;

/// Why a report cannot be read or compared.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Not JSON.
    #[error(
        "this is not a report (it is not JSON at line {line}, column {column}); expected what `report --json` writes"
    )]
    Json {
        /// Where, counted from 1.
        line: usize,
        /// Where in it, counted from 1; 0 before its first character.
        column: usize,
    },
    /// JSON, but not a report.
    #[error("this is not a report ({0}); expected what `report --json` writes")]
    Shape(String),
    /// Written by later software.
    #[error("its schema {found} is newer than {SCHEMA_VERSION}, the newest known here")]
    TooNew {
        /// The version found.
        found: u64,
    },
    /// A sound in it is not what its name says.
    #[error("the sound {0} in it is damaged")]
    Sound(String),
    /// Two engines.
    #[error(
        "{before} and {now} are different engines: only reports of one engine can stand side by side"
    )]
    Engines {
        /// Key of the earlier one.
        before: String,
        /// Key of the later one.
        now: String,
    },
}

impl From<serde_json::Error> for Error {
    fn from(error: serde_json::Error) -> Self {
        Self::Json {
            line: error.line(),
            column: error.column(),
        }
    }
}

/// What a report is made from.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// The engine.
    pub profile: &'a Profile,
    /// The job's unit.
    pub unit: LengthUnit,
    /// Feeler blades owned.
    pub blades: &'a [Length],
    /// The job as it stands.
    pub view: &'a JobView,
    /// Name and version of the program.
    pub software: &'a str,
    /// Now, in milliseconds since 1970 UTC.
    pub made_at_ms: i64,
}

/// The engine of a report.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Engine {
    /// Key of its profile.
    pub key: String,
    /// Its name.
    pub name: String,
    /// What to know about it.
    pub note: String,
    /// Where its numbers come from.
    pub source: String,
    /// Which end is one.
    pub numbering: String,
    /// How many cylinders.
    pub cylinders: u8,
}

/// A clearance with the shim it was measured with.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
pub struct Measured {
    /// The event.
    pub event: Option<u64>,
    /// From the largest blade that goes to the smallest that does not.
    pub clearance: Interval,
    /// The shim that was in.
    pub shim_nm: Option<Length>,
}

/// One valve.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Valve {
    /// Which.
    pub position: Position,
    /// Ends of the check band.
    #[serde(serialize_with = "ends")]
    pub check_nm: Band,
    /// Ends of the set band.
    #[serde(serialize_with = "ends")]
    pub set_nm: Band,
    /// Target.
    pub target_nm: Length,
    /// As found, before anything was changed; the last reading of that round.
    pub before: Option<Measured>,
    /// The last reading since.
    pub after: Option<Measured>,
    /// What it showed in each round, oldest first.
    pub rounds: Vec<InRound>,
    /// The shim that is in now.
    pub shim_nm: Option<Length>,
    /// What that shim should give, where it was not measured with yet.
    pub expected: Option<Interval>,
    /// Verdict.
    pub verdict: Verdict,
    /// Why.
    pub reason: String,
    /// In band or out of it by less than the uncertainty of the reading: measure once more.
    pub near_limit: bool,
    /// The reading is of one blade alone.
    pub single: bool,
}

/// A shim that was changed.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Fitted {
    /// At which valve.
    pub position: Position,
    /// Event that named the new one.
    pub event: u64,
    /// Out.
    pub old_nm: Length,
    /// In.
    pub new_nm: Length,
}

/// So many shims of a size.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Lot {
    /// Thickness.
    pub size_nm: Length,
    /// How many.
    pub count: u32,
}

/// Any other reading, with what the profile says to it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Check {
    /// The event.
    pub event: u64,
    /// When, in milliseconds since 1970 UTC.
    pub at_ms: i64,
    /// At which valve.
    pub position: Option<Position>,
    /// Of which part, where it is not a valve or a part of one.
    pub part: Option<String>,
    /// What, in snake case.
    pub quantity: &'static str,
    /// The value with its unit.
    pub value: String,
    /// The clip's SHA-256.
    pub clip: Option<String>,
    /// The repair since which it tells nothing.
    pub replaced: Option<&'static str>,
}

/// Something that was replaced or worked on.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Repaired {
    /// The event.
    pub event: u64,
    /// At which valve.
    pub position: Position,
    /// What was done, in snake case.
    pub work: &'static str,
}

/// A line about the machine, its owner or who worked on it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Told {
    /// What, in snake case.
    pub what: &'static str,
    /// In words.
    pub text: String,
    /// A distance or hours as a number, and their unit: `km`, `miles` or `h`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reached: Option<(u32, &'static str)>,
}

/// A note.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Note {
    /// The event.
    pub event: u64,
    /// When, in milliseconds since 1970 UTC.
    pub at_ms: i64,
    /// On which valve.
    pub position: Option<Position>,
    /// Its words as heard.
    pub text: String,
    /// The clip's SHA-256.
    pub clip: Option<String>,
}

/// Something that was changed afterwards.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Correction {
    /// The event that changed it.
    pub event: u64,
    /// When, in milliseconds since 1970 UTC.
    pub at_ms: i64,
    /// The event that was changed.
    pub of: u64,
    /// What it was.
    pub was: String,
    /// What it is now; empty for nothing.
    pub now: String,
    /// How: `spoken` or `review`.
    pub how: &'static str,
}

/// How many utterances came to what.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize)]
pub struct Utterances {
    /// All.
    pub total: usize,
    /// Stored, commands too.
    pub stored: usize,
    /// Asked.
    pub asked: usize,
    /// Refused.
    pub refused: usize,
    /// Ignored.
    pub ignored: usize,
    /// With a clip in which sound was lost.
    pub with_lost_sound: usize,
}

/// Which software heard and understood.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Versions {
    /// The program that made the report.
    pub software: String,
    /// Recognisers: first 16 hex digits of each model file's SHA-256.
    pub models: Vec<String>,
    /// Hashes of the grammars.
    pub grammars: Vec<String>,
}

/// The whole record.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Report {
    /// [`SCHEMA_VERSION`].
    pub report: u64,
    /// What is wrong with the job, if not all of it is in this record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub damage: Option<String>,
    /// When it was made, in milliseconds since 1970 UTC.
    pub made_at_ms: i64,
    /// First and last event, in milliseconds since 1970 UTC.
    pub worked_ms: [i64; 2],
    /// The engine.
    pub engine: Engine,
    /// Whose machine it is, and who worked on it.
    pub about: Vec<Told>,
    /// When the clearances are to be checked again, in a sentence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_check: Option<String>,
    /// The round of measuring that the job is in.
    pub round: Round,
    /// The job's unit.
    pub unit: LengthUnit,
    /// Feeler blades owned, smallest first.
    pub blades_nm: Vec<Length>,
    /// Every valve, in the order of the engine.
    pub valves: Vec<Valve>,
    /// Readings that overturned others, and what the room did to them.
    pub remarks: Vec<String>,
    /// Shims that were changed.
    pub fitted: Vec<Fitted>,
    /// What was replaced or worked on.
    pub repaired: Vec<Repaired>,
    /// Shims that came from outside: fitted, and neither in the box nor in the head before.
    pub bought: Vec<Lot>,
    /// Shims left in the box.
    pub spare: Vec<Lot>,
    /// What is still to be done with the shims.
    pub plan: ShimPlan,
    /// Torques, angles, timing, and all other readings.
    pub checks: Vec<Check>,
    /// What the inspection comes to, each figure with its verdict and the source of its limit.
    pub findings: Vec<crate::engine::Item>,
    /// What was looked at, in words; what is not as it should be comes first.
    pub looked_at: Vec<String>,
    /// What of it is not as it should be.
    pub faults: Vec<String>,
    /// The stages of the job, in words, as they were begun.
    pub stages: Vec<String>,
    /// What is still to be done, in words.
    pub open: Vec<String>,
    /// Notes.
    pub notes: Vec<Note>,
    /// Corrections.
    pub corrections: Vec<Correction>,
    /// Counts.
    pub utterances: Utterances,
    /// Versions.
    pub versions: Versions,
    /// What to mind.
    pub cautions: Vec<&'static str>,
}

/// What stands under every report.
pub const CAUTIONS: [&str; 5] = [
    "Bands, targets, torques and sequences belong to the maker's manual of this very engine; if it and this record differ, the manual is right.",
    "Before the cover goes on: two full turns by hand, stop at any resistance, and measure every valve again.",
    "A feeler reading is an interval: the largest blade that goes and the smallest that does not. One value alone reaches to the next blade owned.",
    "A voice heard wrongly and confirmed by habit looks like any other reading: listen to the clips of what matters.",
    "\"No gap\" is a bound, not zero: the valve may be held open.",
];

impl Report {
    /// Gathers the record of a job.
    #[must_use]
    pub fn of(source: &Source<'_>) -> Self {
        gather::gather(source)
    }

    /// The record as one self-contained HTML page with its times in that zone; with `before`, how
    /// each clearance moved since.
    #[must_use]
    pub fn html(&self, before: Option<&Compared>, zone: &TimeZone) -> String {
        page::page(self, before, zone)
    }

    /// One line a valve, as CSV (RFC 4180) with a heading, in the job's unit.
    #[must_use]
    pub fn csv(&self) -> String {
        csv::csv(self)
    }
}

impl Valve {
    /// The last measured clearance.
    #[must_use]
    pub fn last(&self) -> Option<Measured> {
        self.after.or(self.before)
    }

    /// Outside its check band, as it is now.
    fn is_out(&self) -> bool {
        matches!(
            self.verdict,
            Verdict::Tight | Verdict::Loose | Verdict::NoGap
        )
    }

    /// Measured, but not so that it can be left alone.
    fn is_to_watch(&self) -> bool {
        let unclear = matches!(
            self.verdict,
            Verdict::OnTheLimit | Verdict::Open | Verdict::Contradictory | Verdict::Refitted
        );
        unclear || self.verdict == Verdict::InBand && self.near_limit
    }

    /// Its verdict before another shim was fitted; none if it was not measured then.
    fn as_found(&self, blades: &[Length]) -> Option<Verdict> {
        let before = self.before?.clearance;
        let to_measure = self.verdict.is_to_measure();
        if self.after.is_none() && !to_measure {
            return Some(self.verdict);
        }
        Some(before.verdict(self.check_nm, blades))
    }
}

fn ends<S: serde::Serializer>(band: &Band, to: S) -> Result<S::Ok, S::Error> {
    [band.low, band.high].serialize(to)
}
