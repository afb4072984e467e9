//! Sound in, stored events out: the path of a reading, for files and for live microphones.

use super::job::{Job, Reply};
use super::record::{Line, Timing};
use super::{assets, ear, now_ms};
use crate::audio::{Clip, Cut, RATE_HZ, Segmenter, SegmenterConfig, Utterance, decode, encode_wav};
use crate::event::{Event, Outcome, Sound};
use crate::recognise::{Recogniser, Whisper, Window};
use crate::session::Hearing;
use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// The key of the shipped ear in the manifest.
const EAR: &str = "tiny-en-bench";
/// The key of the ear for every other language; its file does not ship with the program.
const MULTILINGUAL: &str = "base-multilingual";
/// Threads of the ear. Measured: with two, one pass takes 58 ms instead of 98 on an idle machine
/// of two cores and up to 4 s on a busy one, since its workers spin; with one it never collapses.
const THREADS: usize = 1;
/// Samples fed at a time: 20 ms.
const CHUNK: usize = RATE_HZ as usize / 50;

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

/// A job with an ear on it.
pub struct Listener {
    /// The job.
    pub job: Job,
    ear: Ear,
    words: Vec<String>,
    segmenter: Segmenter,
    fed: u64,
    overruns: u32,
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
        let ear = Whisper::load(&path, Window::Full, THREADS)?.speaking(language)?;
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

impl Listener {
    /// Puts an ear on a job.
    #[must_use]
    pub fn new(job: Job, ear: Ear) -> Self {
        let words = job.desk.grammar.words();
        Self {
            job,
            ear,
            words,
            segmenter: Segmenter::new(SegmenterConfig::default()),
            fed: 0,
            overruns: 0,
        }
    }

    /// Back to a job without an ear, and the ear.
    #[must_use]
    pub fn into_parts(self) -> (Job, Ear) {
        (self.job, self.ear)
    }

    /// Takes samples, mono 16 kHz; gives the utterances that ended in them.
    ///
    /// # Errors
    /// The recogniser or the disk; what was stored stays stored.
    pub fn feed(&mut self, samples: &[f32]) -> Result<Vec<Heard>> {
        let mut heard = Vec::new();
        for chunk in samples.chunks(CHUNK) {
            self.fed += chunk.len() as u64;
            for cut in self.segmenter.push(chunk) {
                if let Cut::Ended(utterance) = cut {
                    heard.push(self.utterance(&utterance)?);
                }
            }
        }
        Ok(heard)
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
        last
    }

    /// Forgets what is being heard: the tool's own voice, say.
    pub fn deafen(&mut self) {
        self.segmenter = Segmenter::new(SegmenterConfig::default());
    }

    /// Samples were lost in the utterance that is being heard.
    pub fn lost(&mut self, overruns: u32) {
        self.overruns = self.overruns.saturating_add(overruns);
    }

    fn utterance(&mut self, utterance: &Utterance) -> Result<Heard> {
        let begun = Instant::now();
        let judged = ear::judge(
            self.ear.recogniser.as_mut(),
            &self.job.desk.grammar,
            &self.words,
            utterance,
        )?;
        let clip = Clip::new(utterance.samples.clone());
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
            sound: Some(sound),
            at_ms: now_ms(),
        };
        let reply = self.job.take(hearing, Some(&wav))?;
        let compute_ms = u64::try_from(begun.elapsed().as_millis()).unwrap_or(u64::MAX);
        let ms = |samples: u64| samples * 1_000 / u64::from(RATE_HZ);
        let timing = Timing {
            speech_end_ms: ms(utterance.speech_end_sample),
            done_ms: ms(self.fed) + compute_ms,
            compute_ms,
            file: None,
        };
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
        let mut heard = self.feed(&clip.samples)?;
        heard.extend(self.finish()?);
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
        sound: None,
        grammar: String::new(),
        facts: Vec::new(),
    }
}
