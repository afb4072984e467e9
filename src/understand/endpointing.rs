//! Endpointing by sound and grammar: how long a silence ends an utterance, given what was heard.
//!
//! After the two timeouts of W3C VoiceXML 2.0, section 6.3.2: `completetimeout` if what was said is
//! whole, `incompletetimeout` if more must come. A phrase that could go on timeouts in between.

use super::hypothesis::Hypothesis;
use crate::event::{Gap, Value};
use crate::grammar::{Command, Grammar, Heard, Meaning, Progress, Whereabouts};

/// Silences to wait for, in milliseconds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Timeouts {
    /// After a phrase that nothing usual follows.
    pub whole_ms: u32,
    /// After a number that may get more figures.
    pub number_ms: u32,
    /// After a phrase that often goes on: "fifteen goes", a place, "no".
    pub open_ms: u32,
    /// After the beginning of a phrase.
    pub begun_ms: u32,
    /// After what is not a phrase.
    pub astray_ms: u32,
}

/// Speech that rises less than this above the noise, in dB, may have weak words that drown in it.
/// Chosen on the mixes of models/FIGURES.md: clean ones rise by more than 40, 10 dB by 12 to 18.
const NOISY_DB: f32 = 20.0;
/// How much longer a silence is waited for then.
const NOISY_FACTOR: f32 = 1.5;

impl Default for Timeouts {
    fn default() -> Self {
        Self {
            whole_ms: 200,
            number_ms: 480,
            open_ms: 480,
            begun_ms: 1_500,
            astray_ms: 450,
        }
    }
}

/// Whether speech rises so little above the noise, `rise_db`, that weak words may drown in it.
#[must_use]
pub(super) fn is_noisy(rise_db: Option<f32>) -> bool {
    rise_db.is_some_and(|rise| rise < NOISY_DB)
}

/// A silence, longer where speech rises only `rise_db` above the noise.
#[must_use]
pub(super) fn in_noise(ms: u32, rise_db: Option<f32>) -> u32 {
    match is_noisy(rise_db) {
        true => (ms as f32 * NOISY_FACTOR) as u32,
        false => ms,
    }
}

impl Timeouts {
    /// The same silence after everything.
    #[must_use]
    pub const fn fixed(ms: u32) -> Self {
        Self {
            whole_ms: ms,
            number_ms: ms,
            open_ms: ms,
            begun_ms: ms,
            astray_ms: ms,
        }
    }

    /// Each silence in percent of what it was: for who speaks slowly.
    #[must_use]
    pub const fn scaled(self, percent: u32) -> Self {
        Self {
            whole_ms: self.whole_ms * percent / 100,
            number_ms: self.number_ms * percent / 100,
            open_ms: self.open_ms * percent / 100,
            begun_ms: self.begun_ms * percent / 100,
            astray_ms: self.astray_ms * percent / 100,
        }
    }

    /// The silence to wait for after the best hypothesis so far, if there is one; `free` is what was
    /// heard freely.
    pub(super) fn after(&self, grammar: &Grammar, best: Option<&Hypothesis>, free: &str) -> u32 {
        let Some(best) = best else {
            let begun = !free.is_empty() && grammar.progress(free) == Progress::Begun;
            return if begun { self.begun_ms } else { self.astray_ms };
        };
        match (&best.interpretation, grammar.progress(&best.text)) {
            (Heard::Nothing, Progress::Begun) => self.begun_ms,
            (Heard::Nothing, _) => self.astray_ms,
            // "Shim two …": too small alone, and figures may follow.
            (Heard::Refused(_), Progress::NumberMayGrow) => self.begun_ms,
            (Heard::Accepted(said), progress) => match said.meaning {
                Meaning::Open
                | Meaning::Answer
                | Meaning::Note(_)
                | Meaning::Command(Command::Negative | Command::Correction | Command::Next)
                | Meaning::Reading {
                    value: Value::Gap(Gap::AtLeast(_)),
                    ..
                } => self.open_ms,
                // "Stem two exhaust left": its value is still to come.
                Meaning::Command(Command::MeasureBegun | Command::WhichBlade)
                | Meaning::BoltCalled(_) => self.begun_ms,
                // "Read back two …": all of that cylinder, or one valve of it.
                Meaning::Command(_) if is_part(&said.place) && progress == Progress::Whole => {
                    self.open_ms
                }
                _ if progress == Progress::NumberMayGrow => self.number_ms,
                _ => self.whole_ms,
            },
            (_, Progress::NumberMayGrow) => self.number_ms,
            _ => self.whole_ms,
        }
    }
}

/// Part of a place: more of it may follow.
const fn is_part(place: &Whereabouts) -> bool {
    !place.is_empty()
        && place.head.is_none()
        && (place.cylinder.is_none() || place.side.is_none() || place.valve.is_none())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::understand::testing::Bench;

    #[test]
    fn what_may_go_on_timeouts_longer_than_what_cannot() {
        let bench = Bench::triple();
        let interpreter = bench.interpreter();
        let grammar = interpreter.grammar;
        let timeouts = Timeouts::default();
        let after = |text: &str| {
            let best = Hypothesis::new(&interpreter, text.to_owned(), 0.0);
            timeouts.after(grammar, Some(&best), text)
        };
        let cases = [
            (
                "three exhaust left fifteen goes eighteen wont",
                timeouts.whole_ms,
            ),
            ("three exhaust left no gap", timeouts.whole_ms),
            ("read back two", timeouts.open_ms),
            ("read back two exhaust right", timeouts.whole_ms),
            ("stand by", timeouts.whole_ms),
            ("three exhaust left point two", timeouts.number_ms),
            ("three exhaust left two sixty", timeouts.number_ms),
            ("three exhaust left fifteen goes", timeouts.open_ms),
            ("three exhaust left", timeouts.open_ms),
            ("no", timeouts.open_ms),
            ("three exhaust left between fifteen and", timeouts.begun_ms),
            ("shim two", timeouts.number_ms),
            ("three exhaust left shim", timeouts.begun_ms),
            ("pass me the kettle", timeouts.astray_ms),
        ];
        for (text, wait_ms) in cases {
            assert_eq!(after(text), wait_ms, "{text}");
        }
        // Nothing legal was found, and what was heard begins a phrase.
        let begun = timeouts.after(grammar, None, "three exhaust left goes");
        assert_eq!(begun, timeouts.begun_ms);
        assert_eq!(timeouts.after(grammar, None, ""), timeouts.astray_ms);
    }
}
