//! The server on the local network, beside the one of this machine: a page of this machine opens it for
//! phones and tablets, and shuts it.

use super::in_words::in_words;
use super::settings;
use crate::web::{self, Backend, Device, Devices, Fault, Live, Options, PhonePort, Server};
use anyhow::Result;
use qrcode::{Color, QrCode};
use serde::Serialize;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// What the page shows.
#[derive(Serialize, Default)]
struct Shown {
    open: bool,
    /// A device on the network is microphone and loudspeaker.
    microphone: bool,
    url: String,
    /// What lets one device in, to be typed …
    code: String,
    /// … or to be scanned: rows of a picture, a 1 for each dark part.
    picture: Vec<String>,
    /// The fingerprint of what a phone can be told to trust; empty for a certificate of one's own.
    words: String,
    devices: Vec<(u64, String)>,
}

struct Open {
    server: Server,
    microphone: bool,
}

/// The server, if it is open.
pub(crate) struct Network {
    open: Mutex<Option<Open>>,
    live: Live,
}

impl Network {
    /// Shut; what it will show as it changes.
    pub(crate) fn new(live: Live) -> Self {
        let open = Mutex::default();
        Self { open, live }
    }

    fn lock(&self) -> MutexGuard<'_, Option<Open>> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// How long none of its devices has asked for anything; `None` while it is shut.
    pub(crate) fn unused(&self) -> Option<Duration> {
        self.lock().as_ref().map(|open| open.server.unused())
    }

    /// Opens it for that backend; gives the sound of the device that joins, if that is wanted.
    ///
    /// # Errors
    /// No network, no certificate.
    pub(crate) fn open(
        &self,
        backend: Arc<dyn Backend>,
        microphone: bool,
    ) -> Result<Option<PhonePort>, Fault> {
        self.shut();
        let (link, port) = microphone.then(web::link).unzip();
        let server = Server::start(Options {
            lan: Some(None),
            port: 0,
            kept: settings::kept(),
            backend,
            live: Some(self.live.clone()),
            phone: link,
            // The page asks for the codes.
            on_code: Box::new(|_| {}),
        });
        let server = server.map_err(refused)?;
        *self.lock() = Some(Open { server, microphone });
        Ok(port)
    }

    /// Shuts it; whether a device was the microphone.
    pub(crate) fn shut(&self) -> bool {
        let open = self.lock().take();
        open.is_some_and(|open| open.microphone)
    }

    /// Sends a device away, whichever server let it in.
    ///
    /// # Errors
    /// The settings folder.
    pub(crate) fn send_away(id: u64) -> Result<(), Fault> {
        let Some(kept) = settings::kept() else {
            return Ok(());
        };
        let mut devices = Devices::kept_in(kept).map_err(refused)?;
        devices.remove(id).map_err(refused)?;
        Ok(())
    }

    /// Keeps a certificate of this person's own, which is shown when it is opened the next time.
    ///
    /// # Errors
    /// It cannot be used; the settings folder.
    pub(crate) fn certify(chain: &str, key: &str) -> Result<(), Fault> {
        let kept = settings::kept().ok_or_else(|| {
            Fault::Refused("there is no settings folder in which to keep it".to_owned())
        })?;
        web::keep_certificate(kept.as_ref(), chain, key).map_err(refused)
    }

    /// As it is now, as JSON.
    ///
    /// # Errors
    /// The list of devices.
    pub(crate) fn json(&self) -> Result<String> {
        let kept = settings::kept();
        let devices = kept.map(Devices::kept_in).transpose()?;
        let devices = devices.map(|mut d| d.all()).unwrap_or_default();
        let named = |d: &Device| (d.id, d.name.clone());
        let mut shown = Shown {
            devices: devices.iter().map(named).collect(),
            ..Shown::default()
        };
        if let Some(open) = self.lock().as_ref() {
            let (url, codes) = (open.server.url(), open.server.codes()?);
            shown.picture = picture(&web::way_in(&url, &codes.linked))?;
            shown.code = codes.typed.unwrap_or_default();
            shown.words = open.server.root_in_words().unwrap_or_default();
            (shown.open, shown.microphone, shown.url) = (true, open.microphone, url);
        }
        Ok(serde_json::to_string(&shown)?)
    }
}

fn picture(link: &str) -> Result<Vec<String>> {
    let code = QrCode::new(link)?;
    let rows = code.to_colors();
    let sign = |c: &Color| if *c == Color::Dark { '1' } else { '0' };
    Ok(rows
        .chunks(code.width())
        .map(|row| row.iter().map(sign).collect())
        .collect())
}

fn refused(error: web::Error) -> Fault {
    Fault::Refused(in_words(&error.into()))
}
