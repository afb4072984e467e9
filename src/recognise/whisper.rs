//! The real recogniser: whisper.cpp on the processor, one state kept and reused.

use std::cell::RefCell;
use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use whisper_rs::{
    FullParams, SamplingStrategy, WhisperContext, WhisperContextParameters, WhisperError,
    WhisperState, get_lang_id, get_lang_str,
};

use super::constrained::{Search, written};
use super::model_file::check_header;
use super::prefix_cache::{PrefixCache, Step};
use super::profile::VoiceProfile;
use super::text::is_looped;
use super::threads::Threads;
use super::tokenizer::Tokenizer;
use super::weights::Weights;
use super::{Candidate, Error, Recogniser, SAMPLE_RATE_HZ, Transcript, words};
use crate::grammar::Grammar;

/// Longest utterance in milliseconds: the 30 s window less its margin.
pub const MAX_SOUND_MS: u64 = 29_680;
/// Shortest sound whisper.cpp hears anything in, with reserve (1.1 s).
const MIN_SAMPLES: usize = SAMPLE_RATE_HZ * 11 / 10;
/// Samples in one frame of the encoder (20 ms).
const FRAME: usize = 320;
/// Frames after the sound that the weights were trained with.
const MARGIN_FRAMES: usize = 16;
/// Frames of the 30 s window.
const FULL_FRAMES: usize = 1500;

/// Most tokens of a hint.
const HINT_TOKENS: usize = 150;
/// Number of English among whisper.cpp's languages.
const ENGLISH: i32 = 0;

/// How much sound a pass looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Window {
    /// Cut to the utterance; only for weights trained that way.
    Fitted,
    /// Always 30 s.
    Full,
}

/// The decoder's reserved tokens.
struct Special {
    /// What every text starts from, as whisper.cpp's own decoding has it.
    prompt: Vec<i32>,
    /// What may have been said before; it stands in the prompt too.
    hint: Vec<i32>,
    /// The mark before it.
    previous: i32,
    /// The mark of the first language, English; the others follow in whisper.cpp's order.
    first_language: i32,
    eot: i32,
}

/// A loaded model with its working memory.
pub struct Whisper {
    weights: String,
    /// The name of the voice's profile.
    voice: Option<String>,
    state: WhisperState,
    tokenizer: Arc<Tokenizer>,
    special: Special,
    window: Window,
    threads: Threads,
    language: &'static str,
    multilingual: bool,
    text_room: usize,
    /// The steps known of the utterance heard last.
    cache: Option<PrefixCache>,
    /// Tokens of the grammar's words, each spelt once.
    spelt: HashMap<String, Vec<i32>>,
}

impl Whisper {
    /// Loads the model and hears seconds of silence, so that the first utterance is as fast as the
    /// others, and to see whether `threads` (the most) are quicker than one; two on an idle machine
    /// of two cores take 0.6 of the time.
    ///
    /// # Errors
    /// [`Error::Io`], [`Error::NotAModel`], [`Error::NoThreads`]; [`Error::Engine`] when the
    /// engine cannot start.
    pub fn load(path: &Path, window: Window, threads: usize) -> Result<Self, Error> {
        Self::load_voice(path, window, threads, None)
    }

    /// Loads the model as [`Whisper::load`] does, with what was learnt of a voice put in its place in
    /// memory.
    ///
    /// # Errors
    /// As [`Whisper::load`]; [`Error::Profile`] if it does not fit.
    pub fn load_voice(
        path: &Path,
        window: Window,
        threads: usize,
        voice: Option<&VoiceProfile>,
    ) -> Result<Self, Error> {
        if threads == 0 {
            return Err(Error::NoThreads);
        }
        check_header(path)?;
        whisper_rs::install_logging_hooks();
        let mut params = WhisperContextParameters::new();
        // Flash attention pads the window and does not mask the padding: words of an earlier,
        // longer utterance would come out again.
        params.use_gpu(false).flash_attn(false);
        let not_a_model = |what| Error::NotAModel {
            path: path.to_owned(),
            what,
        };
        let context = match voice {
            None => WhisperContext::new_with_params(path, params),
            Some(voice) => {
                let bytes = std::fs::read(path).map_err(|source| Error::Io {
                    path: path.to_owned(),
                    source,
                })?;
                let mut weights = Weights::parse(bytes).map_err(not_a_model)?;
                voice.apply(&mut weights)?;
                WhisperContext::new_from_buffer_with_params(weights.bytes(), params)
            }
        };
        let context =
            context.map_err(|e| not_a_model(format!("it is incomplete or damaged ({e})")))?;
        let mut whisper = Self {
            weights: String::new(),
            voice: voice.map(VoiceProfile::name),
            state: context.create_state().map_err(failed("start"))?,
            tokenizer: Arc::new(tokenizer(&context)?),
            special: special(&context),
            window,
            threads: Threads::new(threads),
            language: "en",
            multilingual: context.is_multilingual(),
            text_room: usize::try_from(context.n_text_ctx()).unwrap_or(0) / 2 - 4,
            cache: None,
            spelt: HashMap::new(),
        };
        for most in [false, false, true, true] {
            if most {
                whisper.threads.try_most();
            }
            whisper.hear(&vec![0.0; 2 * SAMPLE_RATE_HZ])?;
        }
        whisper.cache = None;
        Ok(whisper)
    }

    /// Names its weights, by the first 16 hex digits of their file's SHA-256, and the voice's profile
    /// by its own name.
    #[must_use]
    pub fn of_weights(mut self, sha256: &str) -> Self {
        self.weights = sha256.chars().take(16).collect();
        if let Some(voice) = &self.voice {
            self.weights = format!("{}+{voice}", self.weights);
        }
        self
    }

    /// Hears another language than English, by its two letters. `hint` is what may have been said
    /// before, in the way that it is to be written: weights that were never fitted to the bench
    /// hear its words the better for it. At most 150 tokens of it are taken.
    ///
    /// # Errors
    /// [`Error::Language`] where the model or whisper.cpp does not know it.
    pub fn speaking(mut self, language: &str, hint: &str) -> Result<Self, Error> {
        let unknown = || Error::Language {
            language: language.to_owned(),
            multilingual: self.multilingual,
        };
        let id = get_lang_id(language).filter(|_| self.multilingual);
        let id = id.ok_or_else(unknown)?;
        self.language = get_lang_str(id).ok_or_else(unknown)?;
        if let Some(mark) = self.special.prompt.get_mut(1) {
            *mark = self.special.first_language + id;
        }
        let mut hint = self.tokenizer.encode(hint);
        hint.truncate(HINT_TOKENS);
        if !hint.is_empty() {
            let before = std::iter::once(self.special.previous).chain(hint.iter().copied());
            self.special.prompt.splice(0..0, before);
        }
        self.special.hint = hint;
        Ok(self)
    }

    /// Encodes the sound and feeds the prompt.
    fn encode(&mut self, pcm: &[f32]) -> Result<(), Error> {
        let sound = padded(pcm)?;
        let frames = match self.window {
            Window::Full => FULL_FRAMES,
            Window::Fitted => (sound.len().div_ceil(FRAME) + MARGIN_FRAMES).min(FULL_FRAMES),
        };
        let mut params = FullParams::new(SamplingStrategy::Greedy { best_of: 1 });
        params.set_n_threads(i32::try_from(self.threads.now()).unwrap_or(1));
        params.set_audio_ctx(i32::try_from(frames).unwrap_or(0));
        params.set_language(Some(self.language));
        params.set_no_timestamps(true);
        params.set_single_segment(true);
        params.set_no_context(true);
        params.set_tokens(&self.special.hint);
        params.set_temperature(0.0);
        params.set_temperature_inc(0.0);
        // Only the encoder's work is wanted: the text is decoded below, where every step's
        // probabilities are at hand.
        params.set_max_tokens(1);
        params.set_print_progress(false);
        params.set_print_special(false);
        params.set_print_realtime(false);
        params.set_print_timestamps(false);
        let begun = Instant::now();
        self.state
            .full(params, &sound)
            .map_err(failed("hear the sound"))?;
        self.threads
            .took(frames, begun.elapsed().as_secs_f32() * 1_000.0);
        Ok(())
    }

    /// The step after `text`, computed once an utterance.
    fn step(&mut self, text: &[i32]) -> Result<Arc<Step>, Error> {
        let cache = self.cache.as_mut().ok_or(Error::NothingHeard)?;
        let (state, special) = (&mut self.state, &self.special);
        cache.step(text, &mut |token, place| {
            let logits = feed(state, token, special.prompt.len() + place)?;
            Ok(Step::new(logits, special.eot))
        })
    }

    fn knows(&self, text: &[i32]) -> bool {
        self.cache.as_ref().is_some_and(|m| m.knows(text))
    }

    /// Feeds the prompt's last token again (the ones before are still in place after `encode`).
    /// Gives the step after the prompt.
    fn begin(&mut self) -> Result<Step, Error> {
        let eot = self.special.eot;
        let Some((&token, before)) = self.special.prompt.split_last() else {
            return Ok(Step::new(&[], eot));
        };
        let place = before.len();
        let logits = feed(&mut self.state, token, place)?;
        Ok(Step::new(logits, eot))
    }
}

impl Recogniser for Whisper {
    fn weights(&self) -> &str {
        &self.weights
    }

    fn hear(&mut self, pcm_16k: &[f32]) -> Result<Transcript, Error> {
        self.cache = None;
        self.encode(pcm_16k)?;
        let root = self.begin()?;
        let nothing_p = root.logp(self.special.eot).exp();
        self.cache = Some(PrefixCache::new(root));

        let eot = self.special.eot;
        let room = (8 + pcm_16k.len() * 7 / SAMPLE_RATE_HZ).min(self.text_room);
        let mut ids: Vec<i32> = Vec::new();
        let mut taken: Vec<(i32, f32)> = Vec::new();
        loop {
            let here = self.step(&ids)?;
            let id = here.best();
            taken.push((id, here.logp(id)));
            ids.push(id);
            if id == eot || ids.len() > room || is_looped(&ids) {
                break;
            }
        }
        let ended = taken.pop_if(|(id, _)| *id == eot);

        let text_logp: f32 = taken.iter().map(|t| t.1).sum();
        let spelt: Vec<u8> = taken
            .iter()
            .flat_map(|t| self.tokenizer.bytes(t.0))
            .copied()
            .collect();
        Ok(Transcript {
            text: words(&String::from_utf8_lossy(&spelt)),
            token_logps: taken.iter().map(|t| t.1).collect(),
            logp: text_logp + ended.map_or(0.0, |e| e.1),
            nothing_p,
            looped: ended.is_none(),
        })
    }

    fn score(&mut self, phrases: &[&str]) -> Result<Vec<f32>, Error> {
        let mut scores = Vec::with_capacity(phrases.len());
        for phrase in phrases {
            let spelt: Vec<String> = phrase.split_whitespace().map(written).collect();
            let tokens = self.tokenizer.encode(&spelt.join(" "));
            if self.cache.is_some() && tokens.len() > self.text_room {
                return Err(Error::PhraseTooLong {
                    phrase: (*phrase).to_owned(),
                    found: tokens.len(),
                    accepted: self.text_room,
                });
            }
            let mut logp = 0.0;
            for (place, &token) in tokens.iter().enumerate() {
                logp += self.step(&tokens[..place])?.logp(token);
            }
            scores.push(logp + self.step(&tokens)?.logp(self.special.eot));
        }
        Ok(scores)
    }

    fn shortfalls(&mut self, phrase: &str) -> Result<Vec<f32>, Error> {
        let mut shortfalls = Vec::new();
        let (mut text, mut tokens) = (String::new(), Vec::new());
        for word in phrase.split_whitespace().map(written) {
            if !text.is_empty() {
                text.push(' ');
            }
            text += &word;
            let known = tokens.len();
            tokens = self.tokenizer.encode(&text);
            let mut shortfall = 0.0;
            for (place, &token) in tokens.iter().enumerate().skip(known) {
                shortfall += self.step(&tokens[..place])?.shortfall(token);
            }
            shortfalls.push(shortfall);
        }
        let eot = self.special.eot;
        shortfalls.push(self.step(&tokens)?.shortfall(eot));
        Ok(shortfalls)
    }

    fn legal(
        &mut self,
        grammar: &Grammar,
        least_logp: f32,
        steps: usize,
    ) -> Result<Vec<Candidate>, Error> {
        let most = self.cache.as_ref().ok_or(Error::NothingHeard)?.len() + steps;
        let tokenizer = self.tokenizer.clone();
        let spelt = std::mem::take(&mut self.spelt);
        let (eot, room) = (self.special.eot, self.text_room);
        let mut ask = |text: &[i32]| {
            let known = self.cache.as_ref().map_or(0, PrefixCache::len);
            if text.len() > room || known >= most && !self.knows(text) {
                return Ok(None);
            }
            self.step(text).map(Some)
        };
        let spelt = RefCell::new(spelt);
        let found = Search {
            net: grammar.net(),
            spell: &|word| {
                let mut known = spelt.borrow_mut();
                if let Some(tokens) = known.get(word) {
                    return tokens.clone();
                }
                let tokens = tokenizer.encode(&written(word));
                known.insert(word.to_owned(), tokens.clone());
                tokens
            },
            eot,
            least_logp,
            ask: &mut ask,
        }
        .run();
        self.spelt = spelt.into_inner();
        found
    }
}

/// Feeds one token as the `place`-th of the text, counted from 0 with the prompt. One at a time:
/// after several, whisper.cpp gives the logits of the first.
fn feed(state: &mut WhisperState, token: i32, place: usize) -> Result<&[f32], Error> {
    state
        // A step is too small for more than one thread.
        .decode(&[token], place, 1)
        .map_err(failed("decode"))?;
    state.get_logits().map_err(failed("read probabilities"))
}

/// Checks the sound and pads it with silence to the shortest length that is heard.
fn padded(pcm: &[f32]) -> Result<Vec<f32>, Error> {
    if pcm.is_empty() {
        return Err(Error::NoSound);
    }
    let found_ms = pcm.len() as u64 * 1000 / SAMPLE_RATE_HZ as u64;
    if found_ms > MAX_SOUND_MS {
        return Err(Error::TooLong { found_ms });
    }
    if let Some(index) = pcm.iter().position(|sample| !sample.is_finite()) {
        return Err(Error::NotFinite {
            index,
            value: pcm[index],
        });
    }
    let mut sound = pcm.to_vec();
    sound.resize(pcm.len().max(MIN_SAMPLES), 0.0);
    Ok(sound)
}

fn tokenizer(context: &WhisperContext) -> Result<Tokenizer, Error> {
    let text = 0..context.token_eot();
    let bytes = text.map(|id| context.token_to_bytes(id).map(<[u8]>::to_vec));
    let bytes: Result<_, WhisperError> = bytes.collect();
    bytes
        .map(Tokenizer::new)
        .map_err(failed("read its vocabulary"))
}

fn special(context: &WhisperContext) -> Special {
    let mut prompt = vec![context.token_sot()];
    if context.is_multilingual() {
        prompt.extend([context.token_lang(ENGLISH), context.token_transcribe()]);
    }
    prompt.push(context.token_not());
    Special {
        prompt,
        hint: Vec::new(),
        previous: context.token_prev(),
        first_language: context.token_lang(ENGLISH),
        eot: context.token_eot(),
    }
}

fn failed(step: &'static str) -> impl Fn(WhisperError) -> Error {
    move |source| Error::Engine { step, source }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// A profile that changes nothing is heard as the weights alone; one that changes all is not.
    #[test]
    fn a_voice_is_put_in_the_place_of_the_weights_in_memory() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let model = root.join("models/ggml-tiny.en-bench-q8_0.bin");
        let clip = root.join("fixtures/recogniser/three_exhaust_left_point_two_five.wav");
        let sound = crate::audio::read_clip(&clip).unwrap().samples;
        let weights = Weights::parse(std::fs::read(&model).unwrap()).unwrap();
        let profile = |scale: f32| {
            let names = weights.light().into_keys().map(str::to_owned);
            let numbers = names.map(|name| {
                let numbers = weights.tensor(&name).unwrap().1;
                (name, numbers.into_iter().map(|n| n * scale).collect())
            });
            let about = super::super::About {
                weights: "ab".repeat(32),
                ..Default::default()
            };
            VoiceProfile::new(about, numbers.collect())
        };
        let load = |voice: Option<&VoiceProfile>| {
            let whisper = Whisper::load_voice(&model, Window::Fitted, 1, voice).unwrap();
            whisper.of_weights(&"3070".repeat(16))
        };
        let (same, other) = (profile(1.0), profile(0.3));
        let plain = load(None).hear(&sound).unwrap();
        let mut with_same = load(Some(&same));
        assert_eq!(with_same.hear(&sound).unwrap(), plain);
        assert_ne!(load(Some(&other)).hear(&sound).unwrap().logp, plain.logp);
        let name = same.name();
        assert_eq!(with_same.weights(), format!("3070307030703070+{name}"));
        assert_ne!(name, other.name());
        let none = VoiceProfile::new(same.about, [].into());
        let error = Whisper::load_voice(&model, Window::Fitted, 1, Some(&none));
        let error = error.err().unwrap().to_string();
        assert!(error.contains("has 0 numbers"), "{error}");
    }

    /// How these were made stands in `fixtures/tokens/make_golden.py`.
    #[test]
    fn tokens_are_those_of_a_reference_implementation() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let model = root.join("models/ggml-tiny.en-bench-q8_0.bin");
        let mut params = WhisperContextParameters::new();
        params.use_gpu(false);
        let context = WhisperContext::new_with_params(&model, params).unwrap();
        let tokenizer = tokenizer(&context).unwrap();
        let golden = std::fs::read_to_string(root.join("fixtures/tokens/golden.tsv")).unwrap();
        let mut different = Vec::new();
        for line in golden.lines() {
            let (phrase, tokens) = line.rsplit_once('\t').unwrap();
            let tokens: Vec<i32> = tokens.split(' ').map(|t| t.parse().unwrap()).collect();
            let ours = tokenizer.encode(phrase);
            if ours != tokens {
                different.push(format!("{phrase}: {ours:?}, not {tokens:?}"));
            }
        }
        assert_eq!(golden.lines().count(), 200);
        assert!(different.is_empty(), "{}", different.join("\n"));
    }
}
