//! A chirp, and where it stands in what was heard: how far a loudspeaker is behind.

use super::{RATE_HZ, samples_in};
use std::f64::consts::TAU;

/// How long the chirp lasts, in milliseconds.
pub(crate) const CHIRP_MS: u32 = 300;
/// It glides evenly from one to the other, in Hz: what small loudspeakers and a telephone's band carry.
const FROM_HZ: f64 = 500.0;
const TO_HZ: f64 = 3_500.0;
/// Its loudness, of full scale.
const LOUDNESS: f64 = 0.5;
/// It fades in and out for so long, so that nothing clicks.
const FADE_MS: u32 = 10;
/// So near to the best place its own sides and the first echoes of a room stand.
const NEAR_MS: u32 = 30;
/// The least likeness at which it was heard at all: noise of the same length stays below 0.08.
const LEAST_LIKENESS: f64 = 0.1;
/// The best place must be so many times better than any other.
const LEAST_CERTAINTY: f64 = 2.0;

/// Where the chirp begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Found {
    /// The sample at which it begins.
    pub(crate) at: usize,
    /// How many times better that place fits than the best one elsewhere.
    pub(crate) certainty: f64,
}

/// The chirp: mono at [`RATE_HZ`], full scale ±1.
pub(crate) fn chirp() -> Vec<f32> {
    let (length, fade) = (samples_in(CHIRP_MS), samples_in(FADE_MS));
    let seconds = f64::from(CHIRP_MS) / 1_000.0;
    let sample = |i: usize| {
        let t = i as f64 / f64::from(RATE_HZ);
        let turns = FROM_HZ * t + (TO_HZ - FROM_HZ) * t * t / (2.0 * seconds);
        let edge = i.min(length - 1 - i) as f64 / fade as f64;
        (LOUDNESS * edge.min(1.0) * (TAU * turns).sin()) as f32
    };
    (0..length).map(sample).collect()
}

/// Finds the chirp in sound at [`RATE_HZ`] by its likeness (normalised cross-correlation) at every place.
/// `None` if it is not there, or not surely.
pub(crate) fn find(heard: &[f32]) -> Option<Found> {
    let chirp = chirp();
    let places = heard.len().checked_sub(chirp.len())?;
    let power = |samples: &[f32]| samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>();
    let own = power(&chirp);
    let mut around = power(&heard[..chirp.len()]);
    let mut likeness = Vec::with_capacity(places + 1);
    for at in 0..=places {
        let window = &heard[at..at + chirp.len()];
        let alike: f32 = window.iter().zip(&chirp).map(|(a, b)| a * b).sum();
        // A microphone with its poles the other way round hears it upside down.
        let of_both = (own * around).sqrt();
        likeness.push(if of_both > 1e-9 {
            f64::from(alike).abs() / of_both
        } else {
            0.0
        });
        let next = heard
            .get(at + chirp.len())
            .map_or(0.0, |s| f64::from(*s).powi(2));
        around = (around - f64::from(window[0]).powi(2) + next).max(0.0);
    }
    let (at, most) = best(likeness.iter().enumerate())?;
    let near = samples_in(NEAR_MS);
    let elsewhere = likeness.iter().enumerate();
    let elsewhere = best(elsewhere.filter(|(i, _)| i.abs_diff(at) > near));
    let certainty = most / elsewhere.map_or(0.0, |(_, l)| l).max(1e-6);
    (most >= LEAST_LIKENESS && certainty >= LEAST_CERTAINTY).then_some(Found { at, certainty })
}

/// The greatest, and where it stands.
fn best<'a>(all: impl Iterator<Item = (usize, &'a f64)>) -> Option<(usize, f64)> {
    let best = all.max_by(|a, b| a.1.total_cmp(b.1))?;
    Some((best.0, *best.1))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::decode;
    use super::*;

    /// Noise of a workshop's kind: most of it is low, some of it hisses. Made, not recorded.
    fn noise(length: usize, loud: f32) -> Vec<f32> {
        let (mut state, mut low) = (1_u64, 0.0_f32);
        (0..length)
            .map(|_| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                let white = (state >> 40) as f32 / 8_388_608.0 - 1.0;
                low = 0.95 * low + 0.05 * white;
                loud * (0.3 * white + 3.0 * low)
            })
            .collect()
    }

    fn speech() -> Vec<f32> {
        let spoken = include_bytes!("../../fixtures/audio/spoken.flac");
        decode(spoken, "spoken.flac").unwrap().samples
    }

    /// The chirp so far behind and so loud, in this sound.
    fn with_chirp(mut sound: Vec<f32>, behind_ms: u32, gain: f32) -> Vec<f32> {
        let at = samples_in(behind_ms);
        for (s, c) in sound[at..].iter_mut().zip(chirp()) {
            *s += gain * c;
        }
        sound
    }

    #[test]
    fn the_chirp_is_found_wherever_it_stands_at_three_levels_in_noise() {
        let length = samples_in(2_000);
        let mut talk = speech();
        talk.resize(length, 0.0);
        for behind_ms in [0, 90, 240, 555, 800] {
            for gain in [1.0, 0.1, 0.02] {
                // The noise is as loud as the chirp.
                for sound in [
                    vec![0.0; length],
                    noise(length, gain),
                    talk.iter().map(|s| s * gain * 0.5).collect(),
                ] {
                    let heard = with_chirp(sound, behind_ms, gain);
                    let found = find(&heard).unwrap();
                    let off = found.at.abs_diff(samples_in(behind_ms));
                    assert!(off <= 4, "{behind_ms} ms, {gain}: {found:?}");
                }
            }
        }
    }

    #[test]
    fn where_no_chirp_sounds_none_is_found() {
        let length = samples_in(2_000);
        assert_eq!(find(&vec![0.0; length]), None);
        assert_eq!(find(&vec![0.3; length]), None);
        assert_eq!(find(&noise(length, 0.3)), None);
        assert_eq!(find(&speech()), None);
        assert_eq!(find(&chirp()[..samples_in(CHIRP_MS) - 1]), None);
        // Twice as loud at two places: which one it is cannot be told.
        let twice = with_chirp(with_chirp(vec![0.0; length], 100, 1.0), 900, 1.0);
        assert_eq!(find(&twice), None);
    }

    /// The echoes of a room come soon after it, and weaker.
    #[test]
    fn an_echo_is_not_taken_for_it() {
        let mut heard = with_chirp(vec![0.0; samples_in(2_000)], 300, 0.2);
        for (later_ms, gain) in [(12, 0.12), (25, 0.1), (70, 0.05)] {
            heard = with_chirp(heard, 300 + later_ms, gain);
        }
        let found = find(&heard).unwrap();
        assert!(found.at.abs_diff(samples_in(300)) <= 4, "{found:?}");
    }
}
