//! `demo`: the recorded bench session through the whole path.

use super::args::Demo;
use super::faces::Terminal;
use super::sheet;
use crate::app::in_words::in_words;
use crate::app::job::Job;
use crate::app::session_loop::{Done, Faces, Input, SessionLoop};
use crate::app::sound::Loudspeaker;
use crate::app::speech::TextToSpeech;
use crate::app::terminal::{aside, tell};
use crate::app::{assets, recogniser, sound};
use crate::audio::{RATE_HZ, read_clip};
use crate::evaluate::Script;
use crate::measure::LengthUnit;
use crate::understand::{Listener, Recognised};
use anyhow::{Context, Result};
use std::process::ExitCode;
use std::sync::PoisonError;

pub(super) fn run(args: &Demo) -> Result<ExitCode> {
    let folder = assets::session_folder();
    let clip = read_clip(&folder.join("session.flac"))?;
    let script = Script::read(&folder)?;
    let place = match &args.job {
        Some(job) => job.clone(),
        None => std::env::temp_dir().join(format!("benchcall-demo-{}", std::process::id())),
    };
    let speaker = sound::speaker(if args.aloud {
        Loudspeaker::Here(None)
    } else {
        Loudspeaker::None
    })?;
    let faces = Played {
        terminal: Terminal::new(args.json),
        voice: TextToSpeech::new(speaker)?,
        voiced_ms: 0,
        all: Vec::new(),
    };
    let listener = Listener::new(recogniser::load("en", None)?);
    let job = Job::create(&place, "triple", LengthUnit::Millimetre, Vec::new())?;
    let mut session = SessionLoop::new(job, Some(listener), faces);
    if !args.json {
        outln!(
            "An invented triple, a recorded session of {} s; » is what is read back.\n",
            clip.duration_ms() / 1_000
        );
    }
    // A tenth of a second at a time, so that each utterance shows as it ends.
    for samples in clip.samples.chunks(RATE_HZ as usize / 10) {
        if args.aloud {
            std::thread::sleep(std::time::Duration::from_millis(100));
        }
        session.take(Input::Audio { samples, lost: 0 })?;
    }
    session.take(Input::Stop)?;
    let shared = session.job();
    let Played { all, voiced_ms, .. } = session.close(true)?;
    let job = shared.lock().unwrap_or_else(PoisonError::into_inner);
    let result = script.compare(&all);
    if args.json {
        aside(&result.to_string());
    } else {
        outln!("");
        sheet::print_sheet(job.state.view.sheet());
        outln!("");
        sheet::print_plan(job.state.view.plan(), job.setup.unit);
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

/// Prints and says each utterance, and keeps all for the comparison.
struct Played {
    terminal: Terminal,
    voice: TextToSpeech,
    voiced_ms: u64,
    all: Vec<Recognised>,
}

impl Faces for Played {
    fn print(&mut self, done: Done) -> Result<()> {
        self.terminal.line(done.line())?;
        self.all.extend(done.recognised);
        Ok(())
    }

    fn speak(&mut self, words: &str) {
        match self.voice.say(words) {
            Ok(sound) => self.voiced_ms += sound.length_ms(),
            Err(error) => tell(&format!(
                "\"{words}\" is on screen only: {}",
                in_words(&error)
            )),
        }
    }
}
