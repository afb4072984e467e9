//! A person's own words, and the names that one job has for its cylinders, sides and valves: part of
//! the grammar, so that they are understood and heard like its own.

use super::{assets, settings};
use crate::audio::read_text;
use crate::engine::{Called, Profile};
use crate::grammar::{Addition, Grammar};
use crate::session::LazyGrammar;
use anyhow::{Context, Result};
use std::path::{Path, PathBuf};

/// The file of own words, in the settings folder and in the folder of a job.
const FILE: &str = "words.toml";

/// The grammar of one job: its language, the person's own words, and the names of the profile.
///
/// # Errors
/// An unknown language, a file that cannot be read, or what is wrong in it with line and column.
pub(crate) fn grammar(language: &str, profile: &Profile, job: Option<&Path>) -> Result<Grammar> {
    with(language, &files(job), &additions(profile))
}

/// The same, read when it is first asked for if nothing can be wrong in it: there are no own words.
///
/// # Errors
/// As [`grammar`].
pub(crate) fn lazy_grammar(
    language: &str,
    profile: &Profile,
    job: Option<&Path>,
) -> Result<LazyGrammar> {
    if files(job).is_empty() && additions(profile).is_empty() {
        return assets::lazy_grammar(language);
    }
    Ok(grammar(language, profile, job)?.into())
}

/// The files of own words that there are.
fn files(job: Option<&Path>) -> Vec<PathBuf> {
    let folders = settings::folder()
        .into_iter()
        .chain(job.map(Path::to_path_buf));
    folders
        .map(|f| f.join(FILE))
        .filter(|f| f.is_file())
        .collect()
}

/// Checks a file of own words with the language that it belongs to.
///
/// # Errors
/// As [`grammar`].
pub(crate) fn check(language: &str, file: &Path) -> Result<Grammar> {
    with(language, &[file.to_path_buf()], &[])
}

fn with(language: &str, files: &[PathBuf], additions: &[Addition]) -> Result<Grammar> {
    let read = |file: &PathBuf| {
        let text = read_text(file, assets::MOST_BYTES);
        let text = text.with_context(|| format!("cannot read {}", file.display()))?;
        Ok((file.display().to_string(), text))
    };
    let own: Vec<(String, String)> = files.iter().map(read).collect::<Result<_>>()?;
    let own = own
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_str()));
    let all: Vec<(&str, &str)> = assets::language_files(language)?
        .iter()
        .copied()
        .chain(own)
        .collect();
    Ok(Grammar::with_additions(&all, additions)?)
}

/// The names of a profile, in the rules of the language that list the like.
fn additions(profile: &Profile) -> Vec<Addition> {
    let one = |own: &crate::engine::OwnName| {
        let (rule, out) = match own.called {
            Called::Cylinder(n) => ("cylinder_number", n.to_string()),
            Called::Side(side) => ("side_word", side.key().to_owned()),
            Called::Valve(valve) => ("valve_word", valve.key().to_owned()),
            Called::Head(head) => ("head_word", head.key().to_owned()),
        };
        Addition {
            rule,
            name: own.name.clone(),
            out,
        }
    };
    profile.names.iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::app::job::Job;
    use crate::event::Outcome;
    use crate::measure::LengthUnit;

    #[test]
    fn words_in_the_folder_of_a_job_are_understood_when_it_is_opened() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("job");
        drop(Job::create(&folder, "triple", LengthUnit::Millimetre, Vec::new()).unwrap());
        let file = folder.join(FILE);
        std::fs::write(&file, "[synonym]\ngoes = [\"slips home\"]\n").unwrap();
        let mut job = Job::open(&folder).unwrap();
        let event = job.say("three exhaust left twenty slips home").unwrap();
        assert_eq!(event.outcome, Outcome::Stored);
        assert_eq!(event.spoken, "three exhaust left, point two oh goes");
        drop(job);
        std::fs::write(&file, "[synonym]\nvanish = [\"away\"]\n").unwrap();
        let error = Job::open(&folder).err().unwrap().to_string();
        assert_eq!(
            error,
            format!("{}:2:1: no phrase uses the word `vanish`", file.display())
        );
    }

    #[test]
    fn names_of_a_profile_are_understood() {
        let dir = tempfile::tempdir().unwrap();
        let (_, text) = assets::engine("twin270").unwrap();
        let engine = dir.path().join("vee.toml");
        let names =
            "[names]\n1 = [\"front\", \"front cylinder\"]\n2 = [\"rear\", \"rear cylinder\"]\n";
        std::fs::write(&engine, format!("{text}\n{names}")).unwrap();
        let folder = dir.path().join("job");
        let engine = engine.display().to_string();
        let mut job = Job::create(&folder, &engine, LengthUnit::Millimetre, Vec::new()).unwrap();
        let event = job.say("rear cylinder inlet left, thirteen").unwrap();
        assert_eq!(event.spoken, "two inlet left, point one three, in band");
        let event = job
            .say("left inlet front cylinder fifteen goes eighteen doesn't")
            .unwrap();
        assert_eq!(event.outcome, Outcome::Stored, "{}", event.why);
        assert_eq!(event.subject.map(|p| p.cylinder), Some(1));
    }
}
