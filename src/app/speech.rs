//! The tool's own voice: the word bank, a child process for words that it lacks, a loudspeaker.

use super::assets;
use crate::device::Speaker;
use crate::session::Manner;
use crate::voice::{Bank, Process, Sound, Spoken, Voice};
use anyhow::{Context, Result};
use std::sync::atomic::AtomicBool;

/// Renders read-backs, and plays them where there is a loudspeaker.
pub struct TextToSpeech {
    voice: Box<dyn Voice>,
    gain_db: i8,
    speaker: Option<Box<dyn Speaker>>,
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

    /// Says a text and returns when it has sounded.
    ///
    /// # Errors
    /// As [`TextToSpeech::render`], and the loudspeaker's.
    pub fn say(&mut self, text: &str) -> Result<Sound> {
        let sound = self.render(text)?;
        if let Some(speaker) = &mut self.speaker {
            speaker.play(sound.rate_hz, &sound.samples, &AtomicBool::new(false))?;
        }
        Ok(sound)
    }
}
