//! Words for what a report shows: verdicts, values, times.

use super::looks::look;
use crate::engine::{Interval, Item, Verdict, inspection};
use crate::event::{Fact, Gap, Position, Reading, Value};
use crate::measure::{Length, LengthUnit};

/// Units that stand behind a figure. Not the inch, whose sign is a word as well.
const UNITS: [&str; 14] = [
    "mm", "thou", "µm", "N", "lbf", "N·m", "lbf·ft", "lbf·in", "kgf·m", "bar", "kPa", "psi", "%",
    "degrees",
];

/// A verdict in a word or two.
#[must_use]
pub(crate) const fn verdict_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::InBand => "in band",
        Verdict::Tight => "tight",
        Verdict::Loose => "loose",
        Verdict::OnTheLimit => "on the limit",
        Verdict::NoGap => "no gap",
        Verdict::Open => "one end open",
        Verdict::Contradictory => "contradictory",
        Verdict::Refitted => "measure again",
        Verdict::Unmeasured => "not measured",
    }
}

/// The verdict of an inspection in a word or two.
#[must_use]
pub(crate) const fn finding_words(verdict: inspection::Verdict) -> &'static str {
    match verdict {
        inspection::Verdict::Good => "good",
        inspection::Verdict::Worn => "worn",
        inspection::Verdict::OutOfLimit => "out of limit",
        inspection::Verdict::Doubtful => "doubtful",
        inspection::Verdict::NoLimit => "no limit given",
    }
}

/// What an inspection figure came to, in words.
pub(crate) struct ItemWords<'a> {
    /// Its verdict.
    pub(crate) verdict: &'static str,
    /// Why, or why nothing was worked out.
    pub(crate) reason: &'a str,
    /// Where its limit comes from, unless the reason says so.
    pub(crate) source: Option<&'a str>,
}

/// What an inspection figure came to.
#[must_use]
pub(crate) fn item_words(item: &Item) -> ItemWords<'_> {
    let Some(finding) = &item.finding else {
        return ItemWords {
            verdict: "not worked out",
            reason: item.error.as_deref().unwrap_or_default(),
            source: None,
        };
    };
    let source = finding.limit_source.as_deref();
    ItemWords {
        verdict: finding_words(finding.verdict),
        reason: &finding.reason,
        source: source.filter(|s| !finding.reason.contains(s)),
    }
}

/// An interval without its unit.
pub(super) fn interval(interval: Interval, unit: LengthUnit) -> String {
    let bare = |length| bare(length, unit);
    match (interval.low, interval.high) {
        (Some(low), Some(high)) if low == high => bare(low),
        (Some(low), Some(high)) => format!("{} to {}", bare(low), bare(high)),
        (Some(low), None) => format!("{} or more", bare(low)),
        (None, Some(high)) => format!("less than {}", bare(high)),
        (None, None) => "not known".to_owned(),
    }
}

/// A sentence in which no line ends between a figure and its unit.
pub(super) fn tied(text: &str) -> String {
    let mut tied = String::with_capacity(text.len());
    for word in text.split_inclusive(' ') {
        let unit = word.trim_end_matches([' ', '.', ',', ':', ';']);
        if UNITS.contains(&unit) && tied.ends_with(' ') {
            let figure = tied.trim_end().ends_with(|c: char| c.is_ascii_digit());
            if figure {
                tied.pop();
                tied.push('\u{a0}');
            }
        }
        tied.push_str(word);
    }
    tied
}

/// A length without its unit.
pub(super) fn bare(length: Length, unit: LengthUnit) -> String {
    let shown = length.show(unit);
    let sign = format!(" {}", unit.sign());
    shown.strip_suffix(&sign).unwrap_or(&shown).to_owned()
}

/// The value of a reading.
#[must_use]
pub(crate) fn value(reading: &Reading, unit: LengthUnit) -> String {
    let show = |l: Length| l.show(unit);
    let mm = |l: Length| l.show(LengthUnit::Millimetre);
    match reading.value {
        Value::Gap(Gap::Between { goes_nm, stops_nm }) => {
            format!("{} goes, {} does not", bare(goes_nm, unit), show(stops_nm))
        }
        Value::Gap(Gap::Single(l)) => format!("{} (one value)", show(l)),
        Value::Gap(Gap::AtLeast(l)) => format!("{} goes", show(l)),
        Value::Gap(Gap::Below(l)) => format!("{} does not go", show(l)),
        Value::Gap(Gap::None) => "no gap".to_owned(),
        Value::Shim {
            marked_nm: Some(a),
            measured_nm: Some(b),
        } => format!("marked {}, measures {}", mm(a), mm(b)),
        Value::Shim {
            marked_nm: Some(a), ..
        } => format!("marked {}", mm(a)),
        Value::Shim { measured_nm, .. } => {
            format!("measures {}", measured_nm.map(mm).unwrap_or_default())
        }
        Value::Amount(amount) => amount.show(reading.unit),
        Value::Pair(first, second) => {
            let show = |a: crate::measure::Amount| a.show(reading.unit);
            format!("{}, {}", show(first), show(second))
        }
        Value::Done => "done".to_owned(),
    }
}

/// A fact that stands in the record; empty for others.
#[must_use]
pub(crate) fn fact(fact: &Fact, unit: LengthUnit) -> String {
    match fact {
        Fact::Read(reading) => {
            let part = reading.part_words().unwrap_or_default();
            let place = format!("{} {part}", place(reading.position));
            format!(
                "{} {}: {}",
                place.trim(),
                reading.quantity,
                value(reading, unit)
            )
            .trim_start()
            .to_owned()
        }
        Fact::Checked {
            item,
            count,
            good,
            position,
            head,
        } => {
            let look = look(item, *good, *count);
            let head = head.map(|h| format!("{} head", h.key()));
            format!("{} {look}", head.unwrap_or_else(|| place(*position)))
                .trim_start()
                .to_owned()
        }
        Fact::Repaired { position, work } => {
            format!("{position} {}", work.key().replace('_', " "))
        }
        Fact::RoundBegun => "a new round".to_owned(),
        Fact::ProfileChanged { .. } => "the engine's profile changed".to_owned(),
        Fact::About { what, text } => format!("{}: {text}", what.key().replace('_', " ")),
        Fact::Task {
            kind,
            text,
            position,
        } => format!("to do: {} {kind} {text}", place(*position))
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" "),
        Fact::Stage { stage, done } => {
            let how = if *done { "done" } else { "begun" };
            format!("{} {how}", stage.replace('_', " "))
        }
        Fact::NoteLine(line) => format!("note: {line}"),
        Fact::Spare { size_nm, count } => {
            format!(
                "{count} of {} in the box",
                size_nm.show(LengthUnit::Millimetre)
            )
        }
        Fact::Note { position, text } => format!("{} note: {text}", place(*position))
            .trim_start()
            .to_owned(),
        Fact::Forgot { events } => format!("clips of {} utterances removed", events.len()),
        _ => String::new(),
    }
}

/// All facts of an event that stand in the record.
#[must_use]
pub(crate) fn facts(facts: &[Fact], unit: LengthUnit) -> String {
    let words: Vec<String> = facts.iter().map(|f| fact(f, unit)).collect();
    let words: Vec<String> = words.into_iter().filter(|w| !w.is_empty()).collect();
    words.join("; ")
}

pub(super) fn place(position: Option<Position>) -> String {
    position.map(|p| p.to_string()).unwrap_or_default()
}
