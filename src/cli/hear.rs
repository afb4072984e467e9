//! `new`, `hear` and `say`: a job begins, and takes recordings or typed phrases.

use super::args::{Hear, New, Say, UnitArg};
use super::args_units::{GaugeArg, WrenchArg};
use super::show;
use crate::app::forget::Whose;
use crate::app::hear::{Ear, Listener, read_clip};
use crate::app::job::{Job, Units};
use crate::app::room::{Room, Watch};
use crate::measure::{Decimal, Length, LengthUnit};
use anyhow::{Context, Result, bail};
use std::io::IsTerminal;
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
            format!("--blades: \"{text}\" is no blade: expected a size above zero")
        })?);
    }
    blades.sort_unstable();
    let mut units = Units::from(unit);
    units.gauge = args.gauge.map_or(units.gauge, GaugeArg::unit);
    units.wrench = args.wrench.map_or(units.wrench, WrenchArg::unit);
    let job = Job::create_in(&args.language, &args.job, &args.engine, units, blades)?;
    outln!(
        "{}: {}, {} valves, {}, {}, {}",
        args.job.display(),
        job.desk.profile.name,
        job.desk.profile.valves().len(),
        unit.sign(),
        units.gauge.sign(),
        units.wrench.sign()
    );
    Ok(ExitCode::SUCCESS)
}

pub(super) fn hear(args: &Hear) -> Result<ExitCode> {
    let job = Job::open(&args.job)?;
    let mut room = Watch::new(&args.job);
    let ear = Ear::of(&job.language, args.model.as_deref())?;
    let mut listener = Listener::new(job, ear);
    let progress = args.files.len() > 1 && args.json && std::io::stderr().is_terminal();
    let mut broken = 0;
    for (i, file) in args.files.iter().enumerate() {
        if progress {
            eprint!("\r{} of {}", i + 1, args.files.len());
        }
        let left = room.look()?;
        if let Room::Full { .. } = left {
            bail!("{}", left.notice(&args.job));
        }
        if left != Room::Enough {
            eprintln!("benchcall: {}", left.notice(&args.job));
        }
        // A file that cannot be read stops nothing: the rest is still heard.
        if let Err(error) = read_clip(file) {
            eprintln!("benchcall: {error:#}");
            broken += 1;
            continue;
        }
        let mut shown = Ok(());
        listener.file(file, |line| {
            if shown.is_ok() {
                shown = show::utterance(&line, args.json);
            }
        })?;
        shown?;
    }
    if progress {
        eprintln!();
    }
    if !args.keep_talk {
        listener.job.forget(&Whose::Ignored)?;
    }
    if broken > 0 {
        bail!(
            "{broken} of {} files could not be heard; the others are stored",
            args.files.len()
        );
    }
    Ok(ExitCode::SUCCESS)
}

pub(super) fn say(args: &Say) -> Result<ExitCode> {
    let mut job = Job::open(&args.job)?;
    for text in &args.texts {
        show::utterance(&job.say(text)?.line(None), args.json)?;
    }
    Ok(ExitCode::SUCCESS)
}
