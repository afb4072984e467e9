//! `listen`: the microphone, live, with the read-back aloud.

use super::args::Listen;
use super::keys::{Keys, Press};
use super::pages::{Pages, Place};
use super::show;
use crate::app::forget::Whose;
use crate::app::hear::{Ear, Listener, read_clip};
use crate::app::job::Job;
use crate::app::phone::phone;
use crate::app::room::{Room, Watch};
use crate::app::spoken::Mouth;
use crate::device::{Microphone, Pace, Recording, Speaker};
use crate::grammar::{Command, Means};
use crate::web::PhoneLink;
use anyhow::Result;
use std::path::Path;
use std::process::ExitCode;
use std::sync::atomic::Ordering;
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
        listener.on_partial(pages.on_partial());
        pages.show(&listener.job)?;
    }
    let stop = super::end::asked()?;
    let mut guard = Guard::new(args);
    guard.look(&mut mouth)?;
    let begun = Instant::now();
    let mut samples = Vec::new();
    // What came while the ear was loaded was not listened to, and none of it marks a clip.
    let mut overruns = if args.recording.is_none() {
        microphone.read(&mut samples)?.overruns_total
    } else {
        0
    };
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
                Press::Affirm => tell(&mut listener, &mut mouth, Command::Affirm, args)?,
                Press::Disregard => tell(&mut listener, &mut mouth, Command::Disregard, args)?,
            }
        }
        if shut {
            samples.fill(0.0);
        }
        if let Some(pages) = &mut pages {
            pages.level(&samples);
        }
        let mut heard = guard.told(listener.feed(&samples), &mut mouth)?;
        let over = ended
            || stop.load(Ordering::Relaxed)
            || read.ended
            || args
                .stop_after
                .is_some_and(|s| begun.elapsed() >= Duration::from_secs(s));
        if over {
            heard.extend(guard.told(listener.finish(), &mut mouth)?);
        }
        if !heard.is_empty() {
            guard.look(&mut mouth)?;
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
            if !args.keep_talk {
                listener.job.forget(&Whose::Ignored)?;
            }
            if let Some(pages) = &pages {
                pages.end(&listener.job)?;
            }
            return Ok(ExitCode::SUCCESS);
        }
    }
}

/// Says aloud and on screen when the disk fills up, and ends listening before it is full.
struct Guard<'a> {
    folder: &'a Path,
    room: Watch,
}

impl<'a> Guard<'a> {
    fn new(args: &'a Listen) -> Self {
        let folder = &args.job;
        let room = Watch::new(folder);
        Self { folder, room }
    }

    /// An error where it is full.
    fn look(&mut self, mouth: &mut Mouth) -> Result<()> {
        let room = self.room.look()?;
        if room == Room::Enough {
            return Ok(());
        }
        aloud(mouth, room.words());
        let notice = room.notice(self.folder);
        if matches!(room, Room::Full { .. }) {
            anyhow::bail!("{notice}");
        }
        eprintln!("benchcall: {notice}");
        Ok(())
    }

    /// Whatever could not be stored ends listening, and is said aloud: the person looks elsewhere.
    fn told<T>(&self, result: Result<T>, mouth: &mut Mouth) -> Result<T> {
        if result.is_err() {
            aloud(mouth, "not stored, not listening");
        }
        result
    }
}

fn aloud(mouth: &mut Mouth, words: &str) {
    if let Err(error) = mouth.say(words) {
        eprintln!("benchcall: \"{words}\" is on screen only: {error:#}");
    }
}

/// A key says what a word would have said.
fn tell(listener: &mut Listener, mouth: &mut Mouth, command: Command, args: &Listen) -> Result<()> {
    let sheet = listener.job.desk.grammar.cheat_sheet();
    let word = sheet
        .get(&Means::Command(command))
        .and_then(|(examples, _)| examples.first());
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
        match steady_microphone(args.microphone.as_deref()) {
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

/// As [`open_microphone`]; unplugged or with its sound server restarted, it is waited for.
#[cfg(feature = "mic")]
fn steady_microphone(name: Option<&str>) -> Result<Box<dyn Microphone>> {
    use crate::device::{Happening, HardwareMicrophone, Steady};
    let name = name.map(str::to_owned);
    let open = move || -> Result<Box<dyn Microphone>, crate::device::Error> {
        Ok(Box::new(HardwareMicrophone::open(name.as_deref())?))
    };
    let tell = |happening: &Happening| match happening {
        Happening::Gone(error) => eprintln!("benchcall: NOT LISTENING: {error}; waiting for it"),
        Happening::Back => eprintln!("benchcall: the microphone is back, listening"),
    };
    Ok(Box::new(Steady::new(Box::new(open), Box::new(tell))?))
}

#[cfg(not(feature = "mic"))]
fn steady_microphone(name: Option<&str>) -> Result<Box<dyn Microphone>> {
    open_microphone(name)
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
