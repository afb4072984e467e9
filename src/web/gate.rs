//! Who may ask for what: host, origin, pairing; and the headers of every answer.
//!
//! The cookie of a paired device is not enough. A browser sends it to every port of this host, so
//! another program there may have it. The device also shows its key, which only the bench's own pages
//! can read: in the header `X-Benchcall-Key`, or as `?key=` for a stream, which can send none. A browser
//! that goes to a page can do neither: it gets the page `ticket.html`, which goes there again with a
//! ticket.

use super::connections::Connection;
use super::pages;
use super::shared::{Shared, no};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use std::time::Instant;

/// What an unpaired device may have: the pages on which it pairs and learns to trust, and what a browser
/// asks for without a cookie.
const OPEN: [&str; 10] = [
    "/pair",
    "/certificate",
    "/certificate.crt",
    "/certificate.svg",
    "/a/app.webmanifest",
    "/a/icon.png",
    "/a/pair.js",
    "/a/key.js",
    "/a/common.css",
    "/a/icon.svg",
];
/// What every page is made of, without anything of a job; a browser shows no key for it.
const PARTS: &str = "/a/";
/// What a browser asks for without being able to send a header.
const STREAMS: [&str; 2] = ["/live", "/phone"];
const KEY: HeaderName = HeaderName::from_static("x-benchcall-key");

const HEADERS: [(HeaderName, &str); 8] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
         connect-src 'self'; manifest-src 'self'; media-src 'self' blob:; base-uri 'none'; form-action 'none'; \
         frame-ancestors 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (
        HeaderName::from_static("permissions-policy"),
        "microphone=(self), screen-wake-lock=(self), camera=(), geolocation=()",
    ),
    (
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    ),
    (
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    ),
];

/// Never again without TLS, for a year (RFC 6797; it forbids the header on answers without TLS).
const OVER_TLS: (HeaderName, &str) = (header::STRICT_TRANSPORT_SECURITY, "max-age=31536000");

/// The kind of an answer that says none, since it is empty.
const EMPTY: (HeaderName, &str) = (header::CONTENT_TYPE, "text/plain; charset=utf-8");

/// Under which fixed name a browser would keep data, whatever the address says.
fn file_name(headers: &HeaderMap) -> Option<&'static str> {
    let kind = headers.get(header::CONTENT_TYPE)?.to_str().ok()?;
    match kind.split(';').next()? {
        "application/json" => Some("attachment; filename=\"benchcall.json\""),
        "text/csv" => Some("attachment; filename=\"benchcall.csv\""),
        "audio/wav" => Some("inline; filename=\"clip.wav\""),
        _ => None,
    }
}

/// The paired device that asks.
#[derive(Clone, Copy)]
pub(super) struct Paired(pub(super) u64);

/// Turns away what does not belong here, before anything else looks at it.
pub(super) async fn guard(
    State(shared): State<Arc<Shared>>,
    mut request: Request,
    next: Next,
) -> Response {
    let mut response = match asks(&shared, &request) {
        Err(refusal) => *refusal,
        Ok(paired) => {
            paired.map(|paired| request.extensions_mut().insert(paired));
            next.run(request).await
        }
    };
    let tls = shared.is_on_lan().then_some(OVER_TLS);
    let named = file_name(response.headers()).map(|value| (header::CONTENT_DISPOSITION, value));
    // What switches to a websocket has no content.
    let kind = (!response.status().is_informational()).then_some(EMPTY);
    let all = HEADERS.into_iter().chain(tls).chain(named).chain(kind);
    for (name, value) in all {
        let headers = response.headers_mut();
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
    }
    response
}

/// How a browser asks.
struct Manner {
    reads: bool,
    /// A person goes to a page.
    navigates: bool,
}

/// Who asks, if that may be asked at all.
fn asks(shared: &Shared, request: &Request) -> Result<Option<Paired>, Box<Response>> {
    let manner = of_this_bench(shared, request)?;
    if OPEN.contains(&request.uri().path()) {
        return Ok(None);
    }
    let Some(device) = paired(shared, request, &manner)? else {
        return Ok(None);
    };
    let connection = request.extensions().get::<Arc<Connection>>();
    shared.is_used();
    if connection.is_none_or(|connection| connection.belongs_to(device)) {
        return Ok(Some(Paired(device)));
    }
    Err(no(
        StatusCode::SERVICE_UNAVAILABLE,
        "this device has too many connections open: close some pages",
    )
    .into())
}

/// Turns away other hosts, and other pages in the same browser.
fn of_this_bench(shared: &Shared, request: &Request) -> Result<Manner, Box<Response>> {
    let headers = request.headers();
    let text = |name: HeaderName| headers.get(name).map(|v| v.to_str().unwrap_or("?"));
    let host = text(header::HOST).unwrap_or("");
    if headers.get_all(header::HOST).iter().count() != 1
        || !shared.hosts.iter().any(|h| h.eq_ignore_ascii_case(host))
    {
        let why = "this is not the host of this bench";
        return Err(no(StatusCode::MISDIRECTED_REQUEST, why).into());
    }
    // Another page in the same browser must not read, write or listen in.
    let own = |origin: &str| {
        let rest = origin.strip_prefix(shared.scheme);
        rest.and_then(|r| r.strip_prefix("://"))
            .is_some_and(|h| h.eq_ignore_ascii_case(host))
    };
    let another = || {
        let why = "another page may not use this bench";
        Err(no(StatusCode::FORBIDDEN, why).into())
    };
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    let upgrade = headers.contains_key(header::UPGRADE);
    match text(header::ORIGIN) {
        Some(origin) if !own(origin) => return another(),
        None if !reads || upgrade => {
            let why = "the page that asks must name itself";
            return Err(no(StatusCode::FORBIDDEN, why).into());
        }
        _ => {}
    }
    let site = text(HeaderName::from_static("sec-fetch-site"));
    let foreign = !matches!(site, None | Some("same-origin" | "none"));
    let navigates = text(HeaderName::from_static("sec-fetch-mode")) == Some("navigate");
    if foreign && !(navigates && reads) {
        return another();
    }
    Ok(Manner { reads, navigates })
}

/// What the address itself shows: hex digits or a number, so nothing in it is written otherwise.
pub(super) fn in_address<'a>(address: &'a Uri, name: &str) -> Option<&'a str> {
    let pairs = address.query()?.split('&');
    let mut pairs = pairs.filter_map(|pair| pair.split_once('='));
    pairs.find(|(n, _)| *n == name).map(|(_, value)| value)
}

/// The device, if it is paired and shows its key; `None` for the parts of a page.
fn paired(
    shared: &Shared,
    request: &Request,
    manner: &Manner,
) -> Result<Option<u64>, Box<Response>> {
    let headers = request.headers();
    let header = headers.get(KEY).and_then(|key| key.to_str().ok());
    let streams = STREAMS.contains(&request.uri().path());
    let key = header.or_else(|| in_address(request.uri(), "key").filter(|_| streams));
    let goes = manner.reads && manner.navigates;
    let holder = shared.holder(headers, key);
    let ticket = |id| {
        in_address(request.uri(), "ticket")
            .is_some_and(|ticket| shared.tickets().used(ticket, id, Instant::now()))
    };
    match holder {
        Some(holder) if holder.has_key || ticket(holder.id) => Ok(Some(holder.id)),
        Some(_) if manner.reads && request.uri().path().starts_with(PARTS) => Ok(None),
        Some(_) if goes => Err(pages::page(&pages::TicketPage).into()),
        _ if goes => {
            let to = [(header::LOCATION, "/pair")];
            Err((StatusCode::SEE_OTHER, to).into_response().into())
        }
        _ => Err(no(StatusCode::UNAUTHORIZED, "this device is not paired").into()),
    }
}
