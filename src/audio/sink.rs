//! Where the readers of every kind of file put their samples, and what they refuse.

use super::{Resampler, resample::ResampleError};

/// The longest sound that is accepted, in minutes.
const MAX_MINUTES: u64 = 360;
/// What is accepted, for every message that refuses something.
const ACCEPTED: &str = "WAV (8, 16, 24, 32-bit or float), FLAC, Ogg Vorbis and MP3, 8 to 192 kHz";

/// Why a file did not become a clip. Every text names the file.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DecodeError {
    /// No byte at all.
    #[error("{name}: the file is empty; accepted are {ACCEPTED}")]
    Empty {
        /// The file as the caller named it.
        name: String,
    },
    /// The content is not a sound file of a known kind.
    #[error(
        "{name}: this is not a sound file that can be read (it begins with {begins}); accepted are {ACCEPTED}"
    )]
    NotAudio {
        /// The file as the caller named it.
        name: String,
        /// Its first bytes, made printable.
        begins: String,
    },
    /// A known kind of file, but with a coding or layout that is not supported.
    #[error("{name}: {kind} with {detail} is not supported; accepted are {ACCEPTED}")]
    Unsupported {
        /// The file as the caller named it.
        name: String,
        /// "WAV", "FLAC", …
        kind: &'static str,
        /// What it was.
        detail: String,
    },
    /// The file stops before its own header says it should.
    #[error(
        "{name}: the {kind} file is cut short: {found_ms} ms of sound are there{promised}; copy or record it again"
    )]
    Truncated {
        /// The file as the caller named it.
        name: String,
        /// "WAV", "FLAC", …
        kind: &'static str,
        /// Sound that was read, in milliseconds.
        found_ms: u64,
        /// ", N ms were promised", or nothing when the header was cut.
        promised: String,
    },
    /// The content contradicts itself.
    #[error(
        "{name}: the {kind} file is damaged after {found_ms} ms of sound ({detail}); copy or record it again"
    )]
    Corrupt {
        /// The file as the caller named it.
        name: String,
        /// "WAV", "FLAC", …
        kind: &'static str,
        /// Sound that was read before, in milliseconds.
        found_ms: u64,
        /// What the reader met.
        detail: String,
    },
    /// A valid file without one sample.
    #[error("{name}: the {kind} file holds no sound at all")]
    NoSamples {
        /// The file as the caller named it.
        name: String,
        /// "WAV", "FLAC", …
        kind: &'static str,
    },
    /// Longer than any sound that is accepted.
    #[error("{name}: longer than {MAX_MINUTES} minutes; split it and hand in the parts")]
    TooLong {
        /// The file as the caller named it.
        name: String,
    },
    /// A float file with a sample that is not a number.
    #[error(
        "{name}: at {at_ms} ms a sample is not a number or infinite; export the sound again, 16-bit WAV is safest"
    )]
    NotFinite {
        /// The file as the caller named it.
        name: String,
        /// Where, in milliseconds.
        at_ms: u64,
    },
    /// Rate or channel count out of range, or a fault of the resampler.
    #[error("{name}: {source}")]
    Resample {
        /// The file as the caller named it.
        name: String,
        /// The range.
        source: ResampleError,
    },
}

/// Mono sound: its rate in Hz and its samples, full scale ±1.
pub(super) type Mono = (u32, Vec<f32>);

/// Collects decoded samples as mono; refuses what must not come in.
pub(super) struct Sink<'a> {
    name: &'a str,
    from_hz: u32,
    to_hz: u32,
    channels: u16,
    resampler: Resampler,
    samples: Vec<f32>,
    taken: u64,
}

impl<'a> Sink<'a> {
    /// For a file of this rate; what comes out is at `to_hz`, or at the same rate.
    pub(super) fn new(
        name: &'a str,
        from_hz: u32,
        channels: u16,
        to_hz: Option<u32>,
    ) -> Result<Self, DecodeError> {
        let to_hz = to_hz.unwrap_or(from_hz);
        let resampler =
            Resampler::new(from_hz, to_hz, channels).map_err(|e| resample_error(name, e))?;
        Ok(Self {
            name,
            from_hz,
            to_hz,
            channels,
            resampler,
            samples: Vec::new(),
            taken: 0,
        })
    }

    /// Takes whole frames of interleaved samples at the file's own rate.
    pub(super) fn push(&mut self, interleaved: &[f32]) -> Result<(), DecodeError> {
        if let Some(at) = interleaved.iter().position(|s| !s.is_finite()) {
            self.taken += at as u64;
            return Err(DecodeError::NotFinite {
                name: self.name.into(),
                at_ms: self.taken_ms(),
            });
        }
        self.taken += interleaved.len() as u64;
        if self.taken_ms() > MAX_MINUTES * 60_000 {
            return Err(DecodeError::TooLong {
                name: self.name.into(),
            });
        }
        let ready = self.resampler.push(interleaved);
        self.samples
            .extend(ready.map_err(|e| resample_error(self.name, e))?);
        Ok(())
    }

    /// Frames (one sample of every channel) taken so far.
    pub(super) fn frames(&self) -> u64 {
        self.taken / u64::from(self.channels)
    }

    /// Sound taken so far, in milliseconds.
    pub(super) fn taken_ms(&self) -> u64 {
        self.ms(self.frames())
    }

    /// Whether sound of this rate and channel count may go on.
    pub(super) fn is_for(&self, rate_hz: u32, channels: usize) -> bool {
        self.from_hz == rate_hz && usize::from(self.channels) == channels
    }

    /// Frames at the file's rate in milliseconds.
    pub(super) fn ms(&self, frames: u64) -> u64 {
        (u128::from(frames) * 1000 / u128::from(self.from_hz)) as u64
    }

    pub(super) fn finish(mut self, kind: &'static str) -> Result<Mono, DecodeError> {
        if self.frames() == 0 {
            return Err(DecodeError::NoSamples {
                name: self.name.into(),
                kind,
            });
        }
        let rest = self.resampler.finish();
        self.samples
            .extend(rest.map_err(|e| resample_error(self.name, e))?);
        Ok((self.to_hz, self.samples))
    }
}

fn resample_error(name: &str, source: ResampleError) -> DecodeError {
    DecodeError::Resample {
        name: name.into(),
        source,
    }
}
