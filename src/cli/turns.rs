//! `turns`: where to turn the crank next.

use super::args::Turns;
use super::show;
use crate::app::job::Job;
use crate::engine::crank::turns::{Places, TurnError, TurnPlan, turn_plan};
use anyhow::Result;
use std::process::ExitCode;

pub(super) fn run(args: &Turns) -> Result<ExitCode> {
    let job = show::job(&args.job)?;
    let plan = plan(&job, args.all, args.marks)?;
    if args.json {
        show::json(&job, &plan)?;
        return Ok(ExitCode::SUCCESS);
    }
    show::damage(&job);
    outln!("Round: {}", job.state.view.sheet().round.words());
    if plan.stops.is_empty() {
        outln!("Every valve is measured.");
    }
    for (i, stop) in plan.stops.iter().enumerate() {
        outln!("{:>2}. {}:", i + 1, stop.words());
        for lobe in stop.lobes() {
            outln!("      {lobe}");
        }
    }
    if !plan.stops.is_empty() {
        outln!("{}° of the crank in all.", plan.turning_mdeg() / 1_000);
    }
    if plan.assumed_timing {
        outln!("The cam timing is not known: a wide one was taken.");
    }
    outln!(
        "By hand only, plugs out; stop at any resistance. The round heel of the lobe must face its bucket, follower or rocker."
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
