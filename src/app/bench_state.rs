//! What the bench does just now: the one state that every face shows.

use serde::Serialize;
use std::time::{Duration, Instant};

/// A microphone that has brought nothing for so long is not there. A driver brings sound every few
/// hundredths of a second, and even a quiet room is not exactly silent.
const NO_SOUND: Duration = Duration::from_secs(2);

/// What the bench does.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BenchState {
    /// Nothing has come yet.
    Starting,
    /// No sound arrives: nobody is heard.
    NoMicrophone,
    /// The voice sounds.
    Speaking,
    /// Only "listen" counts.
    StandBy,
    /// The talk key is not pressed.
    KeyNotPressed,
    /// A question waits for its answer.
    Asking,
    /// Sound arrives and is heard.
    Listening,
    /// Listening has ended because the disk is full.
    DiskFull,
    /// Listening has ended.
    Ended,
}

/// The state, and what belongs to it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct BenchNow {
    /// What it does.
    pub state: BenchState,
    /// Trouble that lasts, in words; empty if there is none.
    pub trouble: String,
    /// A key must be pressed before anything is heard.
    pub push_to_talk: bool,
}

impl BenchNow {
    /// Before anything has come.
    pub(crate) const STARTING: Self = Self {
        state: BenchState::Starting,
        trouble: String::new(),
        push_to_talk: false,
    };
}

/// Whether a microphone brings sound. Exact silence is none: a phone that has not joined, a switch
/// on the microphone, a sound server that is gone.
#[derive(Debug)]
pub(crate) struct Arrival {
    begun: Instant,
    last: Option<Instant>,
}

impl Arrival {
    pub(crate) fn new() -> Self {
        Self {
            begun: Instant::now(),
            last: None,
        }
    }

    /// Takes in what came.
    pub(crate) fn take(&mut self, samples: &[f32]) {
        if samples.iter().any(|s| *s != 0.0) {
            self.last = Some(Instant::now());
        }
    }

    /// Nothing was read for a while, because the program was busy: what had arrived until then
    /// counts as arriving still.
    pub(crate) fn pause(&mut self, begun: Instant) {
        let arrived = |last: &Instant| begun.saturating_duration_since(*last) < NO_SOUND;
        if self.last.as_ref().is_some_and(arrived) {
            self.last = Some(Instant::now());
        }
    }

    /// Whether sound arrives; `None` if that cannot be told yet.
    pub(crate) fn is_there(&self) -> Option<bool> {
        match self.last {
            Some(last) => Some(last.elapsed() < NO_SOUND),
            None => (self.begun.elapsed() >= NO_SOUND).then_some(false),
        }
    }
}
