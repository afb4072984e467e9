//! Any sample rate and channel count to mono at another rate, for streams and whole clips.

use rubato::audioadapter_buffers::direct::InterleavedSlice;
use rubato::{Fft, FixedSync, Resampler as _, WindowFunction};

/// The rates that are accepted, in Hz: from telephone to studio.
pub(crate) const ACCEPTED_HZ: std::ops::RangeInclusive<u32> = 8_000..=192_000;
/// The most channels that are accepted.
pub(crate) const MAX_CHANNELS: u16 = 32;
/// Length of one block of the filter: long enough for a cutoff near 8 kHz, and
/// the delay it costs on a live stream (measured in the test below).
const BLOCK_MS: u32 = 20;

/// Why sound cannot be resampled.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ResampleError {
    /// A rate lies outside [`ACCEPTED_HZ`].
    #[error("a sample rate of {0} Hz is not accepted; 8000 to 192000 Hz are")]
    Rate(u32),
    /// No channel, or more than [`MAX_CHANNELS`].
    #[error("{0} channels are not accepted; 1 to {MAX_CHANNELS} are")]
    Channels(u16),
    /// The filter refused: a fault of this program, not of the sound.
    #[error("the resampler failed: {0}")]
    Filter(String),
}

/// Streaming converter to mono at another rate: channels are averaged, then the rate is
/// converted by blocks. The filter's delay is taken out: a sample of the output lies at the
/// same time as in the input.
pub(crate) struct Resampler {
    from_hz: u32,
    to_hz: u32,
    channels: usize,
    /// None if both rates are the same.
    filter: Option<Fft<f32>>,
    /// Mono samples that wait for a whole block.
    waiting: Vec<f32>,
    /// Output samples still to drop at the start because of the filter's delay.
    delay_left: usize,
    frames_in: u64,
    samples_out: u64,
}

impl Resampler {
    /// A converter from `channels` interleaved channels at `from_hz`.
    ///
    /// # Errors
    /// [`ResampleError::Rate`] or [`ResampleError::Channels`] when out of range.
    pub(crate) fn new(from_hz: u32, to_hz: u32, channels: u16) -> Result<Self, ResampleError> {
        if let Some(rate_hz) = [from_hz, to_hz]
            .iter()
            .find(|hz| !ACCEPTED_HZ.contains(*hz))
        {
            return Err(ResampleError::Rate(*rate_hz));
        }
        if channels == 0 || channels > MAX_CHANNELS {
            return Err(ResampleError::Channels(channels));
        }
        let filter = |block: u32| {
            Fft::new_custom(
                from_hz as usize,
                to_hz as usize,
                block as usize,
                1,
                1,
                WindowFunction::BlackmanHarris2,
                FixedSync::Both,
            )
        };
        let filter = (from_hz != to_hz).then(|| filter(from_hz * BLOCK_MS / 1000));
        let filter = filter.transpose().map_err(failed)?;
        Ok(Self {
            from_hz,
            to_hz,
            channels: usize::from(channels),
            delay_left: filter.as_ref().map_or(0, |f| f.output_delay()),
            filter,
            waiting: Vec::new(),
            frames_in: 0,
            samples_out: 0,
        })
    }

    /// Takes whole frames of interleaved samples, gives the mono samples that are ready.
    ///
    /// # Errors
    /// [`ResampleError::Filter`] on a fault inside the filter.
    pub(crate) fn push(&mut self, interleaved: &[f32]) -> Result<Vec<f32>, ResampleError> {
        let scale = 1.0 / self.channels as f32;
        let frames = interleaved.chunks_exact(self.channels);
        self.frames_in += frames.len() as u64;
        self.waiting
            .extend(frames.map(|frame| frame.iter().sum::<f32>() * scale));
        self.whole_blocks()
    }

    /// Ends the stream: gives the rest, so that all output together lasts as
    /// long as the input (rounded up to a sample).
    ///
    /// # Errors
    /// [`ResampleError::Filter`] on a fault inside the filter.
    pub(crate) fn finish(mut self) -> Result<Vec<f32>, ResampleError> {
        let total = (self.frames_in * u64::from(self.to_hz)).div_ceil(u64::from(self.from_hz));
        let left = usize::try_from(total.saturating_sub(self.samples_out)).unwrap_or(0);
        let mut out = Vec::new();
        while out.len() < left {
            // Silence pushes out what is still inside the filter.
            let block = self.filter.as_ref().map_or(left, |f| f.input_frames_next());
            self.waiting.resize(self.waiting.len() + block, 0.0);
            out.extend(self.whole_blocks()?);
        }
        out.truncate(left);
        Ok(out)
    }

    fn whole_blocks(&mut self) -> Result<Vec<f32>, ResampleError> {
        let mut out = Vec::new();
        match &mut self.filter {
            None => out.append(&mut self.waiting),
            Some(filter) => {
                let blocks = self.waiting.chunks_exact(filter.input_frames_next());
                let rest = blocks.remainder().len();
                for block in blocks {
                    let block = InterleavedSlice::new(block, 1, block.len()).map_err(failed)?;
                    out.extend(filter.process(&block, None).map_err(failed)?.take_data());
                }
                self.waiting.drain(..self.waiting.len() - rest);
            }
        }
        let dropped = self.delay_left.min(out.len());
        out.drain(..dropped);
        self.delay_left -= dropped;
        self.samples_out += out.len() as u64;
        Ok(out)
    }
}

fn failed(error: impl std::fmt::Display) -> ResampleError {
    ResampleError::Filter(error.to_string())
}

/// A whole clip to mono at another rate, without the filter's delay.
///
/// # Errors
/// A rate or a number of channels that is not accepted.
pub fn resample(
    interleaved: &[f32],
    from_hz: u32,
    to_hz: u32,
    channels: u16,
) -> Result<Vec<f32>, ResampleError> {
    let mut resampler = Resampler::new(from_hz, to_hz, channels)?;
    let mut out = resampler.push(interleaved)?;
    out.extend(resampler.finish()?);
    Ok(out)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::audio::{RATE_HZ, pcm::rms_dbfs};

    fn sine(hz: f32, rate_hz: u32, seconds: f32) -> Vec<f32> {
        (0..(rate_hz as f32 * seconds) as usize)
            .map(|i| {
                0.5 * (std::f64::consts::TAU * f64::from(hz) * i as f64 / f64::from(rate_hz)).sin()
                    as f32
            })
            .collect()
    }

    /// The middle, away from the edges where the tone starts and stops.
    fn middle(samples: &[f32]) -> &[f32] {
        &samples[samples.len() / 4..samples.len() * 3 / 4]
    }

    /// Amplitude and delay in ms of a 1 kHz tone that starts at a whole period.
    fn tone_1khz(samples: &[f32]) -> (f64, f64) {
        let part = |shift: f64| {
            let wave = |i: usize| (std::f64::consts::TAU * (i as f64 / 16.0 + shift)).sin();
            let sum: f64 = samples
                .iter()
                .enumerate()
                .map(|(i, &s)| f64::from(s) * wave(i))
                .sum();
            sum / samples.len() as f64 * 2.0
        };
        let (sine, cosine) = (part(0.0), part(0.25));
        (
            sine.hypot(cosine),
            -cosine.atan2(sine) / std::f64::consts::TAU,
        )
    }

    #[test]
    fn a_tone_keeps_frequency_level_and_place_from_every_common_rate() {
        for rate_hz in [
            8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 96_000, 192_000,
        ] {
            let out = resample(&sine(1000.0, rate_hz, 0.5), rate_hz, RATE_HZ, 1).unwrap();
            assert!(out.len().abs_diff(8_000) <= 1, "{rate_hz}: {}", out.len());
            let (amplitude, late_ms) = tone_1khz(&out[2_000..6_000]);
            assert!(
                (amplitude - 0.5).abs() < 1e-4,
                "{rate_hz}: amplitude {amplitude}"
            );
            // Blocks of an odd length (11 025 and 22 050 Hz) put half a sample of delay in.
            assert!(
                late_ms.abs() < 600.0 / f64::from(rate_hz),
                "{rate_hz}: late {late_ms} ms"
            );
        }
    }

    #[test]
    fn what_16_khz_cannot_hold_is_filtered_out() {
        let out = resample(&sine(10_000.0, 48_000, 0.5), 48_000, RATE_HZ, 1).unwrap();
        let level = rms_dbfs(middle(&out));
        assert!(level < -80.0, "10 kHz comes through at {level} dBFS");
        let speech_band = resample(&sine(7_000.0, 48_000, 0.5), 48_000, RATE_HZ, 1).unwrap();
        assert!((rms_dbfs(middle(&speech_band)) + 9.03).abs() < 0.1);
    }

    #[test]
    fn a_stream_in_odd_pieces_equals_the_whole_and_ends_complete() {
        let mono = sine(440.0, 44_100, 0.7);
        let stereo: Vec<f32> = mono.iter().flat_map(|&s| [s * 1.5, s * 0.5]).collect();
        let whole = resample(&mono, 44_100, RATE_HZ, 1).unwrap();
        let mut stream = Resampler::new(44_100, RATE_HZ, 2).unwrap();
        let mut out = Vec::new();
        for piece in stereo.chunks(2 * 333) {
            out.extend(stream.push(piece).unwrap());
        }
        out.extend(stream.finish().unwrap());
        assert_eq!(out.len(), whole.len());
        let worst = out
            .iter()
            .zip(&whole)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f32::max);
        assert!(worst < 1e-5, "{worst}");
    }

    #[test]
    fn a_live_stream_lags_by_less_than_40_ms() {
        for rate_hz in [8_000, 22_050, 44_100, 48_000, 96_000] {
            let mut stream = Resampler::new(rate_hz, RATE_HZ, 1).unwrap();
            let mut given_ms = 0.0;
            for piece in vec![0.1; rate_hz as usize].chunks(rate_hz as usize / 100) {
                let out = stream.push(piece).unwrap().len();
                given_ms += 10.0 - out as f64 / 16.0;
                assert!(given_ms < 40.0, "{rate_hz} Hz lags {given_ms} ms");
            }
        }
    }

    #[test]
    fn short_and_empty_clips_keep_their_length() {
        for frames in [0, 1, 2, 7, 100, 959, 960, 961] {
            let out = resample(&vec![0.25; frames], 48_000, RATE_HZ, 1).unwrap();
            assert_eq!(out.len(), frames.div_ceil(3));
        }
    }

    #[test]
    fn out_of_range_is_refused_with_the_range() {
        let text = |r: Result<Resampler, ResampleError>| r.err().unwrap().to_string();
        assert_eq!(
            text(Resampler::new(4000, RATE_HZ, 1)),
            "a sample rate of 4000 Hz is not accepted; 8000 to 192000 Hz are"
        );
        assert_eq!(
            text(Resampler::new(16_000, 400_000, 1)),
            "a sample rate of 400000 Hz is not accepted; 8000 to 192000 Hz are"
        );
        assert_eq!(
            text(Resampler::new(16_000, RATE_HZ, 0)),
            "0 channels are not accepted; 1 to 32 are"
        );
    }

    #[test]
    fn an_unusual_rate_works_too() {
        let out = resample(&sine(1000.0, 44_099, 0.5), 44_099, RATE_HZ, 1).unwrap();
        assert!(out.len().abs_diff(8_000) <= 1);
        assert!((rms_dbfs(middle(&out)) + 9.03).abs() < 0.05);
    }

    /// The voice at the rate of a loudspeaker: nothing above its own band appears.
    #[test]
    fn a_higher_rate_adds_no_images() {
        let out = resample(&sine(5_000.0, 24_000, 0.5), 24_000, 48_000, 1).unwrap();
        assert_eq!(out.len(), 24_000);
        // What is left when the tone itself, of 48/5 samples a period, is subtracted.
        let tone = sine(5_000.0, 48_000, 0.5);
        let rest: Vec<f32> = out.iter().zip(&tone).map(|(a, b)| a - b).collect();
        let level = rms_dbfs(middle(&rest));
        assert!(level < -80.0, "{level} dBFS");
    }
}
