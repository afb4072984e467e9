//! `demo`: the recorded bench session through the whole path.

use super::args::Demo;
use super::{sheet, show};
use crate::app::assets;
use crate::app::hear::{Ear, Heard, Listener, read_clip};
use crate::app::job::Job;
use crate::app::spoken::Mouth;
use crate::app::truth::Script;
use crate::audio::RATE_HZ;
use crate::measure::LengthUnit;
use anyhow::{Context, Result};
use std::path::PathBuf;
use std::process::ExitCode;

/// The folder of the recorded session, beside the models.
pub(super) fn session_folder() -> PathBuf {
    assets::models_folder().join("../fixtures/session")
}

pub(super) fn run(args: &Demo) -> Result<ExitCode> {
    let folder = session_folder();
    let clip = read_clip(&folder.join("session.flac"))?;
    let script = Script::read(&folder)?;
    let place = match &args.job {
        Some(job) => job.clone(),
        None => std::env::temp_dir().join(format!("benchcall-demo-{}", std::process::id())),
    };
    let mut mouth = Mouth::new(if args.aloud { speaker() } else { None })?;
    let ear = Ear::load(None)?;
    let job = Job::create(&place, "triple", LengthUnit::Millimetre, Vec::new())?;
    let mut listener = Listener::new(job, ear);
    if !args.json {
        outln!(
            "An invented triple, a recorded session of {} s; » is what is read back.\n",
            clip.duration_ms() / 1_000
        );
    }
    let mut all: Vec<Heard> = Vec::new();
    let mut voiced_ms = 0_u64;
    // A tenth of a second at a time, so that each utterance shows as it ends.
    for chunk in clip.samples.chunks(RATE_HZ as usize / 10) {
        if args.aloud {
            std::thread::sleep(std::time::Duration::from_millis(100));
        }
        for heard in listener.feed(chunk)? {
            voiced_ms += tell(&heard, args.json, &mut mouth)?;
            all.push(heard);
        }
    }
    if let Some(heard) = listener.finish()? {
        voiced_ms += tell(&heard, args.json, &mut mouth)?;
        all.push(heard);
    }
    let (job, _) = listener.into_parts();
    let result = script.compare(&all);
    if args.json {
        eprintln!("{result}");
    } else {
        outln!("");
        sheet::print_sheet(job.state.view.sheet());
        outln!("");
        sheet::print_plan(job.state.view.plan(), job.desk.unit);
        let mut compute: Vec<u64> = all.iter().map(|h| h.timing.compute_ms).collect();
        compute.sort_unstable();
        let median = compute.get(compute.len() / 2).copied().unwrap_or_default();
        outln!("\n{result}");
        outln!(
            "{} s of read-back; {median} ms of computing an utterance (median); the engine is invented.",
            voiced_ms / 1_000
        );
    }
    drop(job);
    match &args.job {
        Some(job) => outln!(
            "The job is kept in {}: try `benchcall sheet --job {}`.",
            job.display(),
            job.display()
        ),
        None => std::fs::remove_dir_all(&place)
            .with_context(|| format!("cannot remove {}", place.display()))?,
    }
    Ok(if result.stored_wrong == 0 {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

/// Shows and says one utterance; gives the milliseconds that were said.
fn tell(heard: &Heard, json: bool, mouth: &mut Mouth) -> Result<u64> {
    show::utterance(&heard.reply.line(Some(&heard.timing)), json)?;
    if heard.reply.spoken.is_empty() {
        return Ok(0);
    }
    let sound = mouth.say(&heard.reply.spoken)?;
    Ok(sound.samples.len() as u64 * 1_000 / u64::from(sound.rate_hz.max(1)))
}

#[cfg(feature = "mic")]
fn speaker() -> Option<Box<dyn crate::device::Speaker>> {
    crate::cli::listen::open_speaker()
}

#[cfg(not(feature = "mic"))]
fn speaker() -> Option<Box<dyn crate::device::Speaker>> {
    None
}
