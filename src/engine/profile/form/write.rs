//! Writes the file of what stands in the boxes, and says of which box a fault is.

use super::fields::{Boxes, Field, Kind, PARTS, Part, Rows};
use super::read::{about, prefix};
use super::sections::bolts;
use crate::engine::crank::firing;
use crate::engine::profile::Profile;
use crate::event::{Fastener, Position, Valve};
use crate::measure::{Decimal, one_line};
use serde::Serialize;
use std::collections::BTreeSet;
use toml::Value;

/// So many letters may stand in a box; the page says the same.
const LONGEST: usize = 300;

/// What is wrong at a box.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct Fault {
    /// Its key.
    pub(crate) key: String,
    /// What is wrong and what was expected.
    pub(crate) message: String,
    /// Nothing stands in it.
    pub(crate) missing: bool,
}

/// What the boxes come to.
#[derive(Debug, Default)]
pub(crate) struct Entered {
    /// The file, as far as it could be written.
    pub(crate) text: String,
    /// The profile, if nothing is wrong.
    pub(crate) profile: Option<Profile>,
    pub(crate) faults: Vec<Fault>,
    /// Where each cylinder fires, as soon as that is known.
    pub(crate) crank_deg: Vec<u16>,
    /// The order of firing, as soon as that is known.
    pub(crate) firing_order: Vec<u16>,
    /// The valves, as soon as they are known.
    pub(crate) valves: Vec<Position>,
}

/// The key of an engine of that name: small letters, digits and _.
#[must_use]
pub(crate) fn key_of(name: &str) -> String {
    let mut key = String::new();
    for c in name.trim().chars().take(40) {
        let c = c.to_ascii_lowercase();
        if c.is_ascii_alphanumeric() {
            key.push(c);
        } else if !key.is_empty() && !key.ends_with('_') {
            key.push('_');
        }
    }
    let key = key.trim_matches('_');
    if key.is_empty() { "engine" } else { key }.to_owned()
}

/// The profile of what stands in the boxes, or what is wrong with them.
#[must_use]
pub(crate) fn entered(boxes: &Boxes, key: &str) -> Entered {
    let mut writer = Writer {
        boxes,
        marks: Vec::new(),
        done: Entered::default(),
    };
    writer.done.text = format!("key = {}\n", quoted(key));
    for (key, text) in boxes {
        if let Err(fault) = one_line(text, LONGEST) {
            writer.fault(key, fault.to_string());
        }
    }
    for part in &PARTS {
        match part.rows {
            Rows::None => writer.table(part),
            Rows::Free | Rows::Fasteners | Rows::Limits => writer.rows(part),
            Rows::Names => writer.names(part),
        }
    }
    writer.valves();
    writer.finish()
}

struct Writer<'a> {
    boxes: &'a Boxes,
    /// Where in the text each box begins.
    marks: Vec<(usize, String)>,
    done: Entered,
}

impl<'a> Writer<'a> {
    /// What stands in a box; nothing in one with spaces alone.
    fn in_box(&self, key: &str) -> Option<&'a str> {
        let text = self.boxes.get(key)?.trim();
        (!text.is_empty()).then_some(text)
    }

    fn mark(&mut self, key: &str) {
        self.marks.push((self.done.text.len(), key.to_owned()));
    }

    fn fault(&mut self, key: &str, message: impl Into<String>) {
        self.done.faults.push(Fault {
            key: key.to_owned(),
            message: message.into(),
            missing: self.in_box(key).is_none(),
        });
    }

    /// The unit of the measured boxes of a part or of one of its rows: the first of those there are
    /// until another is chosen.
    fn unit(&self, part: &Part, prefix: &str) -> &'a str {
        let chosen = part.unit_box(prefix).and_then(|key| self.in_box(&key));
        let first = part.units().first().map(|(unit, _)| *unit);
        chosen.or(first).unwrap_or_default()
    }

    fn table(&mut self, part: &Part) {
        let prefix = prefix(part.table);
        let any = |f: &Field| f.keys(&prefix).iter().any(|k| self.in_box(k).is_some());
        if !part.fields.iter().any(|f| f.needed || any(f)) {
            return;
        }
        if let Some(first) = part.fields.first().filter(|_| !part.table.is_empty()) {
            self.mark(&first.keys(&prefix)[0]);
            self.done.text += &format!("\n[{}]\n", part.table);
        }
        for field in part.fields {
            match field.kind {
                Kind::Layout => self.crank(&prefix),
                Kind::Angles | Kind::TwoBands => {}
                _ if field.name == "set_band" => self.set_band(part, field, &prefix),
                _ if field.name == "target" => self.target(part, field, &prefix),
                _ => self.field(part, field, &prefix),
            }
        }
    }

    /// One entry of the file.
    fn field(&mut self, part: &Part, field: &Field, prefix: &str) {
        let keys = field.keys(prefix);
        let chosen = matches!(field.kind, Kind::Valves);
        let empty = |k: &String| self.in_box(k).is_none() && !chosen;
        let missing: Vec<String> = keys.iter().filter(|k| empty(k)).cloned().collect();
        if missing.len() == keys.len() && !field.needed {
            return;
        }
        if !missing.is_empty() {
            let name = field.label.to_lowercase();
            for key in missing {
                self.fault(&key, format!("{name} is missing"));
            }
            return;
        }
        let name = if field.is_measured() {
            format!("{}_{}", field.name, self.unit(part, prefix))
        } else {
            field.name.to_owned()
        };
        self.done.text += &format!("{name} = {}", if field.pair { "[" } else { "" });
        for (at, key) in keys.iter().enumerate() {
            let text = self.in_box(key).unwrap_or_default();
            if at > 0 {
                self.done.text += ", ";
            }
            match literal(field.kind, text) {
                Ok(value) => {
                    self.mark(key);
                    self.done.text += &value;
                }
                Err(why) => self.fault(key, why),
            }
        }
        self.done.text += if field.pair { "]\n" } else { "\n" };
    }

    /// Where the cylinders fire.
    fn crank(&mut self, prefix: &str) {
        let layout = self.in_box(&format!("{prefix}layout")).unwrap_or("even");
        let angle_box = format!("{prefix}angle");
        let wholes = |key: &str| self.in_box(key).map(wholes).transpose();
        let Ok(Some(order)) = wholes(&format!("{prefix}firing_order")) else {
            return; // told at its own box
        };
        let angle = match wholes(&angle_box) {
            Ok(angle) => angle.unwrap_or_default(),
            Err(why) => return self.fault(&angle_box, why),
        };
        let at = if layout == "even" {
            format!("{prefix}layout")
        } else {
            angle_box
        };
        match firing::crank_deg(&order, layout, &angle) {
            Ok(deg) => {
                self.done.text += "crank_deg = ";
                self.mark(&at);
                self.done.text += &format!("{deg:?}\n");
                let mut sorted = order.clone();
                sorted.sort_unstable();
                // Otherwise the reader tells it, and there is nothing to draw.
                if sorted.into_iter().zip(1..).all(|(c, n)| c == n) {
                    (self.done.crank_deg, self.done.firing_order) = (deg, order);
                }
            }
            Err(why) => self.fault(&at, why),
        }
    }

    /// A single band is both.
    fn set_band(&mut self, part: &Part, field: &Field, prefix: &str) {
        if self.in_box(&format!("{prefix}two_bands")).is_some() {
            return self.field(part, &field.needed(), prefix);
        }
        let unit = self.unit(part, prefix);
        let ends = ["from", "to"].map(|end| self.in_box(&format!("{prefix}check_band.{end}")));
        let [Some(from), Some(to)] = ends else { return };
        let (Ok(from), Ok(to)) = (literal(field.kind, from), literal(field.kind, to)) else {
            return; // told at the other band
        };
        self.mark(&format!("{prefix}check_band.from"));
        self.done.text += &format!("set_band_{unit} = [{from}, {to}]\n");
    }

    /// Without one the middle is aimed at.
    fn target(&mut self, part: &Part, field: &Field, prefix: &str) {
        if self.in_box(&format!("{prefix}target")).is_some() {
            return self.field(part, field, prefix);
        }
        let two = self.in_box(&format!("{prefix}two_bands")).is_some();
        let band = if two { "set_band" } else { "check_band" };
        let end = |end| {
            let text = self.in_box(&format!("{prefix}{band}.{end}"))?;
            pointed(text).parse::<Decimal>().ok()
        };
        let (Some(from), Some(to)) = (end("from"), end("to")) else {
            return;
        };
        let Some(middle) = middle(from, to) else {
            return;
        };
        self.mark(&format!("{prefix}{band}.from"));
        self.done.text += &format!("target_{} = \"{middle}\"\n", self.unit(part, prefix));
    }

    /// The prefixes of the rows in which something stands, besides what each row has.
    fn filled(&self, part: &Part) -> Vec<String> {
        let start = prefix(part.table);
        let number = |key: &'a String| {
            let rest = key.strip_prefix(&start)?;
            rest.split_once('.')?.0.parse::<u16>().ok()
        };
        let numbers: BTreeSet<u16> = self.boxes.keys().filter_map(number).collect();
        let rows = numbers.into_iter().map(|n| format!("{start}{n}."));
        rows.filter(|row| {
            let entered = part.fields.iter().filter(|f| !f.is_choice());
            let mut keys = entered.flat_map(|f| f.keys(row));
            keys.any(|k| self.in_box(&k).is_some())
        })
        .collect()
    }

    fn rows(&mut self, part: &Part) {
        let source = self.in_box("source").unwrap_or_default();
        for row in self.filled(part) {
            let first = part.fields.iter().find(|f| !f.is_choice());
            let first = first.map(|f| f.keys(&row)[0].clone()).unwrap_or_default();
            self.mark(&first);
            self.done.text += &format!("\n[[{}]]\n", part.table);
            for fixed in about(part.rows) {
                if let Some(value) = self.in_box(&format!("{row}{fixed}")) {
                    self.done.text += &format!("{fixed} = ");
                    self.mark(&first);
                    self.done.text += &format!("{}\n", quoted(value));
                }
            }
            for field in part.fields {
                self.field(part, field, &row);
            }
            let kind = self.in_box(&format!("{row}bolts"));
            let kind = kind.and_then(Fastener::from_key);
            if let Some(kind) = kind.filter(|_| self.in_box(&format!("{row}name")).is_none()) {
                self.done.text += &format!("name = {}\n", quoted(&bolts(kind)));
            }
            let sourced = self.in_box(&format!("{row}source")).is_some();
            if part.rows == Rows::Limits && !sourced {
                self.done.text += &format!("source = {}\n", quoted(source));
            }
        }
    }

    fn names(&mut self, part: &Part) {
        let rows = self.filled(part);
        if rows.is_empty() {
            return;
        }
        self.done.text += &format!("\n[{}]\n", part.table);
        for row in rows {
            let of = self.in_box(&format!("{row}of")).unwrap_or_default();
            let said = self.in_box(&format!("{row}said")).unwrap_or_default();
            self.mark(&format!("{row}said"));
            self.done.text += &format!("{} = {}\n", quoted(of), texts(said));
        }
    }

    /// The valves, for the drawing: known before there is a profile.
    fn valves(&mut self) {
        let count = self.in_box("cylinders.count").and_then(|c| c.parse().ok());
        let Some(count) = count.filter(|c| (1..=16).contains(c)) else {
            return;
        };
        let names = |side: &str| -> Vec<Valve> {
            let text = self.in_box(&format!("{side}.valves")).unwrap_or_default();
            text.split(' ').filter_map(Valve::from_key).collect()
        };
        self.done.valves =
            crate::engine::profile::valves_of(count, &names("inlet"), &names("exhaust"));
    }

    fn finish(mut self) -> Entered {
        if self.done.faults.is_empty() {
            match Profile::read_spanned(&self.done.text, true) {
                Ok(profile) => self.done.profile = Some(profile),
                Err((span, message)) => {
                    let inside = |at: &usize| span.contains(at) || *at == span.start;
                    let first = self.marks.iter().find(|(at, _)| inside(at));
                    let before = self.marks.iter().rfind(|(at, _)| *at <= span.start);
                    let key = first.or(before).map(|(_, key)| key.clone());
                    self.fault(&key.unwrap_or_default(), message);
                }
            }
        }
        self.done
    }
}

/// Half of what two make together, with as many places as it needs; `None` if that is too many.
fn middle(from: Decimal, to: Decimal) -> Option<Decimal> {
    let places = from.places().max(to.places()) + 1;
    let at = |d: Decimal| {
        let power = 10_i64.checked_pow(u32::from(places - d.places()))?;
        d.mantissa().checked_mul(power)
    };
    let half = i64::midpoint(at(from)?, at(to)?);
    Some(match half % 10 {
        0 => Decimal::new(half / 10, places - 1),
        _ => Decimal::new(half, places),
    })
}

fn quoted(text: &str) -> String {
    Value::String(text.to_owned()).to_string()
}

/// Words with commas between them.
fn texts(text: &str) -> String {
    let all: Vec<String> = text.split(',').map(|one| quoted(one.trim())).collect();
    format!("[{}]", all.join(", "))
}

/// A comma is a point.
fn pointed(text: &str) -> String {
    text.replace(',', ".")
}

fn literal(kind: Kind, text: &str) -> Result<String, String> {
    let listed = |all: Vec<String>| format!("[{}]", all.join(", "));
    Ok(match kind {
        Kind::Number | Kind::Measured => quoted(&pointed(text)),
        Kind::Texts => texts(text),
        Kind::Yes(_) if ["true", "false"].contains(&text) => text.to_owned(),
        Kind::Yes(_) => return Err(format!("“{text}”: expected true, or nothing")),
        Kind::Measures => {
            let all = numbers(text)?;
            listed(all.iter().map(|n| quoted(&pointed(n))).collect())
        }
        Kind::Whole => whole(text)?.to_string(),
        Kind::Wholes => listed(wholes(text)?.iter().map(ToString::to_string).collect()),
        Kind::Valves => listed(text.split_whitespace().map(quoted).collect()),
        _ => quoted(text),
    })
}

fn whole(text: &str) -> Result<u16, String> {
    let number = text.parse();
    number.map_err(|_| format!("“{text}”: expected a whole number"))
}

/// Whole numbers with anything usual between them: 1-3-4-2, 1, 3, 4, 2.
fn wholes(text: &str) -> Result<Vec<u16>, String> {
    let apart = |c: char| c.is_whitespace() || ",;-–".contains(c);
    text.split(apart)
        .filter(|w| !w.is_empty())
        .map(whole)
        .collect()
}

/// Numbers with spaces between them; a comma inside one is its point.
fn numbers(text: &str) -> Result<Vec<String>, String> {
    let all: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || c == ';')
        .map(|word| word.trim_end_matches(','))
        .filter(|word| !word.is_empty())
        .collect();
    // "20,40" may be two numbers or one.
    match all[..] {
        [one] if one.contains(',') => Err(format!(
            "“{one}” may be one number or several: write {} for one, or spaces between several",
            pointed(one)
        )),
        _ => Ok(all.into_iter().map(str::to_owned).collect()),
    }
}
