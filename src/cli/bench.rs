//! `bench`: one server that stays, for all jobs of a folder. It owns the microphone and the session
//! loop, so pages come and go without touching them.

use super::args_bench::Bench as Args;
use super::faces::Terminal;
use super::inputs::until;
use super::pages::{Pages, Place, address};
use crate::app::backend::JobPages;
use crate::app::bench_pages::{BenchPages, Switch};
use crate::app::bench_state::BenchNow;
use crate::app::in_words::in_words;
use crate::app::job::Job;
use crate::app::jobs::usual_folder;
use crate::app::recogniser;
use crate::app::session_loop::SessionLoop;
use crate::app::settings::way_in;
use crate::app::sound::Sound;
use crate::app::speech::TextToSpeech;
use crate::app::terminal::aside;
use crate::store::make_private_folder;
use crate::understand::Listener;
use crate::web::Live;
use anyhow::{Context, Result};
use std::net::{Ipv4Addr, TcpListener};
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;
use std::time::Duration;

/// What stays while jobs come and go.
struct Workbench<'a> {
    args: &'a Args,
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
    let mut sound = args.sound.open(args.phone, true)?;
    let live = Live::new(&serde_json::to_string(&BenchNow::STARTING)?, "null");
    let (pages, switches) = BenchPages::new(&folder);
    let place = Place {
        lan: args.lan,
        port: args.port,
        stays: true,
    };
    let phone = sound.phone.take();
    let _server = address(place, pages.clone(), Some(live.clone()), phone)?;
    aside(
        "Open the address in a browser. Ctrl-C ends, or the button on the page of jobs; what was \
         read back is stored.",
    );
    if args.open {
        open_way_in()?;
    }
    let mut bench = Workbench {
        args,
        pages,
        switches,
        live,
        sound,
        stop: super::end::asked()?,
    };
    bench.stay()?;
    Ok(ExitCode::SUCCESS)
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

    /// Opens the jobs that the pages ask for, one after the other, until the end is asked for.
    fn stay(&mut self) -> Result<()> {
        let mut next = None;
        while !self.is_over() {
            let Some(switch) = next.take() else {
                next = self.switches.recv_timeout(Duration::from_millis(100)).ok();
                // Nobody listens to what comes now. A recording waits instead.
                if self.args.sound.recording.is_none() {
                    self.sound.microphone.read(&mut Vec::new())?;
                }
                continue;
            };
            let path = match switch {
                Switch::To(path) => path,
                Switch::Off => continue,
                Switch::End => break,
            };
            let worked = self.work(&path, &mut next);
            let trouble = worked.err().map(|why| in_words(&why));
            self.pages.close(&path, trouble.unwrap_or_default());
        }
        Ok(())
    }

    /// Listens to one job until a page wants another or none.
    fn work(&mut self, path: &Path, next: &mut Option<Switch>) -> Result<()> {
        let args = self.args;
        let job = Job::open(path)?;
        let mut listener = Listener::new(recogniser::load(
            &job.language,
            args.sound.model.as_deref(),
        )?);
        let language = job.language.clone();
        let pages = Pages::on(self.live.clone(), &job, &self.sound.source)?;
        listener.on_partial(pages.on_partial());
        let voice = TextToSpeech::of(&language, self.sound.speaker.take())?;
        let half_duplex = args.sound.is_half_duplex(&self.sound);
        let faces = Terminal::new(false).speaking(voice).showing(Some(pages));
        let mut session = SessionLoop::new(job, Some(listener), faces)
            .half_duplex(half_duplex)
            .watching(path);
        let (backend, requests) = JobPages::listening(session.job());
        if let Some(pages) = session.faces.pages() {
            pages.hear(requests);
        }
        self.pages.open(path, backend);
        let (stop, switches) = (&self.stop, &self.switches);
        let over = || {
            *next = switches.try_recv().ok();
            next.is_some() || stop.load(Ordering::Relaxed)
        };
        let from_start = args.sound.recording.is_some();
        let ended = until(over, from_start, &mut session, &mut self.sound, &mut None);
        session.end(ended.as_ref().err());
        self.sound.speaker = session.close(false)?.into_speaker();
        ended
    }
}
