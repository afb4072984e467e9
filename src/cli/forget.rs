//! `forget`: clips go, readings stay.

use super::args::Forget;
use super::moment::Moment;
use crate::app::forget::Whose;
use crate::app::job::Job;
use anyhow::{Result, bail};
use std::process::ExitCode;

pub(super) fn run(args: &Forget) -> Result<ExitCode> {
    let whose = match (&args.from, &args.to) {
        _ if args.ignored => Whose::Ignored,
        (Some(Moment(from)), Some(Moment(to))) if from < to => Whose::Of(*from..*to),
        (Some(_), Some(_)) => bail!("--from must be before --to"),
        _ => Whose::All,
    };
    let mut job = Job::open(&args.job)?;
    let (removed, _) = job.forget(&whose)?;
    let readings = job.state.events().len();
    if args.json {
        outln!("{{\"clips_removed\":{removed},\"events_kept\":{readings}}}");
    } else if removed == 0 {
        outln!("There was no such clip; nothing was changed.");
    } else {
        outln!(
            "{removed} clips removed; all {readings} events of the job stay, this one among them."
        );
    }
    Ok(ExitCode::SUCCESS)
}
