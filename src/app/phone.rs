//! A phone as microphone and loudspeaker: its frames as sound, its losses as losses.

use crate::audio::{Clip, RATE_HZ, Resampler};
use crate::device::{Error, Microphone, Played, Read, Speaker};
use crate::voice::Sound;
use crate::web::{FromPhone, PhonePort};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;
use tokio::sync::broadcast;

/// How long a read waits for the first sound.
const WAIT: Duration = Duration::from_millis(100);
/// Silence put where a connection broke, so that an utterance ends there instead of being joined
/// to what comes after: longer than the silence that ends one.
const BREAK_MS: usize = 1_000;
/// The longest silence put in place of lost frames; a longer loss is a break.
const MOST_LOST_FRAMES: u32 = 50;
/// A phone may need this long beyond the sound itself to play it.
const SLACK: Duration = Duration::from_millis(1_500);

/// The phone's microphone. What was lost is silence in the sound, and counted.
pub(crate) struct PhoneMicrophone {
    frames: Receiver<FromPhone>,
    stream: Stream,
}

/// The phone's loudspeaker.
pub(crate) struct PhoneSpeaker {
    played: Receiver<()>,
    speak: broadcast::Sender<Arc<[u8]>>,
}

/// Both ends of a phone.
#[must_use]
pub(crate) fn phone(port: PhonePort) -> (PhoneMicrophone, PhoneSpeaker) {
    let microphone = PhoneMicrophone {
        frames: port.frames,
        stream: Stream::default(),
    };
    let speaker = PhoneSpeaker {
        played: port.played,
        speak: port.speak,
    };
    (microphone, speaker)
}

#[derive(Default)]
struct Stream {
    rate_hz: u32,
    resampler: Option<Resampler>,
    next: Option<u32>,
    started: bool,
    lost: u64,
}

impl Stream {
    /// Turns one message into sound at the end of `out`.
    fn take(&mut self, message: FromPhone, out: &mut Vec<f32>) -> Result<(), Error> {
        match message {
            FromPhone::Started { rate_hz } => {
                if self.started {
                    self.broken(out);
                }
                self.started = true;
                self.rate_hz = rate_hz;
                self.next = None;
                self.resampler = Some(Resampler::new(rate_hz, 1).map_err(|e| fault(&e))?);
            }
            FromPhone::Stopped => self.broken(out),
            FromPhone::Samples { number, samples } => {
                let missing = self.next.map_or(0, |next| number.wrapping_sub(next));
                if missing > 0 {
                    self.lost += 1;
                }
                if (1..=MOST_LOST_FRAMES).contains(&missing) {
                    self.push(&vec![0; samples.len() * missing as usize], out)?;
                } else if missing > 0 {
                    silence(out);
                }
                self.next = Some(number.wrapping_add(1));
                self.push(&samples, out)?;
            }
        }
        Ok(())
    }

    fn broken(&mut self, out: &mut Vec<f32>) {
        self.lost += 1;
        silence(out);
    }

    fn push(&mut self, samples: &[i16], out: &mut Vec<f32>) -> Result<(), Error> {
        if let Some(resampler) = &mut self.resampler {
            let samples = Clip::from_i16(samples).samples;
            out.extend(resampler.push(&samples).map_err(|e| fault(&e))?);
        }
        Ok(())
    }
}

fn silence(out: &mut Vec<f32>) {
    out.resize(out.len() + BREAK_MS * RATE_HZ as usize / 1_000, 0.0);
}

fn fault(error: &dyn std::error::Error) -> Error {
    Error::Driver {
        what: "microphone",
        name: "phone".to_owned(),
        detail: error.to_string(),
    }
}

impl Microphone for PhoneMicrophone {
    fn native_rate_hz(&self) -> u32 {
        self.stream.rate_hz
    }

    fn read(&mut self, out: &mut Vec<f32>) -> Result<Read, Error> {
        let before = out.len();
        let mut ended = false;
        match self.frames.recv_timeout(WAIT) {
            Ok(first) => {
                self.stream.take(first, out)?;
                while let Ok(more) = self.frames.try_recv() {
                    self.stream.take(more, out)?;
                }
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => ended = true,
        }
        Ok(Read {
            samples: out.len() - before,
            overruns_total: self.stream.lost,
            ended,
        })
    }
}

impl Speaker for PhoneSpeaker {
    fn play(&mut self, rate_hz: u32, samples: &[i16], _: &AtomicBool) -> Result<Played, Error> {
        while self.played.try_recv().is_ok() {} // of sounds that were given up
        let sound = Sound {
            rate_hz,
            samples: samples.to_vec(),
        };
        let long = Duration::from_millis(sound.length_ms());
        if self.speak.send(wav(&sound).into()).is_err() {
            return Ok(Played::Whole); // nobody is connected: it stands on the board
        }
        match self.played.recv_timeout(long + SLACK) {
            Ok(()) => Ok(Played::Whole),
            Err(_) => Ok(Played::Stopped),
        }
    }
}

/// A WAV file of 16-bit mono samples.
fn wav(sound: &Sound) -> Vec<u8> {
    let data = sound.samples.len() * 2;
    let size = |n: usize| u32::try_from(n).unwrap_or(u32::MAX).to_le_bytes();
    let mut out = Vec::with_capacity(44 + data);
    out.extend(b"RIFF");
    out.extend(size(36 + data));
    out.extend(b"WAVEfmt ");
    out.extend(16_u32.to_le_bytes());
    out.extend([1, 0, 1, 0]);
    out.extend(sound.rate_hz.to_le_bytes());
    out.extend((sound.rate_hz * 2).to_le_bytes());
    out.extend([2, 0, 16, 0]);
    out.extend(b"data");
    out.extend(size(data));
    out.extend(sound.samples.iter().flat_map(|s| s.to_le_bytes()));
    out
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn frame(number: u32) -> FromPhone {
        FromPhone::Samples {
            number,
            samples: vec![8_192; 320],
        }
    }

    fn run(messages: impl IntoIterator<Item = FromPhone>) -> (Vec<f32>, u64) {
        let (mut stream, mut out) = (Stream::default(), Vec::new());
        for message in messages {
            stream.take(message, &mut out).unwrap();
        }
        (out, stream.lost)
    }

    #[test]
    fn whole_sound_is_not_marked() {
        let start = FromPhone::Started { rate_hz: 16_000 };
        let (out, lost) = run([start, frame(7), frame(8), frame(9)]);
        assert_eq!((out.len(), lost), (960, 0));
        assert!(out.iter().all(|s| (*s - 0.25).abs() < 1e-3));
    }

    #[test]
    fn lost_frames_are_silence_and_marked() {
        let start = FromPhone::Started { rate_hz: 16_000 };
        let (out, lost) = run([start, frame(7), frame(10), frame(11)]);
        assert_eq!((out.len(), lost), (5 * 320, 1));
        assert!(out[320..960].iter().all(|s| *s == 0.0));
    }

    #[test]
    fn a_reconnect_is_never_joined() {
        let start = FromPhone::Started { rate_hz: 16_000 };
        let (out, lost) = run([start.clone(), frame(1), start, frame(0)]);
        assert_eq!(lost, 1);
        assert_eq!(out.len(), 640 + 16 * BREAK_MS);
    }

    #[test]
    fn the_phones_rate_is_converted() {
        let start = FromPhone::Started { rate_hz: 48_000 };
        let (out, _) = run(std::iter::once(start).chain((0..150).map(frame)));
        assert!((14_000..=16_000).contains(&out.len()), "{}", out.len());
    }

    #[test]
    fn the_wav_is_one() {
        let sound = Sound {
            rate_hz: 24_000,
            samples: vec![1, -1, 300],
        };
        let clip = hound::WavReader::new(std::io::Cursor::new(wav(&sound))).unwrap();
        assert_eq!(clip.spec().sample_rate, 24_000);
        let samples: Vec<i16> = clip.into_samples().map(Result::unwrap).collect();
        assert_eq!(samples, sound.samples);
    }
}
