//! A recording in the place of a microphone.

use super::{Error, Microphone, Read};
use crate::audio::{Clip, RATE_HZ, samples_in};
use std::time::{Duration, Instant};

/// How fast a recording is delivered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pace {
    /// As fast as it is read.
    AtOnce,
    /// As a microphone would: a second in a second.
    RealTime,
}

/// A clip that is read like a microphone and then ends.
pub(crate) struct Recording {
    samples: Vec<f32>,
    at: usize,
    pace: Pace,
    began: Option<Instant>,
}

/// What one read delivers, as a driver's period would, in ms.
const PERIOD_MS: u32 = 20;

impl Recording {
    /// Delivers `clip` at the given pace, from its first sample on the first read.
    pub(crate) fn new(clip: Clip, pace: Pace) -> Self {
        Self {
            samples: clip.samples,
            at: 0,
            pace,
            began: None,
        }
    }
}

impl Microphone for Recording {
    fn native_rate_hz(&self) -> u32 {
        RATE_HZ
    }

    fn read(&mut self, out: &mut Vec<f32>) -> Result<Read, Error> {
        let end = (self.at + samples_in(PERIOD_MS)).min(self.samples.len());
        if self.pace == Pace::RealTime {
            let due = Duration::from_secs_f64(end as f64 / f64::from(RATE_HZ));
            let began = *self.began.get_or_insert_with(Instant::now);
            std::thread::sleep(due.saturating_sub(began.elapsed()));
        }
        out.extend_from_slice(&self.samples[self.at..end]);
        let samples = end - self.at;
        self.at = end;
        Ok(Read {
            samples,
            overruns_total: 0,
            ended: end == self.samples.len(),
            sent_away: false,
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn read_all(mut recording: Recording) -> Vec<f32> {
        let mut out = Vec::new();
        while !recording.read(&mut out).unwrap().ended {}
        let more = recording.read(&mut out).unwrap();
        assert_eq!(
            more,
            Read {
                samples: 0,
                overruns_total: 0,
                ended: true,
                sent_away: false,
            }
        );
        out
    }

    #[test]
    fn every_sample_arrives_once_at_either_pace() {
        let samples: Vec<f32> = (0..1_700).map(|i| i as f32 / 1_700.0).collect();
        for pace in [Pace::AtOnce, Pace::RealTime] {
            let began = Instant::now();
            let clip = Clip::new(samples.clone());
            assert_eq!(read_all(Recording::new(clip, pace)), samples);
            let took = began.elapsed();
            assert!(
                pace == Pace::AtOnce || took >= Duration::from_millis(106),
                "{took:?}"
            );
        }
    }

    #[test]
    fn an_empty_recording_ends_at_once() {
        assert!(read_all(Recording::new(Clip::default(), Pace::AtOnce)).is_empty());
    }
}
