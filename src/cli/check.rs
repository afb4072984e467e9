//! `check`: microphone, recogniser, voice and disk, each with a fix; `--voice` tries ten phrases;
//! `--job` tells the whole state of a job.

use super::args::Check;
use crate::app::in_words::in_words;
use crate::app::job::Job;
use crate::app::loudspeaker_delay::{Delay, measure};
use crate::app::sound::Loudspeaker;
use crate::app::sound_check::{ABOVE_DB, CLIPPED, LOUD_ROOM};
use crate::app::sound_choice::SoundChoice;
use crate::app::terminal::tell;
use crate::app::{assets, recogniser, recover, sound, speech};
use crate::audio::{Clip, RATE_HZ, read_clip};
use crate::device::{Microphone, Pace, Recording};
use crate::measure::LengthUnit;
use crate::understand::{Listener, Recognised};
use anyhow::{Context, Result};
use serde::Serialize;
use std::process::ExitCode;
use std::time::Instant;

/// Whether one part is as it should be, and what there is to say of it.
#[derive(Serialize)]
struct Finding {
    part: &'static str,
    good: bool,
    says: String,
}

/// Ten phrases that between them use every digit, both sides and the commands that matter most.
const TEN: [&str; 10] = [
    "one inlet left zero eight goes ten does not",
    "two exhaust right point two five",
    "three inlet right fifteen goes eighteen wont",
    "one exhaust left no gap",
    "two inlet left shim two six seven",
    "three exhaust left point three four nine",
    "correction point one zero",
    "say again",
    "disregard",
    "affirm",
];

pub(super) fn run(args: &Check) -> Result<ExitCode> {
    if let Some(name) = &args.voice {
        return voice(args, Some(name.as_str()).filter(|n| !n.is_empty()));
    }
    if args.delay {
        return show(&[delay(args)], args.json);
    }
    if let Some(folder) = &args.job {
        let parts = recover::state_of(folder);
        let findings: Vec<Finding> = parts.into_iter().map(|(p, r)| finding(p, r)).collect();
        return show(&findings, args.json);
    }
    let findings = [
        microphone(args.microphone.as_deref()),
        recogniser(),
        bank(),
        speaker(),
        disk(),
    ];
    show(&findings, args.json)
}

/// Prints findings; a failure if any is not good.
fn show(findings: &[Finding], json: bool) -> Result<ExitCode> {
    if json {
        outln!("{}", serde_json::to_string_pretty(findings)?);
    } else {
        for f in findings {
            outln!(
                "{:<12} {}  {}",
                f.part,
                if f.good { "good" } else { "FIX " },
                f.says
            );
        }
    }
    Ok(if findings.iter().all(|f| f.good) {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

fn finding(part: &'static str, result: Result<String>) -> Finding {
    match result {
        Ok(says) => Finding {
            part,
            good: true,
            says,
        },
        Err(error) => Finding {
            part,
            good: false,
            says: in_words(&error),
        },
    }
}

fn microphone(name: Option<&str>) -> Finding {
    let heard = || -> Result<String> {
        let mut microphone = sound::microphone(name)?;
        let begun = Instant::now();
        let mut samples = Vec::new();
        while begun.elapsed().as_millis() < 1_000 {
            microphone.read(&mut samples)?;
        }
        anyhow::ensure!(
            samples.iter().any(|s| *s != 0.0),
            "it delivers {} samples of pure silence: unmute it, or choose another with --microphone NAME",
            samples.len()
        );
        let level = Clip::new(samples).rms_dbfs();
        let [names, _] = sound::names()?;
        Ok(format!(
            "{} Hz; the room is at {level:.0} dB below full scale{}",
            microphone.native_rate_hz(),
            by_name(&names)
        ))
    };
    finding("microphone", heard())
}

fn recogniser() -> Finding {
    let loaded = || -> Result<String> {
        let begun = Instant::now();
        let mut recogniser = recogniser::load_for("en", None, None)?;
        let load_ms = begun.elapsed().as_millis();
        let sound = vec![0.0; 2 * RATE_HZ as usize];
        let begun = Instant::now();
        recogniser.hear(&sound)?;
        let took_ms = begun.elapsed().as_millis();
        Ok(format!(
            "model {} whole, loaded in {load_ms} ms; two seconds of sound take {took_ms} ms{}",
            recogniser.weights(),
            bigger(took_ms, free_memory_bytes())
        ))
    };
    finding("recogniser", loaded())
}

/// A hint where the machine has room for a bigger recogniser. The full window of a base-size model costs
/// about 20 times the work of the shipped one (30 s of sound for 3 s, twice the width), and 0.5 GB.
fn bigger(took_ms: u128, free_bytes: u64) -> &'static str {
    if took_ms <= 25 && free_bytes >= 2_000_000_000 {
        "; there is room for a bigger recogniser: any Whisper model in ggml format, with --model FILE"
    } else {
        ""
    }
}

/// Memory that programs may still take, as Linux tells it; zero elsewhere.
fn free_memory_bytes() -> u64 {
    let text = std::fs::read_to_string("/proc/meminfo").unwrap_or_default();
    let line = text.lines().find_map(|l| l.strip_prefix("MemAvailable:"));
    let kib = line.and_then(|l| l.split_whitespace().next()?.parse::<u64>().ok());
    kib.unwrap_or(0) * 1_024
}

fn bank() -> Finding {
    let loaded = || -> Result<String> {
        let bank = speech::bank()?;
        let words = assets::english()?.wording.pieces();
        let missing: Vec<String> = words
            .into_iter()
            .filter(|w| !bank.missing(w).is_empty())
            .collect();
        anyhow::ensure!(
            missing.is_empty(),
            "the word bank lacks {}: run git checkout models/voice",
            missing.join(", ")
        );
        Ok("the word bank has every word of the read-back".to_owned())
    };
    finding("voice", loaded())
}

fn speaker() -> Finding {
    let opened = || -> Result<String> {
        sound::speaker(Loudspeaker::Here(None))?.ok_or_else(|| {
            anyhow::anyhow!("no loudspeaker: the read-back stands on screen only")
        })?;
        let [_, names] = sound::names()?;
        Ok(format!("there is one{}", by_name(&names)))
    };
    finding("loudspeaker", opened())
}

/// Measures how far the loudspeaker is behind, and keeps it.
fn delay(args: &Check) -> Finding {
    let measured = || -> Result<String> {
        let name = args.speaker.as_deref();
        let speaker = sound::speaker(Loudspeaker::Here(name))?;
        let mut speaker = speaker.context("there is no loudspeaker")?;
        let mut microphone = sound::microphone(args.microphone.as_deref())?;
        let found = measure(microphone.as_mut(), speaker.as_mut())?;
        let says = Delay::in_words(found);
        let Some(Delay { behind_ms, .. }) = found else {
            anyhow::bail!(says);
        };
        let mut choice = SoundChoice::kept()?;
        choice.is_behind(name, behind_ms);
        choice.keep()?;
        Ok(says)
    };
    finding("loudspeaker", measured())
}

/// The names to choose from, if there is a choice.
fn by_name(names: &[String]) -> String {
    match names {
        [] | [_] => String::new(),
        several => format!("; by name there are: {}", several.join(", ")),
    }
}

fn disk() -> Finding {
    let place = std::env::temp_dir().join(format!("benchcall-check-{}", std::process::id()));
    let tried = || -> Result<String> {
        let mut job = Job::create(&place, "triple", LengthUnit::Millimetre, Vec::new())?;
        let begun = Instant::now();
        let writes = 10;
        for _ in 0..writes {
            job.say("note check of the disk")?;
        }
        Ok(format!(
            "an event is safely stored in {} ms",
            begun.elapsed().as_millis() / writes
        ))
    };
    let result = tried();
    if let Err(error) = std::fs::remove_dir_all(&place) {
        tell(&format!("cannot remove {}: {error}", place.display()));
    }
    finding("disk", result)
}

/// Asks for ten phrases, one after the other, and says how each was heard.
fn voice(args: &Check, name: Option<&str>) -> Result<ExitCode> {
    let mut microphone: Box<dyn Microphone> = match &args.recording {
        Some(path) => Box::new(Recording::new(read_clip(path)?, Pace::AtOnce)),
        None => sound::microphone(args.microphone.as_deref())?,
    };
    let english = assets::english()?;
    let mut listener = Listener::new(recogniser::load_for("en", None, name)?);
    let mut same = 0;
    let (mut speech, mut noise) = (Vec::new(), Vec::new());
    for (i, phrase) in TEN.iter().enumerate() {
        outln!("{:>2} of {}. Say: {phrase}", i + 1, TEN.len());
        // Each in a job of its own, so that one does not bear on the next.
        let mut job = Job::unkept(english.clone(), "triple", LengthUnit::Millimetre)?;
        let Some(heard) = next_utterance(microphone.as_mut(), &mut listener, &mut job)? else {
            outln!("    the sound ended");
            break;
        };
        let said = &heard.recognition.said;
        let exact = english.words_of(said) == english.words_of(phrase);
        same += usize::from(exact);
        speech.push(heard.level_dbfs);
        noise.push(heard.noise_dbfs);
        outln!(
            "    heard: {said} ({}, certain to {:.0} %)",
            if exact { "right" } else { "WRONG" },
            heard.recognition.confidence * 100.0
        );
        if heard.clipped {
            outln!("    {CLIPPED}");
        }
    }
    let mean = |all: &[f32]| all.iter().sum::<f32>() / all.len().max(1) as f32;
    let above = mean(&speech) - mean(&noise);
    outln!(
        "{same} of {} right; the voice is {above:.0} dB above the room.",
        TEN.len()
    );
    let advice = match (same, above) {
        (10, _) => "This voice, microphone and room are heard well.",
        (_, a) if a < ABOVE_DB => LOUD_ROOM,
        _ => {
            "Speak evenly, digits one by one (\"two six five\"), and keep the microphone within half a metre."
        }
    };
    outln!("{advice}");
    Ok(if same == TEN.len() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

fn next_utterance(
    microphone: &mut dyn Microphone,
    listener: &mut Listener,
    job: &mut Job,
) -> Result<Option<Recognised>> {
    loop {
        let mut samples = Vec::new();
        let read = microphone.read(&mut samples)?;
        if let Some(heard) = listener.feed(&samples, job)?.into_iter().next() {
            return Ok(Some(heard));
        }
        if read.ended {
            return Ok(listener.finish(job)?.pop());
        }
    }
}
