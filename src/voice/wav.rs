//! Reads the WAV that a speech program writes to a pipe, where the lengths in its header may be
//! placeholders because the program could not go back to fill them in.

use super::Sound;

const PCM: u16 = 1;
const EXTENSIBLE: u16 = 0xfffe;

/// The sound of a 16-bit PCM WAV, its channels averaged; or what is wrong with it.
pub(super) fn parse(bytes: &[u8]) -> Result<Sound, String> {
    let (Some(b"RIFF"), Some(b"WAVE")) = (bytes.get(..4), bytes.get(8..12)) else {
        return Err("not a WAV file".to_owned());
    };
    let mut format = None;
    let mut at = 12;
    while let Some(head) = bytes.get(at..at + 8) {
        let (id, length) = (&head[..4], u32_at(head, 4));
        let begin = at + 8;
        let end = begin.saturating_add(length as usize).min(bytes.len());
        let body = &bytes[begin..end];
        match id {
            b"fmt " if body.len() >= 16 => format = Some(Format::read(body)?),
            b"data" => {
                let format = format.ok_or("its data come before its format")?;
                return Ok(format.sound(body));
            }
            _ => {}
        }
        at = end + (length as usize & 1);
    }
    Err("it has no data".to_owned())
}

struct Format {
    rate_hz: u32,
    channels: usize,
}

impl Format {
    fn read(body: &[u8]) -> Result<Self, String> {
        let (kind, channels, bits) = (u16_at(body, 0), u16_at(body, 2), u16_at(body, 14));
        let rate_hz = u32_at(body, 4);
        if !matches!(kind, PCM | EXTENSIBLE) || bits != 16 || channels == 0 || rate_hz == 0 {
            return Err(format!(
                "kind {kind}, {channels} channels, {bits} bits, {rate_hz} Hz; expected 16-bit PCM"
            ));
        }
        Ok(Self {
            rate_hz,
            channels: usize::from(channels),
        })
    }

    fn sound(&self, data: &[u8]) -> Sound {
        let samples = data.chunks_exact(2 * self.channels).map(|frame| {
            let sum: i64 = frame
                .chunks_exact(2)
                .map(|s| i64::from(i16::from_le_bytes([s[0], s[1]])))
                .sum();
            (sum / self.channels as i64) as i16
        });
        Sound {
            rate_hz: self.rate_hz,
            samples: samples.collect(),
        }
    }
}

fn u16_at(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([bytes[at], bytes[at + 1]])
}

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from(u16_at(bytes, at)) | u32::from(u16_at(bytes, at + 2)) << 16
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    fn wav(channels: u16, bits: u16, data_length: u32, data: &[i16]) -> Vec<u8> {
        let mut bytes = b"RIFF\0\0\0\0WAVELIST\x03\0\0\0abc\0fmt \x10\0\0\0\x01\0".to_vec();
        bytes.extend(channels.to_le_bytes());
        bytes.extend(22_050u32.to_le_bytes());
        bytes.extend([0; 6]);
        bytes.extend(bits.to_le_bytes());
        bytes.extend(b"data");
        bytes.extend(data_length.to_le_bytes());
        bytes.extend(data.iter().flat_map(|s| s.to_le_bytes()));
        bytes
    }

    #[test]
    fn a_length_that_the_writer_could_not_know_is_no_obstacle() {
        for length in [6, 0x7fff_f000, u32::MAX] {
            let sound = parse(&wav(1, 16, length, &[5, -6, 7])).unwrap();
            assert_eq!(
                sound,
                Sound {
                    rate_hz: 22_050,
                    samples: vec![5, -6, 7]
                }
            );
        }
    }

    #[test]
    fn channels_are_averaged() {
        assert_eq!(
            parse(&wav(2, 16, 8, &[10, 20, i16::MAX, i16::MAX]))
                .unwrap()
                .samples,
            [15, i16::MAX]
        );
    }

    #[test]
    fn every_cut_of_a_file_is_read_or_refused() {
        let whole = wav(1, 16, 6, &[1, 2, 3]);
        for length in 0..whole.len() {
            if let Ok(sound) = parse(&whole[..length]) {
                assert!(length >= whole.len() - 6 && sound.samples.len() < 3);
            }
        }
        assert!(parse(&wav(1, 8, 6, &[1])).unwrap_err().contains("8 bits"));
        assert!(
            parse(&wav(0, 16, 6, &[1]))
                .unwrap_err()
                .contains("0 channels")
        );
    }
}
