//! `models/manifest.toml`: one entry a model file.

use std::path::{Component, Path};

use serde::Deserialize;

use super::Error;

/// What a model is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Speech to words.
    Recogniser,
    /// Words to speech.
    Voice,
}

/// How much sound a pass of a recogniser looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Window {
    /// Cut to the utterance.
    Fitted,
    /// Always 30 s.
    Full,
}

/// One model file.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Name the program asks for it by.
    pub key: String,
    /// File name inside the models folder.
    pub file: String,
    /// Size in bytes.
    pub bytes: u64,
    /// SHA-256 of the file, 64 lower-case hexadecimal digits.
    pub sha256: String,
    /// Licence of the weights.
    pub licence: String,
    /// File name of the model card inside the models folder.
    pub card: String,
    /// What it is for.
    pub kind: Kind,
    /// Window of a recogniser; a voice has none.
    pub window: Option<Window>,
    /// Whether its file comes with the program.
    #[serde(default = "yes")]
    pub ships: bool,
}

const fn yes() -> bool {
    true
}

/// All model files, in the order of the file.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// The entries.
    #[serde(rename = "model", default)]
    pub models: Vec<Entry>,
}

impl Manifest {
    /// Reads the text of `manifest.toml`.
    ///
    /// # Errors
    /// [`Error::Syntax`] with line and column for an unknown, missing or mistyped key;
    /// [`Error::Value`] for a hash, name or window that cannot be meant.
    pub fn parse(text: &str) -> Result<Self, Error> {
        let manifest: Self = toml::from_str(text).map_err(Box::new)?;
        for (i, entry) in manifest.models.iter().enumerate() {
            let before = &manifest.models[..i];
            entry.check(before).map_err(|what| Error::Value {
                key: entry.key.clone(),
                what,
            })?;
        }
        Ok(manifest)
    }

    /// The entry with this key.
    ///
    /// # Errors
    /// [`Error::Unknown`], naming the keys there are.
    pub fn get(&self, key: &str) -> Result<&Entry, Error> {
        let found = self.models.iter().find(|entry| entry.key == key);
        found.ok_or_else(|| {
            let keys: Vec<&str> = self.models.iter().map(|e| e.key.as_str()).collect();
            Error::Unknown {
                key: key.to_owned(),
                known: keys.join(", "),
            }
        })
    }
}

impl Entry {
    fn check(&self, before: &[Entry]) -> Result<(), String> {
        if before.iter().any(|other| other.key == self.key) {
            return Err("the key is used twice; each key names one model".to_owned());
        }
        let hex = |c: char| matches!(c, '0'..='9' | 'a'..='f');
        if self.sha256.len() != 64 || !self.sha256.chars().all(hex) {
            return Err(format!(
                "sha256 = \"{}\" is not 64 lower-case hexadecimal digits",
                self.sha256
            ));
        }
        for (name, value) in [("file", &self.file), ("card", &self.card)] {
            let inside = |c: Component<'_>| matches!(c, Component::Normal(_));
            if value.is_empty() || !Path::new(value).components().all(inside) {
                return Err(format!(
                    "{name} = \"{value}\" is not the name of a file inside models/"
                ));
            }
        }
        match (self.kind, self.window) {
            (Kind::Recogniser, None) => {
                Err("a recogniser needs window = \"fitted\" or \"full\"".to_owned())
            }
            (Kind::Voice, Some(_)) => Err("a voice has no window; leave the key out".to_owned()),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    fn one(change: &str, to: &str) -> Result<Manifest, Error> {
        let text = include_str!("../../models/manifest.toml");
        assert!(text.contains(change), "{change} is not in the manifest");
        Manifest::parse(&text.replace(change, to))
    }

    #[test]
    fn the_shipped_manifest_names_the_ear() {
        let manifest = one("key", "key").unwrap();
        let recogniser = manifest.get("tiny-en-bench").unwrap();
        assert_eq!(
            (recogniser.kind, recogniser.window),
            (Kind::Recogniser, Some(Window::Fitted))
        );
        assert!(recogniser.ships && !manifest.get("base-multilingual").unwrap().ships);
        let error = manifest.get("tiny").unwrap_err().to_string();
        assert!(
            error.contains("\"tiny\"") && error.contains("tiny-en-bench"),
            "{error}"
        );
    }

    #[test]
    fn faults_are_named() {
        let cases = [
            ("licence =", "license =", "unknown field `license`"),
            ("bytes = 4", "bytes = -4", "bytes"),
            (
                "kind = \"recogniser\"",
                "kind = \"nose\"",
                "expected `recogniser` or `voice`",
            ),
            (
                "kind = \"recogniser\"",
                "kind = \"voice\"",
                "a voice has no window",
            ),
            ("sha256 = \"", "sha256 = \"X", "64 lower-case hexadecimal"),
            ("file = \"", "file = \"../", "not the name of a file inside"),
            ("window = \"fitted\"", "", "a recogniser needs window"),
        ];
        for (change, to, wanted) in cases {
            let error = one(change, to).unwrap_err().to_string();
            assert!(error.contains(wanted), "{change} -> {to}: {error}");
        }
        let text = include_str!("../../models/manifest.toml");
        let twice = format!("{text}\n{}", &text[text.find("[[model]]").unwrap()..]);
        let error = Manifest::parse(&twice).unwrap_err().to_string();
        assert!(error.contains("used twice"), "{error}");
    }
}
