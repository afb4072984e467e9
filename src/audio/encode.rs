//! A clip as the bytes of a 16-bit mono WAV file, for storing and for tests.

use super::{Clip, RATE_HZ};
use sha2::{Digest, Sha256};
use std::io::Cursor;

/// Why a clip could not be written as WAV.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum EncodeError {
    /// The writer refused; in practice only when the clip exceeds the 4 GiB of a WAV file.
    #[error("the sound cannot be written as WAV ({0}); at most 4 GiB fit, that is 37 hours")]
    Wav(#[from] hound::Error),
}

/// The clip as a complete WAV file: 16-bit, mono, [`RATE_HZ`].
///
/// # Errors
/// [`EncodeError::Wav`] when the clip is too long for the format.
pub fn encode_wav(clip: &Clip) -> Result<Vec<u8>, EncodeError> {
    encode_wav_at(RATE_HZ, &clip.to_i16())
}

/// Samples of another rate as a complete WAV file: 16-bit, mono.
///
/// # Errors
/// As [`encode_wav`].
pub(crate) fn encode_wav_at(rate_hz: u32, samples: &[i16]) -> Result<Vec<u8>, EncodeError> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate_hz,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = Cursor::new(Vec::with_capacity(44 + 2 * samples.len()));
    let mut writer = hound::WavWriter::new(&mut bytes, spec)?;
    for &sample in samples {
        writer.write_sample(sample)?;
    }
    writer.finalize()?;
    Ok(bytes.into_inner())
}

/// The SHA-256 of `bytes` in 64 lower-case hex digits (FIPS 180-4): the name of a clip.
#[must_use]
pub fn sha256_hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let digit = |half: u8| char::from(DIGITS[usize::from(half)]);
    let hash = Sha256::digest(bytes);
    let digits = hash.iter().flat_map(|b| [digit(b >> 4), digit(b & 15)]);
    digits.collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::audio::{decode, decode_at_own_rate};

    #[test]
    fn what_is_written_reads_back_the_same() {
        let clip = Clip::from_i16(&[0, 1, -1, 32_767, -32_768, 1234]);
        let bytes = encode_wav(&clip).unwrap();
        assert_eq!(bytes.len(), 44 + 12);
        assert_eq!(decode(&bytes, "clip.wav").unwrap(), clip);
    }

    #[test]
    fn another_rate_reads_back_the_same() {
        let samples = vec![1, -1, 300, i16::MIN, i16::MAX];
        let bytes = encode_wav_at(24_000, &samples).unwrap();
        assert_eq!(
            decode_at_own_rate(&bytes, "voice").unwrap(),
            (24_000, samples)
        );
    }
}
