//! `phrases`: the cheat sheet, random samples, and the check of grammar files.

use super::args::Phrases;
use crate::app::assets;
use crate::app::job::Job;
use crate::app::record::Line;
use crate::engine::Profile;
use crate::event::Event;
use crate::grammar::Dice;
use crate::session::State;
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
        return check(folder);
    }
    if let Some(n) = args.sample {
        sample(args, n)?;
        return Ok(ExitCode::SUCCESS);
    }
    let grammar = assets::english()?;
    for (means, (example, patterns)) in grammar.cheat_sheet() {
        println!("{:<14} {example}", means.key().replace('_', " "));
        for pattern in patterns {
            println!(
                "{:<14}   {}",
                "",
                pattern.split_whitespace().collect::<Vec<_>>().join(" ")
            );
        }
    }
    println!("\n[ ] may be left out, | is or, {{ }} is a rule: see grammars/README.md.");
    Ok(ExitCode::SUCCESS)
}

/// Each sample is taken by a fresh job, so that its meaning does not hang on the one before.
fn sample(args: &Phrases, n: usize) -> Result<()> {
    let mut job = Job::unkept(assets::english()?, &args.engine, args.unit.unit())?;
    let fresh: Vec<Event> = job.state.events().to_vec();
    let mut dice = Dice::new(args.seed);
    for _ in 0..n {
        let (means, text) = {
            let (phrase, text) = job.desk.grammar.sample(&mut dice);
            (phrase.means.key(), text)
        };
        job.state = State::fold(fresh.clone());
        let (_, effects) = crate::session::step(&job.desk, &job.state, Job::typed(&text));
        let event = effects.into_iter().find_map(|e| match e {
            crate::session::Effect::Store(event) => Some(*event),
            crate::session::Effect::Speak(_) => None,
        });
        let event = event.context("a phrase gave no event")?;
        println!(
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

fn check(folder: &Path) -> Result<ExitCode> {
    let grammar = assets::grammar_from(folder)?;
    println!(
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
            let text = std::fs::read_to_string(&path)
                .with_context(|| format!("cannot read {}", path.display()))?;
            match Profile::parse(&text, &path.display().to_string()) {
                Ok(profile) => println!(
                    "{}: {}, {} valves",
                    path.display(),
                    profile.name,
                    profile.valves().len()
                ),
                Err(error) => {
                    eprintln!("{error}");
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
