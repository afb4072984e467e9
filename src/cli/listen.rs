//! `listen`: the microphone, live, with the read-back aloud.

use super::args::Listen;
use super::faces::Terminal;
use super::keys::{Keys, Press};
use super::pages::{Pages, Place};
use crate::app::job::Job;
use crate::app::recogniser;
use crate::app::session_loop::{Input, SessionLoop};
use crate::app::sound::{Loudspeaker, Sound, Wanted};
use crate::app::speech::TextToSpeech;
use crate::app::terminal::aside;
use crate::grammar::Command;
use crate::understand::Listener;
use anyhow::Result;
use std::process::ExitCode;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

pub(super) fn run(args: &Listen) -> Result<ExitCode> {
    let wanted = match &args.recording {
        Some(path) => Wanted::Recording(path),
        None if args.phone => Wanted::Page,
        None => Wanted::Microphone {
            name: args.microphone.as_deref(),
            or_page: args.board && args.speaker.is_none(),
        },
    };
    let loudspeaker = if args.silent {
        Loudspeaker::None
    } else {
        Loudspeaker::Here(args.speaker.as_deref())
    };
    let mut sound = Sound::open(&wanted, loudspeaker)?;
    let job = Job::open(&args.job)?;
    let mut listener = Listener::new(recogniser::load(&job.language, args.model.as_deref())?)
        .with_patience(args.patience);
    let voice = TextToSpeech::of(&job.language, sound.speaker.take())?;
    let half_duplex = sound.echoes && !args.headset && !args.silent;
    let mut keys = Keys::open(args)?;
    let push_to_talk = keys.as_ref().is_some_and(|k| k.push_to_talk);
    let mut pages = None;
    if args.board {
        let board = pages.insert(Pages::new(&job, &sound.source)?);
        listener.on_partial(board.on_partial());
    }
    let faces = Terminal::new(args.json).speaking(voice).showing(pages);
    let mut session = SessionLoop::new(job, Some(listener), faces)
        .half_duplex(half_duplex)
        .push_to_talk(push_to_talk)
        .watching(&args.job);
    let job = session.job();
    if let Some(pages) = session.faces.pages() {
        let (lan, port) = (args.lan, args.port);
        pages.serve(Place { lan, port }, job, sound.phone.take())?;
    }
    aside(&format!(
        "Listening to {}. Say \"stand by\" to pause; Ctrl-C ends. What was read back is stored.",
        sound.source
    ));
    let stop = super::end::asked()?;
    let begun = Instant::now();
    let over = || {
        let due = |s| begun.elapsed() >= Duration::from_secs(s);
        stop.load(Ordering::Relaxed) || args.stop_after.is_some_and(due)
    };
    let from_start = args.recording.is_some();
    let ended = until(over, from_start, &mut session, &mut sound, &mut keys);
    session.end(ended.as_ref().err()); // the board too says that nobody listens
    session.faces.end();
    ended?;
    session.close(args.keep_talk)?;
    Ok(ExitCode::SUCCESS)
}

/// Takes what comes, until it is over or the sound ends. A recording is heard from its start; of a
/// microphone, what came while the recogniser was loaded is not.
pub(super) fn until(
    mut over: impl FnMut() -> bool,
    from_start: bool,
    session: &mut SessionLoop<Terminal>,
    sound: &mut Sound,
    keys: &mut Option<Keys>,
) -> Result<()> {
    session.look_at_the_disk()?;
    let mut samples = Vec::new();
    // None of what was not listened to marks a clip.
    let mut overruns = if from_start {
        0
    } else {
        sound.microphone.read(&mut samples)?.overruns_total
    };
    loop {
        samples.clear();
        let read = sound.microphone.read(&mut samples)?;
        if read.sent_away {
            session.take(Input::SentAway)?;
        }
        let lost = read.overruns_total.saturating_sub(overruns);
        overruns = overruns.max(read.overruns_total);
        let mut ends = over() || read.ended;
        for press in keys.iter_mut().flat_map(Keys::pressed) {
            match press {
                Press::Talk => session.take(Input::Talk)?,
                Press::Affirm => session.take(Input::Key(Command::Affirm))?,
                Press::Disregard => session.take(Input::Key(Command::Disregard))?,
                Press::End => ends = true,
            }
        }
        while let Some(request) = session.faces.request() {
            request.done_by(session)?;
        }
        if session.hears()
            && let Some(pages) = session.faces.pages()
        {
            pages.level(&samples);
        }
        let lost = u32::try_from(lost).unwrap_or(u32::MAX);
        let samples = &samples;
        session.take(Input::Audio { samples, lost })?;
        if ends {
            return session.take(Input::Stop);
        }
    }
}
