//! A Whisper file in ggml format, in memory: where each tensor lies, what it holds, how words are spelt.

use std::collections::BTreeMap;
use std::ops::Range;

use super::constrained::written;
use super::tokenizer::Tokenizer;

/// Values that share a scale in the 8-bit format, and the bytes that they take.
const BLOCK: (usize, usize) = (32, 34);
/// Where the sizes of the mel filters stand: behind the mark and eleven numbers.
const FILTERS_AT: usize = 48;

/// The numbers at the head of the file that say how large the network is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Sizes {
    /// Tokens, the special ones included.
    pub(crate) vocabulary: usize,
    /// Columns of a feature.
    pub(crate) width: usize,
    /// Attention heads of encoder and decoder.
    pub(crate) heads: usize,
    /// Blocks of the encoder.
    pub(crate) encoder_blocks: usize,
    /// Blocks of the decoder.
    pub(crate) decoder_blocks: usize,
    /// Bands of the spectrum.
    pub(crate) bands: usize,
}

/// How the numbers of a tensor are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    F32,
    F16,
    Q8,
}

/// Where a tensor lies.
#[derive(Debug)]
struct Place {
    format: Format,
    /// Rows first.
    shape: Vec<usize>,
    at: Range<usize>,
}

impl Place {
    fn count(&self) -> usize {
        self.shape.iter().product()
    }
}

/// The whole file.
pub(crate) struct Weights {
    bytes: Vec<u8>,
    sizes: Sizes,
    filters: Range<usize>,
    tokenizer: Tokenizer,
    tensors: BTreeMap<String, Place>,
}

impl Weights {
    /// Reads the bytes of a file; says what is wrong with them otherwise.
    pub(crate) fn parse(bytes: Vec<u8>) -> Result<Self, String> {
        let mut reader = Reader {
            bytes: &bytes,
            at: 0,
        };
        if reader.take(4)? != b"lmgg" {
            return Err("it does not start like one".to_owned());
        }
        let mut head = [0; 11];
        for number in &mut head {
            *number = reader.number()?;
        }
        let [
            vocabulary,
            _,
            width,
            heads,
            encoder_blocks,
            _,
            text_width,
            text_heads,
            decoder_blocks,
            bands,
            _,
        ] = head;
        if (width, heads) != (text_width, text_heads) || width == 0 || heads == 0 {
            return Err("its encoder and decoder differ in width".to_owned());
        }
        reader.at = FILTERS_AT;
        let (rows, columns) = (reader.number()?, reader.number()?);
        let filters = reader.range(4 * rows.saturating_mul(columns))?;
        let mut spellings = Vec::new();
        for _ in 0..reader.number()? {
            let length = reader.number()?;
            spellings.push(reader.take(length)?.to_vec());
        }
        spellings.truncate(vocabulary.min(spellings.len()));
        let mut tensors = BTreeMap::new();
        while reader.at < bytes.len() {
            let (dimensions, length, format) =
                (reader.number()?, reader.number()?, reader.number()?);
            if dimensions > 4 {
                return Err(format!("a tensor has {dimensions} dimensions"));
            }
            let mut shape = (0..dimensions)
                .map(|_| reader.number())
                .collect::<Result<Vec<_>, _>>()?;
            shape.reverse();
            let name = String::from_utf8_lossy(reader.take(length)?).into_owned();
            let count = (shape.iter()).try_fold(1_usize, |all, n| all.checked_mul(*n));
            let count = count.ok_or_else(|| format!("its tensor {name} is too large"))?;
            let (format, size) = match format {
                0 => (Format::F32, count.checked_mul(4)),
                1 => (Format::F16, count.checked_mul(2)),
                8 => (Format::Q8, (count / BLOCK.0).checked_mul(BLOCK.1)),
                other => {
                    return Err(format!(
                        "its tensor {name} is stored as type {other}: expected 32-bit, 16-bit or 8-bit (q8_0)"
                    ));
                }
            };
            let at = reader.range(size.unwrap_or(usize::MAX))?;
            tensors.insert(name, Place { format, shape, at });
        }
        Ok(Self {
            sizes: Sizes {
                vocabulary,
                width,
                heads,
                encoder_blocks,
                decoder_blocks,
                bands,
            },
            filters,
            tokenizer: Tokenizer::new(spellings),
            tensors,
            bytes,
        })
    }

    /// The file as it is now.
    pub(crate) fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// How large the network is.
    pub(crate) const fn sizes(&self) -> Sizes {
        self.sizes
    }

    /// The mel filters, band after band.
    pub(crate) fn filters(&self) -> Vec<f32> {
        floats(&self.bytes[self.filters.clone()])
    }

    /// Tokens of a phrase as the recogniser writes it.
    pub(crate) fn spell(&self, phrase: &str) -> Vec<i32> {
        let words: Vec<String> = phrase.split_whitespace().map(written).collect();
        self.tokenizer.encode(&words.join(" "))
    }

    /// A tensor's shape, rows first, and its numbers.
    pub(crate) fn tensor(&self, name: &str) -> Option<(Vec<usize>, Vec<f32>)> {
        let place = self.tensors.get(name)?;
        let stored = self.bytes.get(place.at.clone())?;
        let half = |two: &[u8]| f16(u16::from_le_bytes([two[0], two[1]]));
        let numbers = match place.format {
            Format::F32 => floats(stored),
            Format::F16 => stored.chunks_exact(2).map(half).collect(),
            Format::Q8 => (stored.chunks_exact(BLOCK.1))
                .flat_map(|block| {
                    let scale = half(block);
                    let whole = block[2..].iter().map(|b| f32::from(b.cast_signed()));
                    whole.map(move |n| n * scale)
                })
                .collect(),
        };
        Some((place.shape.clone(), numbers))
    }

    /// The names of all tensors.
    pub(crate) fn names(&self) -> impl Iterator<Item = &str> {
        self.tensors.keys().map(String::as_str)
    }

    /// The names of its biases and layer norms, which a voice may change, each with its length.
    pub(crate) fn light(&self) -> BTreeMap<&str, usize> {
        let light = |(name, place): (&'_ String, &Place)| {
            let norm = name.ends_with("ln.weight") || name.ends_with("ln_post.weight");
            place.format == Format::F32 && (name.ends_with(".bias") || norm)
        };
        (self.tensors.iter())
            .filter(|(name, place)| light((name, place)))
            .map(|(name, place)| (name.as_str(), place.count()))
            .collect()
    }

    /// Puts other numbers in the place of a light tensor's; whether they fit.
    pub(crate) fn put(&mut self, name: &str, numbers: &[f32]) -> bool {
        let Some(place) = self.tensors.get(name) else {
            return false;
        };
        if place.format != Format::F32 || place.count() != numbers.len() {
            return false;
        }
        let stored = &mut self.bytes[place.at.clone()];
        for (four, number) in stored.chunks_exact_mut(4).zip(numbers) {
            four.copy_from_slice(&number.to_le_bytes());
        }
        true
    }
}

/// Takes one thing after another, and never more than there is.
struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Reader<'a> {
    fn range(&mut self, length: usize) -> Result<Range<usize>, String> {
        let end = self.at.checked_add(length);
        let end = end.filter(|end| *end <= self.bytes.len());
        let end = end.ok_or("it is incomplete or damaged")?;
        Ok(std::mem::replace(&mut self.at, end)..end)
    }

    fn take(&mut self, length: usize) -> Result<&'a [u8], String> {
        let range = self.range(length)?;
        Ok(&self.bytes[range])
    }

    fn number(&mut self) -> Result<usize, String> {
        let four = self.take(4)?;
        let number = i32::from_le_bytes([four[0], four[1], four[2], four[3]]);
        usize::try_from(number).map_err(|_| format!("it holds a negative size ({number})"))
    }
}

fn floats(bytes: &[u8]) -> Vec<f32> {
    let four = |b: &[u8]| f32::from_le_bytes([b[0], b[1], b[2], b[3]]);
    bytes.chunks_exact(4).map(four).collect()
}

/// A 16-bit float (IEEE 754-2008, binary16).
fn f16(bits: u16) -> f32 {
    let sign = if bits >> 15 == 1 { -1.0 } else { 1.0 };
    let (exponent, fraction) = (i32::from(bits >> 10 & 31), f32::from(bits & 1023));
    sign * match exponent {
        0 => fraction * 2.0_f32.powi(-24),
        31 if fraction == 0.0 => f32::INFINITY,
        31 => f32::NAN,
        _ => (1.0 + fraction / 1024.0) * 2.0_f32.powi(exponent - 15),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn halves_are_read_as_they_are_written() {
        let cases = [
            (0x3c00, 1.0),
            (0xc000, -2.0),
            (0x3555, 0.333_251_95),
            (0x0001, 5.960_464_5e-8),
            (0x7bff, 65_504.0),
        ];
        for (bits, value) in cases {
            assert_eq!(f16(bits), value, "{bits:04x}");
        }
        assert!(f16(0x7c01).is_nan());
    }

    #[test]
    fn the_shipped_file_is_read_and_a_cut_one_is_refused() {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
        let bytes = std::fs::read(root.join("models/ggml-tiny.en-bench-q8_0.bin")).unwrap();
        for length in [0, 3, 40, 60, 40_000, 600_000, bytes.len() - 1] {
            assert!(
                Weights::parse(bytes[..length].to_vec()).is_err(),
                "{length}"
            );
        }
        let mut weights = Weights::parse(bytes.clone()).unwrap();
        assert_eq!(weights.light().values().sum::<usize>(), 46_848);
        let name = "encoder.ln_post.bias";
        let (shape, old) = weights.tensor(name).unwrap();
        assert_eq!(shape, [384]);
        assert!(!weights.put(name, &old[1..]) && !weights.put("no", &old));
        assert!(!weights.put("encoder.blocks.0.mlp.0.weight", &old));
        assert!(weights.put(name, &[0.5; 384]));
        assert_eq!(weights.tensor(name).unwrap().1, [0.5; 384]);
        assert!(weights.put(name, &old) && weights.bytes() == bytes);
        // Of 8 bits: the largest of a block has the size 127.
        let (shape, numbers) = weights.tensor("decoder.token_embedding.weight").unwrap();
        assert_eq!(shape, [51_864, 384]);
        assert!(numbers.iter().all(|n| n.abs() < 2.0));
    }
}
