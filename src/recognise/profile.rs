//! What the recogniser has learnt of one voice: a few numbers in place of those of its weights, and
//! what is known of them.

use std::collections::{BTreeMap, HashMap};

use safetensors::tensor::{Dtype, SafeTensors, TensorView, serialize};

use super::weights::Weights;
use crate::audio::sha256_hex;

/// More than any profile has: that of the shipped weights takes 200 kB.
pub const MOST_PROFILE_BYTES: u64 = 4_000_000;

/// What is known of a profile; kept in its file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct About {
    /// SHA-256 of the file of weights that it belongs to.
    pub weights: String,
    /// The day on which it was learnt.
    pub made: String,
    /// The microphone, or what it was learnt from.
    pub microphone: String,
    /// Phrases that it was learnt from.
    pub phrases: usize,
    /// How phrases were heard that it was not learnt from: before and after, in words.
    pub figures: String,
    /// Why it may not be used; empty if it may.
    pub refused: String,
}

/// One voice.
#[derive(Debug, Clone, PartialEq)]
pub struct VoiceProfile {
    /// What is known of it.
    pub about: About,
    numbers: BTreeMap<String, Vec<f32>>,
}

/// Why a file is no profile, or not one of these weights.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
pub enum ProfileError {
    /// Another kind of file, or a damaged one.
    #[error("it is no voice profile (safetensors): {0}")]
    NotAProfile(String),
    /// A number that is none.
    #[error("\"{tensor}\" holds {value}, not a finite number")]
    NotFinite {
        /// Where.
        tensor: String,
        /// What it holds.
        value: String,
    },
    /// Learnt for other weights.
    #[error("it was learnt for the weights {}, not for {}: learn it again", short(.found), short(.expected))]
    OtherWeights {
        /// SHA-256 of those.
        found: String,
        /// SHA-256 of these.
        expected: String,
    },
    /// A tensor too many, too few, or of another length.
    #[error("\"{tensor}\" has {found} numbers; these weights have {expected} there")]
    Shape {
        /// Its name.
        tensor: String,
        /// How many there are.
        found: usize,
        /// How many there should be.
        expected: usize,
    },
}

/// The first 16 hex digits of a SHA-256, by which events name what heard them.
fn short(sha256: &str) -> &str {
    sha256.get(..16).unwrap_or(sha256)
}

impl VoiceProfile {
    /// From numbers for tensors of the weights.
    #[must_use]
    pub const fn new(about: About, numbers: BTreeMap<String, Vec<f32>>) -> Self {
        Self { about, numbers }
    }

    /// Reads the bytes of a file.
    ///
    /// # Errors
    /// [`ProfileError::NotAProfile`], [`ProfileError::NotFinite`].
    pub fn parse(bytes: &[u8]) -> Result<Self, ProfileError> {
        let not = |what: String| ProfileError::NotAProfile(what);
        let file = SafeTensors::deserialize(bytes).map_err(|e| not(e.to_string()))?;
        let (_, head) = SafeTensors::read_metadata(bytes).map_err(|e| not(e.to_string()))?;
        let head = head.metadata().clone().unwrap_or_default();
        let known = |key: &str| head.get(key).cloned().unwrap_or_default();
        let about = About {
            weights: known("weights"),
            made: known("made"),
            microphone: known("microphone"),
            phrases: known("phrases").parse().unwrap_or(0),
            figures: known("figures"),
            refused: known("refused"),
        };
        if about.weights.is_empty() {
            return Err(not("it does not say which weights it is for".to_owned()));
        }
        let mut numbers = BTreeMap::new();
        for (name, tensor) in file.tensors() {
            if tensor.dtype() != Dtype::F32 {
                return Err(not(format!(
                    "\"{name}\" holds {:?}, expected F32",
                    tensor.dtype()
                )));
            }
            let four = |b: &[u8]| f32::from_le_bytes([b[0], b[1], b[2], b[3]]);
            let all: Vec<f32> = tensor.data().chunks_exact(4).map(four).collect();
            if let Some(value) = all.iter().find(|n| !n.is_finite()) {
                let value = value.to_string();
                return Err(ProfileError::NotFinite {
                    tensor: name,
                    value,
                });
            }
            numbers.insert(name, all);
        }
        Ok(Self { about, numbers })
    }

    /// The bytes of its file.
    ///
    /// # Errors
    /// [`ProfileError::NotAProfile`] if it cannot be written in this format.
    pub fn to_bytes(&self) -> Result<Vec<u8>, ProfileError> {
        let failed = |e: safetensors::SafeTensorError| ProfileError::NotAProfile(e.to_string());
        let about = &self.about;
        let head: HashMap<String, String> = [
            ("weights", about.weights.clone()),
            ("made", about.made.clone()),
            ("microphone", about.microphone.clone()),
            ("phrases", about.phrases.to_string()),
            ("figures", about.figures.clone()),
            ("refused", about.refused.clone()),
        ]
        .map(|(key, value)| (key.to_owned(), value))
        .into();
        let bytes: Vec<(&String, Vec<u8>)> = (self.numbers.iter())
            .map(|(name, all)| (name, all.iter().flat_map(|n| n.to_le_bytes()).collect()))
            .collect();
        let views = (bytes.iter())
            .map(|(name, b)| Ok((*name, TensorView::new(Dtype::F32, vec![b.len() / 4], b)?)))
            .collect::<Result<Vec<_>, _>>()
            .map_err(failed)?;
        serialize(views, Some(head)).map_err(failed)
    }

    /// What events call it: the first 16 hex digits of the SHA-256 of its numbers, each tensor's behind
    /// its name. (A file of the same numbers may have its head in another order.)
    #[must_use]
    pub fn name(&self) -> String {
        let mut all = Vec::new();
        for (name, numbers) in &self.numbers {
            all.extend_from_slice(name.as_bytes());
            all.extend(numbers.iter().flat_map(|n| n.to_le_bytes()));
        }
        short(&sha256_hex(&all)).to_owned()
    }

    /// Is it of the weights with this SHA-256?
    ///
    /// # Errors
    /// [`ProfileError::OtherWeights`].
    pub fn is_for(&self, sha256: &str) -> Result<(), ProfileError> {
        if self.about.weights == sha256 {
            return Ok(());
        }
        Err(ProfileError::OtherWeights {
            found: self.about.weights.clone(),
            expected: sha256.to_owned(),
        })
    }

    /// Puts its numbers in the place of those of the weights. All must fit, or none is put.
    pub(super) fn apply(&self, weights: &mut Weights) -> Result<(), ProfileError> {
        let light = weights.light();
        let wrong = |tensor: &str, found, expected| ProfileError::Shape {
            tensor: tensor.to_owned(),
            found,
            expected,
        };
        for (name, all) in &self.numbers {
            let expected = light.get(name.as_str()).copied().unwrap_or(0);
            if all.len() != expected {
                return Err(wrong(name, all.len(), expected));
            }
        }
        if let Some((name, n)) = light.iter().find(|(n, _)| !self.numbers.contains_key(**n)) {
            return Err(wrong(name, 0, *n));
        }
        for (name, all) in &self.numbers {
            weights.put(name, all);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::path::Path;

    fn shipped() -> Weights {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let bytes = std::fs::read(root.join("models/ggml-tiny.en-bench-q8_0.bin")).unwrap();
        Weights::parse(bytes).unwrap()
    }

    fn of(weights: &Weights, value: f32) -> VoiceProfile {
        let light = weights.light();
        let numbers = light
            .iter()
            .map(|(n, k)| ((*n).to_owned(), vec![value; *k]));
        let about = About {
            weights: "ab".repeat(32),
            made: "2026-11-27".to_owned(),
            microphone: "a \"headset\"".to_owned(),
            phrases: 30,
            figures: "4 of 8, then 8".to_owned(),
            refused: String::new(),
        };
        VoiceProfile::new(about, numbers.collect())
    }

    #[test]
    fn a_profile_comes_back_as_it_was_written_and_is_small() {
        let profile = of(&shipped(), 0.25);
        let bytes = profile.to_bytes().unwrap();
        assert!(bytes.len() < 210_000, "{}", bytes.len());
        assert_eq!(VoiceProfile::parse(&bytes).unwrap(), profile);
        assert_eq!(profile.name().len(), 16);
        assert!(profile.is_for(&"ab".repeat(32)).is_ok());
        let other = profile.is_for(&"cd".repeat(32)).unwrap_err().to_string();
        assert_eq!(
            other,
            "it was learnt for the weights abababababababab, not for cdcdcdcdcdcdcdcd: learn it again"
        );
    }

    #[test]
    fn its_numbers_take_the_place_of_those_of_the_weights() {
        let mut weights = shipped();
        let before = weights.bytes().to_vec();
        of(&weights, 0.25).apply(&mut weights).unwrap();
        let (_, bias) = weights.tensor("decoder.ln.bias").unwrap();
        assert_eq!(bias, [0.25; 384]);
        let changed = weights.bytes().iter().zip(&before).filter(|(a, b)| a != b);
        assert!(changed.count() <= 4 * 46_848);
    }

    #[test]
    fn what_does_not_fit_or_is_no_number_is_told() {
        let mut weights = shipped();
        let before = weights.bytes().to_vec();
        let name = "encoder.ln_post.bias".to_owned();
        let mut short = of(&weights, 0.0);
        short.numbers.insert(name.clone(), vec![0.0; 383]);
        let told = |p: &VoiceProfile, w: &mut Weights| p.apply(w).unwrap_err().to_string();
        assert_eq!(
            told(&short, &mut weights),
            "\"encoder.ln_post.bias\" has 383 numbers; these weights have 384 there"
        );
        let mut fewer = of(&weights, 0.0);
        fewer.numbers.remove(&name);
        assert!(told(&fewer, &mut weights).contains("has 0 numbers"));
        let mut more = of(&weights, 0.0);
        more.numbers.insert("x".to_owned(), vec![1.0]);
        assert!(told(&more, &mut weights).contains("\"x\" has 1 numbers"));
        assert!(weights.bytes() == before);
        let mut odd = of(&weights, 0.0);
        odd.numbers.insert(name.clone(), vec![f32::NAN; 384]);
        assert_eq!(
            VoiceProfile::parse(&odd.to_bytes().unwrap())
                .unwrap_err()
                .to_string(),
            "\"encoder.ln_post.bias\" holds NaN, not a finite number"
        );
        for bytes in [&b"RIFF"[..], &[0xff; 64], &[]] {
            let error = VoiceProfile::parse(bytes).unwrap_err();
            assert!(matches!(error, ProfileError::NotAProfile(_)));
        }
        let whole = of(&weights, 0.0).to_bytes().unwrap();
        assert!(VoiceProfile::parse(&whole[..whole.len() - 5]).is_err());
    }
}
