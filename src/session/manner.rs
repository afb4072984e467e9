//! How the tool is to speak and to wait, as the person has asked for it.

use crate::grammar::Command;

/// How the tool speaks and waits. It follows from the events like everything else, so it is the same
/// after a restart.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Manner {
    /// Readings are read back in their long form.
    pub full_read_back: bool,
    /// The person speaks slowly: a silence ends an utterance later.
    pub patient: bool,
    pace: i8,
    loudness: i8,
}

impl Manner {
    /// Takes in a command; most change nothing.
    pub(super) fn apply(&mut self, command: Command) {
        match command {
            Command::FullReadBack => self.full_read_back = true,
            Command::ShortReadBack => self.full_read_back = false,
            Command::GiveMeTime => self.patient = true,
            Command::NormalPace => (self.patient, self.pace) = (false, 0),
            Command::Slower => self.pace = (self.pace - 1).max(-2),
            Command::Faster => self.pace = (self.pace + 1).min(1),
            Command::Louder => self.loudness = (self.loudness + 1).min(2),
            Command::Quieter => self.loudness = (self.loudness - 1).max(-2),
            _ => {}
        }
    }

    /// The pace of the voice in percent of its usual one. Steps by ear.
    #[must_use]
    pub const fn pace_percent(&self) -> u32 {
        match self.pace {
            ..=-2 => 65,
            -1 => 80,
            0 => 100,
            1.. => 115,
        }
    }

    /// How much louder than usual the voice is, in decibels. Steps by ear.
    #[must_use]
    pub const fn gain_db(&self) -> i8 {
        self.loudness * 4
    }

    /// How long a silence is waited for, in percent of the usual wait.
    #[must_use]
    pub const fn patience_percent(&self) -> u32 {
        if self.patient { 200 } else { 100 }
    }
}
