//! `turns`: where to turn the crank next.

use super::args::Turns;
use super::show;
use crate::app::job::Job;
use crate::engine::turns::{Places, TurnError, TurnPlan, turn_plan};
use anyhow::Result;
use std::process::ExitCode;

pub(super) fn run(args: &Turns) -> Result<ExitCode> {
    let job = show::job(&args.job)?;
    let plan = plan(&job, args.all, args.marks)?;
    if args.json {
        outln!("{}", serde_json::to_string_pretty(&plan)?);
        return Ok(ExitCode::SUCCESS);
    }
    if plan.stops.is_empty() {
        outln!("Every valve is measured.");
    }
    for (i, stop) in plan.stops.iter().enumerate() {
        let names: Vec<String> = stop.valves.iter().map(ToString::to_string).collect();
        outln!(
            "{:>2}. turn {}° forwards, to {}° after cylinder 1 fires: {}",
            i + 1,
            stop.turn_forward_mdeg / 1_000,
            stop.crank_mdeg / 1_000,
            names.join(", ")
        );
    }
    if plan.assumed_timing {
        outln!("The cam timing is not known: a wide one was taken.");
    }
    outln!(
        "By hand only, plugs out; stop at any resistance. Each lobe must point away from its bucket."
    );
    Ok(ExitCode::SUCCESS)
}

/// The stops for the valves that remain, or for all of them; on the marks alone only if asked for.
pub(super) fn plan(job: &Job, all: bool, marks: bool) -> Result<TurnPlan, TurnError> {
    let (profile, view) = (&job.setup.profile, &job.state.view);
    let places = if marks {
        Places::DeadCentres
    } else {
        Places::default()
    };
    match (all, marks) {
        (true, _) => turn_plan(profile, &profile.valves(), places),
        (false, true) => turn_plan(profile, view.remaining(), places),
        (false, false) => view.turns(),
    }
}
