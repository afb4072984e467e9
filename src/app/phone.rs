//! A phone as microphone and loudspeaker: its frames as sound, its losses as losses.

use crate::audio::{RATE_HZ, Resampler, encode_wav_at, to_floats};
use crate::device::{Error, Microphone, Played, Read, Speaker};
use crate::web::{FromPhone, PhonePort};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::{Duration, Instant};
use tokio::sync::broadcast;

/// How long a read waits for the first sound.
const WAIT: Duration = Duration::from_millis(100);
/// Silence put where a connection broke, so that an utterance ends there instead of being joined
/// to what comes after: longer than the silence that ends one.
const BREAK_MS: usize = 1_000;
/// The longest silence put in place of lost frames; a longer loss is a break.
const MOST_LOST_FRAMES: u32 = 50;
/// A phone may be ahead of the clock by so much: what waited in the network comes at once.
const AHEAD: Duration = Duration::from_secs(10);
/// A phone may need this long beyond the sound itself to play it.
const SLACK: Duration = Duration::from_millis(1_500);

/// The phone's microphone. What was lost is silence in the sound, and counted.
pub(crate) struct PhoneMicrophone {
    frames: Receiver<FromPhone>,
    stream: Stream,
    /// When the present connection began.
    begun: Instant,
    /// How often who spoke was sent away, there and as far as it was noticed here.
    sent_away: (Arc<AtomicU64>, u64),
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
        begun: Instant::now(),
        sent_away: (port.sent_away, 0),
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
    /// Samples of the present connection, lost ones too, at its rate.
    taken: u64,
}

impl Stream {
    /// Turns one message into sound at the end of `out`, `elapsed` after its connection began. Sound that
    /// is faster than the clock is lost: no phone records it, and it would fill the memory.
    fn take(
        &mut self,
        message: FromPhone,
        elapsed: Duration,
        out: &mut Vec<f32>,
    ) -> Result<(), Error> {
        match message {
            FromPhone::Started { rate_hz } => {
                if self.started {
                    self.broken(out);
                }
                self.started = true;
                self.begin(rate_hz)?;
            }
            FromPhone::Stopped => self.broken(out),
            FromPhone::Samples { number, samples } => {
                let missing = self.next.map_or(0, |next| number.wrapping_sub(next));
                self.next = Some(number.wrapping_add(1));
                if missing > 0 {
                    self.lost += 1;
                }
                let frame = samples.len() as u64;
                let allowed =
                    (elapsed + AHEAD).as_millis() as u64 * u64::from(self.rate_hz) / 1_000;
                let room = allowed.saturating_sub(self.taken);
                let silent = u64::from(missing.min(MOST_LOST_FRAMES)) * frame;
                if frame + silent > room {
                    self.lost += u64::from(missing == 0);
                    return Ok(());
                }
                self.taken += frame + silent;
                if (1..=MOST_LOST_FRAMES).contains(&missing) {
                    let quiet = vec![0; samples.len()];
                    (0..missing).try_for_each(|_| self.push(&quiet, out))?;
                } else if missing > 0 {
                    silence(out);
                }
                self.push(&samples, out)?;
            }
        }
        Ok(())
    }

    fn begin(&mut self, rate_hz: u32) -> Result<(), Error> {
        (self.rate_hz, self.next, self.taken) = (rate_hz, None, 0);
        let resampler = Resampler::new(rate_hz, RATE_HZ, 1);
        self.resampler = Some(resampler.map_err(|e| fault("microphone", &e))?);
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
        let first = self.frames.recv_timeout(WAIT);
        let ended = matches!(first, Err(RecvTimeoutError::Disconnected));
        let now = self.sent_away.0.load(Ordering::SeqCst);
        let sent_away = std::mem::replace(&mut self.sent_away.1, now) != now;
        for message in first.into_iter().chain(self.frames.try_iter()) {
            match message {
                FromPhone::Started { .. } => self.begun = Instant::now(),
                // From whoever was sent away, or lost while that was noticed.
                _ if sent_away => continue,
                _ => {}
            }
            self.stream.take(message, self.begun.elapsed(), out)?;
        }
        if sent_away {
            out.truncate(before);
        }
        Ok(Read {
            samples: out.len() - before,
            overruns_total: self.stream.lost,
            ended,
            sent_away,
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
            stream.take(message, Duration::ZERO, &mut out).unwrap();
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

    /// 24 kB a frame, each with a gap before it, as fast as the network carries them.
    #[test]
    fn a_phone_that_skips_numbers_takes_no_more_than_its_time() {
        let (mut stream, mut out) = (Stream::default(), Vec::new());
        let mut take = |message, seconds| {
            let elapsed = Duration::from_secs(seconds);
            stream.take(message, elapsed, &mut out).unwrap();
            out.len()
        };
        take(FromPhone::Started { rate_hz: 48_000 }, 0);
        let frame = |number| FromPhone::Samples {
            number,
            samples: vec![8_192; 12_000],
        };
        let mut taken = 0;
        for number in 0..2_000 {
            taken = take(frame(number * 50), 1);
        }
        let most = 16_000 * (AHEAD.as_secs() as usize + 1);
        assert!(taken <= most, "{taken} samples in a second");
        // Later there is room again.
        assert!(take(frame(100_001), 3_600) > taken);
    }

    #[test]
    fn nothing_of_a_phone_that_was_sent_away_is_heard() {
        let (sender, frames) = std::sync::mpsc::sync_channel(8);
        let (_, played) = std::sync::mpsc::channel();
        let sent_away: Arc<AtomicU64> = Arc::default();
        let port = PhonePort {
            frames,
            played,
            speak: broadcast::Sender::new(1),
            sent_away: sent_away.clone(),
        };
        let (mut microphone, _) = phone(port);
        let mut read = || {
            let mut out = Vec::new();
            (microphone.read(&mut out).unwrap(), out)
        };
        let start = || FromPhone::Started { rate_hz: 16_000 };
        for message in [start(), frame(0), frame(1)] {
            sender.send(message).unwrap();
        }
        assert_eq!(read().1.len(), 640);
        sender.send(frame(2)).unwrap();
        sent_away.fetch_add(1, Ordering::SeqCst);
        let (now, out) = read();
        assert!(now.sent_away && out.is_empty());
        for message in [start(), frame(0)] {
            sender.send(message).unwrap();
        }
        let (now, out) = read();
        assert!(!now.sent_away && now.samples > 0, "the next phone is heard");
        assert_eq!(out[out.len() - 320..], [0.25; 320]);
    }
}
