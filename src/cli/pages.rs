//! The server behind `listen --board` and `review`: its address on standard output, codes and later
//! addresses on standard error.

use crate::app::backend::{JobPages, PageRequest};
use crate::app::bench_state::BenchNow;
use crate::app::board::Board;
use crate::app::job::Job;
use crate::app::settings;
use crate::app::terminal::{aside, tell};
use crate::understand::OnPartial;
use crate::web::{Backend, Codes, Live, Options, PhoneLink, Server, way_in};
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
    /// A second start opens this one.
    pub(super) stays: bool,
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
    let first: Arc<OnceLock<Codes>> = Arc::default();
    let early = first.clone();
    let on_code = move |codes: &Codes| match known.get() {
        Some(url) => {
            keep_way_in(place, url, codes);
            show_codes(url, codes);
        }
        None => {
            let _ = early.set(codes.clone());
        }
    };
    let server = Server::start(Options {
        lan: place.lan.then_some(None),
        port: place.port,
        kept: settings::kept(),
        backend,
        live,
        phone,
        on_code: Box::new(on_code),
    })?;
    let at = server.url();
    let _ = url.set(at.clone());
    let codes = first.get();
    let linked = codes.map_or("", |codes| &codes.linked);
    codes
        .into_iter()
        .for_each(|codes| keep_way_in(place, &at, codes));
    if !place.lan {
        outln!("{}", way_in(&at, linked));
        return Ok(server);
    }
    outln!("{at}");
    if let Some(print) = server.fingerprint() {
        let made = if server.has_new_certificate() {
            "The certificate was made just now, so the browser will warn once."
        } else {
            "The certificate is the one of the last time."
        };
        aside(&format!("{made} It is this one:\nSHA-256 {print}"));
        if let Some(words) = server.root_in_words() {
            aside(&format!(
                "A phone can trust it for good: open {at}certificate, which must show these words:\n{words}"
            ));
        }
    }
    codes.into_iter().for_each(|codes| show_codes(&at, codes));
    Ok(server)
}

fn keep_way_in(place: Place, url: &str, codes: &Codes) {
    if !place.stays {
        return;
    }
    if let Err(why) = settings::keep_way_in(&way_in(url, &codes.linked)) {
        tell(&format!("a second start cannot open this bench: {why}"));
    }
}

fn show_codes(url: &str, codes: &Codes) {
    let link = way_in(url, &codes.linked);
    let Some(typed) = &codes.typed else {
        return aside(&format!("Another browser: open {link}"));
    };
    if let Ok(picture) = QrCode::new(&link) {
        let picture = picture.render::<Dense1x2>().quiet_zone(true).build();
        aside(&picture);
    }
    let (a, b) = typed.split_at(typed.len() / 2);
    aside(&format!(
        "Pair one device: open {url}pair and type {a} {b} (or scan). The code works once."
    ));
    aside(&format!("A browser of this machine: open {link}"));
}

/// The pages of a job that is being listened to.
pub(super) struct Pages {
    live: Live,
    board: Board,
    server: Option<Server>,
    requests: Option<Receiver<PageRequest>>,
    shown: Instant,
    spoken: Instant,
    floor_dbfs: f32,
}

impl Pages {
    pub(super) fn new(job: &Job, source: &str) -> Result<Self> {
        let state = serde_json::to_string(&BenchNow::STARTING)?;
        Self::on(Live::new(&state, "null"), job, source)
    }

    /// On a server that is there.
    pub(super) fn on(live: Live, job: &Job, source: &str) -> Result<Self> {
        let board = Board::new(source);
        live.state(&serde_json::to_string(&BenchNow::STARTING)?);
        live.board(&board.json(job)?);
        Ok(Self {
            live,
            board,
            server: None,
            requests: None,
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
        let (backend, requests) = JobPages::listening(job);
        let live = Some(self.live.clone());
        self.server = Some(address(place, Arc::new(backend), live, phone)?);
        self.requests = Some(requests);
        Ok(())
    }

    /// Takes what the pages of a server ask for that is there.
    pub(super) fn hear(&mut self, requests: Receiver<PageRequest>) {
        self.requests = Some(requests);
    }

    /// What a page asks for next.
    pub(super) fn request(&self) -> Option<PageRequest> {
        self.requests.as_ref()?.try_recv().ok()
    }

    /// Shows the job as it is now.
    pub(super) fn show(&self, job: &Job) -> Result<()> {
        self.live.board(&self.board.json(job)?);
        Ok(())
    }

    /// Shows the words while they are being heard.
    pub(super) fn on_partial(&self) -> OnPartial {
        let live = self.live.clone();
        Box::new(move |text| live.on_partial(text))
    }

    /// Shows what the bench does.
    pub(super) fn state(&self, now: &BenchNow) {
        // A state is words alone, so it can always be written.
        self.live
            .state(&serde_json::to_string(now).unwrap_or_default());
    }

    /// Gives the pages time to hear of the end.
    pub(super) fn end() {
        std::thread::sleep(Duration::from_millis(300));
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
            self.live.on_partial(""); // it was not an utterance after all
        }
        self.live.level(dbfs, heard);
    }
}
