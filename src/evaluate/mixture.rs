//! What a score does to clips before they are heard: noise is mixed in, pauses are measured.

use crate::audio::{Clip, FRAME, RATE_HZ, Segmenter, SegmenterConfig, read_clip};
use crate::grammar::Dice;
use anyhow::{Context, Result};
use std::path::{Path, PathBuf};

/// Recordings of noise. Files are read when they are mixed in, so that they do not count as memory
/// that the recogniser needs.
pub struct Noises(Vec<Noise>);

enum Noise {
    File(PathBuf),
    Clip(Clip),
}

impl Noises {
    /// The files of a folder that are longer than a quarter of a second, by name.
    ///
    /// # Errors
    /// A folder or a file that cannot be read.
    pub fn of_folder(folder: &Path) -> Result<Self> {
        let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
            .with_context(|| format!("cannot read the folder {}", folder.display()))?
            .filter_map(|e| e.ok().map(|e| e.path()))
            .filter(|p| p.is_file())
            .collect();
        paths.sort();
        let mut usable = Vec::new();
        for path in paths {
            if read_clip(&path)?.samples.len() > RATE_HZ as usize / 4 {
                usable.push(Noise::File(path));
            }
        }
        Ok(Self(usable))
    }

    /// Sound that is in memory already.
    pub(crate) fn of_clips(clips: Vec<Clip>) -> Self {
        let usable = |clip: &Clip| !clip.samples.is_empty();
        Self(clips.into_iter().filter(usable).map(Noise::Clip).collect())
    }

    /// Adds one of them, repeated as needed, at a level; the choice hangs on `seed`.
    pub(super) fn mix_into(&self, clip: &mut Clip, level_dbfs: f64, seed: u64) -> Result<()> {
        let mut dice = Dice::new(seed);
        let noise = match self.0.get(dice.below(self.0.len())) {
            None => return Ok(()),
            Some(Noise::File(path)) => &read_clip(path)?,
            Some(Noise::Clip(clip)) => clip,
        };
        let gain = 10_f64.powf((level_dbfs - f64::from(noise.rms_dbfs())) / 20.0) as f32;
        let offset = dice.below(noise.samples.len());
        let sounds = noise.samples.iter().cycle().skip(offset);
        for (sample, sound) in clip.samples.iter_mut().zip(sounds) {
            *sample = (*sample + gain * sound).clamp(-1.0, 1.0);
        }
        Ok(())
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
