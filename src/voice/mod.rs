//! The voice that reads back: a bank of recorded words, a speech program for words that the bank
//! lacks, and a silent stand-in that only notes what it was asked to say.

mod bank;
mod pace;
mod process;
#[cfg(test)]
mod silent;
mod spoken;

pub(crate) use bank::Bank;
pub(crate) use process::Process;
#[cfg(test)]
pub(crate) use silent::Silent;
pub use spoken::Spoken;

use crate::audio::{
    DecodeError, ResampleError, decode_at_own_rate, resample, to_floats, to_integers,
};
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

    /// The sound of a file of any kind, channels averaged.
    pub(crate) fn decode(bytes: &[u8], name: &str) -> Result<Self, DecodeError> {
        let (rate_hz, samples) = decode_at_own_rate(bytes, name)?;
        Ok(Self { rate_hz, samples })
    }

    /// The same sound at another rate.
    ///
    /// # Errors
    /// A rate that is not accepted.
    pub(crate) fn at_rate(&self, rate_hz: u32) -> Result<Self, ResampleError> {
        if self.rate_hz == rate_hz {
            return Ok(self.clone());
        }
        let samples = resample(&to_floats(&self.samples), self.rate_hz, rate_hz, 1)?;
        Ok(Self {
            rate_hz,
            samples: to_integers(&samples),
        })
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
    /// The sound of the bank or of the speech program cannot be read.
    #[error(transparent)]
    Sound(#[from] DecodeError),
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
    /// The speech program's sound cannot be brought to the bank's rate.
    #[error(transparent)]
    Rate(#[from] ResampleError),
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_sound_keeps_its_length_and_shape_at_another_rate() {
        let tone = |rate_hz: u32| Sound {
            rate_hz,
            samples: (0..rate_hz)
                .map(|i| {
                    ((i as f32 * 500.0 * std::f32::consts::TAU / rate_hz as f32).sin() * 9e3) as i16
                })
                .collect(),
        };
        let (from, to) = (tone(16_000).at_rate(24_000).unwrap(), tone(24_000));
        assert_eq!((from.rate_hz, from.length_ms()), (24_000, 1000));
        // Away from the ends, where the tone starts and stops.
        let middle = from
            .samples
            .iter()
            .zip(&to.samples)
            .skip(6_000)
            .take(12_000);
        let worst = middle.map(|(a, b)| a.abs_diff(*b)).max().unwrap();
        assert!(worst < 90, "{worst} of 9000");
        let error = tone(8_000).at_rate(4_000).unwrap_err().to_string();
        assert!(error.contains("4000 Hz is not accepted"), "{error}");
    }

    #[test]
    fn a_sound_without_a_rate_has_no_length() {
        assert_eq!(Sound::default().length_ms(), 0);
    }
}
