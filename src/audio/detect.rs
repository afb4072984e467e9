//! Is this speech? A score for every 16 ms of sound, its level, and the level
//! of the noise underneath.

use super::pcm::{SILENCE_DBFS, power_dbfs};
use super::{RATE_HZ, samples_in};

/// Samples in one frame: what the voice detector takes at a time (16 ms).
pub(crate) const FRAME: usize = 256;

/// What is known about one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct FrameInfo {
    /// How much the frame sounds like a voice, 0 to 1.
    pub score: f32,
    /// Level above 120 Hz, dBFS.
    pub level_dbfs: f32,
    /// Level of the steady noise, dBFS; from before this frame.
    pub noise_dbfs: f32,
    /// How much the noise itself sounds like a voice, 0 to 1: the usual score of
    /// frames near the noise level.
    pub noise_score: f32,
}

/// Scores frames one after the other; holds what it learned of the noise.
pub(crate) struct Detector {
    voice: Box<earshot::Detector>,
    rumble: HighPass,
    floor: NoiseFloor,
    noise_score: f32,
}

/// Frames up to this far above the least level are taken for noise, in dB: the
/// spread of a noise around its own minimum.
const NOISE_SPREAD_DB: f32 = 6.0;
/// Weight of a new frame in the usual score of noise: about 1 s.
const NOISE_SCORE_WEIGHT: f32 = 0.016;

impl Default for Detector {
    fn default() -> Self {
        Self {
            voice: earshot::Detector::default_boxed(),
            rumble: HighPass::new(120.0),
            floor: NoiseFloor::default(),
            noise_score: 0.0,
        }
    }
}

impl Detector {
    /// Scores the next frame. Samples beyond full scale are limited to it.
    pub(crate) fn frame(&mut self, samples: &[f32; FRAME]) -> FrameInfo {
        let limited = samples.map(|s| {
            if s.is_finite() {
                s.clamp(-1.0, 1.0)
            } else {
                0.0
            }
        });
        let score = self.voice.predict_f32(&limited).clamp(0.0, 1.0);
        let power = limited
            .iter()
            .map(|&s| self.rumble.pass(s).powi(2))
            .sum::<f32>();
        let level_dbfs = power_dbfs(power / FRAME as f32);
        let noise_dbfs = self.floor.dbfs();
        let noise_score = self.noise_score;
        if level_dbfs < noise_dbfs + NOISE_SPREAD_DB {
            self.noise_score += NOISE_SCORE_WEIGHT * (score - noise_score);
        }
        self.floor.push(level_dbfs);
        FrameInfo {
            score,
            level_dbfs,
            noise_dbfs,
            noise_score,
        }
    }
}

/// Second-order Butterworth high-pass, so that hum and rumble do not count as
/// level (Bristow-Johnson, "Audio EQ Cookbook", Q = 1/√2).
struct HighPass {
    b: [f32; 3],
    a: [f32; 2],
    x: [f32; 2],
    y: [f32; 2],
}

impl HighPass {
    fn new(cutoff_hz: f32) -> Self {
        let w = std::f32::consts::TAU * cutoff_hz / RATE_HZ as f32;
        let alpha = w.sin() / std::f32::consts::SQRT_2;
        let (cos, a0) = (w.cos(), 1.0 + alpha);
        let b1 = -(1.0 + cos) / a0;
        Self {
            b: [-b1 / 2.0, b1, -b1 / 2.0],
            a: [-2.0 * cos / a0, (1.0 - alpha) / a0],
            x: [0.0; 2],
            y: [0.0; 2],
        }
    }

    fn pass(&mut self, x: f32) -> f32 {
        let y = self.b[0] * x + self.b[1] * self.x[0] + self.b[2] * self.x[1]
            - self.a[0] * self.y[0]
            - self.a[1] * self.y[1];
        self.x = [x, self.x[0]];
        self.y = [y, self.y[0]];
        y
    }
}

/// Minimum statistics (after Martin 2001, IEEE Trans. Speech Audio Proc. 9(5)):
/// the noise is the least smoothed level of the last few seconds. It falls at
/// once and rises when the old minima have aged out, which speech with its
/// pauses does not wait for but a compressor does.
struct NoiseFloor {
    smooth_db: Option<f32>,
    /// The least level of each past stretch, oldest first, and of the current one.
    past: [f32; NoiseFloor::STRETCHES],
    current: f32,
    frames: usize,
}

impl Default for NoiseFloor {
    fn default() -> Self {
        Self {
            smooth_db: None,
            // Nothing is known at first; so low that it keeps no speech out.
            past: [SILENCE_DBFS; Self::STRETCHES],
            current: f32::INFINITY,
            frames: 0,
        }
    }
}

impl NoiseFloor {
    /// Past stretches; with the current one they span 2.1 to 2.5 s.
    const STRETCHES: usize = 5;
    const FRAMES: usize = samples_in(416) / FRAME;
    /// Weight of the new frame in the smoothed level: about 5 frames, 80 ms.
    const SMOOTHING: f32 = 0.2;

    fn dbfs(&self) -> f32 {
        self.past.iter().copied().fold(self.current, f32::min)
    }

    fn push(&mut self, level_dbfs: f32) {
        let smooth = match self.smooth_db {
            Some(old) => old + Self::SMOOTHING * (level_dbfs - old),
            None => level_dbfs,
        };
        self.smooth_db = Some(smooth);
        self.current = self.current.min(smooth);
        self.frames += 1;
        if self.frames == Self::FRAMES {
            self.past.rotate_left(1);
            self.past[Self::STRETCHES - 1] = self.current;
            (self.current, self.frames) = (f32::INFINITY, 0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noise(seed: &mut u32, amplitude: f32) -> [f32; FRAME] {
        std::array::from_fn(|_| {
            *seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            ((*seed >> 8) as f32 / 8_388_608.0 - 1.0) * amplitude
        })
    }

    #[test]
    fn the_floor_follows_a_noise_that_starts_and_one_that_stops() {
        let (mut detector, mut seed) = (Detector::default(), 1);
        let mut run = |amplitude: f32, ms: u32| {
            let mut last = SILENCE_DBFS;
            for _ in 0..samples_in(ms) / FRAME {
                last = detector.frame(&noise(&mut seed, amplitude)).noise_dbfs;
            }
            last
        };
        // White noise of peak a has an RMS of a/√3: −64.8 and −24.8 dBFS.
        let quiet = run(0.001, 4_000);
        assert!((quiet + 64.8).abs() < 2.0, "{quiet}");
        let not_yet = run(0.1, 1_500);
        assert!(not_yet < -60.0, "a long word must not raise it: {not_yet}");
        let loud = run(0.1, 1_500);
        assert!((loud + 24.8).abs() < 2.0, "{loud}");
        let quiet_again = run(0.001, 500);
        assert!((quiet_again + 64.8).abs() < 2.0, "{quiet_again}");
    }

    #[test]
    fn hum_does_not_count_as_level() {
        let mut high_pass = HighPass::new(120.0);
        let mut gain = |hz: f32| {
            let wave = |i: usize| (std::f32::consts::TAU * hz * i as f32 / 16_000.0).sin();
            let out: Vec<f32> = (0..16_000).map(|i| high_pass.pass(wave(i))).collect();
            crate::audio::pcm::rms_dbfs(&out[8_000..]) + 3.01
        };
        assert!(gain(30.0) < -20.0);
        assert!(gain(1_000.0).abs() < 0.1);
    }

    #[test]
    fn silence_is_no_voice_and_steady_noise_soon_counts_as_what_it_is() {
        let (mut detector, mut seed) = (Detector::default(), 7);
        for _ in 0..100 {
            assert!(detector.frame(&[0.0; FRAME]).score < 0.5);
        }
        // White noise may sound like a voice (scores up to 0.7 were seen); after
        // the floor has risen it stays within its spread.
        for i in 0..400 {
            let info = detector.frame(&noise(&mut seed, 0.05));
            let above_db = info.level_dbfs - info.noise_dbfs;
            assert!(i < 180 || above_db < 3.0, "frame {i}: {info:?}");
        }
    }

    #[test]
    fn absurd_samples_are_survived() {
        let mut detector = Detector::default();
        let info = detector.frame(&[f32::NAN; FRAME]);
        assert_eq!(info.level_dbfs, SILENCE_DBFS);
        assert!(detector.frame(&[1e30; FRAME]).level_dbfs <= 3.0);
    }
}
