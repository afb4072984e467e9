//! `listen`: the microphone, live, with the read-back aloud.

use super::args::Listen;
use super::faces::Terminal;
use super::inputs::until;
use super::keys::Keys;
use super::pages::{Pages, Place};
use crate::app::job::Job;
use crate::app::recogniser;
use crate::app::session_loop::SessionLoop;
use crate::app::sound_choice::SoundChoice;
use crate::app::speech::TextToSpeech;
use crate::app::terminal::aside;
use crate::understand::Listener;
use anyhow::Result;
use std::process::ExitCode;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

pub(super) fn run(args: &Listen) -> Result<ExitCode> {
    let mut sound = args.sound.open(args.phone, args.board)?;
    let job = Job::open(&args.job)?;
    let mut listener = Listener::new(recogniser::load_for(
        &job.language,
        args.sound.model.as_deref(),
        args.sound.voice.as_deref(),
    )?)
    .with_patience(args.patience);
    let voice = TextToSpeech::of(&job.language, sound.speaker.take())?;
    let half_duplex = args.sound.is_half_duplex(&sound);
    let behind = SoundChoice::kept()?.behind(args.sound.speaker.as_deref());
    let mut keys = Keys::open(args, &voice.hush())?;
    let push_to_talk = keys.as_ref().is_some_and(|k| k.push_to_talk);
    let mut pages = None;
    if args.board {
        let board = pages.insert(Pages::new(&job, &sound.source)?);
        listener.on_partial(board.on_partial());
    }
    let faces = Terminal::new(args.json).speaking(voice).showing(pages);
    let mut session = SessionLoop::new(job, Some(listener), faces)
        .half_duplex(half_duplex)
        .behind(behind)
        .push_to_talk(push_to_talk)
        .watching(&args.job);
    let job = session.job();
    if let Some(pages) = session.faces.pages() {
        let (lan, port) = (args.lan, args.port);
        let stays = false;
        pages.serve(Place { lan, port, stays }, job, sound.phone.take())?;
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
    let from_start = args.sound.recording.is_some();
    let ended = until(over, from_start, &mut session, &mut sound, &mut keys);
    session.end(ended.as_ref().err()); // the board too says that nobody listens
    session.faces.end();
    ended?;
    session.close(args.keep_talk)?;
    Ok(ExitCode::SUCCESS)
}
