//! Scores the recogniser on clips with known words: what came out as meant, what was asked, what was
//! stored as something else.

use super::class::{Class, classify};
use super::mixture::{Noises, longest_pause_ms};
use super::statistics::{differences, peak_memory_bytes, percentile, wilson};
use super::voiced::Voiced;
use crate::audio::{Clip, read_clip, read_text};
use crate::event::{Event, Outcome};
use crate::recognise::Recogniser;
use crate::report::Timing;
use crate::session::means_the_same;
use crate::understand::{Conversation, Evidence, Listener, Recognised};
use anyhow::{Context, Result};
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The largest manifest that is read: far more lines than anybody scores.
const MOST_BYTES: u64 = 100_000_000;

/// One line of a manifest: `path<TAB>text as said[<TAB>kind]`.
#[derive(Clone, Debug)]
pub struct Item {
    /// The clip; relative to the manifest's folder.
    pub path: PathBuf,
    /// Its sound, if it is in memory already; then the path only names it.
    pub sound: Option<Clip>,
    /// The words as said; empty where nothing may be stored.
    pub text: String,
    /// A group of its own in the result.
    pub kind: String,
    /// Phrases typed into the job before the clip is heard.
    pub before: Vec<String>,
}

/// One clip: how it came out, and why.
#[derive(Clone, Debug, Serialize)]
pub struct Trial {
    /// The clip.
    pub path: String,
    /// The words as said.
    pub text: String,
    /// Its group.
    pub kind: String,
    /// How it came out.
    pub class: Class,
    /// What was stored or asked, as spoken.
    pub spoken: Vec<String>,
    /// Whether the best phrase means what was said, where there is one of each.
    pub right: Option<bool>,
    /// How certain, 0–1.
    pub confidence: Vec<f32>,
    /// The longest silence inside what was spoken, milliseconds.
    pub pause_ms: u32,
    /// What speaks for and against each utterance found in it.
    pub evidence: Vec<Evidence>,
    /// Utterances found in what was spoken; noise before and after it is not counted.
    pub pieces: usize,
    /// When.
    pub timing: Vec<Timing>,
}

/// Noise before the speech of a mix, milliseconds.
const LEAD_MS: u32 = 2_500;

/// A clip that was stored as something else.
#[derive(Clone, Debug, Serialize)]
pub struct Wrong {
    /// The clip.
    pub path: String,
    /// The words as said.
    pub text: String,
    /// The words as heard.
    pub heard: String,
    /// What was stored.
    pub stored: String,
}

/// Counts of one kind of clips.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Tally {
    /// Clips.
    pub clips: usize,
    /// By class.
    pub classes: BTreeMap<Class, usize>,
    /// 95 % interval of the rate of exact ones (Wilson 1927), 0–1.
    pub exact_interval: (f64, f64),
}

/// The result, as written to the file.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Score {
    /// Clips with words.
    pub clips: usize,
    /// Came out as `say` takes the words.
    pub exact: usize,
    /// Asked.
    pub asked: usize,
    /// Refused.
    pub refused: usize,
    /// Nothing stored and nothing said.
    pub ignored: usize,
    /// Notes whose words differ.
    pub note_differs: usize,
    /// Stored as something else.
    pub silently_wrong: usize,
    /// Stored where nothing may be.
    pub false_stored: usize,
    /// Length of the clips in which nothing may be stored.
    pub hours_of_other_talk: f64,
    /// End of speech to stored, milliseconds.
    pub p50_ms: u64,
    /// The same, 95th percentile.
    pub p95_ms: u64,
    /// The same, 99th percentile.
    pub p99_ms: u64,
    /// Computing of one utterance.
    pub compute_p50_ms: u64,
    /// The same, 95th percentile.
    pub compute_p95_ms: u64,
    /// Computing over the length of the sound.
    pub real_time_factor: f64,
    /// Phrases in which a pause was taken for the end.
    pub cut_off: usize,
    /// 95 % interval of its rate, 0–1.
    pub cut_off_interval: (f64, f64),
    /// Asked something in other talk or noise.
    pub false_asked: usize,
    /// Most memory that the process held.
    pub peak_memory_bytes: u64,
    /// Passes that repeated themselves.
    pub loops: usize,
    /// 95 % intervals (Wilson 1927) of the rates of exact, asked and silently wrong, 0–1.
    pub exact_interval: (f64, f64),
    /// See above.
    pub asked_interval: (f64, f64),
    /// See above.
    pub silently_wrong_interval: (f64, f64),
    /// Signal to noise that was mixed in, where it was.
    pub snr_db: Option<f64>,
    /// The voice detection in the mix.
    pub voiced: Voiced,
    /// What was stored as something else, or where nothing may be.
    pub wrong: Vec<Wrong>,
    /// Word said -> word heard -> how often, where they differ.
    pub confusions: BTreeMap<String, BTreeMap<String, usize>>,
    /// By the manifest's third column.
    pub kinds: BTreeMap<String, Tally>,
}

/// What the clips are heard with.
pub struct Setting {
    /// Makes the fresh job that each clip is heard in.
    pub fresh: Box<dyn Fn() -> Result<Box<dyn Conversation>>>,
    /// Noise and the signal-to-noise ratio in dB to mix it in at.
    pub noise: Option<(Noises, f64)>,
}

/// Reads a manifest.
///
/// # Errors
/// An unreadable file, or a line without a path.
pub fn manifest(path: &Path) -> Result<Vec<Item>> {
    let text = read_text(path, MOST_BYTES)
        .with_context(|| format!("cannot read the manifest {}", path.display()))?;
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut items = Vec::new();
    for (number, line) in text
        .lines()
        .enumerate()
        .filter(|(_, l)| !l.trim().is_empty())
    {
        let mut columns = line.split('\t');
        let file = columns.next().unwrap_or_default().trim();
        let text = columns.next().unwrap_or_default().trim().to_owned();
        anyhow::ensure!(
            !file.is_empty(),
            "{}:{}: expected PATH<TAB>TEXT[<TAB>KIND]",
            path.display(),
            number + 1
        );
        items.push(Item {
            path: folder.join(file),
            sound: None,
            text,
            kind: columns.next().unwrap_or_default().trim().to_owned(),
            before: columns
                .next()
                .unwrap_or_default()
                .split('/')
                .map(|t| t.trim().to_owned())
                .filter(|t| !t.is_empty())
                .collect(),
        });
    }
    Ok(items)
}

/// Hears every item in a fresh job; `each` is told how many are done.
///
/// # Errors
/// A clip that cannot be read, the recogniser.
pub fn score(
    items: &[Item],
    recogniser: Box<dyn Recogniser>,
    setting: &Setting,
    mut each: impl FnMut(usize),
) -> Result<(Score, Vec<Trial>)> {
    let mut score = Score {
        snr_db: setting.noise.as_ref().map(|n| n.1),
        ..Score::default()
    };
    let (mut waits, mut computes) = (Vec::new(), Vec::new());
    let mut sound_ms = 0_u64;
    let mut listener = Listener::new(recogniser);
    let mut trials = Vec::new();
    for (i, item) in items.iter().enumerate() {
        let mut clip = match &item.sound {
            Some(clip) => clip.clone(),
            None => read_clip(&item.path)?,
        };
        let lead_ms = setting.noise.as_ref().map_or(0, |_| u64::from(LEAD_MS));
        let spoken_ms = lead_ms..=lead_ms + clip.duration_ms();
        if let Some((noise, snr_db)) = &setting.noise {
            // The noise was there before the person spoke.
            let level_dbfs = clip.rms_dbfs();
            clip.pad(LEAD_MS, 2_000);
            let clean = clip.clone();
            noise.mix_into(&mut clip, f64::from(level_dbfs) - snr_db, i as u64)?;
            score.voiced.add(&clean, &clip);
        } else {
            // The end of speech is found by the silence after it.
            clip.pad(0, 2_000);
        }
        let fresh = || -> Result<Box<dyn Conversation>> {
            let mut job = (setting.fresh)()?;
            for text in &item.before {
                job.say(text)?;
            }
            Ok(job)
        };
        let heard = listener.play(&clip.samples, fresh()?.as_mut())?;
        let mut expected = fresh()?;
        let expected = if item.text.is_empty() {
            None
        } else {
            // What several readings of one breath do, they do together.
            expected
                .say(&item.text)?
                .into_iter()
                .reduce(|mut all, event| {
                    all.facts.extend(event.facts);
                    all
                })
        };
        let events: Vec<&Event> = heard.iter().map(|h| &h.event).collect();
        let class = classify(expected.as_ref(), &events);
        score.add(item, class, &heard, expected.as_ref());
        trials.push(Trial {
            path: item.path.display().to_string(),
            text: item.text.clone(),
            kind: item.kind.clone(),
            class,
            spoken: heard.iter().map(|h| h.event.spoken.clone()).collect(),
            right: right(&item.text, &heard, fresh()?.as_ref()),
            confidence: heard.iter().map(|h| h.recognition.confidence).collect(),
            pause_ms: longest_pause_ms(&clip),
            evidence: heard
                .iter()
                .map(|h| h.recognition.evidence.clone())
                .collect(),
            pieces: heard
                .iter()
                .filter(|h| spoken_ms.contains(&h.timing.speech_end_ms))
                .count(),
            timing: heard.iter().map(|h| h.timing.clone()).collect(),
        });
        for one in &heard {
            computes.push(one.timing.compute_ms);
            if one.event.outcome == Outcome::Stored {
                waits.push(one.timing.done_ms.saturating_sub(one.timing.speech_end_ms));
            }
        }
        sound_ms += clip.duration_ms();
        if item.text.is_empty() {
            score.hours_of_other_talk += clip.duration_ms() as f64 / 3_600_000.0;
        }
        each(i + 1);
    }
    let total: u64 = computes.iter().sum();
    score.real_time_factor = total as f64 / sound_ms.max(1) as f64;
    (score.p50_ms, score.p95_ms, score.p99_ms) = (
        percentile(&mut waits, 50),
        percentile(&mut waits, 95),
        percentile(&mut waits, 99),
    );
    (score.compute_p50_ms, score.compute_p95_ms) =
        (percentile(&mut computes, 50), percentile(&mut computes, 95));
    score.peak_memory_bytes = peak_memory_bytes();
    score.cut_off = trials.iter().filter(|t| t.is_cut()).count();
    score.cut_off_interval = wilson(score.cut_off, score.clips);
    let asked = |t: &&Trial| t.text.is_empty() && t.class == Class::Asked;
    score.false_asked = trials.iter().filter(asked).count();
    score.exact_interval = wilson(score.exact, score.clips);
    score.asked_interval = wilson(score.asked, score.clips);
    score.silently_wrong_interval = wilson(score.silently_wrong, score.clips);
    for tally in score.kinds.values_mut() {
        tally.exact_interval = wilson(
            tally.classes.get(&Class::Exact).copied().unwrap_or(0),
            tally.clips,
        );
    }
    Ok((score, trials))
}

impl Trial {
    /// Whether a pause in it was taken for its end.
    #[must_use]
    pub fn is_cut(&self) -> bool {
        !self.text.is_empty() && self.pieces > 1
    }
}

/// Whether the best phrase of the only utterance means what was said.
fn right(text: &str, heard: &[Recognised], job: &dyn Conversation) -> Option<bool> {
    let [one] = heard else { return None };
    let phrase = one.recognition.evidence.phrase.as_ref()?;
    let meant = || job.interpreter().of(text);
    (!text.is_empty()).then(|| means_the_same(&phrase.interpretation, &meant()))
}

impl Score {
    fn add(&mut self, item: &Item, class: Class, heard: &[Recognised], expected: Option<&Event>) {
        let tally = self.kinds.entry(item.kind.clone()).or_default();
        tally.clips += 1;
        *tally.classes.entry(class).or_default() += 1;
        self.loops += heard
            .iter()
            .flat_map(|h| &h.recognition.passes)
            .filter(|p| p.looped)
            .count();
        let said: Vec<&str> = heard.iter().map(|h| h.event.said.as_str()).collect();
        let said = said.join(" ");
        if let Some(expected) = expected {
            self.clips += 1;
            match class {
                Class::Exact => self.exact += 1,
                Class::Asked => self.asked += 1,
                Class::Refused => self.refused += 1,
                Class::Ignored => self.ignored += 1,
                Class::NoteDiffers => self.note_differs += 1,
                Class::SilentlyWrong | Class::FalseStored => self.silently_wrong += 1,
            }
            for (meant, got) in differences(&expected.said, &said) {
                *self
                    .confusions
                    .entry(meant)
                    .or_default()
                    .entry(got)
                    .or_default() += 1;
            }
        } else if class == Class::FalseStored {
            self.false_stored += 1;
        }
        if matches!(class, Class::SilentlyWrong | Class::FalseStored) {
            let stored = heard
                .iter()
                .filter(|h| h.event.outcome == Outcome::Stored)
                .map(|h| h.event.spoken.as_str());
            let stored = stored.collect::<Vec<_>>().join("; ");
            self.wrong.push(Wrong {
                path: item.path.display().to_string(),
                text: item.text.clone(),
                heard: said,
                stored,
            });
        }
    }
}
