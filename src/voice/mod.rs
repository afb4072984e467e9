//! The voice that reads back: a bank of recorded words, a speech program for words that the bank
//! lacks, and a silent stand-in that only notes what it was asked to say.

mod bank;
mod pace;
mod process;
#[cfg(test)]
mod silent;
mod spoken;
mod wav;

pub(crate) use bank::Bank;
pub(crate) use process::Process;
#[cfg(test)]
pub(crate) use silent::Silent;
pub use spoken::Spoken;

use std::time::Duration;

/// Mono sound, 16-bit samples.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sound {
    /// Samples a second.
    pub rate_hz: u32,
    /// The samples, in order.
    pub samples: Vec<i16>,
}

impl Sound {
    /// How long it lasts, in whole milliseconds (0 when the rate is 0).
    #[must_use]
    pub fn length_ms(&self) -> u64 {
        (self.samples.len() as u64 * 1000)
            .checked_div(u64::from(self.rate_hz))
            .unwrap_or(0)
    }

    /// The same sound, `decibels` louder; what would go beyond the full scale is cut there.
    #[must_use]
    pub fn louder(mut self, decibels: i8) -> Self {
        let gain = 10_f32.powf(f32::from(decibels) / 20.0);
        if decibels != 0 {
            for sample in &mut self.samples {
                // `as` keeps to the full scale.
                *sample = (f32::from(*sample) * gain).round() as i16;
            }
        }
        self
    }

    /// The same sound at another rate, by straight lines between samples: good enough for speech
    /// that a program made for listening, not for a recogniser.
    #[must_use]
    pub fn at_rate(&self, rate_hz: u32) -> Self {
        let (from, to) = (u64::from(self.rate_hz), u64::from(rate_hz));
        if from == to || from == 0 || to == 0 || self.samples.is_empty() {
            return Self {
                rate_hz,
                samples: self.samples.clone(),
            };
        }
        let last = self.samples.len() - 1;
        let count = self.samples.len() as u64 * to / from;
        let samples = (0..count).map(|i| {
            let place = i * from;
            let index = usize::try_from(place / to).unwrap_or(last).min(last);
            let next = (index + 1).min(last);
            let part = (place % to) as f32 / to as f32;
            let (a, b) = (
                f32::from(self.samples[index]),
                f32::from(self.samples[next]),
            );
            (a + (b - a) * part).round() as i16
        });
        Self {
            rate_hz,
            samples: samples.collect(),
        }
    }
}

/// Turns words into sound. The text is what a read-back says: words spelt out, a comma for a short
/// pause, a full stop for a longer one, and "…" for a short tone.
pub trait Voice: Send {
    /// The sound of `words`.
    ///
    /// # Errors
    /// Words that this voice cannot say, or a speech program that is absent, failed or took too long.
    fn render(&mut self, words: &str) -> Result<Sound, Error>;

    /// Speaks at `percent` of its usual pace from now on. A voice that cannot, goes on as it was.
    fn set_pace(&mut self, _percent: u32) {}
}

/// What can go wrong with the voice.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The bank's sound cannot be read.
    #[error("the word bank's sound cannot be used: {0}; expected mono 16-bit FLAC")]
    BankSound(String),
    /// A line of the bank's table cannot be used.
    #[error(
        "the word bank's table, line {line}: {what}; expected words, first sample and number of samples, parted by tabs"
    )]
    BankTable {
        /// Counted from 1.
        line: usize,
        /// What is wrong with it.
        what: String,
    },
    /// The bank lacks words and no speech program stands behind it.
    #[error("the voice has no sound for: {}", .words.join(", "))]
    Missing {
        /// Each word once, in the order met.
        words: Vec<String>,
    },
    /// The speech program cannot be started or spoken to.
    #[error(
        "the speech program `{program}` cannot be used: {source}; install it or choose another voice"
    )]
    Program {
        /// As it was called.
        program: String,
        /// The system's reason.
        source: std::io::Error,
    },
    /// The speech program ended with a failure.
    #[error("the speech program `{program}` failed ({status}): {said}")]
    Failed {
        /// As it was called.
        program: String,
        /// How it ended.
        status: std::process::ExitStatus,
        /// Its own words, shortened.
        said: String,
    },
    /// The speech program took too long and was stopped.
    #[error("the speech program `{program}` gave no sound within {} ms and was stopped", .limit.as_millis())]
    TooSlow {
        /// As it was called.
        program: String,
        /// The time it was given.
        limit: Duration,
    },
    /// The speech program's output is not usable sound.
    #[error("the speech program `{program}` gave sound that cannot be read: {what}")]
    Output {
        /// As it was called.
        program: String,
        /// What is wrong with it.
        what: String,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sound_keeps_its_length_and_shape_at_another_rate() {
        let ramp = Sound {
            rate_hz: 100,
            samples: (0..100).map(|i| i * 10).collect(),
        };
        let up = ramp.at_rate(200);
        assert_eq!(
            (up.rate_hz, up.samples.len(), up.length_ms()),
            (200, 200, 1000)
        );
        assert_eq!(up.samples[..4], [0, 5, 10, 15]);
        let down = ramp.at_rate(50);
        assert_eq!(down.samples[..3], [0, 20, 40]);
        assert_eq!(down.length_ms(), 1000);
    }

    #[test]
    fn a_sound_without_a_rate_has_no_length() {
        assert_eq!(Sound::default().length_ms(), 0);
        assert!(Sound::default().at_rate(24_000).samples.is_empty());
    }
}
