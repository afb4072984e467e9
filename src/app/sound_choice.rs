//! What was chosen on the page of the sound check, and how far a loudspeaker is behind: kept for the next
//! time.

use super::settings;
use crate::web::Kept;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::io;
use std::time::Duration;

/// Its file in the settings folder.
const FILE: &str = "sound.json";

/// By their names; `None` is the default one.
#[derive(Clone, Default, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SoundChoice {
    /// Which microphone.
    pub(crate) microphone: Option<String>,
    /// Which loudspeaker.
    pub(crate) speaker: Option<String>,
    /// The bench keeps listening while it speaks.
    #[serde(default)]
    pub(crate) headset: bool,
    /// A key or button is pressed before each phrase.
    #[serde(default)]
    pub(crate) push_to_talk: bool,
    /// How far each loudspeaker that was measured is behind, by name; the default one has none.
    #[serde(default)]
    pub(crate) behind_ms: BTreeMap<String, u32>,
}

impl SoundChoice {
    /// The choice of the last time.
    ///
    /// # Errors
    /// The file cannot be read; what to do about it.
    pub(crate) fn kept() -> io::Result<Self> {
        settings::kept().map_or_else(|| Ok(Self::default()), |kept| Self::of(kept.as_ref()))
    }

    /// How far that loudspeaker is behind, as far as it was measured.
    pub(crate) fn behind(&self, speaker: Option<&str>) -> Duration {
        let ms = self.behind_ms.get(speaker.unwrap_or_default());
        Duration::from_millis(ms.copied().map_or(0, u64::from))
    }

    /// That loudspeaker was measured.
    pub(crate) fn is_behind(&mut self, speaker: Option<&str>, ms: u32) {
        let speaker = speaker.unwrap_or_default().to_owned();
        self.behind_ms.insert(speaker, ms);
    }

    fn of(kept: &dyn Kept) -> io::Result<Self> {
        let Some(text) = kept.read(FILE)? else {
            return Ok(Self::default());
        };
        let wrong = |why| {
            let why = format!("{FILE} in the settings folder: {why}; remove it, and choose again");
            io::Error::new(io::ErrorKind::InvalidData, why)
        };
        serde_json::from_str(&text).map_err(wrong)
    }

    /// Keeps it for the next time.
    ///
    /// # Errors
    /// The disk.
    pub(crate) fn keep(&self) -> io::Result<()> {
        settings::kept().map_or(Ok(()), |kept| self.keep_in(kept.as_ref()))
    }

    fn keep_in(&self, kept: &dyn Kept) -> io::Result<()> {
        let text = serde_json::to_string_pretty(self)?;
        kept.change(FILE, &mut |_| Ok(text.clone()))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::web::Memory;

    #[test]
    fn a_choice_is_there_the_next_time_and_a_spoilt_one_says_what_to_do() {
        let kept = Memory::default();
        assert_eq!(SoundChoice::of(&kept).unwrap(), SoundChoice::default());
        // One of before there were switches.
        let mut old = |_| Ok("{\"microphone\": \"head set\", \"speaker\": null}".to_owned());
        kept.change(FILE, &mut old).unwrap();
        let mut choice = SoundChoice::of(&kept).unwrap();
        assert_eq!(choice.microphone.as_deref(), Some("head set"));
        assert!(!choice.headset && !choice.push_to_talk);
        choice.is_behind(None, 240);
        choice.push_to_talk = true;
        assert_eq!(choice.behind(None), Duration::from_millis(240));
        assert_eq!(choice.behind(Some("another")), Duration::ZERO);
        choice.keep_in(&kept).unwrap();
        assert_eq!(SoundChoice::of(&kept).unwrap(), choice);
        let mut spoil = |_| Ok("{\"microfone\": 1}".to_owned());
        kept.change(FILE, &mut spoil).unwrap();
        let why = SoundChoice::of(&kept).unwrap_err().to_string();
        assert!(why.contains("remove it, and choose again"), "{why}");
    }
}
