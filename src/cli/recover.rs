//! `recover`: what is left of a damaged job, saved into a new one.

use super::args::Recover;
use crate::app::job::Units;
use crate::app::recover;
use anyhow::Result;
use std::process::ExitCode;

pub(super) fn run(args: &Recover) -> Result<ExitCode> {
    let engine = args.engine.as_deref();
    let engine = engine.map(|key| (key, Units::from(args.unit.unit())));
    let saved = recover::recover(&args.job, &args.into, engine)?;
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
    outln!("{}: {}", args.into.display(), damage.left());
    outln!("{} sounds came along.", saved.sounds);
    for lost in &saved.lost {
        outln!("{lost}");
    }
    outln!(
        "Compare the sheet with your own notes before you fit anything, and keep {} as it is.",
        args.job.display()
    );
    Ok(ExitCode::SUCCESS)
}
