//! A phone as microphone and loudspeaker: its frames as sound, its losses as losses.

use crate::audio::{RATE_HZ, Resampler, encode_wav_at, to_floats};
use crate::device::{Error, Microphone, Played, Read, Speaker};
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
                self.resampler =
                    Some(Resampler::new(rate_hz, RATE_HZ, 1).map_err(|e| fault("microphone", &e))?);
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
            out.extend(
                resampler
                    .push(&to_floats(samples))
                    .map_err(|e| fault("microphone", &e))?,
            );
        }
        Ok(())
    }
}

fn silence(out: &mut Vec<f32>) {
    out.resize(out.len() + BREAK_MS * RATE_HZ as usize / 1_000, 0.0);
}

fn fault(what: &'static str, error: &dyn std::error::Error) -> Error {
    Error::Driver {
        what,
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
        let wav = encode_wav_at(rate_hz, samples).map_err(|e| fault("loudspeaker", &e))?;
        let long = Duration::from_secs_f64(samples.len() as f64 / f64::from(rate_hz.max(1)));
        if self.speak.send(wav.into()).is_err() {
            return Ok(Played::Whole); // nobody is connected: it stands on the board
        }
        match self.played.recv_timeout(long + SLACK) {
            Ok(()) => Ok(Played::Whole),
            Err(_) => Ok(Played::Stopped),
        }
    }
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
}
