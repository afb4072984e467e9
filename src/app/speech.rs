//! The tool's own voice: the word bank, a child process for words that it lacks, a loudspeaker.

use super::assets;
use crate::device::Speaker;
use crate::session::Manner;
use crate::voice::{Bank, Process, Sound, Spoken, Voice};
use anyhow::{Context, Result};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Renders read-backs, and plays them where there is a loudspeaker.
pub struct TextToSpeech {
    voice: Box<dyn Voice>,
    gain_db: i8,
    speaker: Option<Box<dyn Speaker>>,
    hush: Arc<AtomicBool>,
}

/// Loads the word bank that ships with the program.
///
/// # Errors
/// A missing, truncated or altered file: words that moved in the table would be spoken wrongly.
pub fn bank() -> Result<Bank> {
    let table = String::from_utf8(assets::model_bytes("voice-table")?);
    let table = table.context("the voice's table is not text")?;
    Ok(Bank::load(&assets::model_bytes("voice")?, &table)?)
}

impl TextToSpeech {
    /// An English voice with the shipped bank; silent where `speaker` is `None`.
    ///
    /// # Errors
    /// As [`bank`].
    pub fn new(speaker: Option<Box<dyn Speaker>>) -> Result<Self> {
        Self::of("en", speaker)
    }

    /// A voice for a language: the shipped bank is English, every other is a speech program's.
    ///
    /// # Errors
    /// As [`bank`].
    pub fn of(language: &str, speaker: Option<Box<dyn Speaker>>) -> Result<Self> {
        let voice: Box<dyn Voice> = match language {
            "en" => Box::new(Spoken {
                bank: bank()?,
                fallback: Some(Box::new(Process::espeak_ng("en-gb"))),
            }),
            other => Box::new(Process::espeak_ng(other)),
        };
        Ok(Self {
            voice,
            gain_db: 0,
            speaker,
            hush: Arc::default(),
        })
    }

    /// The loudspeaker, for another voice.
    pub(crate) fn into_speaker(self) -> Option<Box<dyn Speaker>> {
        self.speaker
    }

    /// A text as sound.
    ///
    /// # Errors
    /// Words that neither the bank nor the child process can say.
    pub fn render(&mut self, text: &str) -> Result<Sound> {
        Ok(self.voice.render(text)?.louder(self.gain_db))
    }

    /// Speaks as the person has asked for.
    pub(crate) fn set_manner(&mut self, manner: &Manner) {
        self.voice.set_pace(manner.pace_percent());
        self.gain_db = manner.gain_db();
    }

    /// Set from another thread, it stops what is being said.
    #[must_use]
    pub fn hush(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.hush)
    }

    /// Says a text and returns when it has sounded, or was stopped.
    ///
    /// # Errors
    /// As [`TextToSpeech::render`], and the loudspeaker's.
    pub fn say(&mut self, text: &str) -> Result<Sound> {
        self.hush.store(false, Ordering::Relaxed);
        let sound = self.render(text)?;
        if let Some(speaker) = &mut self.speaker {
            speaker.play(sound.rate_hz, &sound.samples, &self.hush)?;
        }
        Ok(sound)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::device::{Error, Played};
    use std::time::{Duration, Instant};

    /// A sound that never ends by itself.
    struct Endless;

    impl Speaker for Endless {
        fn play(&mut self, _: u32, _: &[i16], stop: &AtomicBool) -> Result<Played, Error> {
            let begun = Instant::now();
            while !stop.load(Ordering::Relaxed) {
                assert!(begun.elapsed() < Duration::from_secs(5), "not stopped");
                std::thread::sleep(Duration::from_millis(5));
            }
            Ok(Played::Stopped)
        }
    }

    #[test]
    fn what_is_being_said_can_be_stopped_and_the_next_is_said() {
        let mut voice = TextToSpeech::new(Some(Box::new(Endless))).unwrap();
        let hush = voice.hush();
        for _ in 0..2 {
            let hush = Arc::clone(&hush);
            let key = std::thread::spawn(move || {
                std::thread::sleep(Duration::from_millis(100));
                hush.store(true, Ordering::Relaxed);
            });
            let begun = Instant::now();
            voice.say("no gap").unwrap();
            assert!(begun.elapsed() >= Duration::from_millis(90));
            key.join().unwrap();
        }
    }
}
