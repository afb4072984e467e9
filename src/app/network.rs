//! The server on the local network, beside the one of this machine: a page of this machine opens it for
//! phones and tablets, and shuts it.

use super::in_words::in_words;
use super::settings;
use crate::web::{
    self, Backend, CertificateNow, Device, Devices, Fault, Live, Options, PhonePort, Server,
};
use anyhow::Result;
use jiff::Timestamp;
use jiff::tz::TimeZone;
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
    /// The certificate is this person's own.
    own: bool,
    /// How long the certificate is good; empty if there is none yet.
    until: String,
    /// Why something must be done about it soon; empty if nothing must.
    ends: String,
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

    /// Stops showing that certificate.
    ///
    /// # Errors
    /// There is none; the settings folder.
    pub(crate) fn uncertify() -> Result<(), Fault> {
        let none = || Fault::Refused("there is no certificate of your own".to_owned());
        let kept = settings::kept().ok_or_else(none)?;
        let there = web::forget_certificate(kept.as_ref()).map_err(refused)?;
        there.then_some(()).ok_or_else(none)
    }

    /// Forgets the bench's own certificate and its root: both are made anew when it is opened the next time.
    ///
    /// # Errors
    /// The settings folder.
    pub(crate) fn renew() -> Result<(), Fault> {
        let kept = settings::kept();
        kept.map_or(Ok(()), |kept| web::renew_certificate(kept.as_ref()))
            .map_err(refused)
    }

    /// As it is now, as JSON.
    ///
    /// # Errors
    /// The list of devices.
    pub(crate) fn json(&self) -> Result<String> {
        let kept = settings::kept();
        let certificate = kept.as_deref().map(web::certificate_now);
        let devices = kept.map(Devices::kept_in).transpose()?;
        let devices = devices.map(|mut d| d.all()).unwrap_or_default();
        let named = |d: &Device| (d.id, d.name.clone());
        let mut shown = Shown {
            devices: devices.iter().map(named).collect(),
            ..Shown::default()
        };
        match certificate {
            Some(Ok(Some(now))) => {
                shown.own = now.own;
                shown.until = in_words_of_its_end(&now);
                shown.ends = warning(&now, super::now_ms());
            }
            // Only one that a person put there can be wrong, and the page can take it away.
            Some(Err(why)) => (shown.own, shown.ends) = (true, why.to_string()),
            Some(Ok(None)) | None => {}
        }
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

/// Until when a certificate is good, and what becomes of it then.
pub(crate) fn in_words_of_its_end(now: &CertificateNow) -> String {
    let day = day(now.until_ms);
    match now.own {
        true => format!("your own, good until {day}"),
        false => {
            format!(
                "made by the bench, good until {day}; the bench replaces it by itself before that"
            )
        }
    }
}

/// What must be done about a certificate that ends; empty if nothing must.
pub(crate) fn warning(now: &CertificateNow, now_ms: i64) -> String {
    let day = day(now.until_ms);
    match (now.ends_soon, now.own) {
        (false, _) => String::new(),
        (true, true) if now.until_ms < now_ms => format!(
            "Your certificate ended on {day}, so browsers refuse the bench. Give a new one, or stop using it."
        ),
        (true, true) => {
            format!("Your certificate ends on {day}. Give a new one before that, or stop using it.")
        }
        (true, false) => format!(
            "The certificate ends on {day}. Shut the network and open it again: that makes a new one."
        ),
    }
}

/// A day in the zone of this machine.
pub(crate) fn day(ms: i64) -> String {
    let at = Timestamp::from_millisecond(ms).unwrap_or_default();
    TimeZone::system().to_datetime(at).date().to_string()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_end_that_is_near_says_what_to_do() {
        let until_ms = 1_900_000_000_000; // 2030-03-17
        let said = |own, ends_soon, now_ms| {
            let now = CertificateNow {
                own,
                until_ms,
                ends_soon,
            };
            warning(&now, now_ms)
        };
        assert_eq!(said(true, false, 0), "");
        assert!(said(true, true, 0).contains("ends on 2030-03-1"));
        assert!(said(true, true, until_ms + 1).contains("ended on 2030-03-1"));
        assert!(said(false, true, 0).contains("open it again"));
    }
}
