//! A microphone that is read on a thread of its own, so that nothing is lost while its reader is
//! busy: with a read-back of some seconds, say.

use super::{Error, Microphone, Read};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;

/// How long a read waits for the first sound: a button that is pressed meanwhile waits as long.
const WAIT: Duration = Duration::from_millis(20);

/// What one read of the inner microphone brought.
type Piece = (Vec<f32>, Result<Read, Error>);

/// A microphone drained for as long as it lives; reading gives what has gathered.
pub(crate) struct Drained {
    pieces: Receiver<Piece>,
    native_rate_hz: u32,
    overruns_total: u64,
}

impl Drained {
    /// Takes a microphone over to a thread of its own, which ends with the sound, with an error, or
    /// when the reader has gone.
    pub(crate) fn new(microphone: Box<dyn Microphone>) -> Self {
        let native_rate_hz = microphone.native_rate_hz();
        let (send, pieces) = channel();
        std::thread::spawn(move || drain(microphone, &send));
        Self {
            pieces,
            native_rate_hz,
            overruns_total: 0,
        }
    }
}

fn drain(mut microphone: Box<dyn Microphone>, to: &Sender<Piece>) {
    loop {
        let mut samples = Vec::new();
        let read = microphone.read(&mut samples);
        let over = !matches!(&read, Ok(read) if !read.ended);
        if to.send((samples, read)).is_err() || over {
            return;
        }
    }
}

impl Microphone for Drained {
    fn native_rate_hz(&self) -> u32 {
        self.native_rate_hz
    }

    fn read(&mut self, out: &mut Vec<f32>) -> Result<Read, Error> {
        let before = out.len();
        let (mut ended, mut sent_away) = (false, false);
        let mut next = match self.pieces.recv_timeout(WAIT) {
            Ok(piece) => Some(piece),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => {
                ended = true;
                None
            }
        };
        while let Some((samples, read)) = next {
            let read = read?;
            if read.sent_away {
                out.truncate(before);
                sent_away = true;
            }
            out.extend(samples);
            self.overruns_total = read.overruns_total;
            ended |= read.ended;
            next = self.pieces.try_recv().ok();
        }
        Ok(Read {
            samples: out.len() - before,
            overruns_total: self.overruns_total,
            ended,
            sent_away,
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::audio::Clip;
    use crate::device::{Pace, Recording};

    #[test]
    fn what_came_while_nobody_read_is_there() {
        let samples: Vec<f32> = (0..16_000).map(|i| i as f32 / 16_000.0).collect();
        let recording = Recording::new(Clip::new(samples.clone()), Pace::AtOnce);
        let mut drained = Drained::new(Box::new(recording));
        std::thread::sleep(Duration::from_millis(50));
        let mut out = Vec::new();
        while !drained.read(&mut out).unwrap().ended {}
        assert_eq!(out, samples);
        assert!(drained.read(&mut out).unwrap().ended);
    }

    #[test]
    fn a_fault_is_handed_on_behind_the_sound_before_it() {
        struct Fails(bool);
        impl Microphone for Fails {
            fn native_rate_hz(&self) -> u32 {
                48_000
            }

            fn read(&mut self, out: &mut Vec<f32>) -> Result<Read, Error> {
                if std::mem::replace(&mut self.0, true) {
                    return Err(Error::Unplugged {
                        what: "microphone",
                        name: "bench".into(),
                    });
                }
                out.extend([0.5; 10]);
                Ok(Read {
                    samples: 10,
                    overruns_total: 3,
                    ended: false,
                    sent_away: false,
                })
            }
        }
        let mut drained = Drained::new(Box::new(Fails(false)));
        let mut out = Vec::new();
        let fault = loop {
            match drained.read(&mut out) {
                Ok(read) => assert!(!read.ended),
                Err(fault) => break fault,
            }
        };
        assert!(matches!(fault, Error::Unplugged { .. }));
        assert_eq!(out, [0.5; 10]);
    }

    #[test]
    fn what_waits_of_somebody_who_was_sent_away_is_dropped() {
        struct SentAway(u32);
        impl Microphone for SentAway {
            fn native_rate_hz(&self) -> u32 {
                48_000
            }

            fn read(&mut self, out: &mut Vec<f32>) -> Result<Read, Error> {
                self.0 += 1;
                let samples = if self.0 == 2 { 0 } else { 10 };
                out.resize(out.len() + samples, self.0 as f32);
                Ok(Read {
                    samples,
                    overruns_total: 0,
                    ended: self.0 == 3,
                    sent_away: self.0 == 2,
                })
            }
        }
        let mut drained = Drained::new(Box::new(SentAway(0)));
        std::thread::sleep(Duration::from_millis(100));
        let mut out = vec![0.5];
        let read = drained.read(&mut out).unwrap();
        assert!(read.sent_away && read.ended);
        assert_eq!(out, [&[0.5][..], &[3.0; 10]].concat());
    }
}
