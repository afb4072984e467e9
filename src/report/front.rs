//! What stands on the first page: what was found, what is out of limit, what to watch.

use super::words::{finding_words, verdict_words};
use super::{Report, Valve};
use crate::engine::{Item, Verdict, inspection};

/// A place or a part, and what to say of it.
pub(super) struct Line {
    /// Empty for what has no place.
    pub(super) what: String,
    pub(super) why: String,
}

/// The sums and lists of the first page.
pub(super) struct Front {
    pub(super) measured: usize,
    /// How the valves were before anything was changed: "3 in band, 2 tight".
    pub(super) found: String,
    /// What was done: "2 shims changed, 1 exhaust left new guide".
    pub(super) done: String,
    pub(super) out: Vec<Line>,
    pub(super) watch: Vec<Line>,
    /// The valves that nobody measured.
    pub(super) unmeasured: String,
}

impl Front {
    pub(super) fn of(report: &Report) -> Self {
        let valves = || report.valves.iter();
        let unmeasured = valves().filter(|v| v.verdict == Verdict::Unmeasured);
        let unmeasured: Vec<String> = unmeasured.map(|v| v.position.to_string()).collect();
        let findings = |wanted: fn(inspection::Verdict) -> bool| {
            let lines = report.findings.iter();
            lines.filter_map(move |item| of_finding(item, wanted))
        };
        let out = |v| v == inspection::Verdict::OutOfLimit;
        let watch = |v| matches!(v, inspection::Verdict::Worn | inspection::Verdict::Doubtful);
        let alone = |why: &String| Line {
            what: String::new(),
            why: why.clone(),
        };
        let shims = match report.plan.fittings.len() {
            0 => None,
            1 => Some("One shim is still to change: see the appendix.".to_owned()),
            n => Some(format!("{n} shims are still to change: see the appendix.")),
        };
        Self {
            measured: report.valves.len() - unmeasured.len(),
            found: found(report),
            done: done(report),
            out: (valves().filter(|v| v.is_out()).map(of_valve))
                .chain(findings(out))
                .chain(report.faults.iter().map(alone))
                .collect(),
            watch: (valves().filter(|v| v.is_to_watch()).map(of_valve))
                .chain(findings(watch))
                .chain(shims.iter().chain(&report.open).map(alone))
                .collect(),
            unmeasured: unmeasured.join(", "),
        }
    }
}

/// How many valves were how as they were found.
fn found(report: &Report) -> String {
    let mut counts: Vec<(&str, usize)> = Vec::new();
    for verdict in report
        .valves
        .iter()
        .filter_map(|v| v.as_found(&report.blades_nm))
    {
        let words = verdict_words(verdict);
        match counts.iter_mut().find(|(known, _)| *known == words) {
            Some((_, count)) => *count += 1,
            None => counts.push((words, 1)),
        }
    }
    let counts: Vec<String> = counts.iter().map(|(w, n)| format!("{n} {w}")).collect();
    counts.join(", ")
}

/// The shims that were changed, and what was repaired.
fn done(report: &Report) -> String {
    let shims = match report.fitted.len() {
        0 => None,
        1 => Some("1 shim changed".to_owned()),
        n => Some(format!("{n} shims changed")),
    };
    let repaired = report.repaired.iter();
    let repaired = repaired.map(|r| format!("{} {}", r.position, r.work.replace('_', " ")));
    let all: Vec<String> = shims.into_iter().chain(repaired).collect();
    all.join(", ")
}

fn of_valve(valve: &Valve) -> Line {
    let what = format!("{}: {}", valve.position, verdict_words(valve.verdict));
    if valve.near_limit && valve.verdict == Verdict::InBand {
        let why = "Within the uncertainty of an end of the band: measure it once more.";
        return Line {
            what: format!("{what}, near the limit"),
            why: why.to_owned(),
        };
    }
    Line {
        what,
        why: valve.reason.clone(),
    }
}

fn of_finding(item: &Item, wanted: fn(inspection::Verdict) -> bool) -> Option<Line> {
    let finding = item.finding.as_ref().filter(|f| wanted(f.verdict))?;
    let words = finding_words(finding.verdict);
    Some(Line {
        what: format!("{} {}: {words}", item.place, item.what)
            .trim_start()
            .to_owned(),
        why: finding.reason.clone(),
    })
}
