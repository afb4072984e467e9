//! The boxes as the page gets them.

use super::fields::{BANDS, Field, Kind, PARTS, Part, Rows, UNITS, VALVES};
use crate::engine::crank::firing::LAYOUTS;
use crate::engine::profile::limit_names::{Ends, LimitName, NAMES};
use crate::event::Fastener;
use crate::measure::Quantity;
use serde::Serialize;

/// A value and its words.
type Choices = Vec<(&'static str, &'static str)>;

/// A part of the page.
#[derive(Serialize)]
pub(crate) struct Section {
    table: &'static str,
    title: &'static str,
    help: &'static str,
    /// The box of the unit of its lengths.
    unit_box: Option<String>,
    /// Whether that box stands in this part.
    units: Option<[&'static str; 2]>,
    boxes: Vec<Entry>,
    rows: Option<RowSet>,
}

/// A box.
#[derive(Clone, Serialize)]
struct Entry {
    /// Behind the key of its part or row.
    key: String,
    label: String,
    /// Empty if it has none; `length` is the unit of the part, `limit` that of the row.
    unit: &'static str,
    kind: &'static str,
    choices: Option<Choices>,
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
    units: &'static [&'static str],
    /// Boxes that have no effect in it.
    without: Vec<&'static str>,
    /// There may be another of it.
    more: bool,
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
        Rows::Fasteners => Some((Some("bolts"), Fastener::ALL.iter().map(fastener).collect())),
        Rows::Limits => Some((Some("quantity"), NAMES.iter().map(limit).collect())),
    };
    Section {
        table: part.table,
        title: part.title,
        help: part.help,
        unit_box: part.unit_of.map(|of| format!("{of}.unit")),
        units: part.unit_of.filter(|of| *of == part.table).map(|_| UNITS),
        boxes: part.fields.iter().flat_map(entries).collect(),
        rows: presets.map(|(about, presets)| RowSet { about, presets }),
    }
}

fn entries(field: &Field) -> Vec<Entry> {
    let (kind, choices): (_, Option<Choices>) = match field.kind {
        Kind::Text => ("text", None),
        Kind::Number | Kind::Length => ("number", None),
        Kind::Whole => ("whole", None),
        Kind::Numbers | Kind::Lengths | Kind::Wholes | Kind::Angles => ("list", None),
        Kind::Choice(all) => ("choice", Some(all.to_vec())),
        Kind::Valves => ("choice", Some(VALVES.to_vec())),
        Kind::Layout => ("choice", Some(LAYOUTS.to_vec())),
        Kind::TwoBands => ("choice", Some(BANDS.to_vec())),
    };
    let unit = match field.kind {
        Kind::Length | Kind::Lengths => "length",
        Kind::Number if field.unit.is_empty() => "limit",
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
        choices: choices.clone(),
        help: if at == 0 { field.help } else { "" },
        needed: field.needed,
    };
    ends.iter().enumerate().map(entry).collect()
}

fn fastener(kind: &Fastener) -> Preset {
    Preset {
        value: kind.key(),
        title: bolts(*kind),
        group: "",
        units: &[],
        without: Vec::new(),
        more: false,
    }
}

/// What fasteners of a kind are called.
pub(super) fn bolts(kind: Fastener) -> String {
    format!("{}s", kind.key().replace('_', " "))
}

fn limit(limit: &LimitName) -> Preset {
    let load = limit.range == Quantity::SpringLoad;
    let no = [
        ("side", !limit.sided),
        ("min", limit.ends == Ends::Most),
        ("max", limit.ends == Ends::Least),
        ("at_mm", !load),
    ];
    Preset {
        value: limit.name,
        title: limit.name.replace('_', " "),
        group: group(limit.name),
        units: limit.units,
        without: no.iter().filter(|(_, no)| *no).map(|(n, _)| *n).collect(),
        more: limit.sided || load,
    }
}

/// Where a manual would give the limit.
fn group(name: &str) -> &'static str {
    match name.split('_').next().unwrap_or_default() {
        "seat" => "Seats",
        "spring" => "Springs",
        "bucket" => "Buckets",
        "cam" | "lobe" | "journal" | "end" | "chain" => "Camshafts and chain",
        "piston" | "flatness" => "Head and pistons",
        "compression" | "leak" => "Compression",
        _ => "Valves and guides",
    }
}
