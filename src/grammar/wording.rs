//! The wording of a language: the forms and words of `readback.toml`.

use serde::Deserialize;
use std::collections::BTreeMap;

/// The read-back wording of a language.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wording {
    /// Words of the ten digits.
    pub digits: [String; 10],
    /// A nought behind the point; without it, the digit's own word, and a nought before the point.
    #[serde(default)]
    pub(super) oh: Option<String>,
    /// Whole numbers that count something; without them, digit by digit.
    #[serde(default)]
    pub(super) whole: Option<Whole>,
    /// Words of the cylinders, from 1.
    pub cylinders: [String; 16],
    /// The decimal point.
    pub point: String,
    /// Said after a number of thou.
    pub thou: String,
    /// Stands between two choices.
    #[serde(default = "or")]
    pub or: String,
    /// What the decimal point is in figures.
    #[serde(default = "dot")]
    pub decimal_mark: char,
    /// Words of sides and valves, by key.
    pub places: BTreeMap<String, String>,
    /// Forms of readings.
    pub readings: Readings,
    /// Long forms of readings, for whoever asks for them.
    #[serde(default)]
    full: Option<Readings>,
    /// Forms of answers and questions.
    pub answers: BTreeMap<String, String>,
    /// Quantities by their keys in JSON.
    pub quantities: BTreeMap<String, String>,
    /// Forms of readings that are two figures, by the quantity's key.
    pub pairs: BTreeMap<String, String>,
    /// Units by their signs.
    pub units: BTreeMap<String, String>,
    /// Forms and words of parts.
    pub parts: BTreeMap<String, String>,
    /// Things looked at, by their keys.
    pub items: BTreeMap<String, String>,
    /// Forms of those whose count needs a word of its own, by the same keys.
    pub counts: BTreeMap<String, String>,
    /// What is done to a valve, by its key.
    pub(super) repairs: BTreeMap<String, String>,
    /// What is told of the machine, by its key.
    pub(super) about: BTreeMap<String, String>,
    /// Kinds of tasks, by their keys.
    pub tasks: BTreeMap<String, String>,
}

/// Words of whole numbers.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Whole {
    /// From nought to nineteen.
    pub(super) small: [String; 20],
    /// Twenty to ninety.
    pub(super) tens: [String; 8],
    pub(super) hundred: String,
    /// Stands after the hundreds: "one hundred and four".
    #[serde(default)]
    pub(super) and: String,
}

fn or() -> String {
    "or".to_owned()
}

const fn dot() -> char {
    '.'
}

/// Forms of readings; each of them is itself a phrase of the grammar.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct Readings {
    pub place: String,
    pub between: String,
    pub single: String,
    pub at_least: String,
    pub below: String,
    pub none: String,
    pub shim: String,
    pub shim_marked: String,
    pub shim_measured: String,
    pub shim_both: String,
    pub spare: String,
    pub spare_one: String,
    pub measured: String,
    pub done: String,
    pub checked: String,
    pub counted: String,
}

impl Readings {
    fn all(&self) -> [&String; 16] {
        [
            &self.place,
            &self.between,
            &self.single,
            &self.at_least,
            &self.below,
            &self.none,
            &self.shim,
            &self.shim_marked,
            &self.shim_measured,
            &self.shim_both,
            &self.spare,
            &self.spare_one,
            &self.measured,
            &self.done,
            &self.checked,
            &self.counted,
        ]
    }
}

/// Fills `{name}` forms.
pub(super) fn fill(form: &str, values: &[(&str, &str)]) -> String {
    let mut text = form.to_owned();
    for (name, value) in values {
        text = text.replace(&format!("{{{name}}}"), value);
    }
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    text.replace(" ,", ",")
        .replace(" .", ".")
        .replace(",.", ".")
        .trim_end_matches(',')
        .trim_start_matches([',', ' '])
        .to_owned()
}
impl Wording {
    /// The same with the long forms of readings.
    #[must_use]
    pub fn in_full(&self) -> Self {
        let mut wording = self.clone();
        if let Some(full) = &self.full {
            wording.readings = full.clone();
            wording.oh = None;
        }
        wording
    }

    /// An answer or question by its key.
    #[must_use]
    pub fn answer(&self, key: &str, values: &[(&str, &str)]) -> String {
        self.answers
            .get(key)
            .map(|form| fill(form, values))
            .unwrap_or_default()
    }

    /// Everything that can be read back, piece by piece between what is filled in.
    #[must_use]
    pub fn pieces(&self) -> Vec<String> {
        let forms = [Some(&self.readings), self.full.as_ref()];
        let forms = forms.into_iter().flatten().flat_map(Readings::all);
        let whole = self.whole.iter();
        let whole = whole.flat_map(|w| w.small.iter().chain(&w.tens).chain([&w.hundred, &w.and]));
        let own = [&self.point, &self.thou];
        let words = self.digits.iter().chain(&self.oh).chain(&self.cylinders);
        let all = forms
            .chain(own)
            .chain(words)
            .chain(whole)
            .chain(self.places.values())
            .chain(self.answers.values())
            .chain(self.quantities.values())
            .chain(self.pairs.values())
            .chain(self.units.values())
            .chain(self.parts.values())
            .chain(self.items.values())
            .chain(self.counts.values())
            .chain(self.repairs.values())
            .chain(self.about.values())
            .chain(self.tasks.values());
        let piece = |text: &str| text.trim_matches([' ', ',', '.']).to_owned();
        let mut pieces: Vec<String> = all
            .flat_map(|form| {
                form.split(['{', '}'])
                    .step_by(2)
                    .map(piece)
                    .collect::<Vec<_>>()
            })
            .filter(|p| !p.is_empty())
            .collect();
        pieces.sort();
        pieces.dedup();
        pieces
    }
}
