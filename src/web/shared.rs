//! What all answers share: who is paired, what is served, and how an answer refuses.

use super::connections::Connections;
use super::devices::{Holder, LIFE_S};
use super::pair::{Codes, Pairing};
use super::tickets::Tickets;
use super::tls::Certificate;
use super::{Backend, Live, PhoneLink};
use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{FromRequest, Request};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::de::DeserializeOwned;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

/// Largest body that anybody may send.
pub(super) const BODY: usize = 16 * 1024;
/// The same for the boxes of an engine, of which there are some hundred.
pub(super) const ENGINE_BODY: usize = 64 * 1024;
/// The same for a job that was saved with its sounds: some 150 kB an utterance.
pub(super) const SAVED_BODY: usize = 512 * 1024 * 1024;
/// The same for the weights of a recogniser: the largest of Whisper, quantised, has some 1.6 GB.
pub(super) const WEIGHTS_BODY: usize = 2 * 1024 * 1024 * 1024;

/// One server's.
pub(super) struct Shared {
    pub(super) backend: Arc<dyn Backend>,
    pub(super) live: Option<Live>,
    pub(super) phone: Option<PhoneLink>,
    pub(super) scheme: &'static str,
    pub(super) hosts: Vec<String>,
    pub(super) pairing: Mutex<Pairing>,
    pub(super) tickets: Mutex<Tickets>,
    pub(super) connections: Arc<Connections>,
    /// Only one clip is read and checked at a time: the recogniser works beside it.
    pub(super) clips: tokio::sync::Semaphore,
    pub(super) port: u16,
    /// What it shows on the local network.
    pub(super) certificate: Option<Certificate>,
    /// When a paired device asked for something last.
    pub(super) used: Arc<Mutex<Instant>>,
    pub(super) on_code: Box<dyn Fn(&Codes) + Send + Sync>,
}

impl Shared {
    pub(super) fn pairing(&self) -> MutexGuard<'_, Pairing> {
        self.pairing.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn tickets(&self) -> MutexGuard<'_, Tickets> {
        self.tickets.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// On the local network, and so over TLS; else on this machine alone.
    pub(super) fn is_on_lan(&self) -> bool {
        self.scheme == "https"
    }

    /// The address of the first page.
    pub(super) fn url(&self) -> String {
        let host = self.hosts.first().map_or("", String::as_str);
        format!("{}://{host}/", self.scheme)
    }

    /// A paired device asks for something.
    pub(super) fn is_used(&self) {
        *self.used.lock().unwrap_or_else(PoisonError::into_inner) = Instant::now();
    }

    /// The name of the cookie of a paired device. Cookies know no ports: without one in the name, two
    /// benches of one machine would take each other's. `__Host-` makes browsers demand `Secure` and
    /// this very host; without TLS not every browser keeps a cookie that is `Secure`.
    fn cookie(&self) -> String {
        let host = if self.is_on_lan() { "__Host-" } else { "" };
        format!("{host}benchcall-{}", self.port)
    }

    /// The line that makes a browser keep a token.
    pub(super) fn set_cookie(&self, token: &str) -> String {
        let secure = if self.is_on_lan() { "; Secure" } else { "" };
        let name = self.cookie();
        format!("{name}={token}; Path=/; HttpOnly; SameSite=Strict; Max-Age={LIFE_S}{secure}")
    }

    /// The paired device whose token is in the cookie.
    pub(super) fn holder(&self, headers: &HeaderMap, key: Option<&str>) -> Option<Holder> {
        let cookie = self.cookie();
        self.pairing().devices.holder(token(headers, &cookie)?, key)
    }

    /// Whoever was sent away meanwhile, by this server or another program, loses its connections.
    pub(super) fn keep_only_paired(&self) {
        let paired = self.pairing().devices.all();
        self.connections
            .keep(|id| paired.iter().any(|d| d.id == id));
    }

    /// Shows the codes that are good now.
    pub(super) fn show_codes(&self) {
        let codes = self.pairing().codes(Instant::now()).cloned();
        if let Ok(codes) = codes {
            (self.on_code)(&codes);
        }
    }
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

pub(super) fn no(status: StatusCode, why: &str) -> Response {
    let kind = [(header::CONTENT_TYPE, "text/plain; charset=utf-8")];
    (status, kind, why.to_owned()).into_response()
}

/// What was sent as JSON, if it arrived whole; what is called otherwise gets no further.
///
/// Every POST takes it, if only to see what it is called: a form or a script of another page cannot send
/// this kind without the browser asking first (WHATWG Fetch, "CORS-safelisted request-header"), and
/// nothing here answers such a question with yes.
pub(super) struct Sent(Arrived);

/// The same for a file that is no JSON.
pub(super) struct SentFile(Arrived);

type Arrived = Result<Bytes, BytesRejection>;

impl<S: Send + Sync> FromRequest<S> for Sent {
    type Rejection = Response;

    async fn from_request(request: Request, state: &S) -> Result<Self, Response> {
        arrived("application/json", request, state).await.map(Self)
    }
}

impl<S: Send + Sync> FromRequest<S> for SentFile {
    type Rejection = Response;

    async fn from_request(request: Request, state: &S) -> Result<Self, Response> {
        let kind = "application/octet-stream";
        arrived(kind, request, state).await.map(Self)
    }
}

/// Reads a body that is called by that kind; what follows a semicolon does not matter.
async fn arrived<S: Send + Sync>(
    kind: &str,
    request: Request,
    state: &S,
) -> Result<Arrived, Response> {
    let called = request.headers().get(header::CONTENT_TYPE);
    let called = called.map_or("", |v| v.to_str().unwrap_or("?"));
    let bare = called.split(';').next().unwrap_or_default().trim();
    if bare.eq_ignore_ascii_case(kind) {
        return Ok(Bytes::from_request(request, state).await);
    }
    let called = if called.is_empty() { "nothing" } else { called };
    let why = format!("nothing was done: the content type was {called}; expected {kind}");
    Err(no(StatusCode::UNSUPPORTED_MEDIA_TYPE, &why))
}

pub(super) fn body<T: DeserializeOwned>(sent: Sent) -> Result<T, Box<Response>> {
    body_within(sent, BODY)
}

/// The same, where so many bytes may be sent.
pub(super) fn body_within<T: DeserializeOwned>(
    sent: Sent,
    most: usize,
) -> Result<T, Box<Response>> {
    let bytes = within(sent.0, most)?;
    serde_json::from_slice(&bytes).map_err(|e| no(StatusCode::BAD_REQUEST, &e.to_string()).into())
}

/// A text of so many bytes at most.
pub(super) fn text_within(sent: Sent, most: usize) -> Result<String, Box<Response>> {
    let text = String::from_utf8(within(sent.0, most)?.into());
    text.map_err(|_| no(StatusCode::BAD_REQUEST, "that is not a text in UTF-8").into())
}

/// A file of so many bytes at most.
pub(super) fn file_within(sent: SentFile, most: usize) -> Result<Bytes, Box<Response>> {
    within(sent.0, most)
}

fn within(arrived: Arrived, most: usize) -> Result<Bytes, Box<Response>> {
    arrived.map_err(|_| {
        let why = format!("nothing was stored: that is longer than {} kB", most / 1024);
        no(StatusCode::PAYLOAD_TOO_LARGE, &why).into()
    })
}
