//! What all answers share: the backend, the paired devices, and how a refusal is said.

use super::{Backend, Live, Pairing, PhoneLink};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

/// What all answers share.
pub(super) struct Shared {
    pub(super) backend: Arc<dyn Backend>,
    pub(super) live: Option<Live>,
    pub(super) phone: Option<PhoneLink>,
    pub(super) scheme: &'static str,
    pub(super) hosts: Vec<String>,
    pub(super) pairing: Mutex<Pairing>,
    /// The name of the cookie of a paired device, and its attributes.
    pub(super) cookie: (String, &'static str),
    pub(super) on_code: Box<dyn Fn(&str) + Send + Sync>,
}

impl Shared {
    pub(super) fn door(&self) -> MutexGuard<'_, Pairing> {
        self.pairing.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// On the local network, and so over TLS; else on this machine alone.
    pub(super) fn is_on_lan(&self) -> bool {
        self.scheme == "https"
    }

    /// The paired device that asks.
    pub(super) fn device(&self, headers: &HeaderMap) -> Option<u64> {
        self.door().holds(token(headers, &self.cookie.0)?)
    }

    /// Shows the code that is good now.
    pub(super) fn show_code(&self) {
        let code = self.door().code(Instant::now()).map(str::to_owned);
        if let Ok(code) = code {
            (self.on_code)(&code);
        }
    }
}

/// A refusal: its status, and why in one line of text.
pub(super) fn no(status: StatusCode, why: &str) -> Response {
    let kind = [(header::CONTENT_TYPE, "text/plain; charset=utf-8")];
    (status, kind, why.to_owned()).into_response()
}

/// The token in the cookie of that name, if there is one.
fn token<'a>(headers: &'a HeaderMap, cookie: &str) -> Option<&'a str> {
    let all = headers.get_all(header::COOKIE).iter();
    let pairs = all
        .filter_map(|v| v.to_str().ok())
        .flat_map(|v| v.split(';'));
    pairs
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == cookie)
        .map(|(_, value)| value)
}
