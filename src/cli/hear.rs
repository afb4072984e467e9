//! `new`, `hear` and `say`: a job begins, and takes recordings or typed phrases.

use super::args::{Hear, New, Say, UnitArg};
use super::args_units::{GaugeArg, WrenchArg};
use super::faces::Terminal;
use crate::app::in_words::in_words;
use crate::app::job::{Job, Units};
use crate::app::session_loop::{Input, SessionLoop};
use crate::app::terminal::{self, Progress};
use crate::app::{now_ms, recogniser};
use crate::audio::{RATE_HZ, read_clip};
use crate::engine::blade_fault;
use crate::event::{Event, Outcome};
use crate::measure::{Decimal, Length, LengthUnit};
use crate::report::{Line, Timing};
use crate::understand::Listener;
use anyhow::{Context, Result, bail};
use std::process::ExitCode;

impl UnitArg {
    pub(super) const fn unit(self) -> LengthUnit {
        match self {
            Self::Mm => LengthUnit::Millimetre,
            Self::Thou => LengthUnit::Thou,
        }
    }
}

pub(super) fn new(args: &New) -> Result<ExitCode> {
    let unit = args.unit.unit();
    let mut blades = Vec::new();
    for text in &args.blades {
        let said: Decimal = text.trim().parse().context("--blades")?;
        let blade = Length::from_decimal(said, unit).filter(|b| *b > Length::ZERO);
        blades.push(blade.with_context(|| {
            format!("--blades: \"{text}\" is not a blade: expected a size above zero")
        })?);
    }
    blades.sort_unstable();
    if let Some(fault) = blade_fault(&blades).filter(|_| !blades.is_empty()) {
        bail!("--blades: {fault}");
    }
    let mut units = Units::from(unit);
    units.gauge = args.gauge.map_or(units.gauge, GaugeArg::unit);
    units.wrench = args.wrench.map_or(units.wrench, WrenchArg::unit);
    let mut job = Job::create_in(&args.language, &args.job, &args.engine, units, blades)?;
    let told = args.about.facts();
    if !told.is_empty() {
        job.tell("about the machine", told)?;
    }
    outln!(
        "{}: {}, {} valves, {}, {}, {}",
        args.job.display(),
        job.setup.profile.name,
        job.setup.profile.valves().len(),
        unit.sign(),
        units.gauge.sign(),
        units.wrench.sign()
    );
    Ok(ExitCode::SUCCESS)
}

/// Samples that a recording is played in: 20 ms, so that it is heard the same every time.
const CHUNK: usize = RATE_HZ as usize / 50;

pub(super) fn hear(args: &Hear) -> Result<ExitCode> {
    let job = Job::open(&args.job)?;
    let (model, voice) = (args.model.as_deref(), args.voice.as_deref());
    let recogniser = recogniser::load_for(&job.language, model, voice)?;
    let listener = Listener::new(recogniser);
    let faces = Terminal::new(args.json);
    let mut session = SessionLoop::new(job, Some(listener), faces).watching(&args.job);
    let progress = Progress::new(args.files.len() > 1 && args.json);
    let mut broken = 0;
    session.look_at_the_disk()?;
    for (i, file) in args.files.iter().enumerate() {
        progress.at(&format!("{} of {}", i + 1, args.files.len()));
        // A file that cannot be read stops nothing: the rest is still heard.
        let clip = match read_clip(file) {
            Ok(clip) => clip,
            Err(error) => {
                terminal::tell(&in_words(&error));
                broken += 1;
                continue;
            }
        };
        session.faces.of_file(Some(file));
        for samples in clip.samples.chunks(CHUNK) {
            session.take(Input::Audio { samples, lost: 0 })?;
        }
        session.take(Input::Stop)?;
        if session.faces.of_file(Some(file)) == 0 {
            let none = Some(&Timing::default());
            session.faces.line(Line::of(&no_speech(), none))?;
        }
    }
    drop(progress);
    session.close(args.keep_talk)?;
    if broken > 0 {
        let all = args.files.len();
        match all {
            _ if broken < all => {
                bail!("{broken} of {all} files could not be heard; the others are stored")
            }
            1 => bail!("the file could not be heard; nothing was stored"),
            _ => bail!("none of the {all} files could be heard; nothing was stored"),
        }
    }
    Ok(ExitCode::SUCCESS)
}

/// What a file without speech gives: nothing, and nothing is stored.
fn no_speech() -> Event {
    Event::unspoken(0, now_ms(), Outcome::Ignored, "no speech was found in it")
}

pub(super) fn say(args: &Say) -> Result<ExitCode> {
    let mut session = SessionLoop::new(Job::open(&args.job)?, None, Terminal::new(args.json));
    for text in &args.texts {
        session.take(Input::Typed(text))?;
    }
    Ok(ExitCode::SUCCESS)
}
