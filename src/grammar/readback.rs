//! Wording: what the tool says, filled in from `readback.toml`.

use crate::event::{Fact, Gap, Position, Reading, Value};
use crate::measure::{Length, LengthUnit};
use serde::Deserialize;
use std::collections::BTreeMap;

/// The read-back wording of a language.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wording {
    /// Words of the ten digits.
    pub digits: [String; 10],
    /// Words of the cylinders, from 1.
    pub cylinders: [String; 16],
    /// The decimal point.
    pub point: String,
    /// Said after a number of thou.
    pub thou: String,
    /// Words of sides and valves, by key.
    pub places: BTreeMap<String, String>,
    /// Forms of readings.
    pub readings: Readings,
    /// Forms of answers and questions.
    pub answers: BTreeMap<String, String>,
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
}

/// Fills `{name}` forms.
fn fill(form: &str, values: &[(&str, &str)]) -> String {
    let mut text = form.to_owned();
    for (name, value) in values {
        text = text.replace(&format!("{{{name}}}"), value);
    }
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    text.replace(" ,", ",")
        .replace(" .", ".")
        .trim_end_matches(',')
        .to_owned()
}

impl Wording {
    /// A place: "cylinder three exhaust left".
    #[must_use]
    pub fn place(&self, position: Position) -> String {
        let word = |key: &str| self.places.get(key).cloned().unwrap_or_default();
        let valve = position.valve.map(|v| word(v.key())).unwrap_or_default();
        fill(
            &self.readings.place,
            &[
                ("cylinder", &self.cylinder(position.cylinder)),
                ("side", &word(position.side.key())),
                ("valve", &valve),
            ],
        )
    }

    /// A cylinder's number in words.
    #[must_use]
    pub fn cylinder(&self, number: u8) -> String {
        self.cylinders
            .get(usize::from(number).wrapping_sub(1))
            .cloned()
            .unwrap_or_else(|| self.number(&number.to_string()))
    }

    /// A number, digit by digit.
    #[must_use]
    pub fn number(&self, figures: &str) -> String {
        let word = |c: char| match c.to_digit(10) {
            Some(d) => self.digits.get(d as usize).cloned().unwrap_or_default(),
            None => self.point.clone(),
        };
        figures.chars().map(word).collect::<Vec<_>>().join(" ")
    }

    /// A length in the unit that it is said in: "zero point one five", "zero eight thou".
    #[must_use]
    pub fn length(&self, length: Length, unit: LengthUnit) -> String {
        if matches!(unit, LengthUnit::Thou | LengthUnit::Inch) {
            let thou = length
                .to_decimal(LengthUnit::Thou, 0)
                .unwrap_or_else(|| length.rounded(LengthUnit::Thou, 1));
            let figures = if thou.places() == 0 {
                format!("{:02}", thou.mantissa())
            } else {
                thou.to_string()
            };
            return format!("{} {}", self.number(&figures), self.thou);
        }
        let mm = length
            .to_decimal(LengthUnit::Millimetre, 2)
            .unwrap_or_else(|| length.rounded(LengthUnit::Millimetre, 3));
        self.number(&mm.to_string())
    }

    /// A reading, position first.
    #[must_use]
    pub fn reading(&self, reading: &Reading) -> String {
        let place = reading.position.map(|p| self.place(p)).unwrap_or_default();
        let length = |l: Length| self.length(l, reading.unit);
        let forms = &self.readings;
        let text = match reading.value {
            Value::Gap(Gap::Between { goes_nm, stops_nm }) => fill(
                &forms.between,
                &[
                    ("place", &place),
                    ("goes", &length(goes_nm)),
                    ("stops", &length(stops_nm)),
                ],
            ),
            Value::Gap(Gap::Single(v)) => {
                fill(&forms.single, &[("place", &place), ("value", &length(v))])
            }
            Value::Gap(Gap::AtLeast(v)) => {
                fill(&forms.at_least, &[("place", &place), ("value", &length(v))])
            }
            Value::Gap(Gap::Below(v)) => {
                fill(&forms.below, &[("place", &place), ("value", &length(v))])
            }
            Value::Gap(Gap::None) => fill(&forms.none, &[("place", &place)]),
            Value::Shim {
                marked_nm: Some(a),
                measured_nm: Some(b),
            } => fill(
                &forms.shim_both,
                &[
                    ("place", &place),
                    ("marked", &length(a)),
                    ("measured", &length(b)),
                ],
            ),
            Value::Shim {
                marked_nm: Some(a), ..
            } => fill(&forms.shim, &[("place", &place), ("value", &length(a))]),
            Value::Shim { measured_nm, .. } => {
                let value = measured_nm.map(length).unwrap_or_default();
                fill(
                    &forms.shim_measured,
                    &[("place", &place), ("value", &value)],
                )
            }
            Value::Amount(amount) => {
                let value = amount.length().map(length).unwrap_or_default();
                fill(&forms.single, &[("place", &place), ("value", &value)])
            }
        };
        text.trim_start_matches([',', ' ']).to_owned()
    }

    /// A fact that can be read back.
    #[must_use]
    pub fn fact(&self, fact: &Fact) -> String {
        match fact {
            Fact::Read(reading) => self.reading(reading),
            Fact::Opened(position) => self.place(*position),
            Fact::Spare { size_nm, count } => {
                let value = self.length(*size_nm, LengthUnit::Millimetre);
                let form = if *count == 1 {
                    &self.readings.spare_one
                } else {
                    &self.readings.spare
                };
                let count = self
                    .digits
                    .get(usize::from(*count))
                    .cloned()
                    .unwrap_or_else(|| self.number(&count.to_string()));
                fill(form, &[("value", &value), ("count", &count)])
            }
            _ => String::new(),
        }
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
        let forms = &self.readings;
        let forms = [
            &forms.place,
            &forms.between,
            &forms.single,
            &forms.at_least,
            &forms.below,
            &forms.none,
            &forms.shim,
            &forms.shim_marked,
            &forms.shim_measured,
            &forms.shim_both,
            &forms.spare,
            &forms.spare_one,
            &self.point,
            &self.thou,
        ];
        let words = self.digits.iter().chain(&self.cylinders);
        let all = forms
            .into_iter()
            .chain(words)
            .chain(self.places.values())
            .chain(self.answers.values());
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
