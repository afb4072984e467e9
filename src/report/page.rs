//! The record as one HTML page: no script, nothing from elsewhere, prints on A4 and Letter.

use super::html::{escape, list, table};
use super::plot::plot;
use super::words::{finding_words, interval, place, shim, verdict_words, when};
use super::{Compared, Measured, Report};
use crate::measure::{Length, LengthUnit};

const STYLE: &str = include_str!("style.css");

pub(super) fn page(report: &Report, before: Option<&Compared>) -> String {
    let title = format!("Bench record: {}", report.engine.name);
    let sections = [
        head(report),
        clearances(report),
        before.map(|b| since(b, report.unit)).unwrap_or_default(),
        shims(report),
        findings(report),
        checks(report),
        looked_at(report),
        open(report),
        notes(report),
        corrections(report),
        origin(report),
    ];
    format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
         <title>{}</title><style>{STYLE}</style></head><body><main>{}</main></body></html>\n",
        escape(&title),
        sections.concat()
    )
}

fn section(heading: &str, inside: &str) -> String {
    if inside.is_empty() {
        return String::new();
    }
    format!("<section><h2>{}</h2>{inside}</section>", escape(heading))
}

fn head(report: &Report) -> String {
    let blades: Vec<String> = report
        .blades_nm
        .iter()
        .map(|b| super::words::bare(*b, report.unit))
        .collect();
    let facts = [
        (
            "Worked",
            format!(
                "{} to {}",
                when(report.worked_ms[0]),
                when(report.worked_ms[1])
            ),
        ),
        ("Numbering", report.engine.numbering.clone()),
        (
            "Profile",
            format!("{} ({})", report.engine.key, report.engine.source),
        ),
        (
            "Blades",
            format!("{} {}", blades.join(", "), report.unit.sign()),
        ),
    ];
    let facts: String = facts
        .iter()
        .map(|(k, v)| format!("<div><dt>{k}</dt><dd>{}</dd></div>", escape(v)))
        .collect();
    format!(
        "<header><p class=\"kind\">Bench record</p><h1>{}</h1><p>{}</p><dl>{facts}</dl></header>",
        escape(&report.engine.name),
        escape(&report.engine.note)
    )
}

fn clearances(report: &Report) -> String {
    let rows: Vec<Vec<String>> = report
        .valves
        .iter()
        .map(|v| {
            let show = |m: Option<Measured>| {
                m.map_or_else(|| "–".to_owned(), |m| interval(m.clearance, report.unit))
            };
            let then = v.before.and_then(|m| m.shim_nm);
            let check = format!(
                "{} to {}",
                super::words::bare(v.check_nm.low, report.unit),
                super::words::bare(v.check_nm.high, report.unit)
            );
            vec![
                v.position.to_string(),
                check,
                show(v.before),
                shim(then.or(v.shim_nm)),
                show(v.after),
                v.after.map_or_else(|| "–".to_owned(), |m| shim(m.shim_nm)),
                format!("{} {}", sign(v.verdict), verdict_words(v.verdict)),
            ]
        })
        .collect();
    let drawing = plot(report);
    let key = if drawing.is_empty() {
        ""
    } else {
        "<p class=\"key\"><span class=\"k check\"></span>check band \
         <span class=\"k set\"></span>set band <span class=\"k target\"></span>target \
         <span class=\"k before\"></span>as found <span class=\"k after\"></span>after fitting</p>"
    };
    let heads = [
        "Valve", "Band", "As found", "Shim", "After", "Shim", "Verdict",
    ];
    let inside = format!(
        "{drawing}{key}{}{}",
        table(
            "Clearances, from the blade that goes to the one that does not",
            &heads,
            &rows
        ),
        list(report.remarks.iter().cloned())
    );
    section("Clearances", &inside)
}

const fn sign(verdict: crate::engine::Verdict) -> &'static str {
    use crate::engine::Verdict as V;
    match verdict {
        V::InBand => "=",
        V::Tight => "<",
        V::Loose => ">",
        V::OnTheLimit => "~",
        V::NoGap | V::Contradictory => "!",
        V::Open | V::Refitted | V::Unmeasured => "?",
    }
}

fn since(before: &Compared, unit: LengthUnit) -> String {
    let rows: Vec<Vec<String>> = before
        .valves
        .iter()
        .map(|m| {
            let show = |m: Option<Measured>| {
                m.map_or_else(|| "–".to_owned(), |m| interval(m.clearance, unit))
            };
            let signed = |l: Length| {
                let plus = if l > Length::ZERO { "+" } else { "" };
                format!("{plus}{}", super::words::bare(l, unit))
            };
            let mut moved = match (m.from_nm, m.to_nm) {
                (Some(a), Some(b)) => format!("{} to {} {}", signed(a), signed(b), unit.sign()),
                _ => "not known".to_owned(),
            };
            if m.other_shim {
                moved.push_str(" (another shim)");
            }
            vec![m.position.to_string(), show(m.then), show(m.now), moved]
        })
        .collect();
    let caption = format!(
        "From {} to {}; less than zero: closed up",
        when(before.then_ms),
        when(before.now_ms)
    );
    let heads = ["Valve", "Left last time", "Found now", "Moved by"];
    section("Since last time", &table(&caption, &heads, &rows))
}

fn shims(report: &Report) -> String {
    let fitted: Vec<Vec<String>> = report
        .fitted
        .iter()
        .map(|f| {
            vec![
                f.position.to_string(),
                shim(Some(f.old_nm)),
                shim(Some(f.new_nm)),
            ]
        })
        .collect();
    let lots = |lots: &[super::Lot]| {
        let lots: Vec<Vec<String>> = lots
            .iter()
            .map(|l| vec![shim(Some(l.size_nm)), l.count.to_string()])
            .collect();
        lots
    };
    let steps = report.plan.moves.iter().map(|m| m.words.clone());
    let buy = report.plan.purchases.iter().map(|p| {
        format!(
            "Buy {} of {}.",
            p.count,
            p.size_nm.show(LengthUnit::Millimetre)
        )
    });
    let stuck = report
        .plan
        .stuck
        .iter()
        .map(|s| format!("{}: {} {}", s.position, s.reason, s.next));
    let to_do = list(steps.chain(buy).chain(stuck));
    let to_do = if to_do.is_empty() {
        "<p>No shim is left to change.</p>".to_owned()
    } else {
        format!("<h3>Still to do</h3>{to_do}")
    };
    let inside = [
        table("Changed", &["Valve", "Out", "In"], &fitted),
        table("From outside", &["Size", "Count"], &lots(&report.bought)),
        table("In the box", &["Size", "Count"], &lots(&report.spare)),
        to_do,
    ];
    section("Shims", &inside.concat())
}

fn clip_name(clip: Option<&String>) -> String {
    clip.map_or_else(
        || "typed".to_owned(),
        |c| format!("clips/{}….wav", c.get(..12).unwrap_or(c)),
    )
}

fn checks(report: &Report) -> String {
    let rows: Vec<Vec<String>> = report
        .checks
        .iter()
        .map(|c| {
            vec![
                c.quantity.replace('_', " "),
                format!(
                    "{} {}",
                    place(c.position),
                    c.part.as_deref().unwrap_or_default()
                ),
                c.value.clone(),
                when(c.at_ms),
                format!("{}, {}", c.event, clip_name(c.clip.as_ref())),
            ]
        })
        .collect();
    let heads = ["What", "Where", "Value", "When", "Event, clip"];
    let inside = table("As called", &heads, &rows);
    section(
        "Torque, timing and other checks",
        if inside.is_empty() {
            "<p>None was called.</p>"
        } else {
            &inside
        },
    )
}

/// What the readings come to, each figure with its verdict and the source of its limit.
fn findings(report: &Report) -> String {
    let rows: Vec<Vec<String>> = report
        .findings
        .iter()
        .map(|item| {
            let (verdict, reason, source) = match &item.finding {
                Some(finding) => (
                    finding_words(finding.verdict),
                    finding.reason.clone(),
                    finding.limit_source.clone().unwrap_or_default(),
                ),
                None => (
                    "cannot be",
                    item.error.clone().unwrap_or_default(),
                    String::new(),
                ),
            };
            vec![
                item.what.to_owned(),
                item.place.clone(),
                verdict.to_owned(),
                reason,
                source,
            ]
        })
        .collect();
    let heads = ["What", "Where", "Verdict", "Why", "Limit from"];
    section(
        "Inspection",
        &table("Worked out from the checks", &heads, &rows),
    )
}

fn looked_at(report: &Report) -> String {
    section("Looked at", &list(report.looked_at.iter().cloned()))
}

fn open(report: &Report) -> String {
    section("Still to be done", &list(report.open.iter().cloned()))
}

fn notes(report: &Report) -> String {
    let rows: Vec<Vec<String>> = report
        .notes
        .iter()
        .map(|n| {
            vec![
                when(n.at_ms),
                place(n.position),
                n.text.clone(),
                format!("{}, {}", n.event, clip_name(n.clip.as_ref())),
            ]
        })
        .collect();
    let heads = ["When", "Where", "As heard", "Event, clip"];
    section("Notes", &table("Notes", &heads, &rows))
}

fn corrections(report: &Report) -> String {
    let rows: Vec<Vec<String>> = report
        .corrections
        .iter()
        .map(|c| {
            let now = if c.now.is_empty() { "nothing" } else { &c.now };
            vec![
                format!("{} by {}", c.of, c.event),
                c.was.clone(),
                now.to_owned(),
                c.how.to_owned(),
                when(c.at_ms),
            ]
        })
        .collect();
    let heads = ["Event", "Was", "Now", "How", "When"];
    section(
        "Corrections",
        &table("Nothing is ever changed in place", &heads, &rows),
    )
}

fn origin(report: &Report) -> String {
    let u = &report.utterances;
    let counts = format!(
        "{} utterances: {} stored or done, {} asked, {} refused, {} ignored; {} with lost sound.",
        u.total, u.stored, u.asked, u.refused, u.ignored, u.with_lost_sound
    );
    let made = format!(
        "Made {} by {}; recogniser {}; grammar {}.",
        when(report.made_at_ms),
        report.versions.software,
        report.versions.models.join(", "),
        report.versions.grammars.join(", ")
    );
    format!(
        "{}{}",
        section(
            "Cautions",
            &list(report.cautions.iter().map(|c| (*c).to_owned()))
        ),
        section(
            "How this record came about",
            &format!("<p>{}</p><p>{}</p>", escape(&counts), escape(&made))
        )
    )
}
