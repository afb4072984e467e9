//! `sheet` and `shims`: what the readings come to.

use super::args::Sheet as SheetArgs;
use super::args_shims::{AimArg, CamArg, Shims};
use super::show;
use crate::app::results_view::{clearance, headline};
use crate::engine::{Aim, Fit, Options, Sheet, ShimPlan, Tariff, Verdict, WhatIf, shown};
use crate::event::Side;
use crate::measure::LengthUnit;
use anyhow::{Context, Result};
use std::process::ExitCode;

pub(super) fn sheet(args: &SheetArgs) -> Result<ExitCode> {
    let job = show::job(&args.job)?;
    let view = &job.state.view;
    if args.json {
        show::json(&job, view.sheet())?;
    } else {
        show::damage(&job);
        print_sheet(view.sheet());
    }
    Ok(ExitCode::SUCCESS)
}

pub(super) fn shims(args: &Shims) -> Result<ExitCode> {
    let job = show::job(&args.job)?;
    let mut what_if = WhatIf::default();
    for change in &args.what_if {
        what_if.set(change, job.setup.unit).context("--what-if")?;
    }
    let (profile, bench) = what_if
        .apply(&job.setup.profile, job.state.view.bench())
        .context("--what-if")?;
    let options = options(args)?;
    let plan = ShimPlan::of(&profile, &bench, &options);
    if args.json {
        show::json(&job, &plan)?;
        return Ok(ExitCode::SUCCESS);
    }
    show::damage(&job);
    if args.list {
        if plan.screws {
            outln!("This engine has screws with locknuts: nothing to buy.");
            return Ok(ExitCode::SUCCESS);
        }
        let lie = profile.shims.kind.lie();
        outln!("Shims that lie {lie}, for: {}", profile.name);
        print_purchases(&plan, job.setup.unit);
        outln!("Take an old shim along: the diameter must be the same.");
    } else {
        print_plan(&plan, job.setup.unit);
        if !plan.disturbed.is_empty() && options.aim == Aim::FewestPurchases {
            outln!("`--aim fewest-changes` leaves good valves alone and buys more.");
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn options(args: &Shims) -> Result<Options> {
    let keeps = |cam| args.keep_cam.contains(&cam);
    let cams_out = [
        (CamArg::Inlet, Side::Inlet),
        (CamArg::Exhaust, Side::Exhaust),
    ];
    let cams_out = cams_out.into_iter().filter(|(cam, _)| !keeps(*cam));
    let aim = match (args.aim, args.pack) {
        (AimArg::FewestPurchases, _) => Aim::FewestPurchases,
        (AimArg::FewestChanges, _) => Aim::FewestChanges,
        (AimArg::FewestSizes, _) => Aim::FewestSizes,
        (AimArg::WorstValve, _) => Aim::WorstValve,
        (AimArg::LowestPrice, Some(pack)) => Aim::LowestPrice(Tariff {
            pieces: pack.pieces,
            pack_cents: pack.cents,
            single_cents: args.single,
        }),
        (AimArg::LowestPrice, None) => {
            let cents = args.single.context(
                "--aim lowest-price needs a price: --pack 5:12.50, --single 3.00 or both",
            )?;
            Aim::LowestPrice(Tariff {
                pieces: 1,
                pack_cents: cents,
                single_cents: Some(cents),
            })
        }
    };
    Ok(Options {
        aim,
        cams_out: cams_out.map(|(_, side)| side).collect(),
    })
}

/// A verdict in a word and a shape that is read without colour.
pub(super) const fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::InBand => "= in band",
        Verdict::Tight => "< TIGHT",
        Verdict::Loose => "> LOOSE",
        Verdict::OnTheLimit => "~ on the limit",
        Verdict::NoGap => "! NO GAP",
        Verdict::Open => "? one end open",
        Verdict::Contradictory => "! contradictory",
        Verdict::Refitted => "? to measure again",
        Verdict::Unmeasured => "? not measured",
    }
}

/// Prints the sheet.
pub(super) fn print_sheet(sheet: &Sheet) {
    let unit = sheet.unit;
    outln!("Round: {}", sheet.round.words());
    outln!(
        "{:<18} {:<18} {:<10} {:<17} fit",
        "valve",
        "clearance",
        "shim",
        "verdict"
    );
    for row in &sheet.rows {
        let fit = row.fit_nm.map(|s| shown(s, unit)).unwrap_or_default();
        let fit = match row.fit_sure {
            Some(false) => format!("{fit} ?"),
            _ => fit,
        };
        outln!(
            "{:<18} {:<18} {:<10} {:<17} {fit}",
            row.position.to_string(),
            clearance(row, unit),
            row.shim_nm
                .map_or_else(|| "-".to_owned(), |s| s.show(LengthUnit::Millimetre)),
            if row.near_limit && row.verdict == Verdict::InBand {
                "= in band, near"
            } else {
                verdict_word(row.verdict)
            },
        );
    }
    outln!(
        "{} measured, {} to go, {} in band",
        sheet.measured,
        sheet.remaining,
        sheet.in_band
    );
    for row in &sheet.rows {
        let past = row
            .rounds
            .iter()
            .filter(|r| Some(r.event) != row.clearance_event);
        let past: Vec<String> = past
            .map(|r| format!("{} {}", r.round.words(), r.clearance.show(unit)))
            .collect();
        if !past.is_empty() {
            outln!("{}: {}", row.position, past.join("; "));
        }
    }
    if sheet
        .rows
        .iter()
        .any(|r| r.near_limit && r.verdict == Verdict::InBand)
    {
        outln!("near: within the uncertainty of an end of the band; measure it once more.");
    }
    for row in sheet.rows.iter().filter(|r| r.fit_sure == Some(false)) {
        let reason = row.fit_reason.as_deref().unwrap_or_default();
        outln!("? {}: {reason}", row.position);
    }
    if let Some(room) = &sheet.room {
        outln!("{room}");
    }
    for conflict in &sheet.conflicts {
        outln!("note: {conflict}");
    }
    for words in sheet.remeasure.words(unit) {
        outln!("{words}");
    }
    outln!(
        "The bands are the profile's: check them against the maker's manual before you fit anything."
    );
}

/// Prints a plan.
pub(super) fn print_plan(plan: &ShimPlan, unit: LengthUnit) {
    outln!("{}", headline(plan));
    if let Some(cams) = plan.cams_words() {
        outln!("{cams}");
    }
    for (i, step) in plan.moves.iter().enumerate() {
        outln!("{:>3}. {}", i + 1, step.words);
    }
    for fitting in &plan.fittings {
        let expected = fitting.expected.show(unit);
        if fitting.fit == Fit::Sure {
            outln!("     {} should then show {expected}", fitting.position);
        } else {
            outln!(
                "     {} may then show {expected}, not surely inside its band. {}",
                fitting.position,
                fitting.before_fitting(unit)
            );
        }
    }
    if !plan.screws {
        print_purchases(plan, unit);
    }
    if !plan.proven {
        outln!("The search was cut short: this is the best found, and a cheaper plan may exist.");
    }
    for left in plan.untouched.iter().filter(|u| u.as_said) {
        outln!("{}: {}", left.position, left.reason);
    }
    for stuck in &plan.stuck {
        outln!("{}", stuck.words());
    }
    for words in plan.disturbs() {
        outln!("{words}");
    }
    if plan.screws {
        outln!("After setting: two full turns by hand, then measure every valve again.");
        return;
    }
    outln!("After fitting: two full turns by hand, then measure every valve again.");
}

/// What to buy, as it can be read out at the counter, with prices if they are known.
pub(super) fn print_purchases(plan: &ShimPlan, unit: LengthUnit) {
    if plan.purchases.is_empty() {
        outln!("Nothing to buy.");
        return;
    }
    for purchase in &plan.purchases {
        outln!("{}", purchase.words(unit));
    }
    if let Some(price) = plan.together() {
        outln!("Together {price}.");
    }
}
