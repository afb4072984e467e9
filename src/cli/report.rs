//! `report`: the record of a job as HTML, CSV and JSON, and back.

use super::args::Report as Args;
use super::show;
use crate::app::report;
use crate::report::{Compared, Sounds, write};
use crate::store::write_private;
use anyhow::{Context, Result};
use std::path::Path;
use std::process::ExitCode;

pub(super) fn run(args: &Args) -> Result<ExitCode> {
    if let Some(file) = &args.import {
        let (events, sounds) = report::import(&args.job, file)?;
        outln!("{}: {events} events, {sounds} sounds", args.job.display());
        return Ok(ExitCode::SUCCESS);
    }
    let job = show::job(&args.job)?;
    let record = report::of(&job);
    let before = args.before.as_deref().map(report::earlier).transpose()?;
    let since = before
        .as_ref()
        .map(|b| Compared::of(b, &record))
        .transpose()?;
    if let Some(path) = &args.html {
        put(path, &report::html(&record, since.as_ref()))?;
    }
    if let Some(path) = &args.csv {
        put(path, &record.csv())?;
    }
    if let Some(path) = &args.json {
        let sounds = if args.with_sound {
            let (sounds, lost) = report::sounds(&job);
            lost.iter().for_each(|lost| show::incomplete(lost));
            sounds
        } else {
            Sounds::new()
        };
        let events = report::bodies(job.state.events())?;
        put(path, &write(&record, since.as_ref(), &events, &sounds)?)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// Writes a file, or standard output for `-`.
fn put(path: &Path, text: &str) -> Result<()> {
    if path == Path::new("-") {
        outln!("{}", text.trim_end());
        return Ok(());
    }
    write_private(path, text).with_context(|| format!("cannot write {}", path.display()))?;
    outln!("{}", path.display());
    Ok(())
}
