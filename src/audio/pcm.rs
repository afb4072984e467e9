//! A stretch of sound: mono samples at 16 kHz, full scale ±1.

use super::{RATE_HZ, samples_in};

/// The level reported for digital silence, in dBFS: the rounding noise of
/// 16-bit samples lies just above it (6.02 dB a bit, so 16 bits span 96 dB).
pub(crate) const SILENCE_DBFS: f32 = -100.0;

/// Mono sound at [`RATE_HZ`].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Clip {
    /// Samples, full scale ±1.
    pub samples: Vec<f32>,
}

impl Clip {
    /// Wraps samples that are mono at [`RATE_HZ`] already.
    #[must_use]
    pub fn new(samples: Vec<f32>) -> Self {
        Self { samples }
    }

    /// From 16-bit samples at [`RATE_HZ`].
    #[must_use]
    pub fn from_i16(samples: &[i16]) -> Self {
        Self::new(to_floats(samples))
    }

    /// Length in milliseconds, rounded down.
    #[must_use]
    pub fn duration_ms(&self) -> u64 {
        self.samples.len() as u64 * 1000 / u64::from(RATE_HZ)
    }

    /// Root mean square level in dB below full scale; see [`rms_dbfs`].
    #[must_use]
    pub fn rms_dbfs(&self) -> f32 {
        rms_dbfs(&self.samples)
    }

    /// The samples as 16-bit integers, rounded and limited to full scale.
    #[must_use]
    pub fn to_i16(&self) -> Vec<i16> {
        to_integers(&self.samples)
    }

    /// Adds `before_ms` of silence ahead and `after_ms` behind.
    pub fn pad(&mut self, before_ms: u32, after_ms: u32) {
        let silence = std::iter::repeat_n(0.0, samples_in(before_ms));
        self.samples.splice(0..0, silence);
        let end = self.samples.len() + samples_in(after_ms);
        self.samples.resize(end, 0.0);
    }
}

/// Root mean square level in dBFS, where a full-scale square wave is 0 and a
/// full-scale sine −3.01; [`SILENCE_DBFS`] for no samples or digital silence.
pub(crate) fn rms_dbfs(samples: &[f32]) -> f32 {
    if samples.is_empty() {
        return SILENCE_DBFS;
    }
    let sum: f64 = samples.iter().map(|&s| f64::from(s) * f64::from(s)).sum();
    power_dbfs((sum / samples.len() as f64) as f32)
}

/// Mean square (full scale 1) to dBFS, not below [`SILENCE_DBFS`].
pub(crate) fn power_dbfs(mean_square: f32) -> f32 {
    (10.0 * mean_square.max(1e-20).log10()).max(SILENCE_DBFS)
}

/// Whether the samples were driven into a converter's limit: three or more
/// neighbours within 1 % of full scale (common practice, no source).
pub(crate) fn is_clipped(samples: &[f32]) -> bool {
    samples
        .windows(3)
        .any(|w| w.iter().all(|s| *s >= 0.99) || w.iter().all(|s| *s <= -0.99))
}

/// 16-bit samples as numbers of full scale ±1.
pub(crate) fn to_floats(samples: &[i16]) -> Vec<f32> {
    samples.iter().map(|&s| f32::from(s) / 32_768.0).collect()
}

/// Samples as 16-bit integers, rounded and limited to full scale.
pub(crate) fn to_integers(samples: &[f32]) -> Vec<i16> {
    let integer = |s: &f32| (s * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16;
    samples.iter().map(integer).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_of_known_signals() {
        let sine: Vec<f32> = (0..16_000)
            .map(|i| (std::f32::consts::TAU * 1000.0 * i as f32 / 16_000.0).sin())
            .collect();
        assert!((rms_dbfs(&sine) + 3.01).abs() < 0.01);
        assert_eq!(rms_dbfs(&[1.0, -1.0]), 0.0);
        assert_eq!(rms_dbfs(&[0.0; 9]), SILENCE_DBFS);
        assert_eq!(rms_dbfs(&[]), SILENCE_DBFS);
    }

    #[test]
    fn integers_round_trip_and_saturate() {
        let all: Vec<i16> = (i16::MIN..=i16::MAX).collect();
        assert_eq!(Clip::from_i16(&all).to_i16(), all);
        assert_eq!(to_integers(&[7.0, -7.0, f32::NAN]), [i16::MAX, i16::MIN, 0]);
    }

    #[test]
    fn padding_lengthens_in_milliseconds() {
        let mut clip = Clip::new(vec![0.5; 160]);
        assert_eq!(clip.duration_ms(), 10);
        clip.pad(20, 30);
        assert_eq!(clip.duration_ms(), 60);
        assert_eq!((clip.samples[319], clip.samples[320]), (0.0, 0.5));
    }

    #[test]
    fn clipping_needs_a_flat_top() {
        assert!(is_clipped(&[0.0, 1.0, 1.0, 1.0, 0.0]));
        assert!(!is_clipped(&[0.9, 1.0, 1.0, 0.9]));
        assert!(!is_clipped(&[1.0, -1.0, 1.0]));
    }
}
