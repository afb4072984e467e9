//! `score`: how well the recogniser does on clips with known words.

use super::args::Score;
use crate::app::job::Job;
use crate::app::terminal::Progress;
use crate::app::voices::NONE;
use crate::app::{assets, recogniser};
use crate::evaluate::{Noises, Setting, manifest, pictures, score};
use crate::store::{make_private_folder, write_private};
use crate::understand::Conversation;
use anyhow::{Context, Result};
use std::process::ExitCode;

pub(super) fn run(args: &Score) -> Result<ExitCode> {
    let items = manifest(&args.manifest)?;
    let noise = match (&args.noise, args.snr_db) {
        (Some(folder), Some(snr_db)) => Some((Noises::of_folder(folder)?, snr_db)),
        _ => None,
    };
    let (english, engine, unit) = (assets::english()?, args.engine.clone(), args.unit.unit());
    let fresh = move || -> Result<Box<dyn Conversation>> {
        Ok(Box::new(Job::unkept(english.clone(), &engine, unit)?))
    };
    let fresh = Box::new(fresh);
    let setting = Setting { fresh, noise };
    let voice = args.voice.as_deref().unwrap_or(NONE);
    let recogniser = recogniser::load_for("en", args.model.as_deref(), Some(voice))?;
    let progress = Progress::new(true);
    let (result, trials) = score(&items, recogniser, &setting, |done| {
        progress.at(&format!("{done} of {}", items.len()));
    })?;
    drop(progress);
    let rate = |n: usize, (low, high): (f64, f64)| {
        let share = n as f64 / result.clips.max(1) as f64;
        format!(
            "{n:>6}  {:>6.2} %  (95 %: {:.2} to {:.2})",
            share * 100.0,
            low * 100.0,
            high * 100.0
        )
    };
    outln!("clips with words     {:>6}", result.clips);
    outln!(
        "  exact              {}",
        rate(result.exact, result.exact_interval)
    );
    outln!(
        "  asked              {}",
        rate(result.asked, result.asked_interval)
    );
    outln!("  refused            {:>6}", result.refused);
    outln!("  ignored            {:>6}", result.ignored);
    outln!("  note, other words  {:>6}", result.note_differs);
    outln!(
        "  silently wrong     {}",
        rate(result.silently_wrong, result.silently_wrong_interval)
    );
    outln!(
        "stored from other talk or noise  {} in {:.2} hours",
        result.false_stored,
        result.hours_of_other_talk
    );
    outln!(
        "end of speech to stored  {} / {} / {} ms (p50, p95, p99)",
        result.p50_ms,
        result.p95_ms,
        result.p99_ms
    );
    outln!(
        "computing  {} / {} ms (p50, p95), {:.3} of real time",
        result.compute_p50_ms,
        result.compute_p95_ms,
        result.real_time_factor
    );
    outln!(
        "peak memory  {} MB; loops  {}",
        result.peak_memory_bytes / 1_000_000,
        result.loops
    );
    for wrong in &result.wrong {
        outln!(
            "WRONG {}: \"{}\" was heard as \"{}\" and stored as \"{}\"",
            wrong.path,
            wrong.text,
            wrong.heard,
            wrong.stored
        );
    }
    outln!(
        "cut off in a pause   {}",
        rate(result.cut_off, result.cut_off_interval)
    );
    outln!("asked from other talk or noise   {}", result.false_asked);
    let voiced = &result.voiced;
    if voiced.clips > 0 {
        outln!(
            "voice detection in the mix: of {} missed {}, clipped {}; {} false in {:.1} minutes",
            voiced.clips,
            voiced.missed,
            voiced.clipped,
            voiced.false_ones,
            voiced.sound_ms as f64 / 60_000.0
        );
    }
    for (kind, tally) in &result.kinds {
        let classes: Vec<String> = tally
            .classes
            .iter()
            .map(|(class, n)| {
                let share = 100.0 * *n as f64 / tally.clips.max(1) as f64;
                format!("{class:?} {n} ({share:.2} %)")
            })
            .collect();
        outln!("{kind}: {} clips: {}", tally.clips, classes.join(", "));
    }
    if let Some(folder) = &args.plots {
        make_private_folder(folder)
            .with_context(|| format!("cannot make the folder {}", folder.display()))?;
        for (name, picture) in pictures(&trials) {
            let path = folder.join(name);
            write_private(&path, picture)
                .with_context(|| format!("cannot write {}", path.display()))?;
            outln!("picture: {}", path.display());
        }
    }
    if let Some(path) = &args.trials {
        let lines: Vec<String> = trials
            .iter()
            .map(serde_json::to_string)
            .collect::<Result<_, _>>()?;
        write_private(path, lines.join("\n"))
            .with_context(|| format!("cannot write {}", path.display()))?;
    }
    if let Some(path) = &args.json {
        let text = serde_json::to_string_pretty(&result)?;
        write_private(path, text).with_context(|| format!("cannot write {}", path.display()))?;
    }
    Ok(ExitCode::SUCCESS)
}
