//! The recogniser's network (Whisper; Radford et al. 2022) in f32, with gradients of its biases and
//! layer norms: spectrum, encoder on a window fitted to the sound, decoder.

use super::LearnError;
use super::ops::{Frozen, Gelu, Norm};
use crate::recognise::{Sizes, Weights};
use candle_core::{D, Device, Result, Tensor, Var};
use std::collections::{BTreeMap, HashMap};
use std::f32::consts::TAU;

/// The tokens that end a text and stand before it, of the English vocabulary.
pub(super) const END: u32 = 50_256;
pub(super) const PREFIX: [u32; 2] = [50_257, 50_362];
/// Tokens of that vocabulary.
const VOCABULARY: usize = 51_864;

/// Samples of a column of the spectrum, and between two columns.
const COLUMN: usize = 400;
const HOP: usize = 160;
/// Samples of a frame of the encoder: two columns.
pub(super) const FRAME: usize = 2 * HOP;

/// The network of a file of weights.
pub(super) struct Network {
    sizes: Sizes,
    /// Spectrum: sines and cosines of a column under its window, and the bands.
    waves: Tensor,
    bands: Tensor,
    frozen: HashMap<String, Frozen>,
    light: BTreeMap<String, Var>,
    places: Tensor,
    text_places: Tensor,
    embedding: Tensor,
    /// The part of it that may come out: text and its end.
    output: Frozen,
}

impl Network {
    /// Reads all that the network needs.
    pub(super) fn new(weights: &Weights) -> std::result::Result<Self, LearnError> {
        let sizes = weights.sizes();
        if sizes.vocabulary != VOCABULARY {
            return Err(LearnError::Weights(format!(
                "its vocabulary has {} tokens, expected an English one of {VOCABULARY}",
                sizes.vocabulary
            )));
        }
        let tensor = |name: &str| {
            let missing = || LearnError::Weights(format!("it has no tensor \"{name}\""));
            let (shape, numbers) = weights.tensor(name).ok_or_else(missing)?;
            Ok::<_, LearnError>(Tensor::from_vec(numbers, shape, &Device::Cpu)?)
        };
        let light_names = weights.light();
        let (mut frozen, mut light) = (HashMap::new(), BTreeMap::new());
        for name in weights.names() {
            if light_names.contains_key(name) {
                let numbers = tensor(name)?.flatten_all()?;
                light.insert(name.to_owned(), Var::from_tensor(&numbers)?);
            } else if let Some(of) = name.strip_suffix(".weight")
                && of != "decoder.token_embedding"
            {
                let mut matrix = tensor(name)?;
                if matrix.rank() == 3 {
                    // A convolution, as the product with three columns side by side.
                    matrix = matrix.transpose(1, 2)?.contiguous()?.flatten_from(1)?;
                }
                frozen.insert(of.to_owned(), Frozen(matrix));
            }
        }
        let embedding = tensor("decoder.token_embedding.weight")?;
        let (waves, filters) = (waves()?, weights.filters());
        let half = COLUMN / 2 + 1;
        Ok(Self {
            sizes,
            waves,
            bands: Tensor::from_vec(filters, (sizes.bands, half), &Device::Cpu)?
                .t()?
                .contiguous()?,
            frozen,
            light,
            places: tensor("encoder.positional_embedding")?,
            text_places: tensor("decoder.positional_embedding")?,
            output: Frozen(embedding.narrow(0, 0, END as usize + 1)?),
            embedding,
        })
    }

    /// What is trained.
    pub(super) const fn light(&self) -> &BTreeMap<String, Var> {
        &self.light
    }

    fn get(&self, name: &str) -> Result<&Tensor> {
        let var = self.light.get(name).map(Var::as_tensor);
        var.ok_or_else(|| candle_core::Error::Msg(format!("no \"{name}\" in these weights")))
    }

    fn matrix(&self, name: &str) -> Result<&Frozen> {
        let found = self.frozen.get(name);
        found.ok_or_else(|| candle_core::Error::Msg(format!("no \"{name}\" in these weights")))
    }

    fn linear(&self, name: &str, x: &Tensor) -> Result<Tensor> {
        self.matrix(name)?
            .plus(x, self.get(&format!("{name}.bias"))?)
    }

    fn norm(&self, name: &str, x: &Tensor) -> Result<Tensor> {
        let (scale, shift) = (format!("{name}.weight"), format!("{name}.bias"));
        x.apply_op3(self.get(&scale)?, self.get(&shift)?, Norm)
    }

    /// The spectrum of a sound in a window of `frames`: rows of bands, two a frame.
    fn spectrum(&self, sound: &[f32], frames: usize) -> Result<Tensor> {
        let columns = 2 * frames;
        let at = |i: isize| sound.get(i.unsigned_abs()).copied().unwrap_or(0.0); // mirrored at the start
        let middle = (COLUMN / 2) as isize;
        let cut = (0..columns).flat_map(|c| {
            let start = (c * HOP) as isize - middle;
            (0..COLUMN as isize).map(move |i| at(start + i))
        });
        let cut = Tensor::from_vec(cut.collect::<Vec<f32>>(), (columns, COLUMN), &Device::Cpu)?;
        let waves = cut.matmul(&self.waves)?.sqr()?;
        let half = COLUMN / 2 + 1;
        let power = (waves.narrow(1, 0, half)? + waves.narrow(1, half, half)?)?;
        let bands = power.matmul(&self.bands)?;
        let mut bands: Vec<f32> = bands.flatten_all()?.to_vec1()?;
        let mut most = f32::MIN;
        for band in &mut bands {
            *band = band.max(1e-10).log10();
            most = most.max(*band);
        }
        let shown = |band: f32| (band.max(most - 8.0) + 4.0) / 4.0;
        let bands: Vec<f32> = bands.into_iter().map(shown).collect();
        Tensor::from_vec(bands, (columns, self.sizes.bands), &Device::Cpu)
    }

    /// Features of a sound in a window of `frames`.
    pub(super) fn hear(&self, sound: &[f32], frames: usize) -> Result<Tensor> {
        let x = self.spectrum(sound, frames)?;
        let (rows, bands) = x.dims2()?;
        let edge = Tensor::zeros((1, bands), x.dtype(), &Device::Cpu)?;
        let x = Tensor::cat(&[&edge, &x, &edge], 0)?;
        let three: Vec<Tensor> = (0..3)
            .map(|k| x.narrow(0, k, rows))
            .collect::<Result<_>>()?;
        let x = self.linear("encoder.conv1", &Tensor::cat(&three, 1)?)?;
        let x = x.apply_op1(Gelu)?;
        // The second convolution takes two steps at a time: the column before, this one and the next.
        let width = self.sizes.width;
        let pairs = x.reshape((frames, 2, width))?;
        let (even, odd) = (pairs.get_on_dim(1, 0)?, pairs.get_on_dim(1, 1)?);
        let edge = Tensor::zeros((1, width), x.dtype(), &Device::Cpu)?;
        let before = Tensor::cat(&[&edge, &odd.narrow(0, 0, frames - 1)?], 0)?;
        let x = self.linear("encoder.conv2", &Tensor::cat(&[&before, &even, &odd], 1)?)?;
        let mut x = (x.apply_op1(Gelu)? + self.places.narrow(0, 0, frames)?)?;
        for block in 0..self.sizes.encoder_blocks {
            x = self.block(&format!("encoder.blocks.{block}"), &x, None)?;
        }
        self.norm("encoder.ln_post", &x)
    }

    /// Scores of the token after each of `tokens`: text and its end.
    pub(super) fn spell(&self, tokens: &[u32], features: &Tensor) -> Result<Tensor> {
        let indices = Tensor::new(tokens, &Device::Cpu)?;
        let x = self.embedding.index_select(&indices, 0)?;
        let mut x = (x + self.text_places.narrow(0, 0, tokens.len())?)?;
        for block in 0..self.sizes.decoder_blocks {
            x = self.block(&format!("decoder.blocks.{block}"), &x, Some(features))?;
        }
        self.output.of(&self.norm("decoder.ln", &x)?)
    }

    fn block(&self, name: &str, x: &Tensor, sound: Option<&Tensor>) -> Result<Tensor> {
        let inside = self.norm(&format!("{name}.attn_ln"), x)?;
        let mut x =
            (x + self.attention(&format!("{name}.attn"), &inside, &inside, sound.is_some())?)?;
        if let Some(sound) = sound {
            let inside = self.norm(&format!("{name}.cross_attn_ln"), &x)?;
            x = (x + self.attention(&format!("{name}.cross_attn"), &inside, sound, false)?)?;
        }
        let inside = self.norm(&format!("{name}.mlp_ln"), &x)?;
        let inside = self.linear(&format!("{name}.mlp.0"), &inside)?;
        let inside = inside.apply_op1(Gelu)?;
        x + self.linear(&format!("{name}.mlp.2"), &inside)?
    }

    fn attention(&self, name: &str, x: &Tensor, y: &Tensor, causal: bool) -> Result<Tensor> {
        let heads = self.sizes.heads;
        let size = self.sizes.width / heads;
        let split = |t: Tensor| t.reshape(((), heads, size))?.transpose(0, 1)?.contiguous();
        let query = split(self.linear(&format!("{name}.query"), x)?)?;
        let key = split(self.matrix(&format!("{name}.key"))?.of(y)?)?;
        let value = split(self.linear(&format!("{name}.value"), y)?)?;
        let scale = 1.0 / (size as f64).sqrt();
        let mut scores = (query.matmul(&key.transpose(1, 2)?.contiguous()?)? * scale)?;
        if causal {
            let rows = x.dim(0)?;
            let later = |(r, c): (usize, usize)| if c > r { -1e9 } else { 0.0_f32 };
            let mask: Vec<f32> = (0..rows * rows)
                .map(|i| later((i / rows, i % rows)))
                .collect();
            scores = scores.broadcast_add(&Tensor::from_vec(mask, (rows, rows), &Device::Cpu)?)?;
        }
        let most = scores.max_keepdim(D::Minus1)?.detach();
        let share = scores.broadcast_sub(&most)?.exp()?;
        let share = share.broadcast_div(&share.sum_keepdim(D::Minus1)?)?;
        let got = share.matmul(&value)?.transpose(0, 1)?.contiguous()?;
        self.linear(&format!("{name}.out"), &got.flatten_from(1)?)
    }
}

/// Cosines and sines of a column under a Hann window: rows of samples.
fn waves() -> Result<Tensor> {
    let half = COLUMN / 2 + 1;
    let turn = |n: usize| TAU * (n % COLUMN) as f32 / COLUMN as f32;
    let mut all = Vec::with_capacity(COLUMN * 2 * half);
    for i in 0..COLUMN {
        let window = 0.5 - 0.5 * turn(i).cos();
        all.extend((0..half).map(|k| window * turn(i * k).cos()));
        all.extend((0..half).map(|k| window * turn(i * k).sin()));
    }
    Tensor::from_vec(all, (COLUMN, 2 * half), &Device::Cpu)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::audio::read_clip;
    use crate::recognise::{Recogniser, Whisper, Window};
    use std::path::Path;

    /// Both hear the same three clips with the same weights. whisper.cpp rounds what goes into a
    /// product to 8 bits, so the figures are near, not the same.
    #[test]
    fn log_probabilities_agree_with_the_recogniser() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let model = root.join("models/ggml-tiny.en-bench-q8_0.bin");
        let weights = Weights::parse(std::fs::read(&model).unwrap()).unwrap();
        let network = Network::new(&weights).unwrap();
        let mut whisper = Whisper::load(&model, Window::Fitted, 1).unwrap();
        let mut largest = 0.0_f32;
        for name in [
            "note_the_guide_feels_loose_when_the_valve_is_lifted",
            "three_exhaust_left_point_two_five",
            "yes",
        ] {
            let clip = read_clip(&root.join(format!("fixtures/recogniser/{name}.wav"))).unwrap();
            let mut sound = clip.samples.clone();
            sound.resize(sound.len().max(17_600), 0.0);
            let frames = sound.len().div_ceil(FRAME) + 16;
            let heard = whisper.hear(&clip.samples).unwrap();
            let text = weights.spell(&heard.text);
            let text: Vec<u32> = text.iter().map(|t| t.unsigned_abs()).collect();
            let tokens = [&PREFIX[..], &text].concat();
            let scores = network
                .spell(&tokens, &network.hear(&sound, frames).unwrap())
                .unwrap();
            let rows: Vec<Vec<f32>> = scores.to_vec2().unwrap();
            let logp = |row: &[f32], token: u32| {
                let most = row.iter().copied().fold(f32::MIN, f32::max);
                let sum: f32 = row.iter().map(|s| (s - most).exp()).sum();
                row[token as usize] - most - sum.ln()
            };
            let rows = &rows[PREFIX.len() - 1..];
            assert_eq!(text.len(), heard.token_logps.len(), "{}", heard.text);
            for ((row, token), theirs) in rows.iter().zip(&text).zip(&heard.token_logps) {
                largest = largest.max((logp(row, *token) - theirs).abs());
            }
            let whole: f32 = (rows.iter().zip(text.iter().chain([&END])))
                .map(|(row, token)| logp(row, *token))
                .sum();
            println!("{}: {whole:.4} and {:.4} nats", heard.text, heard.logp);
            largest = largest.max((whole - heard.logp).abs() / (text.len() + 1) as f32);
        }
        println!("largest difference of a log-probability: {largest:.4} nats");
        assert!(largest < 0.1, "{largest}");
    }
}
