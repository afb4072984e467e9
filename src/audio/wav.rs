//! RIFF/WAVE to a clip, with the header's promises checked.

use super::sink::{DecodeError, Mono, Sink};
use std::io::Read;

const KIND: &str = "WAV";
/// Frames handed on at a time.
const PIECE: usize = 1 << 14;
/// Programs that write WAV into a pipe cannot know the length and put a value
/// from here up; the sound then lasts to the end of the file.
const LENGTH_UNKNOWN: u32 = 0x7fff_0000;

pub(super) fn decode(bytes: &[u8], name: &str, to_hz: Option<u32>) -> Result<Mono, DecodeError> {
    let (head, body) = known_length(bytes);
    let mut reader = hound::WavReader::new(head.chain(body)).map_err(|e| refused(e, name, 0))?;
    let spec = reader.spec();
    let mut sink = Sink::new(name, spec.sample_rate, spec.channels, to_hz)?;
    let promised = u64::from(reader.duration());
    let piece = PIECE * usize::from(spec.channels);
    let read = match (spec.sample_format, spec.bits_per_sample) {
        (hound::SampleFormat::Float, 32) => feed(reader.samples::<f32>(), piece, &mut sink),
        (hound::SampleFormat::Int, bits @ (8 | 16 | 24 | 32)) => {
            let scale = 1.0 / (1u64 << (bits - 1)) as f32;
            feed(
                reader.samples::<i32>().map(|s| s.map(|s| s as f32 * scale)),
                piece,
                &mut sink,
            )
        }
        (format, bits) => {
            return Err(DecodeError::Unsupported {
                name: name.into(),
                kind: KIND,
                detail: format!("{bits}-bit {format:?} samples"),
            });
        }
    };
    match read {
        Ok(()) => sink.finish(KIND),
        Err(Fault::Sink(e)) => Err(e),
        Err(Fault::Wav(hound::Error::IoError(_))) => Err(DecodeError::Truncated {
            name: name.into(),
            kind: KIND,
            found_ms: sink.taken_ms(),
            promised: format!(", {} ms were promised", sink.ms(promised)),
        }),
        Err(Fault::Wav(e)) => Err(refused(e, name, sink.taken_ms())),
    }
}

enum Fault {
    Wav(hound::Error),
    Sink(DecodeError),
}

fn feed(
    samples: impl Iterator<Item = hound::Result<f32>>,
    most: usize,
    sink: &mut Sink<'_>,
) -> Result<(), Fault> {
    let mut piece = Vec::with_capacity(most);
    for sample in samples {
        match sample {
            Ok(sample) => piece.push(sample),
            Err(e) => {
                sink.push(&piece).map_err(Fault::Sink)?;
                return Err(Fault::Wav(e));
            }
        }
        if piece.len() == most {
            sink.push(&piece).map_err(Fault::Sink)?;
            piece.clear();
        }
    }
    sink.push(&piece).map_err(Fault::Sink)
}

fn refused(error: hound::Error, name: &str, found_ms: u64) -> DecodeError {
    let name = name.to_owned();
    match error {
        hound::Error::IoError(_) => DecodeError::Truncated {
            name,
            kind: KIND,
            found_ms,
            promised: String::new(),
        },
        hound::Error::Unsupported => DecodeError::Unsupported {
            name,
            kind: KIND,
            detail: "such a coding".into(),
        },
        other => DecodeError::Corrupt {
            name,
            kind: KIND,
            found_ms,
            detail: other.to_string(),
        },
    }
}

/// The file as header and sound; where the header leaves the length open, it is
/// set to what is there.
fn known_length(bytes: &[u8]) -> (std::io::Cursor<Vec<u8>>, &[u8]) {
    let split = open_length(bytes).unwrap_or((0, 0, 0));
    let (length_at, body_at, length) = split;
    let mut head = bytes[..body_at].to_vec();
    if body_at > 0 {
        head[length_at..length_at + 4].copy_from_slice(&length.to_le_bytes());
    }
    (std::io::Cursor::new(head), &bytes[body_at..])
}

/// Where an open length stands, where the sound begins and how long it is.
fn open_length(bytes: &[u8]) -> Option<(usize, usize, u32)> {
    let word = |at: usize| {
        let four = bytes.get(at..at.checked_add(4)?)?;
        Some(u32::from_le_bytes([four[0], four[1], four[2], four[3]]))
    };
    let mut frame_bytes = 1;
    let mut at = 12usize;
    loop {
        let (id, length) = (bytes.get(at..at.checked_add(4)?)?, word(at + 4)?);
        let body_at = at + 8;
        if id == b"fmt " {
            frame_bytes = (word(body_at + 12)? & 0xffff).max(1);
        }
        if id == b"data" {
            let there = u32::try_from(bytes.len() - body_at).ok()?;
            let open = length >= LENGTH_UNKNOWN && length > there;
            return open.then_some((at + 4, body_at, there - there % frame_bytes));
        }
        at = body_at
            .checked_add(length as usize)?
            .checked_add(length as usize & 1)?;
    }
}
