//! A loudspeaker that keeps what it was given, for tests and for silent use.

use super::{Error, Played, Speaker};
use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering};

/// Remembers every sound; fails where the script says so.
#[derive(Debug, Default)]
pub(super) struct ScriptedSpeaker {
    /// The sounds played so far: rate in Hz and samples.
    pub played: Vec<(u32, Vec<i16>)>,
    /// Answers to the next calls; when empty, every sound is played.
    pub faults: VecDeque<Option<Error>>,
}

impl Speaker for ScriptedSpeaker {
    fn play(&mut self, rate_hz: u32, samples: &[i16], stop: &AtomicBool) -> Result<Played, Error> {
        if let Some(fault) = self.faults.pop_front().flatten() {
            return Err(fault);
        }
        if stop.load(Ordering::Relaxed) {
            return Ok(Played::Stopped);
        }
        self.played.push((rate_hz, samples.to_vec()));
        Ok(Played::Whole)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_sounds_fails_as_told_and_can_be_stopped() {
        let busy = Error::Busy {
            what: "loudspeaker",
            name: "front".into(),
        };
        let mut speaker = ScriptedSpeaker::default();
        speaker.faults.push_back(Some(busy.clone()));
        let go = AtomicBool::new(false);
        assert_eq!(speaker.play(22_050, &[1, 2], &go), Err(busy));
        assert_eq!(speaker.play(22_050, &[3], &go), Ok(Played::Whole));
        assert_eq!(
            speaker.play(22_050, &[4], &AtomicBool::new(true)),
            Ok(Played::Stopped)
        );
        assert_eq!(speaker.played, [(22_050, vec![3])]);
    }
}
