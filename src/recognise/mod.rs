//! The recogniser: sound to words, how sure it is, and scores of phrases it might have been.
//!
//! [`Whisper`] is the real part, [`Scripted`] the fake. Free decoding ([`Recogniser::hear`]) says
//! what was heard; forced decoding ([`Recogniser::score`]) says how well given phrases fit the
//! same sound.

mod constrained;
mod model_file;
mod prefix_cache;
mod profile;
mod scripted;
mod text;
mod threads;
mod tokenizer;
mod weights;
mod whisper;

pub use profile::{About, MOST_PROFILE_BYTES, ProfileError, VoiceProfile};
pub use scripted::Scripted;
pub use text::words;
pub(crate) use weights::{Sizes, Weights};
pub use whisper::{MAX_SOUND_MS, Whisper, Window};

use crate::grammar::Grammar;
use std::path::PathBuf;

/// Sample rate of all sound given to the recogniser, in hertz.
pub const SAMPLE_RATE_HZ: usize = 16_000;

/// What one pass heard.
#[derive(Debug, Clone, PartialEq)]
pub struct Transcript {
    /// Lower-case words with single spaces, without punctuation; apostrophes stay.
    pub text: String,
    /// log p of each token of the text, in nats.
    pub token_logps: Vec<f32>,
    /// log p of the whole text, its end included, in nats.
    pub logp: f32,
    /// Probability that nothing at all was said: the text ends before its first word, 0 to 1.
    pub nothing_p: f32,
    /// It repeated itself, or never came to an end: the text is not to be trusted.
    pub looped: bool,
}

/// A phrase of the grammar that the sound may have been.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Its words, as the grammar has them.
    pub text: String,
    /// log p of the whole phrase, its end included, in nats.
    pub logp: f32,
}

/// Something that turns sound into words.
pub trait Recogniser: Send {
    /// Which weights it hears with: the first 16 hex digits of their file's SHA-256; with the profile
    /// of a voice also "+" and its name.
    fn weights(&self) -> &str;

    /// Hears one utterance: mono, 16 kHz, full scale ±1.
    ///
    /// # Errors
    /// [`Error::NoSound`], [`Error::TooLong`] and [`Error::NotFinite`] for sound that cannot be
    /// heard, [`Error::Engine`] when the engine fails.
    fn hear(&mut self, pcm_16k: &[f32]) -> Result<Transcript, Error>;

    /// Natural logarithm of the probability that the utterance heard last is exactly each of
    /// `phrases`, end included. Phrases are lower-case words, with or without apostrophes.
    ///
    /// # Errors
    /// [`Error::NothingHeard`] before the first `hear`, [`Error::PhraseTooLong`],
    /// [`Error::Engine`].
    fn score(&mut self, phrases: &[&str]) -> Result<Vec<f32>, Error>;

    /// How much less likely each word of `phrase` is, after those before it, than what is likeliest
    /// there, in the utterance heard last; then the same of its end. In nats, none below 0.
    ///
    /// # Errors
    /// As [`Recogniser::score`].
    fn shortfalls(&mut self, phrase: &str) -> Result<Vec<f32>, Error>;

    /// The phrases of `grammar`, without free text, that the utterance heard last is with a
    /// log-probability of at least `least_logp` (nats), the likeliest first. At most `steps` steps
    /// of the decoder are computed that are not yet known; then the search ends with what it has.
    ///
    /// # Errors
    /// [`Error::NothingHeard`] before the first `hear`, [`Error::Engine`].
    fn legal(
        &mut self,
        grammar: &Grammar,
        least_logp: f32,
        steps: usize,
    ) -> Result<Vec<Candidate>, Error>;

    /// Hears the utterance again with its start moved: later behind `shift_ms` of silence, or, if
    /// negative, earlier with that much cut off. What was said survives that; what the model made
    /// out of noise usually does not.
    ///
    /// # Errors
    /// As [`Recogniser::hear`].
    fn hear_shifted(&mut self, pcm_16k: &[f32], shift_ms: i32) -> Result<Transcript, Error> {
        let samples = shift_ms.unsigned_abs() as usize * SAMPLE_RATE_HZ / 1000;
        if shift_ms < 0 {
            return self.hear(pcm_16k.get(samples..).unwrap_or_default());
        }
        let mut later = vec![0.0; samples];
        later.extend_from_slice(pcm_16k);
        self.hear(&later)
    }
}

/// What can go wrong with the recogniser.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The model file cannot be opened.
    #[error("cannot read the recogniser's model {}: {source}", .path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The file is something else.
    #[error("{} is not a Whisper model in ggml format: {what}", .path.display())]
    NotAModel {
        /// The file.
        path: PathBuf,
        /// What was found.
        what: String,
    },
    /// The profile of a voice does not fit the weights.
    #[error("the profile of the voice does not fit the recogniser's weights: {0}")]
    Profile(#[from] ProfileError),
    /// Threads were 0.
    #[error("the recogniser needs at least 1 thread, 0 were given")]
    NoThreads,
    /// The utterance has no samples.
    #[error("there is no sound to hear: 0 samples")]
    NoSound,
    /// The utterance does not fit the window.
    #[error(
        "the utterance is {found_ms} ms long; at most {MAX_SOUND_MS} ms can be heard in one piece"
    )]
    TooLong {
        /// Its length in milliseconds.
        found_ms: u64,
    },
    /// A sample is not a number.
    #[error("sample {index} is {value}, not a finite number")]
    NotFinite {
        /// Its place.
        index: usize,
        /// What it is.
        value: f32,
    },
    /// A phrase was to be scored before anything was heard.
    #[error("no utterance has been heard yet, so there is nothing to score phrases against")]
    NothingHeard,
    /// A phrase has more tokens than the decoder can hold.
    #[error("\"{phrase}\" has {found} tokens; a phrase may have {accepted}")]
    PhraseTooLong {
        /// The phrase.
        phrase: String,
        /// Its tokens.
        found: usize,
        /// The most there may be.
        accepted: usize,
    },
    /// The model does not know the language.
    #[error(
        "this model cannot hear the language \"{language}\": {}",
        if *multilingual { "whisper.cpp has no such language" } else { "it hears English only; expected a multilingual one" }
    )]
    Language {
        /// What was asked for.
        language: String,
        /// Whether the model hears more than English.
        multilingual: bool,
    },
    /// The script of the fake has run out.
    #[error("the script has ended: nothing is left to hear")]
    ScriptEnded,
    /// whisper.cpp failed.
    #[error("the recogniser failed to {step}: {source}")]
    Engine {
        /// What it was doing.
        step: &'static str,
        /// What it said.
        source: whisper_rs::WhisperError,
    },
}
