//! Tests of decoding: every kind, every depth, and everything that is broken.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::audio::{Clip, pcm::rms_dbfs};
use hound::{SampleFormat, WavSpec, WavWriter};
use std::io::Cursor;

/// Half a second of 1 kHz at half of full scale, made with sox (FLAC and Ogg:
/// 44.1 kHz stereo) and with LAME (MP3: 44.1 kHz mono; LAME takes 0.4 dB off).
const FLAC: &[u8] = include_bytes!("../../fixtures/audio/tone.flac");
const OGG: &[u8] = include_bytes!("../../fixtures/audio/tone.ogg");
const MP3: &[u8] = include_bytes!("../../fixtures/audio/tone.mp3");

fn tone(at: usize, rate_hz: u32) -> f64 {
    0.5 * (std::f64::consts::TAU * 1000.0 * at as f64 / f64::from(rate_hz)).sin()
}

fn wav(rate_hz: u32, channels: u16, bits: u16, format: SampleFormat) -> Vec<u8> {
    let spec = WavSpec {
        channels,
        sample_rate: rate_hz,
        bits_per_sample: bits,
        sample_format: format,
    };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, spec).unwrap();
    for at in 0..rate_hz as usize / 2 {
        for _ in 0..channels {
            let value = tone(at, rate_hz);
            match format {
                SampleFormat::Float => writer.write_sample(value as f32).unwrap(),
                SampleFormat::Int => {
                    let full = (1i64 << (bits - 1)) as f64;
                    writer.write_sample((value * full) as i32).unwrap();
                }
            }
        }
    }
    writer.finalize().unwrap();
    bytes.into_inner()
}

/// Length and level, and that it is a 1 kHz tone: its product with one.
fn assert_is_the_tone(clip: &Clip, what: &str) {
    let expected = 8_000;
    assert!(
        clip.samples.len().abs_diff(expected) <= 1_300,
        "{what}: {}",
        clip.samples.len()
    );
    let middle = &clip.samples[2_000..6_000];
    let level = rms_dbfs(middle);
    assert!((level + 9.03).abs() < 0.6, "{what}: {level} dBFS");
    let part = |shift: f64| {
        let wave = |i: usize| (std::f64::consts::TAU * (i as f64 / 16.0 + shift)).sin();
        let sum: f64 = middle
            .iter()
            .enumerate()
            .map(|(i, &s)| f64::from(s) * wave(i))
            .sum();
        sum / middle.len() as f64 * 2.0
    };
    let amplitude = part(0.0).hypot(part(0.25));
    assert!(
        (amplitude - 0.5).abs() < 0.03,
        "{what}: 1 kHz amplitude {amplitude}"
    );
}

#[test]
fn every_wav_depth_rate_and_channel_count() {
    for rate_hz in [
        8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000, 192_000,
    ] {
        for channels in [1, 2, 6] {
            for (bits, format) in [
                (8, SampleFormat::Int),
                (16, SampleFormat::Int),
                (24, SampleFormat::Int),
                (32, SampleFormat::Int),
                (32, SampleFormat::Float),
            ] {
                let what = format!("{rate_hz} Hz, {channels} channels, {bits}-bit {format:?}");
                let clip = decode(&wav(rate_hz, channels, bits, format), &what).unwrap();
                assert_is_the_tone(&clip, &what);
            }
        }
    }
}

#[test]
fn compressed_files_whatever_they_are_called() {
    for (bytes, name) in [(FLAC, "a.wav"), (OGG, "b"), (MP3, "c.flac")] {
        assert_is_the_tone(&decode(bytes, name).unwrap(), name);
    }
}

#[test]
fn refusals_name_the_file_the_fault_and_what_is_accepted() {
    let text = |bytes: &[u8]| decode(bytes, "in/x.wav").unwrap_err().to_string();
    let accepted =
        "accepted are WAV (8, 16, 24, 32-bit or float), FLAC, Ogg Vorbis and MP3, 8 to 192 kHz";
    assert_eq!(
        text(b""),
        format!("in/x.wav: the file is empty; {accepted}")
    );
    assert_eq!(
        text(b"<html>\n"),
        format!(
            "in/x.wav: this is not a sound file that can be read (it begins with \"<html>\\n\"); {accepted}"
        )
    );
    assert_eq!(
        text(&wav(4_000, 1, 16, SampleFormat::Int)),
        "in/x.wav: a sample rate of 4000 Hz is not accepted; 8000 to 192000 Hz are"
    );
    let cut = wav(16_000, 1, 16, SampleFormat::Int);
    assert_eq!(
        text(&cut[..44 + 6_400]),
        "in/x.wav: the WAV file is cut short: 200 ms of sound are there, 500 ms were promised; \
         copy or record it again"
    );
    assert!(text(&cut[..44]).contains("0 ms of sound are there, 500 ms were promised"));
    let mut none = cut[..44].to_vec();
    none[40..44].fill(0);
    assert_eq!(text(&none), "in/x.wav: the WAV file holds no sound at all");
}

#[test]
fn a_float_that_is_no_number_is_refused_with_its_place() {
    for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let mut bytes = wav(16_000, 2, 32, SampleFormat::Float);
        let at = bytes.len() - 16_000 * 8 / 4;
        bytes[at..at + 4].copy_from_slice(&bad.to_le_bytes());
        let error = decode(&bytes, "f.wav").unwrap_err();
        assert!(
            matches!(error, DecodeError::NotFinite { at_ms: 250, .. }),
            "{error}"
        );
    }
}

#[test]
fn a_wav_from_a_pipe_lasts_to_its_end() {
    for open in [0x7fff_f000u32, 0xffff_ffff, 0x8000_0000] {
        let mut bytes = wav(16_000, 1, 16, SampleFormat::Int);
        bytes[4..8].copy_from_slice(&open.to_le_bytes());
        bytes[40..44].copy_from_slice(&open.to_le_bytes());
        assert_is_the_tone(&decode(&bytes, "pipe.wav").unwrap(), "pipe");
        bytes.pop();
        assert_is_the_tone(
            &decode(&bytes, "pipe.wav").unwrap(),
            "pipe, cut in a sample",
        );
    }
}

#[test]
fn a_file_cut_anywhere_is_an_error_never_a_shorter_clip() {
    let files = [
        ("wav", wav(16_000, 1, 16, SampleFormat::Int)),
        ("flac", FLAC.to_vec()),
        ("ogg", OGG.to_vec()),
    ];
    for (name, bytes) in files {
        let whole = decode(&bytes, name).unwrap().duration_ms();
        for share in 0..40 {
            let cut = bytes.len() * share / 40;
            match decode(&bytes[..cut], name) {
                Err(e) => assert!(e.to_string().starts_with(name), "{e}"),
                Ok(clip) => panic!("{name} cut at {cut}: {} of {whole} ms", clip.duration_ms()),
            }
        }
    }
}

/// An MP3 file without a length tag has no promise to break: a cut one is shorter.
#[test]
fn a_cut_mp3_is_shorter_or_an_error() {
    let whole = decode(MP3, "mp3").unwrap().duration_ms();
    for share in 0..40 {
        if let Ok(clip) = decode(&MP3[..MP3.len() * share / 40], "mp3") {
            assert!(clip.duration_ms() < whole);
        }
    }
}

/// A small generator, so that the same bytes are tried every time (xorshift,
/// Marsaglia 2003).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }
}

#[test]
fn random_bytes_behind_every_magic_never_panic() {
    let mut noise = Noise(0x9e37_79b9_7f4a_7c15);
    let heads: [&[u8]; 8] = [
        b"",
        b"RIFF\0\0\0\0WAVE",
        b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0\x01\0",
        b"fLaC",
        b"fLaC\0\0\0\x22",
        b"OggS\0\x02",
        b"ID3\x04\0\0\0\0\0\x10",
        b"\xff\xfb\x90\x64",
    ];
    for round in 0..2_000 {
        let mut bytes = heads[round % heads.len()].to_vec();
        let length = noise.next() as usize % 600;
        bytes.extend((0..length).map(|_| noise.next() as u8));
        let _ = decode(&bytes, "noise");
    }
}

#[test]
fn valid_files_with_flipped_bytes_never_panic() {
    let mut noise = Noise(0x2545_f491_4f6c_dd1d);
    for file in [&wav(16_000, 2, 24, SampleFormat::Int), FLAC, OGG, MP3] {
        for _ in 0..150 {
            let mut bytes = file.to_vec();
            for _ in 0..=noise.next() % 4 {
                // Half of the hits go to the headers, where the structure is.
                let span = if noise.next() & 1 == 0 {
                    200.min(bytes.len())
                } else {
                    bytes.len()
                };
                let at = noise.next() as usize % span;
                bytes[at] = noise.next() as u8;
            }
            let _ = decode(&bytes, "flipped");
        }
    }
}
