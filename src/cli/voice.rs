//! `voice`: the recogniser learns its owner; what it has learnt is listed, switched and removed.

use super::args_voice::{Compare, Learn, List, Voice, What};
use super::show;
use crate::app::export::reviewed;
use crate::app::terminal::{Progress, aside, tell};
use crate::app::voice_guard::{compared, counts_in_words};
use crate::app::voice_learning::{Takes, learn_voice, noise_of};
use crate::app::voice_reading::{NOISE_S, Reading, is_enough_noise, segmentation};
use crate::app::voice_recording::find;
use crate::app::voice_take::{fault_of_clip, fault_of_utterance};
use crate::app::voices::Voices;
use crate::app::{assets, recogniser, sound};
use crate::audio::{Clip, Cut, RATE_HZ, Segmenter, Utterance, decode, read_clip};
use crate::device::Microphone;
use crate::evaluate::manifest;
use crate::grammar::Grammar;
use crate::learn::{Example, phrases_to_read};
use crate::recognise::Recogniser;
use anyhow::{Context, Result, bail};
use serde_json::json;
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// How often a phrase is asked for before it is left out.
const TRIES: usize = 3;
pub(super) fn run(args: &Voice) -> Result<ExitCode> {
    match &args.what {
        What::Learn(args) => learn(args),
        What::List(args) => list(args),
        What::Compare(args) => compare(args),
        What::On(args) => {
            Voices::open()?.switch(Some(&args.name))?;
            outln!(
                "Everything is heard with the voice \"{}\" from now on.",
                args.name
            );
            Ok(ExitCode::SUCCESS)
        }
        What::Off => {
            Voices::open()?.switch(None)?;
            outln!("No voice is on.");
            Ok(ExitCode::SUCCESS)
        }
        What::Remove(args) => {
            Voices::open()?.remove(&args.name)?;
            outln!("The voice \"{}\" is removed.", args.name);
            Ok(ExitCode::SUCCESS)
        }
    }
}

fn list(args: &List) -> Result<ExitCode> {
    let voices = Voices::open()?;
    let on = voices.on();
    let mut all = Vec::new();
    for name in voices.names() {
        let is_on = on.as_ref() == Some(&name);
        match voices.read(&name) {
            Ok(profile) => {
                let about = profile.about;
                if !args.json {
                    let state = match (is_on, about.refused.as_str()) {
                        (true, _) => "on".to_owned(),
                        (false, "") => "off".to_owned(),
                        (false, why) => format!("stays off, since {why}"),
                    };
                    outln!(
                        "{name}: {state}; learnt on {} from {} phrases, {}; {}",
                        about.made,
                        about.phrases,
                        about.microphone,
                        about.figures
                    );
                }
                all.push(json!({
                    "name": name, "on": is_on, "made": about.made, "phrases": about.phrases,
                    "microphone": about.microphone, "figures": about.figures,
                    "refused": about.refused, "weights": about.weights,
                }));
            }
            Err(error) => show::incomplete(&format!("{error:#}")),
        }
    }
    if args.json {
        outln!("{}", serde_json::Value::from(all));
    } else if all.is_empty() {
        outln!("No voice was learnt yet: see `benchcall voice learn --help`.");
    }
    Ok(ExitCode::SUCCESS)
}

fn learn(args: &Learn) -> Result<ExitCode> {
    let voices = Voices::open()?;
    voices.path(&args.name)?;
    let english = assets::english()?;
    if args.phrases {
        for phrase in phrases_to_read(&english, usize::from(args.count)) {
            outln!("{phrase}");
        }
        return Ok(ExitCode::SUCCESS);
    }
    let stop = super::end::asked()?;
    let given = args.noise.as_deref().map(noise_of).transpose()?;
    let mut takes = match (&args.from_folder, &args.from) {
        (Some(folder), _) => of_folder(folder, &english)?,
        (None, Some(job)) => of_job(job, &english)?,
        (None, None) => {
            let mut reading = Reading::new(&english, usize::from(args.count));
            match &args.recording {
                Some(recording) => of_recording(recording, &mut reading, given.is_none(), &stop)?,
                None => read_aloud(args, &mut reading, given.is_none(), &stop)?,
            }
        }
    };
    takes.noises.extend(given);
    aside(&format!(
        "Learning from {} phrases; this takes a minute or two.",
        takes.phrases.len()
    ));
    let progress = Progress::new(true);
    let (profile, verdict) = learn_voice(takes, &stop, |done, all| {
        progress.at(&format!("{} % ", done * 100 / all));
    })?;
    drop(progress);
    let path = voices.keep(&args.name, &profile)?;
    let refused = !verdict.refused.is_empty();
    if refused && voices.on().as_deref() == Some(&args.name) {
        voices.switch(None)?;
    }
    if args.json {
        let result = json!({
            "name": args.name, "file": path, "phrases": profile.about.phrases, "verdict": verdict,
        });
        outln!("{result}");
    } else {
        outln!("{}: {}.", args.name, verdict.in_words());
        let name = &args.name;
        if refused {
            outln!("The voice stays off, since {}.", verdict.refused);
        } else {
            outln!("Use it with --voice {name}, or always with `benchcall voice on {name}`.");
        }
    }
    Ok(if refused {
        ExitCode::FAILURE
    } else {
        ExitCode::SUCCESS
    })
}

/// Recordings with their words; those that are no good are told and left out.
fn of_folder(folder: &Path, english: &Grammar) -> Result<Takes> {
    let mut recogniser = recogniser::load("en", None)?;
    let mut phrases = Vec::new();
    for item in manifest(&folder.join("manifest.tsv"))? {
        let words = english.words_of(&item.text).join(" ");
        if words.is_empty() {
            continue;
        }
        let Clip { samples } = read_clip(&item.path)?;
        let clip = Clip::new(samples);
        match fault_of_clip(&clip, &words, recogniser.as_mut())? {
            Some(fault) => tell(&format!("{} is left out: {fault}", item.path.display())),
            None => phrases.push(Example {
                samples: clip.samples,
                words,
            }),
        }
    }
    Ok(Takes {
        phrases,
        noises: Vec::new(),
        microphone: "recordings".to_owned(),
    })
}

/// What somebody confirmed or put right in the review of a job, and nothing else.
fn of_job(job: &Path, english: &Grammar) -> Result<Takes> {
    let (checked, lost) = reviewed(&show::job(job)?);
    lost.iter().for_each(|lost| show::incomplete(lost));
    let mut phrases = Vec::new();
    for clip in checked {
        let words = english.words_of(&clip.truth).join(" ");
        if !words.is_empty() {
            let samples = decode(&clip.wav, "a clip of the job")?.samples;
            phrases.push(Example { samples, words });
        }
    }
    if phrases.is_empty() {
        bail!(
            "nothing in {} was confirmed or put right yet: open it with `benchcall review` first",
            job.display()
        );
    }
    Ok(Takes {
        phrases,
        noises: Vec::new(),
        microphone: "a reviewed job".to_owned(),
    })
}

/// Phrases and the shop's noise from one recording of them all.
fn of_recording(
    recording: &Path,
    reading: &mut Reading,
    with_noise: bool,
    stop: &AtomicBool,
) -> Result<Takes> {
    let clip = read_clip(recording)?;
    let mut recogniser = recogniser::load("en", None)?;
    let all = clip.duration_ms() / 1_000;
    let progress = Progress::new(true);
    let mut heard = |second| {
        progress.at(&format!("{second} of {all} seconds are heard "));
        goes_on(stop)
    };
    let parts = find(&clip, reading, with_noise, recogniser.as_mut(), &mut heard)?;
    drop(progress);
    for part in parts {
        aside(&part.to_string());
    }
    Ok(reading.takes("a recording"))
}

/// Phrases and the shop's noise from the microphone.
fn read_aloud(
    args: &Learn,
    reading: &mut Reading,
    with_noise: bool,
    stop: &Arc<AtomicBool>,
) -> Result<Takes> {
    let mut recogniser = recogniser::load("en", None)?;
    let mut ears = Ears {
        microphone: sound::microphone(args.microphone.as_deref())?,
        segmenter: Segmenter::new(segmentation()),
        waiting: Vec::new(),
        stop: Arc::clone(stop),
        ended: false,
    };
    ask(reading, &mut ears, recogniser.as_mut())?;
    if with_noise && !ears.ended {
        outln!(
            "Now {NOISE_S} seconds of the shop as it is, compressor on if you have one. Do not speak."
        );
        reading.set_noise(ears.noise()?);
    }
    let microphone = args.microphone.as_deref();
    Ok(reading.takes(microphone.unwrap_or("the default microphone")))
}

/// Asks for one phrase after the other, for each again if its take is no good.
fn ask(reading: &mut Reading, ears: &mut Ears, recogniser: &mut dyn Recogniser) -> Result<()> {
    'phrases: while let Some(phrase) = reading.phrase().map(str::to_owned) {
        let (at, of) = reading.place();
        for again in 0..TRIES {
            let asked = if again == 0 { "Say" } else { "Once more" };
            outln!("{:>2} of {of}. {asked}: {phrase}", at + 1);
            let Some(utterance) = ears.next()? else {
                return Ok(());
            };
            match fault_of_utterance(&utterance, &phrase, recogniser)? {
                None => {
                    reading.take(utterance.samples);
                    continue 'phrases;
                }
                Some(fault) => outln!("    {fault}"),
            }
        }
        reading.skip();
    }
    Ok(())
}

fn goes_on(stop: &AtomicBool) -> Result<()> {
    anyhow::ensure!(!stop.load(Ordering::Relaxed), "stopped; nothing was learnt");
    Ok(())
}

/// A microphone whose sound is cut into utterances.
struct Ears {
    microphone: Box<dyn Microphone>,
    segmenter: Segmenter,
    waiting: Vec<Utterance>,
    stop: Arc<AtomicBool>,
    ended: bool,
}

impl Ears {
    /// The next utterance; none once the sound is over.
    fn next(&mut self) -> Result<Option<Utterance>> {
        while self.waiting.is_empty() && !self.ended {
            let samples = self.read()?;
            for chunk in samples.chunks(RATE_HZ as usize / 50) {
                let cuts = self.segmenter.push(chunk);
                self.waiting.extend(cuts.into_iter().filter_map(Cut::ended));
            }
            if self.ended {
                let next = Segmenter::new(segmentation());
                let segmenter = std::mem::replace(&mut self.segmenter, next);
                self.waiting.extend(segmenter.finish());
            }
        }
        Ok((!self.waiting.is_empty()).then(|| self.waiting.remove(0)))
    }

    /// The noise of the next seconds.
    fn noise(&mut self) -> Result<Vec<f32>> {
        let mut noise = Vec::new();
        while !is_enough_noise(&noise) && !self.ended {
            noise.extend(self.read()?);
        }
        Ok(noise)
    }

    fn read(&mut self) -> Result<Vec<f32>> {
        let mut samples = Vec::new();
        let read = self.microphone.read(&mut samples)?;
        self.ended = read.ended;
        goes_on(&self.stop)?;
        Ok(samples)
    }
}

fn compare(args: &Compare) -> Result<ExitCode> {
    let profile = Voices::open()?.read(&args.name)?;
    profile
        .is_for(&assets::model_entry("tiny-en-bench")?.sha256)
        .with_context(|| format!("the voice \"{}\" cannot be used", args.name))?;
    let english = assets::english()?;
    let takes = match (&args.from_folder, &args.from) {
        (Some(folder), _) => of_folder(folder, &english)?,
        (None, Some(job)) => of_job(job, &english)?,
        (None, None) => bail!("expected --from-folder or --from"),
    };
    let (quiet, noisy) = compared(&profile, takes.phrases)?;
    if args.json {
        outln!("{}", json!({ "quiet": quiet, "noisy": noisy }));
    } else {
        outln!(
            "{}: of {} phrases, {}.",
            args.name,
            quiet.of,
            counts_in_words(quiet, noisy)
        );
    }
    Ok(ExitCode::SUCCESS)
}
