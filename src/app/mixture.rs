//! What a score does to clips before they are heard: noise is mixed in, pauses are measured.

use crate::audio::{Clip, FRAME, RATE_HZ, Segmenter, SegmenterConfig};
use crate::grammar::Dice;

/// Adds a noise clip, repeated as needed, at a level; the choice hangs on `seed`.
pub(super) fn mix(clip: &mut Clip, noises: &[Clip], level_dbfs: f64, seed: u64) {
    let mut dice = Dice::new(seed);
    let usable: Vec<&Clip> = noises
        .iter()
        .filter(|n| n.samples.len() > RATE_HZ as usize / 4)
        .collect();
    let Some(noise) = usable.get(dice.below(usable.len())) else {
        return;
    };
    let gain = 10_f64.powf((level_dbfs - f64::from(noise.rms_dbfs())) / 20.0) as f32;
    let offset = dice.below(noise.samples.len());
    for (i, sample) in clip.samples.iter_mut().enumerate() {
        *sample =
            (*sample + gain * noise.samples[(i + offset) % noise.samples.len()]).clamp(-1.0, 1.0);
    }
}

/// The longest silence between voiced sound, as the voice detector sees it.
pub(super) fn longest_pause_ms(clip: &Clip) -> u32 {
    let config = SegmenterConfig {
        hang_ms: 60_000,
        ..SegmenterConfig::default()
    };
    let mut segmenter = Segmenter::new(config);
    let (mut longest, mut silent) = (0, 0);
    for chunk in clip.samples.chunks(FRAME) {
        segmenter.push(chunk);
        let now = segmenter.silent_for_ms().unwrap_or(0);
        if now < silent {
            longest = longest.max(silent);
        }
        silent = now;
    }
    longest
}
