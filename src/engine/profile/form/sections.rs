//! The boxes as the page gets them.

use super::fields::{BANDS, Choice, Field, Kind, PARTS, Part, Rows, UnitOf, VALVES};
use crate::engine::crank::firing::LAYOUTS;
use crate::engine::profile::limit_names::{Ends, LimitName, NAMES};
use crate::event::Fastener;
use crate::measure::{Quantity, Unit};
use serde::Serialize;

/// A part of the page.
#[derive(Serialize)]
pub(crate) struct Section {
    table: &'static str,
    title: &'static str,
    help: &'static str,
    /// The box of the unit of its lengths.
    unit_box: Option<String>,
    /// What that box offers, if it stands in this part.
    units: &'static [Choice],
    boxes: Vec<Entry>,
    rows: Option<RowSet>,
}

/// A box.
#[derive(Clone, Serialize)]
struct Entry {
    /// Behind the key of its part or row.
    key: String,
    label: String,
    /// Empty if it has none; `part` is that of the part, `row` that of the row.
    unit: &'static str,
    kind: &'static str,
    choices: &'static [Choice],
    help: &'static str,
    needed: bool,
}

/// Rows of boxes.
#[derive(Serialize)]
struct RowSet {
    /// The box that says what a row is about; none if rows are added freely.
    about: Option<&'static str>,
    presets: Vec<Preset>,
}

/// A row that stands there from the beginning, and that may be there more than once.
#[derive(Serialize)]
struct Preset {
    value: &'static str,
    title: String,
    /// What it stands under.
    group: &'static str,
    /// Units that its numbers may be in.
    units: Vec<Choice>,
    /// Boxes that have no effect in it.
    without: Vec<&'static str>,
    /// Whether there may be more of it.
    more: More,
}

#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
enum More {
    No,
    Yes,
    /// If the engine has several heads.
    OfAHead,
}

/// The whole page.
#[must_use]
pub(crate) fn sections() -> Vec<Section> {
    PARTS.iter().map(section).collect()
}

fn section(part: &Part) -> Section {
    let presets = match part.rows {
        Rows::None => None,
        Rows::Free | Rows::Names => Some((None, Vec::new())),
        Rows::Fasteners => {
            let all = Fastener::ALL.iter().map(|kind| fastener(part, *kind));
            Some((Some("bolts"), all.collect()))
        }
        Rows::Limits => Some((Some("quantity"), NAMES.iter().map(limit).collect())),
    };
    let own = part.unit_of == UnitOf::Part(part.table);
    Section {
        table: part.table,
        title: part.title,
        help: part.help,
        unit_box: part.unit_box(""),
        units: if own { part.units() } else { &[] },
        boxes: part.fields.iter().flat_map(|f| entries(part, f)).collect(),
        rows: presets.map(|(about, presets)| RowSet { about, presets }),
    }
}

fn entries(part: &Part, field: &Field) -> Vec<Entry> {
    let (kind, choices): (_, &[Choice]) = match field.kind {
        Kind::Text | Kind::Texts => ("text", &[]),
        Kind::Number | Kind::Measured => ("number", &[]),
        Kind::Whole => ("whole", &[]),
        Kind::Measures | Kind::Wholes | Kind::Angles => ("list", &[]),
        Kind::Choice(all) | Kind::Yes(all) => ("choice", all),
        Kind::Valves => ("choice", &VALVES),
        Kind::Layout => ("choice", &LAYOUTS),
        Kind::TwoBands => ("choice", &BANDS),
    };
    let unit = match (field.kind, part.unit_of) {
        (Kind::Measured | Kind::Measures, UnitOf::Part(_)) => "part",
        (Kind::Measured | Kind::Measures, _) => "row",
        (Kind::Number, _) if field.unit.is_empty() => "row",
        _ => field.unit,
    };
    let ends: &[(&str, &str)] = if field.pair {
        &[(".from", ", from"), (".to", ", to")]
    } else {
        &[("", "")]
    };
    let entry = |(at, (key, label)): (usize, &(&str, &str))| Entry {
        key: format!("{}{key}", field.name),
        label: format!("{}{label}", field.label),
        unit,
        kind,
        choices,
        help: if at == 0 { field.help } else { "" },
        needed: field.needed,
    };
    ends.iter().enumerate().map(entry).collect()
}

fn fastener(part: &Part, kind: Fastener) -> Preset {
    Preset {
        value: kind.key(),
        title: bolts(kind),
        group: "",
        units: part.units().to_vec(),
        without: Vec::new(),
        more: More::No,
    }
}

/// What fasteners of a kind are called.
pub(super) fn bolts(kind: Fastener) -> String {
    format!("{}s", kind.key().replace('_', " "))
}

fn limit(limit: &LimitName) -> Preset {
    let load = limit.range == Quantity::SpringLoad;
    let headed = limit.range.is_of_a_head();
    let no = [
        ("side", !limit.sided),
        ("head", !headed),
        ("min", limit.ends == Ends::Most),
        ("max", limit.ends == Ends::Least),
        ("at_mm", !load),
    ];
    Preset {
        value: limit.name,
        title: limit.name.replace('_', " "),
        group: group(limit.name),
        units: limit.units.iter().map(|u| (*u, sign(u))).collect(),
        without: no.iter().filter(|(_, no)| *no).map(|(n, _)| *n).collect(),
        more: match (limit.sided || load, headed) {
            (true, _) => More::Yes,
            (false, true) => More::OfAHead,
            (false, false) => More::No,
        },
    }
}

/// What is written after a number in a unit of a profile's file.
fn sign(unit: &'static str) -> &'static str {
    match unit {
        "percent" => Unit::Percent.sign(),
        "deg" => Unit::Degree.sign(),
        "count" => Unit::Count.sign(),
        other => other,
    }
}

/// Where a manual would give the limit.
fn group(name: &str) -> &'static str {
    match name.split('_').next().unwrap_or_default() {
        "seat" => "Seats",
        "spring" => "Springs",
        "bucket" => "Buckets",
        "cam" | "lobe" | "journal" | "end" | "chain" => "Camshafts and chain",
        "piston" | "flatness" | "chamber" | "deck" => "Head and pistons",
        "compression" | "leak" | "decompressor" => "Compression",
        _ => "Valves and guides",
    }
}
