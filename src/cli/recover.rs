//! `recover`: what is left of a damaged job, saved into a new one.

use super::args::Recover;
use crate::app::job::Units;
use crate::app::recover::{self, EngineLost};
use anyhow::{Result, anyhow};
use std::process::ExitCode;

pub(super) fn run(args: &Recover) -> Result<ExitCode> {
    let engine = args.engine.as_deref();
    let engine = engine.map(|key| (key, Units::from(args.unit.unit())));
    let saved = recover::recover(&args.job, &args.into, engine).map_err(|why| match why
        .downcast_ref::<EngineLost>()
    {
        Some(lost) => anyhow!("{lost}: say it with --engine (and --unit)"),
        None => why,
    })?;
    let damage = &saved.damage;
    if args.json {
        let (from, to) = damage
            .gone
            .as_ref()
            .map_or((None, None), |gone| (Some(gone.start()), Some(gone.end())));
        outln!(
            "{}",
            serde_json::json!({
                "events": damage.kept,
                "proven": damage.proven,
                "damaged": damage.damaged,
                "gone_from": from,
                "gone_to": to,
                "sounds": saved.sounds,
                "sounds_lost": saved.lost,
            })
        );
        return Ok(ExitCode::SUCCESS);
    }
    outln!("{}:", args.into.display());
    for line in saved.lines() {
        outln!("{line}");
    }
    Ok(ExitCode::SUCCESS)
}
