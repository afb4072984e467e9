//! One line a valve, as CSV: lengths in the job's unit, shims in millimetres as they are marked.

use super::words::bare;
use super::{Measured, Report};
use crate::engine::Interval;
use crate::event::Position;
use crate::measure::{Length, LengthUnit};

/// The headings; `@` stands for the job's unit.
const HEADING: [&str; 16] = [
    "cylinder",
    "side",
    "valve",
    "check_low_@",
    "check_high_@",
    "target_@",
    "before_goes_@",
    "before_stops_@",
    "before_shim_mm",
    "after_goes_@",
    "after_stops_@",
    "after_shim_mm",
    "expected_low_@",
    "expected_high_@",
    "verdict",
    "notes",
];

pub(super) fn csv(report: &Report) -> String {
    let unit = report.unit;
    let sign = if unit == LengthUnit::Micron {
        "um"
    } else {
        unit.sign()
    };
    let mut out = HEADING.join(",").replace('@', sign);
    out.push_str("\r\n");
    let length = |l: Option<Length>| l.map(|l| bare(l, unit)).unwrap_or_default();
    let ends = |i: Option<Interval>| [i.and_then(|i| i.low), i.and_then(|i| i.high)].map(length);
    let shim = |m: Option<Measured>| {
        let size = m.and_then(|m| m.shim_nm);
        size.map(|s| bare(s, LengthUnit::Millimetre))
            .unwrap_or_default()
    };
    for valve in &report.valves {
        let p = valve.position;
        let mut cells = vec![
            p.cylinder.to_string(),
            p.side.key().to_owned(),
            p.valve.map(|v| v.key().to_owned()).unwrap_or_default(),
            length(Some(valve.check_nm.low)),
            length(Some(valve.check_nm.high)),
            length(Some(valve.target_nm)),
        ];
        for measured in [valve.before, valve.after] {
            cells.extend(ends(measured.map(|m| m.clearance)));
            cells.push(shim(measured));
        }
        cells.extend(ends(valve.expected));
        cells.push(valve.verdict.key().to_owned());
        cells.push(text(&notes(report, p)));
        out.push_str(&cells.join(","));
        out.push_str("\r\n");
    }
    if let Some(damage) = &report.damage {
        out.push_str(&text(damage));
        out.push_str("\r\n");
    }
    out
}

/// What was noted on a valve.
fn notes(report: &Report, valve: Position) -> String {
    let here = report.notes.iter().filter(|n| n.position == Some(valve));
    let texts: Vec<&str> = here.map(|n| n.text.as_str()).collect();
    texts.join("; ")
}

/// A cell that somebody said or wrote. A spreadsheet runs one that begins like a formula, so an
/// apostrophe goes before it; and it stands in quotes, lest a separator in it begin another cell
/// (OWASP, "CSV Injection"; RFC 4180 for the quotes).
fn text(said: &str) -> String {
    if said.is_empty() {
        return String::new();
    }
    let runs = said
        .trim_start_matches(' ')
        .starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
    let kept = if runs { "'" } else { "" };
    format!("\"{kept}{}\"", said.replace('"', "\"\""))
}
