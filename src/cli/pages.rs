//! The server behind `listen --board` and `review`: its address on standard output, codes and later
//! addresses on standard error.

use crate::app::backend::{JobPages, PageEdit};
use crate::app::board::Board;
use crate::app::job::Job;
use crate::understand::OnPartial;
use crate::web::{Backend, Live, Options, PhoneLink, Server};
use anyhow::Result;
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex, OnceLock};
use std::time::{Duration, Instant};

/// Where to serve.
#[derive(Clone, Copy)]
pub(super) struct Place {
    pub(super) lan: bool,
    pub(super) port: u16,
}

/// Serves, and prints the address as the first line. Without `--lan` it lets in the first browser
/// that opens it.
pub(super) fn address(
    place: Place,
    backend: Arc<dyn Backend>,
    live: Option<Live>,
    phone: Option<PhoneLink>,
) -> Result<Server> {
    let url: Arc<OnceLock<String>> = Arc::default();
    let known = url.clone();
    let first: Arc<OnceLock<String>> = Arc::default();
    let early = first.clone();
    let lan = place.lan;
    let on_code = move |code: &str| match known.get() {
        Some(url) if lan => show_code(url, code),
        Some(url) => eprintln!("Another browser: open {}", link(url, code)),
        None => {
            let _ = early.set(code.to_owned());
        }
    };
    let server = Server::start(Options {
        lan: place.lan.then_some(None),
        port: place.port,
        backend,
        live,
        phone,
        on_code: Box::new(on_code),
    })?;
    let code = first.get().map_or("", String::as_str);
    if !lan {
        outln!("{}", link(&server.url(), code));
        let _ = url.set(server.url());
        return Ok(server);
    }
    outln!("{}", server.url());
    if let Some(print) = server.fingerprint() {
        eprintln!(
            "The certificate was made just now, so the browser will warn once. It is this one:\nSHA-256 {print}"
        );
    }
    let _ = url.set(server.url());
    show_code(&server.url(), code);
    Ok(server)
}

/// The address that pairs the browser which opens it. No server sees what stands behind a #.
fn link(url: &str, code: &str) -> String {
    format!("{url}pair#{code}")
}

fn show_code(url: &str, code: &str) {
    if let Ok(picture) = QrCode::new(link(url, code)) {
        let picture = picture.render::<Dense1x2>().quiet_zone(true).build();
        eprintln!("{picture}");
    }
    let (a, b) = code.split_at(code.len() / 2);
    eprintln!("Pair one device: open {url}pair and type {a} {b} (or scan). The code works once.");
}

/// The pages of a job that is being listened to.
pub(super) struct Pages {
    live: Live,
    board: Board,
    server: Option<Server>,
    edits: Option<Receiver<PageEdit>>,
    shown: Instant,
    spoken: Instant,
    floor_dbfs: f32,
}

impl Pages {
    pub(super) fn new(job: &Job, source: &str) -> Result<Self> {
        let board = Board::new(source);
        let live = Live::new(&board.json(job, None)?);
        Ok(Self {
            live,
            board,
            server: None,
            edits: None,
            shown: Instant::now(),
            spoken: Instant::now(),
            floor_dbfs: 0.0,
        })
    }

    /// Serves them from now on.
    pub(super) fn serve(
        &mut self,
        place: Place,
        job: Arc<Mutex<Job>>,
        phone: Option<PhoneLink>,
    ) -> Result<()> {
        let (backend, edits) = JobPages::listening(job);
        let live = Some(self.live.clone());
        self.server = Some(address(place, Arc::new(backend), live, phone)?);
        self.edits = Some(edits);
        Ok(())
    }

    /// The next edit that a page asks for.
    pub(super) fn edit(&self) -> Option<PageEdit> {
        self.edits.as_ref()?.try_recv().ok()
    }

    /// Shows the job as it is now.
    pub(super) fn show(&self, job: &Job) -> Result<()> {
        self.live.board(&self.board.json(job, None)?);
        Ok(())
    }

    /// Shows the words while they are being heard.
    pub(super) fn on_partial(&self) -> OnPartial {
        let live = self.live.clone();
        Box::new(move |text| live.on_partial(text))
    }

    /// Shows that nobody listens any more.
    pub(super) fn end(&self, job: &Job) -> Result<()> {
        self.live.board(&self.board.json(job, Some("ended"))?);
        std::thread::sleep(Duration::from_millis(300)); // for the pages to hear of it
        Ok(())
    }

    /// Shows how loud the microphone is.
    pub(super) fn level(&mut self, samples: &[f32]) {
        if samples.is_empty() || self.shown.elapsed() < Duration::from_millis(80) {
            return;
        }
        self.shown = Instant::now();
        let dbfs = crate::audio::rms_dbfs(samples);
        // The floor follows quiet at once and loudness slowly.
        self.floor_dbfs = dbfs.min(self.floor_dbfs + 0.1);
        let heard = dbfs > self.floor_dbfs + 10.0 && dbfs > -60.0;
        if heard {
            self.spoken = Instant::now();
        } else if self.spoken.elapsed() > Duration::from_secs(2) {
            self.live.on_partial(""); // it was no utterance after all
        }
        self.live.level(dbfs, heard);
    }
}
