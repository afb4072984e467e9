//! What ships with the program: grammars and engines inside it, model files beside it.

use super::settings;
use crate::audio::read_text;
use crate::engine::{Profile, SHIPPED};
use crate::grammar::Grammar;
use crate::models::{Entry, Manifest, read, verify};
use crate::session::LazyGrammar;
use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};

/// The files of a language's folder.
macro_rules! language {
    ($key:literal, $name:literal: $($file:literal),+) => {
        ($key, $name, &[$((
            concat!("grammars/", $key, "/", $file, ".toml"),
            include_str!(concat!("../../grammars/", $key, "/", $file, ".toml")),
        )),+])
    };
}

/// The files of a language, each as name and text.
pub(crate) type Files = &'static [(&'static str, &'static str)];

/// Each language that ships with the program: its key, and its name as who speaks it says it.
const LANGUAGES: &[(&str, &str, Files)] = &[
    language!("en", "English": "numbers", "positions", "phrases", "inspect", "job", "commands", "readback"),
    language!("de", "Deutsch": "numbers", "positions", "phrases", "inspect", "job", "commands", "readback"),
];

/// The largest grammar or profile that is read: far more than anybody writes.
pub(crate) const MOST_BYTES: u64 = 10_000_000;

const MANIFEST: &str = include_str!("../../models/manifest.toml");

/// A grammar that ships with the program, by its language.
///
/// # Errors
/// A language that does not, with those that do.
pub fn grammar(language: &str) -> Result<Grammar> {
    Ok(Grammar::from_files(language_files(language)?)?)
}

/// The languages that ship with the program, each as key and name.
pub(crate) fn languages() -> Vec<(&'static str, &'static str)> {
    let name = |(key, name, _): &(&'static str, &'static str, Files)| (*key, *name);
    LANGUAGES.iter().map(name).collect()
}

/// The files of a language that ships with the program, each as name and text.
///
/// # Errors
/// As [`grammar`].
pub(crate) fn language_files(language: &str) -> Result<Files> {
    let found = LANGUAGES.iter().find(|(key, ..)| *key == language);
    let known = || {
        let keys: Vec<&str> = LANGUAGES.iter().map(|(key, ..)| *key).collect();
        format!(
            "there is no language \"{language}\": expected {}",
            keys.join(" or ")
        )
    };
    Ok(found.with_context(known)?.2)
}

/// The same, read when it is first asked for.
///
/// # Errors
/// A language that does not ship, with those that do.
pub(crate) fn lazy_grammar(language: &str) -> Result<LazyGrammar> {
    let files = language_files(language)?;
    Ok(LazyGrammar::new(move || {
        let grammar = Grammar::from_files(files);
        grammar.unwrap_or_else(|e| unreachable!("a test reads every shipped grammar: {e}"))
    }))
}

/// The English grammar that ships with the program.
///
/// # Errors
/// Only where the shipped files are wrong, which a test excludes.
pub fn english() -> Result<Grammar> {
    grammar("en")
}

/// A grammar from a folder of TOML files.
///
/// # Errors
/// An unreadable folder, or whatever is wrong in a file, with line and column.
pub fn grammar_from(folder: &Path) -> Result<Grammar> {
    let mut files = Vec::new();
    let entries = std::fs::read_dir(folder)
        .with_context(|| format!("cannot read the folder {}", folder.display()))?;
    for entry in entries {
        let path = entry
            .with_context(|| format!("cannot read the folder {}", folder.display()))?
            .path();
        if path.extension().is_some_and(|e| e == "toml") {
            let text = read_text(&path, MOST_BYTES)
                .with_context(|| format!("cannot read {}", path.display()))?;
            files.push((path.display().to_string(), text));
        }
    }
    files.sort();
    if files.is_empty() {
        bail!(
            "{} holds no .toml file: expected the files of a language",
            folder.display()
        );
    }
    let files: Vec<(&str, &str)> = files
        .iter()
        .map(|(n, t)| (n.as_str(), t.as_str()))
        .collect();
    Ok(Grammar::from_files(&files)?)
}

/// The text of an engine's profile: a shipped one or one that this person entered by key, or a file by
/// path.
///
/// # Errors
/// An unknown key, with the keys that there are; an unreadable file.
pub fn engine_text(key: &str) -> Result<(String, String)> {
    if let Some((name, text)) = SHIPPED.iter().find(|(k, _)| *k == key) {
        return Ok((format!("grammars/engines/{name}.toml"), (*text).to_owned()));
    }
    if key.ends_with(".toml") {
        let text = read_text(Path::new(key), MOST_BYTES)
            .with_context(|| format!("cannot read the engine profile {key}"))?;
        return Ok((key.to_owned(), text));
    }
    let own = settings::engine_keys();
    if let Some(file) = settings::engine_file(key).filter(|_| own.iter().any(|k| k == key)) {
        return engine_text(&file.display().to_string());
    }
    let shipped = SHIPPED.iter().map(|(k, _)| *k);
    let known: Vec<&str> = shipped.chain(own.iter().map(String::as_str)).collect();
    bail!(
        "there is no engine \"{key}\": expected one of {}, or the path of a profile ending in .toml",
        known.join(", ")
    )
}

/// Reads an engine's profile.
///
/// # Errors
/// As [`engine_text`], and whatever is wrong in the profile with line and column.
pub fn engine(key: &str) -> Result<(Profile, String)> {
    let (name, text) = engine_text(key)?;
    let profile = Profile::parse(&text, &name)?;
    Ok((profile, text))
}

/// The folder of the model files: `BENCHCALL_MODELS`, `models` or `share/benchcall/models` above the
/// program (Filesystem Hierarchy Standard 3.0, section 4.11), or that of the source it was built from. Never the current folder: a job from elsewhere could bring a voice of its own.
#[must_use]
pub fn models_folder() -> PathBuf {
    if let Some(folder) = std::env::var_os("BENCHCALL_MODELS") {
        return PathBuf::from(folder);
    }
    let exe = std::env::current_exe().unwrap_or_default();
    let places = ["models", "share/benchcall/models"];
    let above = exe.ancestors().skip(1);
    let above = above.flat_map(|a| places.map(|p| a.join(p)));
    let built = Path::new(env!("CARGO_MANIFEST_DIR")).join("models");
    // In a root without /proc the program does not know where it lies.
    let installed = PathBuf::from("/usr/share/benchcall/models");
    above
        .chain([installed, built.clone()])
        .find(|p| p.join("manifest.toml").is_file())
        .unwrap_or(built)
}

/// The folder of the recorded session, beside the models.
pub(crate) fn session_folder() -> PathBuf {
    models_folder().join("../fixtures/session")
}

/// What the manifest says of a model.
///
/// # Errors
/// An unknown key.
pub fn model_entry(key: &str) -> Result<Entry> {
    Ok(Manifest::parse(MANIFEST)?.get(key)?.clone())
}

/// The verified bytes of a model file.
///
/// # Errors
/// Missing, truncated or altered, with what to do.
pub(crate) fn model_bytes(key: &str) -> Result<Vec<u8>> {
    Ok(read(&models_folder(), &model_entry(key)?)?)
}

/// The verified path of a model file.
///
/// # Errors
/// Missing, truncated or altered, with what to do.
pub fn model(key: &str) -> Result<PathBuf> {
    Ok(verify(&models_folder(), &model_entry(key)?)?)
}
