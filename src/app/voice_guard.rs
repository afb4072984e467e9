//! Whether a voice that was learnt may be used: it must hear its own phrases no worse, those of others
//! as well as before, and store nothing of other talk and noise.

use super::recogniser;
use super::{assets, job::Job};
use crate::audio::{Clip, samples_in};
use crate::evaluate::{Class, Item, Noises, Setting, Trial, score};
use crate::learn::{Example, machine_noise};
use crate::measure::LengthUnit;
use crate::recognise::VoiceProfile;
use crate::understand::Conversation;
use anyhow::Result;

/// The noise that its own phrases are heard in too, in decibels below them: a loud shop.
const NOISE_DB: f64 = 5.0;
/// Pieces of machine noise in which nothing may be stored, and how long each is.
const PIECES: u64 = 8;
const PIECE_MS: u32 = 5_000;

const OWN: &str = "own";
const OTHERS: &str = "others";
const NOTHING: &str = "nothing";

/// What is heard with the profile and without it. None of it was learnt from.
pub(crate) struct Trials {
    /// The voice's own phrases.
    pub(crate) own: Vec<Example>,
    /// Phrases of others; other talk, without words.
    pub(crate) others: Vec<Example>,
    /// The shop's noise.
    pub(crate) noises: Vec<Vec<f32>>,
}

/// How many phrases were stored as they were said, of how many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub(crate) struct Count {
    /// Phrases.
    pub(crate) of: usize,
    /// Stored as they were said, without the profile and with it.
    pub(crate) before: usize,
    /// See above.
    pub(crate) after: usize,
}

/// What came of it.
#[derive(Clone, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub(crate) struct Verdict {
    /// The voice's own phrases as they are.
    pub(crate) quiet: Count,
    /// The same in noise.
    pub(crate) noisy: Count,
    /// Phrases of others.
    pub(crate) others: Count,
    /// Why the profile may not be used; empty if it may.
    pub(crate) refused: String,
}

impl Verdict {
    /// The figures, for a person.
    pub(crate) fn in_words(&self) -> String {
        let Self { quiet, noisy, .. } = self;
        let counts = counts_in_words(*quiet, *noisy);
        format!("of {} phrases that were kept out, {counts}", quiet.of)
    }
}

/// How phrases were heard as they are and in noise, for a person.
pub(crate) fn counts_in_words(quiet: Count, noisy: Count) -> String {
    format!(
        "{} were stored as said before and {} now; in noise {} before and {} now",
        quiet.before, quiet.after, noisy.before, noisy.after
    )
}

/// Phrases without the profile and with it: as they are, and in the noise of machines.
///
/// # Errors
/// The recogniser.
pub(crate) fn compared(profile: &VoiceProfile, own: Vec<Example>) -> Result<(Count, Count)> {
    let trials = Trials {
        own,
        others: Vec::new(),
        noises: Vec::new(),
    };
    let verdict = Guard::new(trials)?.judge(profile)?;
    Ok((verdict.quiet, verdict.noisy))
}

/// The trials, and how they are heard without any profile.
pub(crate) struct Guard {
    trials: Trials,
    before: Heard,
}

impl Guard {
    /// Hears everything without a profile.
    ///
    /// # Errors
    /// The recogniser.
    pub(crate) fn new(trials: Trials) -> Result<Self> {
        let before = Heard::with(None, &trials)?;
        Ok(Self { trials, before })
    }

    /// Hears everything with a profile.
    ///
    /// # Errors
    /// The recogniser.
    pub(crate) fn judge(&self, profile: &VoiceProfile) -> Result<Verdict> {
        let (before, after) = (&self.before, &Heard::with(Some(profile), &self.trials)?);
        let count = |before: &[Trial], after: &[Trial], kind| Count {
            of: of_kind(before, kind).count(),
            before: exact(before, kind),
            after: exact(after, kind),
        };
        let mut verdict = Verdict {
            quiet: count(&before.quiet, &after.quiet, OWN),
            noisy: count(&before.noisy, &after.noisy, OWN),
            others: count(&before.quiet, &after.quiet, OTHERS),
            refused: String::new(),
        };
        verdict.refused = fault(&verdict, before, after).unwrap_or_default();
        Ok(verdict)
    }
}

/// Why the profile may not be used, if anything speaks against it.
fn fault(verdict: &Verdict, before: &Heard, after: &Heard) -> Option<String> {
    let Verdict { quiet, noisy, .. } = verdict;
    if quiet.of == 0 {
        return Some("no phrases were kept out to try it on".to_owned());
    }
    if quiet.after + noisy.after < quiet.before + noisy.before {
        return Some(format!(
            "it hears its own voice worse: {}",
            verdict.in_words()
        ));
    }
    let wrong = |heard: &Heard| {
        let all = heard.quiet.iter().chain(&heard.noisy);
        let wrong = all.filter(|t| t.kind == OWN && t.class == Class::SilentlyWrong);
        wrong.map(|t| t.text.clone()).collect::<Vec<_>>()
    };
    let (wrong_before, wrong_after) = (wrong(before), wrong(after));
    if wrong_after.len() > wrong_before.len() {
        let which = wrong_after.join("\", \"");
        return Some(format!(
            "it stores its own voice as something else: \"{which}\""
        ));
    }
    for (before, after) in before.quiet.iter().zip(&after.quiet) {
        let what = match (before.kind.as_str(), before.class, after.class) {
            // A note with another word keeps its sound, and no sum rests on it.
            (OTHERS, Class::Exact, Class::NoteDiffers) => continue,
            (OTHERS, Class::Exact, class) if class != Class::Exact => "no longer stores",
            (OTHERS, old, Class::SilentlyWrong) if old != Class::SilentlyWrong => "wrongly stores",
            // A reading that was called while the tool stood by is one in a fresh job, with or without
            // the profile.
            (NOTHING, old, Class::FalseStored) if old != Class::FalseStored => {
                return Some(format!(
                    "it stores \"{}\" where nothing was said to the tool ({})",
                    after.spoken.join("; "),
                    after.path
                ));
            }
            _ => continue,
        };
        return Some(format!("it {what} \"{}\" of another voice", after.text));
    }
    None
}

/// How all trials came out: as they are, and its own phrases in noise.
struct Heard {
    quiet: Vec<Trial>,
    noisy: Vec<Trial>,
}

impl Heard {
    fn with(profile: Option<&VoiceProfile>, trials: &Trials) -> Result<Self> {
        let own: Vec<Item> = trials.own.iter().map(|e| item(OWN, e)).collect();
        let mut quiet = own.clone();
        quiet.extend(trials.others.iter().map(|e| match e.words.as_str() {
            "" => item(NOTHING, e),
            _ => item(OTHERS, e),
        }));
        let pieces = (0..PIECES).map(|seed| machine_noise(samples_in(PIECE_MS), seed));
        let pieces: Vec<Vec<f32>> = pieces.chain(trials.noises.iter().cloned()).collect();
        for samples in &pieces {
            let words = String::new();
            let samples = samples.clone();
            quiet.push(item(NOTHING, &Example { samples, words }));
        }
        let shop = match trials.noises.as_slice() {
            [] => &pieces,
            recorded => recorded,
        };
        let shop = Noises::of_clips(shop.iter().cloned().map(Clip::new).collect());
        Ok(Self {
            quiet: heard(&quiet, profile, None)?,
            noisy: heard(&own, profile, Some((shop, NOISE_DB)))?,
        })
    }
}

fn item(kind: &str, example: &Example) -> Item {
    Item {
        path: kind.into(),
        sound: Some(Clip::new(example.samples.clone())),
        text: example.words.clone(),
        kind: kind.to_owned(),
        before: Vec::new(),
    }
}

/// Hears each in a fresh job.
fn heard(
    items: &[Item],
    profile: Option<&VoiceProfile>,
    noise: Option<(Noises, f64)>,
) -> Result<Vec<Trial>> {
    let english = assets::english()?;
    let fresh = move || -> Result<Box<dyn Conversation>> {
        let job = Job::unkept(english.clone(), "triple", LengthUnit::Millimetre)?;
        Ok(Box::new(job))
    };
    let fresh = Box::new(fresh);
    let (_, trials) = score(
        items,
        recogniser::shipped(profile)?,
        &Setting { fresh, noise },
        |_| {},
    )?;
    Ok(trials)
}

fn of_kind<'a>(trials: &'a [Trial], kind: &'a str) -> impl Iterator<Item = &'a Trial> {
    trials.iter().filter(move |t| t.kind == kind)
}

fn exact(trials: &[Trial], kind: &str) -> usize {
    of_kind(trials, kind)
        .filter(|t| t.class == Class::Exact)
        .count()
}
