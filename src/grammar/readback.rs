//! Wording: what the tool says, filled in from `readback.toml`.

use crate::event::{Fact, Fastener, Gap, Part, Position, Reading, Side, Value};
use crate::measure::{Amount, Decimal, Length, LengthUnit, Quantity, Unit};
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
    oh: Option<String>,
    /// Whole numbers that count something; without them, digit by digit.
    #[serde(default)]
    whole: Option<Whole>,
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
    repairs: BTreeMap<String, String>,
    /// What is told of the machine, by its key.
    about: BTreeMap<String, String>,
    /// Kinds of tasks, by their keys.
    pub tasks: BTreeMap<String, String>,
}

/// Words of whole numbers.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Whole {
    /// From nought to nineteen.
    small: [String; 20],
    /// Twenty to ninety.
    tens: [String; 8],
    hundred: String,
    /// Stands after the hundreds: "one hundred and four".
    #[serde(default)]
    and: String,
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
fn fill(form: &str, values: &[(&str, &str)]) -> String {
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

    /// A whole number that counts something: "twenty four", "eleven hundred".
    #[must_use]
    pub fn whole(&self, number: u32) -> String {
        let Some(Whole {
            small,
            tens,
            hundred,
            and,
        }) = &self.whole
        else {
            return self.number(&number.to_string());
        };
        let at = |words: &[String], i: u32| words.get(i as usize).cloned().unwrap_or_default();
        match (number / 100, number % 100) {
            (0, ..20) => at(small, number),
            (0, rest) if rest % 10 == 0 => at(tens, rest / 10 - 2),
            (0, rest) => format!("{} {}", at(tens, rest / 10 - 2), at(small, rest % 10)),
            (hundreds @ 1..100, 0) => format!("{} {hundred}", self.whole(hundreds)),
            (hundreds @ 10..100, rest @ 10..) => {
                format!("{} {}", self.whole(hundreds), self.whole(rest))
            }
            (hundreds @ 1..10, rest) => {
                let words = format!("{} {hundred} {and}", at(small, hundreds));
                format!("{} {}", words.trim_end(), self.whole(rest))
            }
            _ => self.number(&number.to_string()),
        }
    }

    /// A decimal: "point one five", "two point six oh", "eleven point five". Only what stands behind the
    /// point is said digit by digit; in the long forms all of it.
    fn decimal(&self, figures: &str) -> String {
        let Some(oh) = &self.oh else {
            return self.number(figures);
        };
        let whole = |figures: &str| match figures.parse() {
            Ok(number @ ..1_000) => self.whole(number),
            _ => self.number(figures),
        };
        let Some((before, fraction)) = figures.split_once('.') else {
            return whole(figures);
        };
        let digit = |c: char| match c {
            '0' => oh.clone(),
            c => self.number(&c.to_string()),
        };
        let before = Some(before).filter(|w| *w != "0").map(whole);
        let words = before.into_iter().chain([self.point.clone()]);
        words
            .chain(fraction.chars().map(digit))
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// A side.
    #[must_use]
    pub fn side(&self, side: Side) -> String {
        self.places.get(side.key()).cloned().unwrap_or_default()
    }

    /// A length in the unit that it is said in: "point one five", "eight thou".
    #[must_use]
    pub fn length(&self, length: Length, unit: LengthUnit) -> String {
        if matches!(unit, LengthUnit::Thou | LengthUnit::Inch) {
            let thou = length
                .to_decimal(LengthUnit::Thou, 0)
                .unwrap_or_else(|| length.rounded(LengthUnit::Thou, 1));
            let said = thou.to_string();
            let figures = match said.strip_suffix(".0").unwrap_or(&said) {
                one if one.len() == 1 && self.oh.is_none() => format!("0{one}"),
                more => more.to_owned(),
            };
            return format!("{} {}", self.decimal(&figures), self.thou);
        }
        let mm = length
            .to_decimal(LengthUnit::Millimetre, 2)
            .unwrap_or_else(|| length.rounded(LengthUnit::Millimetre, 3));
        self.decimal(&mm.to_string())
    }

    /// The blade that goes and the one that does not, each as much of it as must be said where one
    /// follows the other: the unit and the point once.
    fn two_blades(&self, goes: Length, stops: Length, unit: LengthUnit) -> (String, String) {
        let (first, second) = (self.length(goes, unit), self.length(stops, unit));
        if self.oh.is_none() {
            return (first, second);
        }
        let thou = format!(" {}", self.thou);
        if let Some(bare) = first.strip_suffix(&thou) {
            return (bare.to_owned(), second);
        }
        // Two figures behind the point are hundredths in a millimetre job.
        let point = format!("{} ", self.point);
        let short = |text: &str| {
            let figures = text.strip_prefix(&point)?;
            (figures.split(' ').count() == 2).then(|| figures.to_owned())
        };
        match (short(&first), short(&second)) {
            (Some(_), Some(rest)) => (first, rest),
            _ => (first, second),
        }
    }

    /// Bolts of a kind.
    #[must_use]
    pub fn fastener(&self, kind: Fastener) -> String {
        self.parts.get(kind.key()).cloned().unwrap_or_default()
    }

    /// A part of the engine, "head bolt seven, stage two".
    #[must_use]
    pub fn part(&self, part: Part) -> String {
        let word = |key: &str| self.parts.get(key).cloned().unwrap_or_default();
        let side = |side: Side| self.places.get(side.key()).cloned().unwrap_or_default();
        match part {
            Part::Cylinder { number, wet, heard } => {
                let form = if wet { "cylinder_wet" } else { "cylinder" };
                let text = fill(&word(form), &[("number", &self.cylinder(number))]);
                heard.map_or(text.clone(), |h| format!("{text} {}", word(h.key())))
            }
            Part::Camshaft(cam) => fill(&word("camshaft"), &[("side", &side(cam))]),
            Part::Journal { cam, number } => fill(
                &word("journal"),
                &[
                    ("side", &cam.map(side).unwrap_or_default()),
                    ("number", &self.cylinder(number)),
                ],
            ),
            Part::Bolt {
                kind,
                cam,
                number,
                stage,
            } => {
                let mut text = match number {
                    Some(number) => format!("{} {}", word(kind.key()), self.cylinder(number)),
                    None => fill(&word("every"), &[("bolt", &word(kind.key()))]),
                };
                if let Some(cam) = cam {
                    text = format!("{text} {}", side(cam));
                }
                if let Some(stage) = stage {
                    let stage = fill(&word("stage"), &[("number", &self.cylinder(stage))]);
                    text = format!("{text} {stage}");
                }
                text
            }
            Part::Line(line) => fill(&word("face"), &[("line", &word(line.key()))]),
            Part::Spring(coil) => word(coil.key()),
            Part::At(height) => word(height.key()),
        }
    }

    /// A figure as it is kept.
    #[must_use]
    pub fn figure(&self, milli: i64) -> String {
        let text = Decimal::new(milli, 3).to_string();
        self.decimal(text.trim_end_matches('0').trim_end_matches('.'))
    }

    /// An amount with its unit, which is left out of millimetres.
    #[must_use]
    pub fn amount_words(&self, amount: Amount, unit: LengthUnit) -> String {
        let (value, unit) = self.amount(amount, unit);
        format!("{value} {unit}").trim_end().to_owned()
    }

    fn amount(&self, amount: Amount, unit: LengthUnit) -> (String, String) {
        match amount {
            Amount::LengthNm(length) => (self.length(length, unit), String::new()),
            Amount::Milli(milli, Unit::Count) if milli % 1_000 == 0 && milli >= 0 => {
                let count = u32::try_from(milli / 1_000).unwrap_or(u32::MAX);
                let word = self.units.get(Unit::Count.sign());
                (self.whole(count), word.cloned().unwrap_or_default())
            }
            Amount::Milli(milli, unit) => {
                let word = self.units.get(unit.sign()).cloned().unwrap_or_default();
                (self.figure(milli), word)
            }
        }
    }

    /// A reading that is not a clearance and no shim: where, what, how much.
    fn measured(&self, place: &str, reading: &Reading) -> String {
        let what = self
            .quantities
            .get(reading.quantity.key())
            .cloned()
            .unwrap_or_default();
        let (first, second) = match reading.value {
            Value::Amount(first) => (first, None),
            Value::Pair(first, second) => (first, Some(second)),
            _ => return fill(&self.readings.done, &[("place", place)]),
        };
        let (value, unit) = self.amount(first, reading.unit);
        let Some(second) = second else {
            return fill(
                &self.readings.measured,
                &[
                    ("place", place),
                    ("quantity", &what),
                    ("value", &value),
                    ("unit", &unit),
                ],
            );
        };
        let form = self.pairs.get(reading.quantity.key());
        let (second, _) = self.amount(second, reading.unit);
        fill(
            form.map(String::as_str).unwrap_or_default(),
            &[
                ("place", place),
                ("quantity", &what),
                ("value", &value),
                ("unit", &unit),
                ("second", &second),
            ],
        )
    }

    /// A reading, position first.
    #[must_use]
    pub fn reading(&self, reading: &Reading) -> String {
        let part = reading.part.map(|p| self.part(p));
        let place = [reading.position.map(|p| self.place(p)), part];
        let mut place = place.into_iter().flatten().collect::<Vec<_>>().join(" ");
        if reading.quantity == Quantity::Flatness && place.is_empty() {
            place = fill(
                self.parts
                    .get("face")
                    .map(String::as_str)
                    .unwrap_or_default(),
                &[("line", "")],
            );
        }
        let length = |l: Length| self.length(l, reading.unit);
        let forms = &self.readings;
        let text = match reading.value {
            Value::Gap(Gap::Between { goes_nm, stops_nm }) => {
                let (goes, stops) = self.two_blades(goes_nm, stops_nm, reading.unit);
                let blades = [
                    ("place", place.as_str()),
                    ("goes", &goes),
                    ("stops", &stops),
                ];
                fill(&forms.between, &blades)
            }
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
            Value::Amount(_) | Value::Pair(..) | Value::Done => self.measured(&place, reading),
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
                let count = self.whole(u32::from(*count));
                fill(form, &[("value", &value), ("count", &count)])
            }
            Fact::Repaired { position, work } => {
                let work = self.repairs.get(work.key());
                let item = work.map(String::as_str).unwrap_or_default();
                let place = self.place(*position);
                fill(&self.readings.checked, &[("place", &place), ("item", item)])
            }
            Fact::About { what, text } => {
                let what = self.about.get(what.key());
                let what = what.map(String::as_str).unwrap_or_default();
                self.answer("told", &[("what", what), ("text", text)])
            }
            Fact::RoundBegun => self.answer("new_round", &[]),
            Fact::Checked {
                item,
                count,
                good,
                position,
            } => {
                let key = if *good {
                    item.clone()
                } else {
                    format!("{item}_bad")
                };
                let one = self.counts.get(&format!("{key}_one"));
                let own = one.filter(|_| *count == Some(1)).or(self.counts.get(&key));
                let count = count.map(|n| self.whole(u32::from(n)));
                let own = own.zip(count.as_ref());
                let item = match own {
                    Some((form, count)) => fill(form, &[("count", count)]),
                    None => self.items.get(&key).cloned().unwrap_or_default(),
                };
                let form = match (&count, own) {
                    (Some(_), None) => &self.readings.counted,
                    _ => &self.readings.checked,
                };
                let count = count.unwrap_or_default();
                let place = position.map(|p| self.place(p)).unwrap_or_default();
                fill(
                    form,
                    &[("place", &place), ("item", &item), ("count", &count)],
                )
            }
            _ => String::new(),
        }
    }

    /// Several facts in words, one sentence each.
    #[must_use]
    pub fn facts(&self, facts: &[Fact]) -> String {
        let spoken: Vec<String> = facts.iter().map(|f| self.fact(f)).collect();
        spoken.join(". ")
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
