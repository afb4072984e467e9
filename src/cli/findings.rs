//! `findings` and `cut`: what an inspection comes to, and what a cut would do.

use super::args::{Cut, Findings as FindingsArgs};
use super::show;
use crate::app::job::Job;
use crate::engine::inspection::{BeforeCut, Removed, Verdict, after_cut};
use crate::event::Position;
use crate::grammar::{Heard, Meaning};
use crate::measure::{Decimal, Length};
use crate::report::{finding_words, item_words};
use anyhow::{Context, Result, anyhow};
use std::process::ExitCode;

/// A verdict as a sign that stands out in a column.
const fn sign(verdict: Verdict) -> char {
    match verdict {
        Verdict::Good => '=',
        Verdict::Worn => '~',
        Verdict::OutOfLimit => '!',
        Verdict::Doubtful => '?',
        Verdict::NoLimit => '-',
    }
}

pub(super) fn findings(args: &FindingsArgs) -> Result<ExitCode> {
    let job = show::job(&args.job)?;
    let found = job.state.view.findings(args.height);
    if args.json {
        show::json(&job, &found)?;
        return Ok(ExitCode::SUCCESS);
    }
    show::damage(&job);
    if found.items.is_empty() {
        outln!(
            "No inspection readings yet. Call them: \"stem two exhaust left, five four six five\"."
        );
        return Ok(ExitCode::SUCCESS);
    }
    for item in &found.items {
        let words = item_words(item);
        let verdict = format!(
            "{} {}",
            item.finding.as_ref().map_or('?', |f| sign(f.verdict)),
            words.verdict
        );
        let source = words.source.map(|s| format!(" ({s})")).unwrap_or_default();
        let place = if item.place.is_empty() {
            "engine"
        } else {
            &item.place
        };
        let what = match item.finding {
            Some(_) => String::new(),
            None => format!("{}: ", item.what),
        };
        outln!("{verdict:<16} {place:<22} {what}{}{source}", words.reason);
    }
    outln!("Limits are the profile's: check them against the maker's manual.");
    Ok(ExitCode::SUCCESS)
}

pub(super) fn cut(args: &Cut) -> Result<ExitCode> {
    let job = show::job(&args.job)?;
    let setup = &job.setup;
    let position = valve(&job, &args.valve)?;
    let by: Decimal = args.by.trim().parse().context("--by")?;
    let by = Length::from_decimal(by, setup.unit)
        .with_context(|| format!("--by: \"{}\" is finer than a nanometre", args.by))?;
    let removed = if args.square {
        let angle = setup
            .profile
            .seat_angle_deg
            .context("--square needs the seat's angle: the profile has no [seat] angle_deg")?;
        Removed::Square(by, i64::from(angle) * 1_000)
    } else {
        Removed::Axial(by)
    };
    let before = BeforeCut::of(&setup.profile, job.state.view.bench(), position)
        .map_err(|missing| anyhow!("{position}: {missing}"))?;
    let effect = after_cut(removed, before, setup.unit).context("--by")?;
    if args.json {
        show::json(&job, &effect)?;
        return Ok(ExitCode::SUCCESS);
    }
    show::damage(&job);
    outln!(
        "{position}: the valve rises {}, clearance {} with the shim now fitted.",
        effect.drop_nm.show(setup.unit),
        effect.clearance_after_nm.show(setup.unit)
    );
    outln!(
        "{} {}  {}",
        sign(effect.finding.verdict),
        finding_words(effect.finding.verdict),
        effect.finding.reason
    );
    outln!(
        "Before you cut, see the maker's manual: coated valves are replaced, not cut or lapped."
    );
    Ok(ExitCode::SUCCESS)
}

/// A valve by the words that call it.
fn valve(job: &Job, text: &str) -> Result<Position> {
    let scope = job.setup.scope(&job.state);
    let valves = job.setup.profile.valves();
    let named = match job.setup.grammar.parse(text, &scope) {
        Heard::Accepted(said) if said.meaning == Meaning::Open => Some(said.place),
        _ => None,
    };
    let found = named.and_then(|place| {
        let is = |v: &&Position| {
            Some(v.cylinder) == place.cylinder
                && Some(v.side) == place.side
                && v.valve == place.valve
        };
        valves.iter().find(is).copied()
    });
    found.with_context(|| {
        let example = valves.last().map(|v| job.setup.grammar.wording.place(*v));
        format!(
            "--valve: \"{text}\" is not a valve of this engine ({}): expected a place such as \"{}\"",
            job.setup.profile.name,
            example.unwrap_or_default()
        )
    })
}
