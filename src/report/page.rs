//! The record as one HTML page: no script, nothing from elsewhere, prints on A4 and Letter. Page one
//! is for the customer and the next mechanic; the appendix has the rest.

use super::compare::Moved;
use super::front::Front;
use super::plot::Plot;
use super::words::{self, item_words, verdict_words};
use super::{Compared, Lot, Measured, Report, Valve};
use crate::engine::{Band, Interval, Item, ShimPlan, Stuck, Verdict, inspection};
use crate::event::Position;
use crate::measure::{Length, LengthUnit};
use askama::Template;
use jiff::Timestamp;
use jiff::tz::TimeZone;

#[derive(Template)]
#[template(path = "page.html")]
struct Page<'a> {
    report: &'a Report,
    since: Option<&'a Compared>,
    front: Front,
    plot: Option<Plot>,
    findings: Vec<Found<'a>>,
    to_do: Vec<String>,
    words: Words<'a>,
    unit: &'static str,
}

pub(super) fn page(report: &Report, since: Option<&Compared>, zone: &TimeZone) -> String {
    let page = Page {
        report,
        since,
        front: Front::of(report),
        plot: Plot::of(report),
        findings: findings(report),
        to_do: to_do(&report.plan, report.unit),
        words: Words {
            unit: report.unit,
            zone,
        },
        unit: report.unit.sign(),
    };
    page.to_string()
}

/// A result of the inspection.
struct Found<'a> {
    what: &'a str,
    place: &'a str,
    verdict: &'static str,
    why: &'a str,
    source: &'a str,
    out: bool,
}

/// What is out of limit first, what is good last.
fn findings(report: &Report) -> Vec<Found<'_>> {
    use inspection::Verdict as V;
    let rank = |item: &Item| match item.finding.as_ref().map(|f| f.verdict) {
        Some(V::OutOfLimit) => 0,
        Some(V::Doubtful) => 1,
        Some(V::Worn) => 2,
        None => 3,
        Some(V::NoLimit) => 4,
        Some(V::Good) => 5,
    };
    let mut items: Vec<&Item> = report.findings.iter().collect();
    items.sort_by_key(|item| rank(item));
    items.into_iter().map(found).collect()
}

fn found(item: &Item) -> Found<'_> {
    let words = item_words(item);
    let verdict = item.finding.as_ref().map(|f| f.verdict);
    Found {
        what: item.what,
        place: &item.place,
        verdict: words.verdict,
        why: words.reason,
        source: words.source.unwrap_or_default(),
        out: verdict == Some(inspection::Verdict::OutOfLimit),
    }
}

/// What is still to be done with the shims.
fn to_do(plan: &ShimPlan, unit: LengthUnit) -> Vec<String> {
    let steps = plan.moves.iter().map(|m| m.words.clone());
    let expected = (plan.fittings.iter())
        .map(|f| format!("{} should then show {}.", f.position, f.expected.show(unit)));
    let buy = plan.purchases.iter().map(|p| p.words(unit));
    let stuck = plan.stuck.iter().map(Stuck::words);
    let cams = plan.cams_words().into_iter();
    cams.chain(steps)
        .chain(expected)
        .chain(plan.disturbs())
        .chain(buy)
        .chain(stuck)
        .collect()
}

/// What the templates write out, in the job's unit and the local time.
struct Words<'a> {
    unit: LengthUnit,
    zone: &'a TimeZone,
}

#[allow(
    clippy::unused_self,
    clippy::ref_option,
    reason = "the templates call them all alike, and hand over what they have by reference"
)]
impl Words<'_> {
    fn bare(&self, length: Length) -> String {
        words::bare(length, self.unit)
    }

    fn band(&self, band: &Band) -> String {
        format!("{} to {}", self.bare(band.low), self.bare(band.high))
    }

    fn interval(&self, interval: &Interval) -> String {
        words::interval(*interval, self.unit)
    }

    fn measured(&self, measured: &Option<Measured>) -> String {
        measured.map_or_else(nothing, |m| self.interval(&m.clearance))
    }

    /// The shims of a valve: the one that is in, or the one that went out and the one that came in.
    fn shims(&self, valve: &Valve) -> String {
        let out = valve.before.and_then(|m| m.shim_nm);
        match (out, valve.shim_nm) {
            (Some(out), Some(now)) if out != now => {
                format!("{} → {}", self.shim(&out), self.shim(&now))
            }
            (shim, now) => now.or(shim).map_or_else(nothing, |s| self.shim(&s)),
        }
    }

    /// A shim's thickness in millimetres, as it is marked.
    fn shim(&self, size: &Length) -> String {
        words::bare(*size, LengthUnit::Millimetre)
    }

    fn now(&self, valve: &Valve) -> String {
        let near = if valve.near_limit { ", near" } else { "" };
        let single = if valve.single { ", one blade" } else { "" };
        let words = verdict_words(valve.verdict);
        format!("{} {words}{near}{single}", sign(valve.verdict))
    }

    fn lots(&self, lots: &[Lot]) -> String {
        let lot = |l: &Lot| format!("{} of {}", l.count, l.size_nm.show(LengthUnit::Millimetre));
        lots.iter().map(lot).collect::<Vec<_>>().join(", ")
    }

    fn blades(&self, blades: &[Length]) -> String {
        let blades = blades.iter().map(|b| self.bare(*b));
        blades.collect::<Vec<_>>().join(", ")
    }

    fn moved(&self, moved: &Moved) -> String {
        let signed = |l: Length| {
            let plus = if l > Length::ZERO { "+" } else { "" };
            format!("{plus}{}", self.bare(l))
        };
        let by = match (moved.from_nm, moved.to_nm) {
            (Some(from), Some(to)) => format!("{} to {}", signed(from), signed(to)),
            _ => "not known".to_owned(),
        };
        let shim = if moved.other_shim {
            " (another shim)"
        } else {
            ""
        };
        format!("{by}{shim}")
    }

    /// A key as the name of a line.
    fn heading(&self, key: &str) -> String {
        let words = key.replace('_', " ");
        let mut letters = words.chars();
        let first = letters.next().map(|c| c.to_ascii_uppercase());
        first.into_iter().chain(letters).collect()
    }

    /// The valves that were measured in more rounds than one before and one after.
    fn in_rounds<'a>(&self, report: &'a Report) -> Vec<&'a Valve> {
        let several = |v: &&Valve| v.rounds.len() > 2;
        report.valves.iter().filter(several).collect()
    }

    fn place(&self, position: &Option<Position>) -> String {
        words::place(*position)
    }

    /// A sentence in which no line ends between a figure and its unit.
    fn tied(&self, text: &str) -> String {
        words::tied(text)
    }

    /// Date and time to the minute.
    fn when(&self, at_ms: &i64) -> String {
        self.time(*at_ms, "%Y-%m-%d %H:%M")
    }

    /// From one time to another; the date once if it is the same.
    fn span(&self, [from, to]: &[i64; 2]) -> String {
        let day = |at: i64| self.time(at, "%Y-%m-%d");
        let end = if day(*from) == day(*to) {
            "%H:%M"
        } else {
            "%Y-%m-%d %H:%M"
        };
        format!("{} to {}", self.when(from), self.time(*to, end))
    }

    /// The zone of all times, as it was then.
    fn zone(&self, at_ms: &i64) -> String {
        self.time(*at_ms, "local time, %:z from UTC when this was made")
    }

    fn time(&self, at_ms: i64, format: &str) -> String {
        Timestamp::from_millisecond(at_ms).map_or_else(
            |_| nothing(),
            |t| {
                t.to_zoned_datetime(self.zone.clone())
                    .strftime(format)
                    .to_string()
            },
        )
    }
}

fn nothing() -> String {
    "–".to_owned()
}

/// A verdict that a copy without colour still shows.
const fn sign(verdict: Verdict) -> &'static str {
    use Verdict as V;
    match verdict {
        V::InBand => "=",
        V::Tight => "<",
        V::Loose => ">",
        V::OnTheLimit => "~",
        V::NoGap | V::Contradictory => "!",
        V::Open | V::Refitted | V::Unmeasured => "?",
    }
}
