//! Sound in, stored events out: the path of a reading, for files and for live microphones.

use super::evidence::Opinion;
use super::gone_on::Before;
use super::job::{Job, Reply};
use super::record::{Line, Timing};
use super::turn::{Waits, in_noise, is_noisy};
use super::{assets, certain, ear, now_ms};
use crate::audio::{Clip, Cut, RATE_HZ, Segmenter, SegmenterConfig, Utterance, decode, encode_wav};
use crate::event::{Event, Outcome, Sound};
use crate::grammar::{Grammar, Means};
use crate::recognise::{Recogniser, Whisper, Window};
use crate::session::Hearing;
use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// The key of the shipped ear in the manifest.
const EAR: &str = "tiny-en-bench";
/// The key of the ear for every other language; its file does not ship with the program.
const MULTILINGUAL: &str = "base-multilingual";
/// The most threads of the ear; it takes one where two turn out to be slower.
const THREADS: usize = 2;
/// Samples fed at a time: 20 ms.
const CHUNK: usize = RATE_HZ as usize / 50;
/// With more samples than this still to take (160 ms), the ear is behind and forms no opinion.
const BEHIND: usize = RATE_HZ as usize * 160 / 1_000;
/// Samples between two partial passes: 160 ms.
const PARTIAL: u64 = RATE_HZ as u64 * 160 / 1_000;
/// Silence after which a first opinion is formed, in milliseconds.
const FIRST_MS: u32 = 96;
/// Silence after which a second one is, where the first left a doubt, in milliseconds.
const SECOND_MS: u32 = 160;
/// In noise the sound is heard once more so long before a silence of `LAST_LOOK_FROM_MS` or more ends,
/// in milliseconds: a weak word may have drowned in it. Chosen by us; its effect stands in DEVELOPERS.md.
const LAST_LOOK_MS: u32 = 40;
const LAST_LOOK_FROM_MS: u32 = 400;

/// An ear that is loaded, and which model it is.
pub struct Ear {
    /// The recogniser.
    pub recogniser: Box<dyn Recogniser>,
    /// First 16 hex digits of the model file's SHA-256.
    pub model: String,
}

/// One utterance that went the whole way.
pub struct Heard {
    /// What came of it.
    pub reply: Reply,
    /// When.
    pub timing: Timing,
    /// What the ear made of it.
    pub judged: ear::Judged,
}

/// Takes the words heard so far, while the person still speaks.
pub type OnPartial = Box<dyn FnMut(&str) + Send>;

/// A job with an ear on it.
pub struct Listener {
    /// The job.
    pub job: Job,
    ear: Ear,
    waits: Waits,
    segmenter: Segmenter,
    turn: Turn,
    on_partial: Option<OnPartial>,
    fed: u64,
    /// Where in the stream the segmenter began.
    since: u64,
    overruns: u32,
    before: Option<Before>,
}

/// The utterance in progress.
#[derive(Default)]
struct Turn {
    /// Opinions on all that was voiced so far, formed in the silence after it.
    opinions: Vec<Opinion>,
    /// Whether the silence itself was heard.
    looked: bool,
    /// Silence of the frame before, in milliseconds.
    silent_ms: u32,
    /// When the next partial pass is due, in samples of the stream.
    partial_at: u64,
    /// Computing that the opinions took, in milliseconds.
    compute_ms: f64,
    /// When the ear was free again, in milliseconds of the stream.
    busy_until_ms: f64,
}

impl Ear {
    /// Loads the ear of a language: the shipped one for English, else the multilingual one of the
    /// manifest, where its file is there; or another ggml Whisper file.
    ///
    /// # Errors
    /// A missing, truncated, altered or foreign file; one that hears English only.
    pub fn of(language: &str, model: Option<&Path>) -> Result<Self> {
        if language == "en" {
            return Self::load(model);
        }
        let path = match model {
            Some(path) => path.to_owned(),
            None => {
                let entry = assets::model_entry(MULTILINGUAL)?;
                let folder = assets::models_folder();
                if !folder.join(&entry.file).is_file() {
                    bail!(
                        "sound in the language \"{language}\" needs the model {}, which does not ship with the program: put it into {} ({} bytes, sha256 {}), or give a multilingual Whisper model with --model",
                        entry.file,
                        folder.display(),
                        entry.bytes,
                        entry.sha256
                    );
                }
                assets::model(MULTILINGUAL)?
            }
        };
        let hash = crate::models::sha256(&path)
            .with_context(|| format!("cannot read the model {}", path.display()))?;
        let ear = Whisper::load(&path, Window::Full, THREADS)?;
        let ear = ear.speaking(language, &hint(&assets::grammar(language)?))?;
        Ok(Self {
            recogniser: Box::new(ear),
            model: hash.chars().take(16).collect(),
        })
    }

    /// Loads the shipped ear, or another ggml Whisper file (heard with the full window).
    ///
    /// # Errors
    /// A missing, truncated, altered or foreign file.
    pub fn load(model: Option<&Path>) -> Result<Self> {
        let entry = assets::model_entry(EAR)?;
        let (path, window, hash): (PathBuf, Window, String) = match model {
            None => (assets::model(EAR)?, Window::Fitted, entry.sha256),
            Some(path) => {
                let hash = crate::models::sha256(path)
                    .with_context(|| format!("cannot read the model {}", path.display()))?;
                let window = if hash == entry.sha256 {
                    Window::Fitted
                } else {
                    Window::Full
                };
                (path.to_owned(), window, hash)
            }
        };
        let recogniser = Box::new(Whisper::load(&path, window, THREADS)?);
        Ok(Self {
            recogniser,
            model: hash.chars().take(16).collect(),
        })
    }
}

/// How bench talk is written: the examples of readings and places.
fn hint(grammar: &Grammar) -> String {
    let readings = [Means::Open, Means::ShimFitted, Means::Clearance];
    let phrases = readings.map(|m| grammar.phrases.iter().find(|p| p.means == m));
    let examples = phrases.into_iter().flatten().flat_map(|p| &p.examples);
    examples.map(|e| format!("{e}. ")).collect()
}

impl Listener {
    /// Puts an ear on a job.
    #[must_use]
    pub fn new(job: Job, ear: Ear) -> Self {
        Self {
            job,
            ear,
            waits: Waits::default(),
            segmenter: Segmenter::new(SegmenterConfig::default()),
            turn: Turn::default(),
            on_partial: None,
            fed: 0,
            since: 0,
            overruns: 0,
            before: None,
        }
    }

    /// Back to a job without an ear, and the ear.
    #[must_use]
    pub fn into_parts(self) -> (Job, Ear) {
        (self.job, self.ear)
    }

    /// Other silences than the usual ones end an utterance.
    #[must_use]
    pub const fn with_waits(mut self, waits: Waits) -> Self {
        self.waits = waits;
        self
    }

    /// Gives the words heard so far to `each`, several times a second while somebody speaks.
    pub fn on_partial(&mut self, each: OnPartial) {
        self.on_partial = Some(each);
    }

    /// Takes samples, mono 16 kHz; gives the utterances that ended in them. Where they are many,
    /// the ear was behind: then only the newest sound is heard in between, nothing is queued.
    ///
    /// # Errors
    /// The recogniser or the disk; what was stored stays stored.
    pub fn feed(&mut self, samples: &[f32]) -> Result<Vec<Heard>> {
        let mut heard = Vec::new();
        let mut left = samples.len();
        for chunk in samples.chunks(CHUNK) {
            self.fed += chunk.len() as u64;
            left -= chunk.len();
            for cut in self.segmenter.push(chunk) {
                match cut {
                    Cut::Ended(utterance) => heard.push(self.utterance(&utterance)?),
                    Cut::Dropped { .. } => self.turn.forget(),
                    Cut::Started { .. } => {}
                }
            }
            if left <= BEHIND {
                self.meanwhile()?;
            }
        }
        Ok(heard)
    }

    /// Takes a whole recording as if it were spoken now: the same every time.
    ///
    /// # Errors
    /// As [`Listener::feed`].
    pub fn play(&mut self, samples: &[f32]) -> Result<Vec<Heard>> {
        let mut heard = Vec::new();
        for chunk in samples.chunks(CHUNK) {
            heard.extend(self.feed(chunk)?);
        }
        heard.extend(self.finish()?);
        Ok(heard)
    }

    /// What is done while somebody speaks: opinions in the silences, partial text in between.
    fn meanwhile(&mut self) -> Result<()> {
        let Some(silent_ms) = self.segmenter.silent_for_ms() else {
            self.turn.silent_ms = 0;
            return Ok(());
        };
        if silent_ms < self.turn.silent_ms {
            self.turn.forget();
        }
        self.turn.silent_ms = silent_ms;
        let rise_db = self.segmenter.rise_db();
        if self.turn.opinions.is_empty() {
            self.segmenter.set_hang_ms(self.waits.begun_ms);
            if silent_ms >= in_noise(FIRST_MS, rise_db) {
                self.form()?;
            } else if self.on_partial.is_some() && self.fed >= self.turn.partial_at {
                self.partial()?;
            }
        } else if self.turn.opinions.len() == 1 && silent_ms >= in_noise(SECOND_MS, rise_db) {
            let scope = self.job.desk.scope(&self.job.state);
            let meanings = self.job.meanings(&scope);
            if is_noisy(rise_db) || !certain::is_clear(&meanings, &self.turn.opinions[0]) {
                self.form()?;
            }
        }
        let hang_ms = self.segmenter.hang_ms();
        let due = hang_ms >= LAST_LOOK_FROM_MS && silent_ms + LAST_LOOK_MS >= hang_ms;
        if is_noisy(rise_db) && due && !self.turn.looked && !self.turn.opinions.is_empty() {
            self.look_again()?;
        }
        Ok(())
    }

    /// Hears the silence too. Where words follow those that were heard, it was none: speech goes on.
    fn look_again(&mut self) -> Result<()> {
        self.turn.looked = true;
        let Some(sound) = self.segmenter.speaking() else {
            return Ok(());
        };
        let begun = Instant::now();
        let now = self.ear.recogniser.hear(sound, &[])?;
        let words = |text: &str| self.job.desk.grammar.words_of(text);
        let now = words(&now.text);
        let goes_on = self.turn.opinions.iter().any(|o| {
            let before = words(&o.heard.text);
            !before.is_empty() && now.len() > before.len() && now.starts_with(&before)
        });
        self.turn.worked(self.fed, begun);
        if goes_on {
            self.segmenter.goes_on();
            self.turn.forget();
        }
        Ok(())
    }

    /// Forms one more opinion on the utterance so far, and waits as it says.
    fn form(&mut self) -> Result<()> {
        let Some(sound) = self.segmenter.speaking() else {
            return Ok(());
        };
        let begun = Instant::now();
        let scope = self.job.desk.scope(&self.job.state);
        let meanings = self.job.meanings(&scope);
        let before = self.turn.opinions.first();
        let ear = self.ear.recogniser.as_mut();
        let opinion = ear::opinion(ear, &meanings, sound, before)?;
        if let Some(each) = &mut self.on_partial {
            each(&opinion.heard.text);
        }
        self.turn.opinions.push(opinion);
        let best = certain::best(&self.turn.opinions);
        let free = &self.turn.opinions[0].heard.text;
        let wait_ms = self.waits.after(&meanings, &best, free);
        let wait_ms = in_noise(wait_ms, self.segmenter.rise_db());
        self.segmenter.set_hang_ms(wait_ms);
        self.turn.worked(self.fed, begun);
        Ok(())
    }

    /// Shows what is heard so far.
    fn partial(&mut self) -> Result<()> {
        self.turn.partial_at = self.fed + PARTIAL;
        let (Some(sound), Some(each)) = (self.segmenter.speaking(), &mut self.on_partial) else {
            return Ok(());
        };
        let heard = self.ear.recogniser.hear(sound, &[])?;
        each(&heard.text);
        Ok(())
    }

    /// Ends the stream; the next feed begins a new one at zero.
    ///
    /// # Errors
    /// As [`Listener::feed`].
    pub fn finish(&mut self) -> Result<Option<Heard>> {
        let segmenter = std::mem::replace(
            &mut self.segmenter,
            Segmenter::new(SegmenterConfig::default()),
        );
        let last = segmenter.finish().map(|u| self.utterance(&u)).transpose();
        self.fed = 0;
        self.since = 0;
        self.before = None;
        self.turn = Turn::default();
        last
    }

    /// Forgets what is being heard: the tool's own voice, say.
    pub fn deafen(&mut self) {
        self.segmenter = Segmenter::new(SegmenterConfig::default());
        self.since = self.fed;
        self.before = None;
        self.turn.forget();
    }

    /// Samples were lost in the utterance that is being heard.
    pub fn lost(&mut self, overruns: u32) {
        self.overruns = self.overruns.saturating_add(overruns);
    }

    fn utterance(&mut self, utterance: &Utterance) -> Result<Heard> {
        let begun = Instant::now();
        let scope = self.job.desk.scope(&self.job.state);
        let meanings = self.job.meanings(&scope);
        // What was heard in the silence is the whole utterance: it is not heard again.
        let mut opinions = std::mem::take(&mut self.turn.opinions);
        let ear = self.ear.recogniser.as_mut();
        let noisy = is_noisy(Some(utterance.level_dbfs - utterance.noise_dbfs));
        while opinions.first().is_none_or(|first| {
            opinions.len() == 1 && (noisy || !certain::is_clear(&meanings, first))
        }) {
            let sound = &utterance.samples;
            let next = ear::opinion(ear, &meanings, sound, opinions.first())?;
            opinions.push(next);
        }
        let mut judged = ear::weigh(&meanings, opinions, Some(utterance));
        let (mut doubted, mut sound) = (None, utterance.samples.clone());
        if let Some(before) = self.before.take() {
            let start = self.since + utterance.speech_start_sample;
            (judged, doubted) = before.with(&meanings, start, judged);
            if doubted.is_some()
                && let Some(whole) = before.as_one(ear, &meanings, utterance)?
            {
                (judged, sound) = whole;
            }
        }
        let clip = Clip::new(sound);
        let wav = encode_wav(&clip)?;
        let sound = Sound {
            sha256: crate::store::sha256_hex(&wav),
            length_ms: u32::try_from(clip.duration_ms()).unwrap_or(u32::MAX),
            overruns: std::mem::take(&mut self.overruns),
            model: self.ear.model.clone(),
        };
        let hearing = Hearing {
            said: judged.said.clone(),
            certainty: judged.certainty,
            confidence: judged.confidence,
            rival: judged.rival(),
            doubted,
            sound: Some(sound),
            at_ms: now_ms(),
        };
        let reply = self.job.take(hearing, Some(&wav))?;
        let end = self.since + utterance.speech_end_sample;
        self.before = Before::of(&reply.event, end, clip.samples);
        self.turn.worked(self.fed, begun);
        let ms = |samples: u64| samples * 1_000 / u64::from(RATE_HZ);
        let timing = Timing {
            speech_end_ms: ms(end),
            done_ms: self.turn.busy_until_ms.round() as u64,
            compute_ms: self.turn.compute_ms.round() as u64,
            file: None,
        };
        self.turn.forget();
        Ok(Heard {
            reply,
            timing,
            judged,
        })
    }

    /// Hears a whole file; `each` is given every utterance as it is stored.
    ///
    /// # Errors
    /// An unreadable or undecodable file, the recogniser, the disk.
    pub fn file(&mut self, path: &Path, mut each: impl FnMut(Line)) -> Result<()> {
        let clip = read_clip(path)?;
        let name = path.display().to_string();
        let mut any = false;
        let heard = self.play(&clip.samples)?;
        for one in heard {
            any = true;
            each(one.reply.line(Some(&Timing {
                file: Some(name.clone()),
                ..one.timing
            })));
        }
        if !any {
            each(Line::of(
                &no_speech(),
                Some(&Timing {
                    file: Some(name),
                    ..Timing::default()
                }),
            ));
        }
        Ok(())
    }
}

impl Turn {
    /// Speech has gone on, or has ended.
    fn forget(&mut self) {
        self.opinions.clear();
        self.looked = false;
        self.silent_ms = 0;
        self.compute_ms = 0.0;
    }

    /// The ear was at work since `begun`, on sound up to `fed` samples: on a clock that runs with
    /// the sound, so that a recording gives the same delays as a microphone.
    fn worked(&mut self, fed: u64, begun: Instant) {
        let took_ms = begun.elapsed().as_secs_f64() * 1_000.0;
        let now_ms = fed as f64 * 1_000.0 / f64::from(RATE_HZ);
        self.compute_ms += took_ms;
        self.busy_until_ms = self.busy_until_ms.max(now_ms) + took_ms;
    }
}

/// Decodes a sound file.
///
/// # Errors
/// An unreadable or undecodable file, named.
pub fn read_clip(path: &Path) -> Result<Clip> {
    let bytes = std::fs::read(path).with_context(|| format!("cannot read {}", path.display()))?;
    Ok(decode(&bytes, &path.display().to_string())?)
}

/// What a file without speech gives: nothing, and nothing is stored.
fn no_speech() -> Event {
    Event {
        id: 0,
        at_ms: now_ms(),
        said: String::new(),
        outcome: Outcome::Ignored,
        why: "no speech was found in it".to_owned(),
        spoken: String::new(),
        command: None,
        subject: None,
        confidence: 0.0,
        rival: None,
        sound: None,
        grammar: String::new(),
        facts: Vec::new(),
    }
}

#[cfg(test)]
#[path = "hear_tests.rs"]
mod tests;
