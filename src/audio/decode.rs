//! The bytes of a sound file to a clip. The kind is told by content, never by name.

use super::sink::{DecodeError, Mono};
use super::{Clip, RATE_HZ, compressed, pcm, wav};

/// Decodes a whole sound file to mono at [`super::RATE_HZ`]; channels are averaged.
/// `name` is used in error texts alone.
///
/// # Errors
/// See [`DecodeError`]; damaged, cut and foreign files are errors, never panics.
pub fn decode(bytes: &[u8], name: &str) -> Result<Clip, DecodeError> {
    mono(bytes, name, Some(RATE_HZ)).map(|(_, samples)| Clip::new(samples))
}

/// As [`decode`], at the file's own rate: its rate in Hz and its samples with 16 bits.
///
/// # Errors
/// As [`decode`].
pub(crate) fn decode_at_own_rate(bytes: &[u8], name: &str) -> Result<(u32, Vec<i16>), DecodeError> {
    mono(bytes, name, None).map(|(rate_hz, samples)| (rate_hz, pcm::to_integers(&samples)))
}

fn mono(bytes: &[u8], name: &str, to_hz: Option<u32>) -> Result<Mono, DecodeError> {
    match sniff(bytes) {
        _ if bytes.is_empty() => Err(DecodeError::Empty { name: name.into() }),
        Some(Kind::Wav) => wav::decode(bytes, name, to_hz),
        Some(Kind::Compressed(kind)) => compressed::decode(bytes, kind, name, to_hz),
        None => Err(DecodeError::NotAudio {
            name: name.into(),
            begins: printable(bytes),
        }),
    }
}

enum Kind {
    Wav,
    Compressed(&'static str),
}

/// The kind of file by its first bytes: the magic of RIFF/WAVE, RFC 9639 (FLAC),
/// RFC 3533 (Ogg), the ID3v2 tag or the frame sync of ISO/IEC 11172-3 layer III.
fn sniff(bytes: &[u8]) -> Option<Kind> {
    match bytes {
        [
            b'R',
            b'I',
            b'F',
            b'F',
            _,
            _,
            _,
            _,
            b'W',
            b'A',
            b'V',
            b'E',
            ..,
        ] => Some(Kind::Wav),
        [b'f', b'L', b'a', b'C', ..] => Some(Kind::Compressed("FLAC")),
        [b'O', b'g', b'g', b'S', ..] => Some(Kind::Compressed("Ogg")),
        [b'I', b'D', b'3', ..] => Some(Kind::Compressed("MP3")),
        // Layer III of MPEG 1, 2 or 2.5; not the reserved version, bit rate or sample rate.
        [0xff, b, c, ..]
            if b & 0xe6 == 0xe2 && b & 0x18 != 0x08 && c & 0xf0 != 0xf0 && c & 0x0c != 0x0c =>
        {
            Some(Kind::Compressed("MP3"))
        }
        _ => None,
    }
}

fn printable(bytes: &[u8]) -> String {
    let head = &bytes[..bytes.len().min(8)];
    format!("\"{}\"", head.escape_ascii())
}

#[cfg(test)]
#[path = "decode_tests.rs"]
mod tests;
