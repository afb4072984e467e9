//! The sound check: how the microphone sounds, and what a phrase was understood as. Nothing of it is
//! stored.

use super::assets;
use super::in_words::in_words;
use super::job::Job;
use super::recogniser;
use super::sound;
use super::sound_choice::SoundChoice;
use crate::audio::pcm::is_clipped;
use crate::audio::rms_dbfs;
use crate::event::Outcome;
use crate::grammar::Grammar;
use crate::measure::LengthUnit;
use crate::understand::{Listener, Recognised};
use crate::web::SoundAsk;
use anyhow::Result;
use serde::Serialize;
use std::collections::VecDeque;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// What is to be said.
const SAY: &str = "three exhaust left, fifteen goes";
/// Longer than a page that is open lets it wait between two questions.
const UNASKED: Duration = Duration::from_secs(4);
/// How much sound a level is of, in samples at 16 kHz.
const WINDOW: usize = 8_000;
/// Phrases that are shown.
const SHOWN: usize = 5;
/// A voice that stands less above the room than this is not heard well (as `check --voice` advises;
/// common practice, no source).
pub(crate) const ABOVE_DB: f32 = 10.0;
/// What is said while the loudspeaker is being measured.
const MEASURING: &str = "Measuring: keep quiet for two seconds.";
/// What is said of an overdriven microphone.
pub(crate) const CLIPPED: &str = "the microphone is overdriven: turn it down or move it away";
/// What is said of a room that is loud against the voice.
pub(crate) const LOUD_ROOM: &str = "The room is loud against the voice: bring the microphone nearer, or switch the compressor off.";

/// What the page shows.
#[derive(Clone, Serialize)]
struct Shown {
    say: &'static str,
    microphones: Vec<String>,
    speakers: Vec<String>,
    /// What is listened to.
    source: String,
    /// By a part of their names; `None` is the default one.
    microphone: Option<String>,
    speaker: Option<String>,
    headset: bool,
    push_to_talk: bool,
    /// How far the loudspeaker is behind, in words; empty if it was not measured.
    delay: String,
    /// `None` while nothing is listened to.
    level_dbfs: Option<f32>,
    words: String,
    /// A job is open, which is what listens.
    job_open: bool,
    heard: VecDeque<Phrase>,
    trouble: String,
}

/// The same, and who waits for it.
struct State {
    shown: Shown,
    /// When a page asked last.
    asked: Instant,
    /// The bench was asked to listen.
    wanted: bool,
}

/// A phrase as it was understood.
#[derive(Clone, Serialize)]
struct Phrase {
    said: String,
    /// What would be read back, or why nothing would.
    understood: String,
    right: bool,
    confidence_percent: u8,
    /// What to do about the sound, if anything.
    advice: String,
}

/// What the check and its page share.
#[derive(Clone)]
pub(crate) struct SoundNow(Arc<Mutex<State>>);

impl SoundNow {
    /// Before anything was listened to.
    pub(crate) fn new() -> Self {
        let shown = Shown {
            say: SAY,
            microphones: Vec::new(),
            speakers: Vec::new(),
            source: String::new(),
            microphone: None,
            speaker: None,
            headset: false,
            push_to_talk: false,
            delay: String::new(),
            level_dbfs: None,
            words: String::new(),
            job_open: false,
            heard: VecDeque::new(),
            trouble: String::new(),
        };
        Self(Arc::new(Mutex::new(State {
            shown,
            asked: Instant::now(),
            wanted: false,
        })))
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// As JSON; a page is open that asks.
    ///
    /// # Errors
    /// None that can be met; serde's type asks for it.
    pub(crate) fn json(&self) -> Result<String> {
        let mut now = self.lock();
        now.asked = Instant::now();
        Ok(serde_json::to_string(&now.shown)?)
    }

    /// What is listened to from now on, and where the read-back sounds.
    pub(crate) fn is_of(&self, source: &str, choice: &SoundChoice) {
        let shown = &mut self.lock().shown;
        shown.source = source.to_owned();
        shown.microphone.clone_from(&choice.microphone);
        shown.speaker.clone_from(&choice.speaker);
        (shown.headset, shown.push_to_talk) = (choice.headset, choice.push_to_talk);
        let behind = choice.behind(choice.speaker.as_deref()).as_millis();
        shown.delay = match behind {
            0 => String::new(),
            ms => format!("The loudspeaker is {ms} ms behind, as it was measured."),
        };
        shown.trouble.clear();
    }

    /// What a page wants is shown at once, and done as soon as the bench comes to it.
    pub(crate) fn wants(&self, ask: &SoundAsk) {
        let shown = &mut self.lock().shown;
        match ask {
            SoundAsk::Headset(on) => shown.headset = *on,
            SoundAsk::PushToTalk(on) => shown.push_to_talk = *on,
            SoundAsk::Delay => MEASURING.clone_into(&mut shown.delay),
            SoundAsk::Now | SoundAsk::Microphone(_) | SoundAsk::Speaker(_) => {}
        }
    }

    /// What is told of how far the loudspeaker is behind.
    pub(crate) fn delays(&self, words: &str) {
        words.clone_into(&mut self.lock().shown.delay);
    }

    /// What went wrong.
    pub(crate) fn trouble(&self, why: &anyhow::Error) {
        self.lock().shown.trouble = in_words(why);
    }

    /// Whether a job is open: then its board shows the level, and what is said is stored in it.
    pub(crate) fn is_shown(&self, job_open: bool) {
        self.lock().shown.job_open = job_open;
    }

    /// Whether a page still asks.
    pub(crate) fn is_asked(&self) -> bool {
        self.lock().asked.elapsed() < UNASKED
    }

    /// Whether the bench must be asked to listen; it is from now on.
    pub(crate) fn wants_to_begin(&self) -> bool {
        !std::mem::replace(&mut self.lock().wanted, true)
    }

    /// It ended, and may be asked for again.
    pub(crate) fn ended(&self) {
        self.lock().wanted = false;
    }

    /// Nothing is listened to.
    fn pause(&self) {
        let shown = &mut self.lock().shown;
        (shown.level_dbfs, shown.words) = (None, String::new());
    }
}

/// Listens for the page.
pub(crate) struct SoundCheck {
    now: SoundNow,
    listener: Listener,
    recent: Vec<f32>,
    english: Grammar,
    /// Kept nowhere; another for each phrase, so that one does not bear on the next.
    job: Job,
}

impl SoundCheck {
    /// Begins.
    ///
    /// # Errors
    /// The recogniser.
    pub(crate) fn new(now: &SoundNow, model: Option<&Path>) -> Result<Self> {
        let names = sound::names();
        {
            let shown = &mut now.lock().shown;
            if let Ok([microphones, speakers]) = names {
                (shown.microphones, shown.speakers) = (microphones, speakers);
            }
        }
        let english = assets::english()?;
        Ok(Self {
            now: now.clone(),
            listener: Listener::new(recogniser::load_for("en", model, None)?),
            recent: Vec::new(),
            job: unkept(&english)?,
            english,
        })
    }

    /// Takes what the microphone delivers; `native_rate_hz` is its own.
    ///
    /// # Errors
    /// The recogniser.
    pub(crate) fn take(&mut self, samples: &[f32], native_rate_hz: u32) -> Result<()> {
        self.recent.extend_from_slice(samples);
        let old = self.recent.len().saturating_sub(WINDOW);
        self.recent.drain(..old);
        {
            let shown = &mut self.now.lock().shown;
            shown.level_dbfs = Some(rms_dbfs(&self.recent));
            words_of(&self.recent, native_rate_hz).clone_into(&mut shown.words);
        }
        for heard in self.listener.feed(samples, &mut self.job)? {
            self.job = unkept(&self.english)?;
            let shown = &mut self.now.lock().shown;
            shown.heard.push_front(phrase(&heard));
            shown.heard.truncate(SHOWN);
        }
        Ok(())
    }
}

fn unkept(english: &Grammar) -> Result<Job> {
    Job::unkept(english.clone(), "triple", LengthUnit::Millimetre)
}

impl Drop for SoundCheck {
    fn drop(&mut self) {
        self.now.pause();
    }
}

/// How the last half second sounds, in words.
fn words_of(samples: &[f32], native_rate_hz: u32) -> &'static str {
    if samples.iter().all(|s| *s == 0.0) {
        return "pure silence: unmute it, or choose another microphone";
    }
    if is_clipped(samples) {
        return CLIPPED;
    }
    if native_rate_hz < 16_000 {
        return "narrow band: it sounds like a telephone; a headset does so while it plays and listens at once";
    }
    if rms_dbfs(samples) < -60.0 {
        return "very quiet";
    }
    "sound arrives"
}

fn phrase(heard: &Recognised) -> Phrase {
    let event = &heard.event;
    let understood = match event.outcome {
        Outcome::Ignored => format!("not for the bench: {}", event.why),
        _ if event.spoken.is_empty() => event.why.clone(),
        _ => event.spoken.clone(),
    };
    let advice = if heard.clipped {
        CLIPPED
    } else if heard.level_dbfs - heard.noise_dbfs < ABOVE_DB {
        LOUD_ROOM
    } else {
        ""
    };
    Phrase {
        said: heard.recognition.said.clone(),
        understood,
        right: event.outcome == Outcome::Stored,
        confidence_percent: (heard.recognition.confidence.clamp(0.0, 1.0) * 100.0).round() as u8,
        advice: advice.to_owned(),
    }
}
