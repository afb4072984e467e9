//! `review`: the session in a browser, every utterance with its clip; and the checked ones exported.

use super::args::Review as Args;
use super::pages::{Place, address};
use super::show;
use crate::app::backend::JobPages;
use crate::app::export::export;
use crate::app::job::Job;
use crate::app::terminal::aside;
use anyhow::Result;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};

pub(super) fn run(args: &Args) -> Result<ExitCode> {
    if let Some(folder) = &args.export {
        let (count, lost) = export(&show::job(&args.job)?, folder)?;
        lost.iter().for_each(|lost| show::incomplete(lost));
        outln!(
            "{}: {count} checked clips and manifest.tsv",
            folder.display()
        );
        return Ok(ExitCode::SUCCESS);
    }
    if let Some(model) = &args.model {
        anyhow::ensure!(
            model.is_file(),
            "there is no model file {}",
            model.display()
        );
    }
    let job = Job::open(&args.job)?;
    let backend = JobPages::reviewing(job, &args.job, args.model.as_deref());
    let place = Place {
        lan: args.lan,
        port: args.port,
        stays: false,
    };
    let _server = address(place, Arc::new(backend), None, None)?;
    aside("Open the address in a browser. Ctrl-C ends; every edit is stored as it is made.");
    let begun = Instant::now();
    while args
        .stop_after
        .is_none_or(|s| begun.elapsed() < Duration::from_secs(s))
    {
        std::thread::sleep(Duration::from_millis(200));
    }
    Ok(ExitCode::SUCCESS)
}
