//! What the network is shown at once: phrases at other speeds, places and levels, with noise mixed
//! in; noise alone.

use super::network::{END, FRAME, PREFIX};
use crate::audio::RATE_HZ;
use crate::grammar::Dice;
use crate::recognise::Weights;
use std::f32::consts::TAU;

/// A phrase as somebody said it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Example {
    /// Mono at 16 kHz, full scale ±1.
    pub samples: Vec<f32>,
    /// Its words; empty if nothing was said.
    pub words: String,
}

/// Silence before a phrase at most, and after it at least: 0.1 s, as much as sixteen frames less.
const BEFORE: usize = 1_600;
const MARGIN_FRAMES: usize = 16;
/// The shortest window (1.1 s), and the longest.
const FRAMES: (usize, usize) = (55, 1_500);
/// Speeds, and decibels of speech over noise. They bracket what one person does in one shop; the
/// same as those that the shipped weights were measured to learn a voice with.
const SPEEDS: (f32, f32) = (0.9, 1.12);
const DECIBELS: (f32, f32) = (-3.0, 25.0);
/// The level that a phrase is brought to, root mean square, before it is varied.
const LEVEL: f32 = 0.1;

/// One row of a batch: a sound in its window, and the tokens that it should give.
pub(super) struct Row {
    pub(super) sound: Vec<f32>,
    pub(super) frames: usize,
    pub(super) tokens: Vec<u32>,
}

/// Makes rows; the same ones every time.
pub(super) struct Rows<'a> {
    pub(super) weights: &'a Weights,
    /// Noise of the shop.
    pub(super) noises: &'a [Vec<f32>],
    pub(super) dice: Dice,
}

impl Rows<'_> {
    fn uniform(&mut self, (low, high): (f32, f32)) -> f32 {
        low + (high - low) * self.dice.below(1 << 20) as f32 / (1 << 20) as f32
    }

    /// A phrase, varied.
    pub(super) fn of(&mut self, example: &Example) -> Row {
        let speed = self.uniform(SPEEDS);
        let said = at_speed(&example.samples, speed);
        let before = self.dice.below(BEFORE + 1);
        let frames = (said.len() + BEFORE).div_ceil(FRAME) + MARGIN_FRAMES;
        let frames = frames.clamp(FRAMES.0, FRAMES.1);
        let mut sound = vec![0.0; frames * FRAME];
        let room = sound.iter_mut().skip(before);
        room.zip(&said).for_each(|(to, from)| *to = *from);
        let level = rms(&said);
        let noise = self.noise(sound.len());
        let gain = level / 10_f32.powf(self.uniform(DECIBELS) / 20.0) / rms(&noise).max(1e-6);
        let loud = LEVEL / level.max(1e-6) * self.uniform((0.3, 1.5));
        for (sample, noise) in sound.iter_mut().zip(noise) {
            *sample = (loud * (*sample + gain * noise)).clamp(-1.0, 1.0);
        }
        let words = self.weights.spell(&example.words);
        let words = words.into_iter().map(i32::unsigned_abs);
        let tokens = PREFIX.into_iter().chain(words).chain([END]).collect();
        Row {
            sound,
            frames,
            tokens,
        }
    }

    /// Noise alone, in which nothing is said.
    pub(super) fn of_noise(&mut self) -> Row {
        let frames = FRAMES.0 + self.dice.below(150);
        let mut sound = self.noise(frames * FRAME);
        let loud = self.uniform((0.005, LEVEL)) / rms(&sound).max(1e-6);
        (sound.iter_mut()).for_each(|s| *s = (*s * loud).clamp(-1.0, 1.0));
        let tokens = PREFIX.into_iter().chain([END]).collect();
        Row {
            sound,
            frames,
            tokens,
        }
    }

    /// A piece of noise: half of the time that of the shop, if it was recorded.
    fn noise(&mut self, length: usize) -> Vec<f32> {
        let recorded =
            (self.noises.get(self.dice.below(self.noises.len()))).filter(|n| n.len() > length / 8);
        match recorded {
            Some(noise) if self.dice.below(2) == 0 => {
                let from = self.dice.below(noise.len());
                noise
                    .iter()
                    .copied()
                    .cycle()
                    .skip(from)
                    .take(length)
                    .collect()
            }
            _ => made_noise(length, &mut self.dice),
        }
    }
}

/// Made noise of a length in samples; another for each seed.
#[must_use]
pub fn machine_noise(length: usize, seed: u64) -> Vec<f32> {
    let mut noise = made_noise(length, &mut Dice::new(seed));
    let gain = LEVEL / rms(&noise).max(1e-6);
    noise
        .iter_mut()
        .for_each(|s| *s = (*s * gain).clamp(-1.0, 1.0));
    noise
}

/// Noise as machines make it: coloured, beating, with a hum and its overtones, with knocks.
fn made_noise(length: usize, dice: &mut Dice) -> Vec<f32> {
    let mut share = |most: f32| most * dice.below(1_001) as f32 / 1_000.0;
    let (smooth, second) = (share(0.98), share(0.6));
    let (beat, depth) = (share(20.0), share(1.6) - 0.7);
    let (hum, hum_hz) = (share(3.0) - 1.0, 25.0 + share(225.0));
    let (knock, knocks) = (share(30.0) - 15.0, 2 + (share(60.0) as usize));
    let mut noise = Vec::with_capacity(length);
    let (mut low, mut lower, mut ring) = (0.0, 0.0, 0.0);
    for i in 0..length {
        let turn = TAU * i as f32 / RATE_HZ as f32;
        let white = dice.below(2_001) as f32 / 1_000.0 - 1.0;
        low = smooth * low + (1.0 - smooth) * white;
        lower = second * lower + (1.0 - second) * low;
        let beating = 1.0 + depth.max(0.0) * (turn * beat).sin();
        let hums: f32 = (1..5_u8)
            .map(|k| (turn * hum_hz * f32::from(k)).sin() / f32::from(k))
            .sum();
        ring *= 0.99;
        if dice.below(RATE_HZ as usize) < knocks {
            ring = 1.0;
        }
        let struck = knock.max(0.0) * ring * white * (1.0 - smooth);
        noise.push(lower * beating + hum.max(0.0) * 0.1 * hums * (1.0 - smooth) + 0.2 * struck);
    }
    noise
}

fn rms(samples: &[f32]) -> f32 {
    (samples.iter().map(|s| s * s).sum::<f32>() / samples.len().max(1) as f32).sqrt()
}

/// The sound played faster or slower, between neighbours in a straight line.
fn at_speed(samples: &[f32], speed: f32) -> Vec<f32> {
    let length = (samples.len() as f32 / speed) as usize;
    let at = |i: usize| {
        let place = i as f32 * speed;
        let (left, part) = (place as usize, place.fract());
        let sample = |i: usize| samples.get(i).copied().unwrap_or(0.0);
        sample(left) * (1.0 - part) + sample(left + 1) * part
    };
    (0..length).map(at).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_row_holds_its_phrase_in_a_fitted_window() {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
        let bytes = std::fs::read(root.join("models/ggml-tiny.en-bench-q8_0.bin")).unwrap();
        let weights = Weights::parse(bytes).unwrap();
        let noises = [vec![0.1; 16_000]];
        let rows = || Rows {
            weights: &weights,
            noises: &noises,
            dice: Dice::new(7),
        };
        let tone = (0..32_000).map(|i| (i as f32 / 5.0).sin() * 0.5).collect();
        let example = Example {
            samples: tone,
            words: "fifteen goes eighteen wont".to_owned(),
        };
        let row = rows().of(&example);
        assert_eq!(row.sound.len(), row.frames * FRAME);
        assert!((100..150).contains(&row.frames), "{}", row.frames);
        assert!(row.sound.iter().all(|s| s.is_finite() && s.abs() <= 1.0));
        assert_eq!(row.tokens[..2], PREFIX);
        assert_eq!(row.tokens.last(), Some(&END));
        let spelt = weights.spell("fifteen goes eighteen won't");
        assert_eq!(row.tokens.len(), spelt.len() + 3);
        assert!(rows().of(&example).sound == row.sound, "not repeatable");
        let nothing = rows().of_noise();
        assert_eq!(nothing.tokens, [PREFIX[0], PREFIX[1], END]);
        let level = rms(&nothing.sound);
        assert!((0.004..0.11).contains(&level), "{level}");
    }

    #[test]
    fn speed_changes_the_length() {
        let line: Vec<f32> = (0..100_u8).map(f32::from).collect();
        let fast = at_speed(&line, 2.0);
        assert_eq!((fast.len(), fast[10]), (50, 20.0));
        assert_eq!(at_speed(&line, 0.5)[21], 10.5);
    }
}
