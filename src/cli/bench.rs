//! `bench`: one server that stays, for all jobs of a folder. It owns the microphone and the session
//! loop, so pages come and go without touching them.

use super::args_bench::Bench as Args;
use super::args_sound::SoundArgs;
use super::faces::Terminal;
use super::inputs::until;
use super::pages::{Pages, Place, address};
use crate::app::backend::JobPages;
use crate::app::bench_pages::{BenchPages, Switch};
use crate::app::bench_state::BenchNow;
use crate::app::in_words::in_words;
use crate::app::job::Job;
use crate::app::jobs::usual_folder;
use crate::app::loudspeaker_delay::{Delay, measure};
use crate::app::network::Network;
use crate::app::recogniser;
use crate::app::session_loop::SessionLoop;
use crate::app::settings::way_in;
use crate::app::sound::Sound;
use crate::app::sound_check::{SoundCheck, SoundNow};
use crate::app::sound_choice::SoundChoice;
use crate::app::speech::TextToSpeech;
use crate::app::terminal::{aside, tell};
use crate::store::make_private_folder;
use crate::understand::Listener;
use crate::web::{Live, Server};
use anyhow::{Context, Result};
use std::net::{Ipv4Addr, TcpListener};
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;
use std::time::Duration;

/// A bench that was opened by its icon ends if nobody has used it for so long: longer than a break.
const UNUSED_S: u64 = 30 * 60;

/// What stays while jobs come and go.
struct Workbench<'a> {
    args: &'a Args,
    /// As asked for at the start, and changed since.
    wanted: SoundArgs,
    /// The same as it is kept for the next time.
    choice: SoundChoice,
    sound_now: SoundNow,
    server: Server,
    pages: Arc<BenchPages>,
    switches: Receiver<Switch>,
    live: Live,
    sound: Sound,
    stop: Arc<AtomicBool>,
}

pub(super) fn run(args: &Args) -> Result<ExitCode> {
    let folder = args.folder.clone().map_or_else(usual_folder, Ok)?;
    make_private_folder(&folder).with_context(|| format!("cannot make {}", folder.display()))?;
    if args.open && is_served(args.port) {
        open_way_in()?;
        aside("The bench runs already.");
        return Ok(ExitCode::SUCCESS);
    }
    let (wanted, choice, mut sound) = open_sound(args)?;
    let live = Live::new(&serde_json::to_string(&BenchNow::STARTING)?, "null");
    let sound_now = SoundNow::new();
    sound_now.is_of(&sound.source, &choice);
    let network = (!args.lan).then(|| Network::new(live.clone()));
    let (pages, switches) = BenchPages::new(&folder, &sound_now, network);
    let place = Place {
        lan: args.lan,
        port: args.port,
        stays: true,
    };
    let phone = sound.phone.take();
    let server = address(place, pages.clone(), Some(live.clone()), phone)?;
    aside(
        "Open the address in a browser. Ctrl-C ends, or the button on the page of jobs; what was \
         read back is stored.",
    );
    if args.open {
        open_way_in()?;
    }
    let mut bench = Workbench {
        args,
        wanted,
        choice,
        sound_now,
        server,
        pages,
        switches,
        live,
        sound,
        stop: super::end::asked()?,
    };
    let stayed = bench.stay();
    bench.pages.network().map(Network::shut);
    stayed?;
    // Whoever switched it off is answered.
    Pages::end();
    Ok(ExitCode::SUCCESS)
}

/// What was asked for; else what was chosen the last time, if that is there today.
fn open_sound(args: &Args) -> Result<(SoundArgs, SoundChoice, Sound)> {
    let told = |why: &anyhow::Error| {
        tell(&format!(
            "not the sound that was chosen the last time, but the default: {}",
            in_words(why)
        ));
    };
    let chosen = SoundChoice::kept().unwrap_or_else(|why| {
        told(&why.into());
        SoundChoice::default()
    });
    let asked = &SoundArgs {
        headset: args.sound.headset || chosen.headset,
        ..args.sound.clone()
    };
    let here = !args.phone && asked.recording.is_none();
    let is_free = here && asked.microphone.is_none() && asked.speaker.is_none() && !asked.silent;
    if is_free {
        let wanted = SoundArgs {
            microphone: chosen.microphone.clone(),
            speaker: chosen.speaker.clone(),
            ..asked.clone()
        };
        match wanted.open(false, true) {
            Ok(sound) => return Ok((wanted, chosen, sound)),
            Err(why) => told(&why),
        }
    }
    let choice = SoundChoice {
        microphone: asked.microphone.clone(),
        speaker: asked.speaker.clone(),
        headset: asked.headset,
        ..chosen
    };
    Ok((asked.clone(), choice, asked.open(args.phone, true)?))
}

/// Whether a bench of this person has the port.
fn is_served(port: u16) -> bool {
    let page = way_in().and_then(|path| std::fs::read_to_string(path).ok());
    let known = page.is_some_and(|page| page.contains(&format!(":{port}/pair#")));
    known && TcpListener::bind((Ipv4Addr::LOCALHOST, port)).is_err()
}

/// Shows the bench in the browser of this person.
fn open_way_in() -> Result<()> {
    let path = way_in().context("there is no settings folder, so open the address yourself")?;
    let shown = || format!("cannot open a browser: open {} yourself", path.display());
    open::that_detached(&path).with_context(shown)
}

impl Workbench<'_> {
    fn is_over(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// Whether nobody needs the bench: it is asked while no job is open.
    fn is_unused(&self) -> bool {
        let by_icon = self.args.open.then_some(UNUSED_S);
        let after = self.args.stop_unused.or(by_icon);
        let there = self.pages.network().and_then(Network::unused);
        let unused = there.map_or(self.server.unused(), |t| t.min(self.server.unused()));
        after.is_some_and(|s| unused >= Duration::from_secs(s))
    }

    /// Opens the jobs that the pages ask for, one after the other, until the end is asked for.
    fn stay(&mut self) -> Result<()> {
        let mut next = None;
        // The job that goes on once another microphone is there.
        let mut goes_on = None;
        while !self.is_over() {
            let Some(switch) = next.take() else {
                if self.is_unused() {
                    aside("No page was in use any more, and no job was open: the bench ends.");
                    break;
                }
                next = self.switches.recv_timeout(Duration::from_millis(100)).ok();
                // Nobody listens to what comes now. A recording waits instead.
                if self.args.sound.recording.is_none() {
                    self.sound.microphone.read(&mut Vec::new())?;
                }
                continue;
            };
            match switch {
                Switch::Off => {}
                Switch::End => break,
                Switch::To(path) => {
                    let worked = self.work(&path, &mut next);
                    let trouble = worked.err().map(|why| in_words(&why));
                    self.pages.close(&path, trouble.unwrap_or_default());
                    let changes = next.as_ref().is_some_and(Switch::is_of_sound);
                    goes_on = changes.then_some(path);
                    goes_on.iter().for_each(|job| self.pages.reopens(job));
                }
                Switch::Check => {
                    if let Err(why) = self.check(&mut next) {
                        self.sound_now.trouble(&why);
                    }
                }
                Switch::Microphone(name) => {
                    let microphone = name;
                    self.change(|wanted| SoundArgs {
                        microphone,
                        ..wanted
                    });
                    next = goes_on.take().map(Switch::To);
                }
                Switch::Device(port) => {
                    self.opened(Ok(self.wanted.of_device(port)));
                    next = goes_on.take().map(Switch::To);
                }
                Switch::Here => {
                    self.change(|wanted| wanted);
                    next = goes_on.take().map(Switch::To);
                }
                Switch::Headset(on) => {
                    self.wanted.headset = on;
                    self.keep();
                    next = goes_on.take().map(Switch::To);
                }
                Switch::PushToTalk(on) => {
                    self.choice.push_to_talk = on;
                    self.keep();
                    next = goes_on.take().map(Switch::To);
                }
                Switch::Delay => {
                    let says = self.measure().unwrap_or_else(|why| in_words(&why));
                    self.keep();
                    self.sound_now.delays(&says);
                    next = goes_on.take().map(Switch::To);
                }
                Switch::Speaker(name) => {
                    let speaker = name;
                    self.change(|wanted| SoundArgs { speaker, ..wanted });
                    next = goes_on.take().map(Switch::To);
                }
            }
        }
        Ok(())
    }

    /// Opens other sound; what there was stays if that fails.
    fn change(&mut self, to: impl FnOnce(SoundArgs) -> SoundArgs) {
        let wanted = to(self.wanted.clone());
        let sound = match &wanted.recording {
            Some(_) => Err(anyhow::anyhow!(
                "a recording is played in the place of the microphone: start without --recording"
            )),
            None => wanted.open(false, false),
        };
        if sound.is_ok() {
            self.wanted = wanted;
        }
        let keeps = sound.is_ok();
        self.opened(sound);
        if keeps {
            self.keep();
        }
    }

    /// Keeps what is wanted now for the next time, and shows it.
    fn keep(&mut self) {
        self.choice = SoundChoice {
            microphone: self.wanted.microphone.clone(),
            speaker: self.wanted.speaker.clone(),
            headset: self.wanted.headset,
            ..std::mem::take(&mut self.choice)
        };
        self.sound_now.is_of(&self.sound.source, &self.choice);
        self.sound_now.ended();
        if let Err(why) = self.choice.keep() {
            self.sound_now.trouble(&why.into());
        }
    }

    /// Measures how far the loudspeaker is behind; what is told of it.
    fn measure(&mut self) -> Result<String> {
        let speaker = self.sound.speaker.as_deref_mut();
        let speaker =
            speaker.context("nothing is read back aloud here: there is no loudspeaker")?;
        let found = measure(self.sound.microphone.as_mut(), speaker)?;
        if let Some(Delay { behind_ms, .. }) = found {
            let name = self.wanted.speaker.as_deref();
            self.choice.is_behind(name, behind_ms);
        }
        Ok(Delay::in_words(found))
    }

    /// Goes on with that sound, or says why there is none.
    fn opened(&mut self, sound: Result<Sound>) {
        match sound {
            Ok(sound) => {
                self.sound = sound;
                self.sound_now.is_of(&self.sound.source, &self.choice);
            }
            Err(why) => self.sound_now.trouble(&why),
        }
        self.sound_now.ended();
    }

    /// Listens for the page of the sound check until it asks no more, or for something else.
    fn check(&mut self, next: &mut Option<Switch>) -> Result<()> {
        let mut check = SoundCheck::new(&self.sound_now, self.wanted.model.as_deref())?;
        let mut samples = Vec::new();
        if self.wanted.recording.is_none() {
            self.sound.microphone.read(&mut samples)?; // what came meanwhile
        }
        while self.sound_now.is_asked() && !self.is_over() {
            *next = self.asked();
            if next.is_some() {
                break;
            }
            samples.clear();
            let read = self.sound.microphone.read(&mut samples)?;
            check.take(&samples, self.sound.microphone.native_rate_hz())?;
            if read.ended {
                return Ok(()); // a recording, which does not begin again
            }
        }
        self.sound_now.ended();
        Ok(())
    }

    /// What a page asks for. While something listens, that of the sound check is none.
    fn asked(&self) -> Option<Switch> {
        let switch = self.switches.try_recv().ok();
        switch.filter(|s| !matches!(s, Switch::Check))
    }

    /// Listens to one job until a page wants another or none.
    fn work(&mut self, path: &Path, next: &mut Option<Switch>) -> Result<()> {
        let args = self.args;
        let job = Job::open(path)?;
        let mut listener = Listener::new(recogniser::load_for(
            &job.language,
            args.sound.model.as_deref(),
            args.sound.voice.as_deref(),
        )?);
        let language = job.language.clone();
        let pages = Pages::on(self.live.clone(), &job, &self.sound.source)?;
        listener.on_partial(pages.on_partial());
        let voice = TextToSpeech::of(&language, self.sound.speaker.take())?;
        let half_duplex = self.wanted.is_half_duplex(&self.sound);
        let faces = Terminal::new(false).speaking(voice).showing(Some(pages));
        let mut session = SessionLoop::new(job, Some(listener), faces)
            .half_duplex(half_duplex)
            .behind(self.choice.behind(self.wanted.speaker.as_deref()))
            .push_to_talk(self.choice.push_to_talk)
            .watching(path);
        let (backend, requests) = JobPages::listening(session.job());
        if let Some(pages) = session.faces.pages() {
            pages.hear(requests);
        }
        self.pages.open(path, backend);
        let (stop, switches) = (&self.stop, &self.switches);
        let over = || {
            let switch = switches.try_recv().ok();
            *next = switch.filter(|s| !matches!(s, Switch::Check));
            next.is_some() || stop.load(Ordering::Relaxed)
        };
        let from_start = args.sound.recording.is_some();
        let ended = until(over, from_start, &mut session, &mut self.sound, &mut None);
        session.end(ended.as_ref().err());
        self.sound.speaker = session.close(false)?.into_speaker();
        ended
    }
}
