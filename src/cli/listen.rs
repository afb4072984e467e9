//! `listen`: the microphone, live, with the read-back aloud.

use super::args::Listen;
use super::show;
use crate::app::hear::{Ear, Listener, read_clip};
use crate::app::job::Job;
use crate::app::spoken::Mouth;
use crate::device::{Microphone, Pace, Recording, Speaker};
use anyhow::Result;
use std::process::ExitCode;
use std::time::{Duration, Instant};

/// After the tool has spoken, the room still does for this long.
const TAIL: Duration = Duration::from_millis(200);

pub(super) fn run(args: &Listen) -> Result<ExitCode> {
    let mut microphone: Box<dyn Microphone> = match &args.recording {
        Some(path) => Box::new(Recording::new(read_clip(path)?, Pace::RealTime)),
        None => open_microphone(args.microphone.as_deref())?,
    };
    let job = Job::open(&args.job)?;
    let ear = Ear::of(&job.language, args.model.as_deref())?;
    let speaker = if args.silent { None } else { open_speaker() };
    let mut mouth = Mouth::of(&job.language, speaker)?;
    let mut listener = Listener::new(job, ear);
    let source = match (&args.recording, &args.microphone) {
        (Some(path), _) => path.display().to_string(),
        (None, Some(name)) => name.clone(),
        (None, None) => "the default microphone".to_owned(),
    };
    eprintln!(
        "Listening to {source} at {} Hz. Say \"stand by\" to pause; Ctrl-C ends. What was read back is stored.",
        microphone.native_rate_hz()
    );
    let begun = Instant::now();
    let mut samples = Vec::new();
    let mut overruns = 0;
    loop {
        samples.clear();
        let read = microphone.read(&mut samples)?;
        if read.overruns_total > overruns {
            let lost = read.overruns_total - overruns;
            overruns = read.overruns_total;
            eprintln!(
                "benchcall: sound was lost ({lost} times): the clip of this utterance is marked"
            );
            listener.lost(u32::try_from(lost).unwrap_or(u32::MAX));
        }
        let mut heard = listener.feed(&samples)?;
        let over = read.ended
            || args
                .stop_after
                .is_some_and(|s| begun.elapsed() >= Duration::from_secs(s));
        if over {
            heard.extend(listener.finish()?);
        }
        for one in heard {
            show::utterance(&one.reply.line(Some(&one.timing)), args.json)?;
            if one.reply.spoken.is_empty() {
                continue;
            }
            if let Err(error) = mouth.say(&one.reply.spoken) {
                eprintln!("benchcall: the read-back is on screen only: {error:#}");
            }
            // Half duplex: what the microphone caught of the tool's own voice is not heard.
            if !args.headset && !args.silent && args.recording.is_none() {
                deafen(microphone.as_mut(), &mut listener)?;
            }
        }
        if over {
            return Ok(ExitCode::SUCCESS);
        }
    }
}

/// Drops what was captured while the tool spoke, and its tail.
fn deafen(microphone: &mut dyn Microphone, listener: &mut Listener) -> Result<()> {
    let until = Instant::now() + TAIL;
    let mut dropped = Vec::new();
    while Instant::now() < until {
        dropped.clear();
        if microphone.read(&mut dropped)?.ended {
            break;
        }
    }
    listener.deafen();
    Ok(())
}

/// The microphone by a part of its name, or the default one.
#[cfg(feature = "mic")]
pub(super) fn open_microphone(name: Option<&str>) -> Result<Box<dyn Microphone>> {
    Ok(Box::new(crate::device::HardwareMicrophone::open(name)?))
}

#[cfg(not(feature = "mic"))]
pub(super) fn open_microphone(_name: Option<&str>) -> Result<Box<dyn Microphone>> {
    anyhow::bail!(
        "this build has no microphone: build with the feature \"mic\", or give --recording FILE"
    )
}

/// The default loudspeaker; none is no error, the read-back then stands on screen only.
#[cfg(feature = "mic")]
pub(super) fn open_speaker() -> Option<Box<dyn Speaker>> {
    match crate::device::HardwareSpeaker::open(None) {
        Ok(speaker) => Some(Box::new(speaker)),
        Err(error) => {
            eprintln!("benchcall: the read-back is on screen only: {error}");
            None
        }
    }
}

#[cfg(not(feature = "mic"))]
pub(super) fn open_speaker() -> Option<Box<dyn Speaker>> {
    None
}
