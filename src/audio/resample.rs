//! Any sample rate and channel count to 16 kHz mono, for streams and whole clips.

use super::RATE_HZ;
use rubato::audioadapter_buffers::direct::InterleavedSlice;
use rubato::{Fft, FixedSync, Indexing, Resampler as _, WindowFunction};

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
    /// The rate lies outside [`ACCEPTED_HZ`].
    #[error("a sample rate of {0} Hz is not accepted; 8000 to 192000 Hz are")]
    Rate(u32),
    /// No channel, or more than [`MAX_CHANNELS`].
    #[error("{0} channels are not accepted; 1 to {MAX_CHANNELS} are")]
    Channels(u16),
    /// The filter refused: a fault of this program, not of the sound.
    #[error("the resampler failed: {0}")]
    Filter(String),
}

/// Streaming converter to mono at [`RATE_HZ`]: channels are averaged, then the
/// rate is converted. The filter's delay is taken out, so sample `n` of the
/// output is at time `n / RATE_HZ` of the input.
pub(crate) struct Resampler {
    from_hz: u32,
    channels: usize,
    /// Interleaved samples of an incomplete frame, then mono samples waiting for a block.
    partial: Vec<f32>,
    waiting: Vec<f32>,
    filter: Option<Fft<f32>>,
    /// Output samples still to drop at the start because of the filter's delay.
    delay_left: usize,
    frames_in: u64,
    samples_out: u64,
}

impl Resampler {
    /// A converter from `from_hz` and `channels` interleaved channels.
    ///
    /// # Errors
    /// [`ResampleError::Rate`] or [`ResampleError::Channels`] when out of range.
    pub(crate) fn new(from_hz: u32, channels: u16) -> Result<Self, ResampleError> {
        if !ACCEPTED_HZ.contains(&from_hz) {
            return Err(ResampleError::Rate(from_hz));
        }
        if channels == 0 || channels > MAX_CHANNELS {
            return Err(ResampleError::Channels(channels));
        }
        let filter = if from_hz == RATE_HZ {
            None
        } else {
            let block = (from_hz * BLOCK_MS / 1000) as usize;
            let filter = Fft::new_custom(
                from_hz as usize,
                RATE_HZ as usize,
                block,
                1,
                1,
                WindowFunction::BlackmanHarris2,
                FixedSync::Both,
            );
            Some(filter.map_err(|e| ResampleError::Filter(e.to_string()))?)
        };
        Ok(Self {
            from_hz,
            channels: usize::from(channels),
            partial: Vec::new(),
            waiting: Vec::new(),
            delay_left: filter.as_ref().map_or(0, |f| f.output_delay()),
            filter,
            frames_in: 0,
            samples_out: 0,
        })
    }

    /// Takes interleaved samples, gives the mono samples that are ready. A frame
    /// may be split between two calls.
    ///
    /// # Errors
    /// [`ResampleError::Filter`] on a fault inside the filter.
    pub(crate) fn push(&mut self, interleaved: &[f32]) -> Result<Vec<f32>, ResampleError> {
        self.mix_down(interleaved);
        let Some(filter) = &mut self.filter else {
            self.samples_out += self.waiting.len() as u64;
            return Ok(std::mem::take(&mut self.waiting));
        };
        let block = filter.input_frames_next();
        let mut out = Vec::new();
        let mut used = 0;
        while self.waiting.len() - used >= block {
            run_block(filter, &self.waiting[used..used + block], &mut out)?;
            used += block;
        }
        self.waiting.drain(..used);
        self.drop_delay(&mut out);
        self.samples_out += out.len() as u64;
        Ok(out)
    }

    /// Ends the stream: gives the rest, so that all output together lasts as
    /// long as the input (rounded up to a sample).
    ///
    /// # Errors
    /// [`ResampleError::Filter`] on a fault inside the filter.
    pub(crate) fn finish(mut self) -> Result<Vec<f32>, ResampleError> {
        let total = (self.frames_in * u64::from(RATE_HZ)).div_ceil(u64::from(self.from_hz));
        let left = usize::try_from(total - self.samples_out.min(total)).unwrap_or(0);
        let mut out = Vec::new();
        let Some(filter) = &mut self.filter else {
            return Ok(out);
        };
        let mut rest = std::mem::take(&mut self.waiting);
        while out.len() < left + self.delay_left {
            run_block(filter, &rest, &mut out)?;
            rest.clear();
        }
        self.drop_delay(&mut out);
        out.truncate(left);
        Ok(out)
    }

    fn mix_down(&mut self, interleaved: &[f32]) {
        let before = self.waiting.len();
        if self.channels == 1 {
            self.waiting.extend_from_slice(interleaved);
        } else {
            self.partial.extend_from_slice(interleaved);
            let frames = self.partial.chunks_exact(self.channels);
            let rest = frames.remainder().len();
            let scale = 1.0 / self.channels as f32;
            self.waiting
                .extend(frames.map(|frame| frame.iter().sum::<f32>() * scale));
            self.partial.drain(..self.partial.len() - rest);
        }
        self.frames_in += (self.waiting.len() - before) as u64;
    }

    fn drop_delay(&mut self, out: &mut Vec<f32>) {
        let dropped = self.delay_left.min(out.len());
        out.drain(..dropped);
        self.delay_left -= dropped;
    }
}

/// One block through the filter; a short block is filled up with silence.
fn run_block(
    filter: &mut Fft<f32>,
    block: &[f32],
    out: &mut Vec<f32>,
) -> Result<(), ResampleError> {
    let fault = |e: &dyn std::fmt::Display| ResampleError::Filter(e.to_string());
    let short = block.len() < filter.input_frames_next();
    let indexing = short.then(|| Indexing::new().partial_len(block.len()));
    let input = InterleavedSlice::new(block, 1, block.len()).map_err(|e| fault(&e))?;
    let done = filter
        .process(&input, indexing.as_ref())
        .map_err(|e| fault(&e))?;
    out.extend(done.take_data());
    Ok(())
}

/// A whole clip to mono at [`RATE_HZ`], without the filter's delay.
///
/// # Errors
/// As [`Resampler::new`] and [`Resampler::push`].
pub fn resample(
    interleaved: &[f32],
    from_hz: u32,
    channels: u16,
) -> Result<Vec<f32>, ResampleError> {
    let mut resampler = Resampler::new(from_hz, channels)?;
    let mut out = resampler.push(interleaved)?;
    out.extend(resampler.finish()?);
    Ok(out)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::audio::pcm::rms_dbfs;

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
            let out = resample(&sine(1000.0, rate_hz, 0.5), rate_hz, 1).unwrap();
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
        let out = resample(&sine(10_000.0, 48_000, 0.5), 48_000, 1).unwrap();
        let level = rms_dbfs(middle(&out));
        assert!(level < -80.0, "10 kHz comes through at {level} dBFS");
        let speech_band = resample(&sine(7_000.0, 48_000, 0.5), 48_000, 1).unwrap();
        assert!((rms_dbfs(middle(&speech_band)) + 9.03).abs() < 0.1);
    }

    #[test]
    fn a_stream_in_odd_pieces_equals_the_whole_and_ends_complete() {
        let mono = sine(440.0, 44_100, 0.7);
        let stereo: Vec<f32> = mono.iter().flat_map(|&s| [s * 1.5, s * 0.5]).collect();
        let whole = resample(&mono, 44_100, 1).unwrap();
        let mut stream = Resampler::new(44_100, 2).unwrap();
        let mut out = Vec::new();
        for piece in stereo.chunks(333) {
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
            let mut stream = Resampler::new(rate_hz, 1).unwrap();
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
            let out = resample(&vec![0.25; frames], 48_000, 1).unwrap();
            assert_eq!(out.len(), frames.div_ceil(3));
        }
    }

    #[test]
    fn out_of_range_is_refused_with_the_range() {
        let text = |r: Result<Resampler, ResampleError>| r.err().unwrap().to_string();
        assert_eq!(
            text(Resampler::new(4000, 1)),
            "a sample rate of 4000 Hz is not accepted; 8000 to 192000 Hz are"
        );
        assert_eq!(
            text(Resampler::new(16_000, 0)),
            "0 channels are not accepted; 1 to 32 are"
        );
    }

    #[test]
    fn an_unusual_rate_works_too() {
        let out = resample(&sine(1000.0, 44_099, 0.5), 44_099, 1).unwrap();
        assert!(out.len().abs_diff(8_000) <= 1);
        assert!((rms_dbfs(middle(&out)) + 9.03).abs() < 0.05);
    }
}
