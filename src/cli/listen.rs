//! `listen`: the microphone, live, with the read-back aloud.

use super::args::Listen;
use super::keys::{Keys, Press};
use super::pages::{Pages, Place};
use super::show;
use crate::app::hear::{Ear, Listener, read_clip};
use crate::app::job::Job;
use crate::app::phone::phone;
use crate::app::spoken::Mouth;
use crate::device::{Microphone, Pace, Recording, Speaker};
use crate::grammar::Means;
use crate::web::PhoneLink;
use anyhow::Result;
use std::process::ExitCode;
use std::time::{Duration, Instant};

/// After the tool has spoken, the room still does for this long.
const TAIL: Duration = Duration::from_millis(200);

pub(super) fn run(args: &Listen) -> Result<ExitCode> {
    let Sound {
        mut microphone,
        speaker,
        source,
        phone,
    } = Sound::open(args)?;
    let job = Job::open(&args.job)?;
    let place = Place {
        lan: args.lan,
        port: args.port,
    };
    let mut pages = if args.board {
        Some(Pages::start(place, &job, &args.job, &source, phone)?)
    } else {
        None
    };
    let ear = Ear::of(&job.language, args.model.as_deref())?;
    let mut mouth = Mouth::of(&job.language, speaker)?;
    let mut listener = Listener::new(job, ear);
    eprintln!(
        "Listening to {source}. Say \"stand by\" to pause; Ctrl-C ends. What was read back is stored."
    );
    let mut keys = Keys::open(args)?;
    // With a talk key the ear is shut until it is pressed.
    let mut shut = keys.as_ref().is_some_and(|k| k.push_to_talk);
    if let Some(pages) = &pages {
        pages.show(&listener.job)?;
    }
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
        let mut ended = false;
        for press in keys.iter_mut().flat_map(Keys::pressed) {
            match press {
                Press::Talk => shut = !shut,
                Press::End => ended = true,
                Press::Affirm => tell(&mut listener, &mut mouth, Means::Affirm, args)?,
                Press::Disregard => tell(&mut listener, &mut mouth, Means::Disregard, args)?,
            }
        }
        if shut {
            samples.fill(0.0);
        }
        if let Some(pages) = &mut pages {
            pages.level(&samples);
        }
        let mut heard = listener.feed(&samples)?;
        let over = ended
            || read.ended
            || args
                .stop_after
                .is_some_and(|s| begun.elapsed() >= Duration::from_secs(s));
        if over {
            heard.extend(listener.finish()?);
        }
        for one in heard {
            shut = keys.as_ref().is_some_and(|k| k.push_to_talk);
            // On the disk already: now the board, then the voice.
            if let Some(pages) = &pages {
                pages.show(&listener.job)?;
            }
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
            if let Some(pages) = &pages {
                pages.end(&listener.job)?;
            }
            return Ok(ExitCode::SUCCESS);
        }
    }
}

/// A key says what a word would have said.
fn tell(listener: &mut Listener, mouth: &mut Mouth, means: Means, args: &Listen) -> Result<()> {
    let sheet = listener.job.desk.grammar.cheat_sheet();
    let word = sheet.get(&means).and_then(|(examples, _)| examples.first());
    let Some(word) = word.cloned() else {
        return Ok(());
    };
    let reply = listener.job.say(&word)?;
    show::utterance(&reply.line(None), args.json)?;
    if !reply.spoken.is_empty()
        && let Err(error) = mouth.say(&reply.spoken)
    {
        eprintln!("benchcall: the read-back is on screen only: {error:#}");
    }
    Ok(())
}

/// Where sound comes from and goes to.
struct Sound {
    microphone: Box<dyn Microphone>,
    speaker: Option<Box<dyn Speaker>>,
    source: String,
    phone: Option<PhoneLink>,
}

impl Sound {
    fn open(args: &Listen) -> Result<Self> {
        if let Some(path) = &args.recording {
            return Ok(Self {
                microphone: Box::new(Recording::new(read_clip(path)?, Pace::RealTime)),
                speaker: if args.silent { None } else { open_speaker() },
                source: path.display().to_string(),
                phone: None,
            });
        }
        if args.phone {
            return Ok(Self::of_page(args.silent));
        }
        match open_microphone(args.microphone.as_deref()) {
            Ok(microphone) => Ok(Self {
                source: format!(
                    "{} at {} Hz",
                    args.microphone
                        .as_deref()
                        .unwrap_or("the default microphone"),
                    microphone.native_rate_hz()
                ),
                microphone,
                speaker: if args.silent { None } else { open_speaker() },
                phone: None,
            }),
            Err(error) if args.board && args.microphone.is_none() => {
                eprintln!("benchcall: {error:#}; the device that shows the board is used instead");
                Ok(Self::of_page(args.silent))
            }
            Err(error) => Err(error),
        }
    }

    /// The microphone of the device that shows the board.
    fn of_page(silent: bool) -> Self {
        let (link, port) = crate::web::link();
        let (microphone, speaker) = phone(port);
        Self {
            microphone: Box::new(microphone),
            speaker: if silent {
                None
            } else {
                Some(Box::new(speaker))
            },
            source: "the device that shows the board".to_owned(),
            phone: Some(link),
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
