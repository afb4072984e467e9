//! `phrases`: the cheat sheet, random samples, and the check of grammar files.

use super::args::Phrases;
use crate::app::job::Job;
use crate::app::terminal::aside;
use crate::app::{assets, own_words};
use crate::audio::read_text;
use crate::engine::Profile;
use crate::event::Outcome;
use crate::grammar::{Dice, Means};
use crate::report::Line;
use crate::session::step;
use anyhow::{Context, Result};
use serde::Serialize;
use std::path::Path;
use std::process::ExitCode;

#[derive(Serialize)]
struct Sample {
    text: String,
    means: &'static str,
    #[serde(flatten)]
    line: Line,
}

pub(super) fn run(args: &Phrases) -> Result<ExitCode> {
    if let Some(folder) = &args.check {
        return match folder.is_file() {
            true => check_own(&args.language, folder),
            false => check(folder),
        };
    }
    if let Some(n) = args.sample {
        sample(args, n)?;
        return Ok(ExitCode::SUCCESS);
    }
    let grammar = assets::grammar(&args.language)?;
    for (means, (examples, patterns)) in grammar.cheat_sheet() {
        let mut title = means.key().replace('_', " ");
        for example in examples {
            outln!("{title:<14} \"{example}\"");
            title.clear();
        }
        for pattern in patterns.iter().filter(|_| args.patterns) {
            outln!(
                "{:<14}   {}",
                "",
                pattern.split_whitespace().collect::<Vec<_>>().join(" ")
            );
        }
    }
    if args.patterns {
        outln!("\n[ ] may be left out, | is or, {{ }} is a rule: see grammars/README.md.");
    } else {
        outln!(
            "\nAnd many variants: --patterns shows them. Numbers: \"fifteen\", \"point one five\", \"oh eight\","
        );
        outln!("\"two sixty-five\", \"two six two five\", \"eight thou\", \"fifteen hundredths\".");
    }
    Ok(ExitCode::SUCCESS)
}

/// How often a phrase that this job cannot take, such as one about a cylinder that the engine
/// lacks, is drawn again.
const DRAWS: usize = 2_000;

/// Draws phrases that the job understands, half of them readings and places. Each is taken by a
/// fresh job, so that its meaning does not hang on the one before.
fn sample(args: &Phrases, n: usize) -> Result<()> {
    let mut job = Job::unkept(
        assets::grammar(&args.language)?,
        &args.engine,
        args.unit.unit(),
    )?;
    // With a valve open, as it mostly is: then a value alone is a reading.
    if let Some(first) = job.setup.profile.valves().first() {
        let place = job.setup.grammar.wording.place(*first);
        job.say(&place)?;
    }
    let all = job.setup.grammar.meanings();
    let readings = [
        Means::Clearance,
        Means::Clearance,
        Means::Clearance,
        Means::ShimFitted,
        Means::ShimFitted,
        Means::ShimSpare,
        Means::Open,
        Means::Measure,
        Means::Measure,
    ];
    let mut dice = Dice::new(args.seed);
    for _ in 0..n {
        let meanings = if dice.below(2) == 0 {
            &readings[..]
        } else {
            &all[..]
        };
        // Most phrases at a bench have a usual value; some are asked.
        let also_asked = dice.below(5) == 0;
        let drawn = (0..DRAWS).find_map(|_| {
            let (phrase, text) = job.setup.grammar.sample(&mut dice, meanings)?;
            let event = step(&job.setup, &job.state, job.typed(&text));
            let understood = match event.outcome {
                Outcome::Stored => true,
                Outcome::Asked => also_asked,
                Outcome::Refused => false,
                Outcome::Ignored => event.command.is_some(),
            };
            understood.then_some((phrase.means.key(), text, event))
        });
        let (means, text, event) =
            drawn.context("no phrase that this job understands was drawn")?;
        outln!(
            "{}",
            serde_json::to_string(&Sample {
                text,
                means,
                line: Line::of(&event, None)
            })?
        );
    }
    Ok(())
}

/// A file of own words, beside the language that it belongs to.
fn check_own(language: &str, file: &Path) -> Result<ExitCode> {
    let grammar = own_words::check(language, file)?;
    let words = grammar.words().len();
    let own = words - assets::grammar(language)?.words().len();
    outln!("{}: {own} new words, {words} in all", file.display());
    Ok(ExitCode::SUCCESS)
}

fn check(folder: &Path) -> Result<ExitCode> {
    let grammar = assets::grammar_from(folder)?;
    outln!(
        "{}: {} phrases, {} words",
        folder.display(),
        grammar.phrases.len(),
        grammar.words().len()
    );
    let engines = folder.parent().unwrap_or(folder).join("engines");
    let mut wrong = 0;
    if engines.is_dir() {
        let mut paths: Vec<_> = std::fs::read_dir(&engines)
            .with_context(|| format!("cannot read the folder {}", engines.display()))?
            .filter_map(|e| e.ok().map(|e| e.path()))
            .filter(|p| p.extension().is_some_and(|e| e == "toml"))
            .collect();
        paths.sort();
        for path in paths {
            let text = read_text(&path, assets::MOST_BYTES)
                .with_context(|| format!("cannot read {}", path.display()))?;
            match Profile::parse(&text, &path.display().to_string()) {
                Ok(profile) => outln!(
                    "{}: {}, {} valves",
                    path.display(),
                    profile.name,
                    profile.valves().len()
                ),
                Err(error) => {
                    aside(&error.to_string());
                    wrong += 1;
                }
            }
        }
    }
    Ok(if wrong == 0 {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}
