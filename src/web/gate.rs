//! Who may ask for what: host, origin, pairing; and the headers of every answer.

use super::shared::{Shared, no};
use axum::extract::{Request, State};
use axum::http::{HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;

/// The cookie of a paired device over TLS. `__Host-` makes browsers demand `Secure` and this very host.
pub(super) const COOKIE: &str = "__Host-benchcall";
/// What an unpaired device may have: the page on which it pairs.
const OPEN: [&str; 4] = ["/pair", "/a/pair.js", "/a/common.css", "/a/icon.svg"];

const HEADERS: [(HeaderName, &str); 7] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
         connect-src 'self'; media-src 'self' blob:; base-uri 'none'; form-action 'none'; \
         frame-ancestors 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
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

/// Turns away what does not belong here, before anything else looks at it.
pub(super) async fn guard(
    State(shared): State<Arc<Shared>>,
    request: Request,
    next: Next,
) -> Response {
    let mut response = match refuse(&shared, &request) {
        Some(refusal) => refusal,
        None => next.run(request).await,
    };
    let tls = shared.is_on_lan().then_some(OVER_TLS);
    for (name, value) in HEADERS.into_iter().chain(tls) {
        let headers = response.headers_mut();
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
    }
    response
}

fn refuse(shared: &Shared, request: &Request) -> Option<Response> {
    let headers = request.headers();
    let text = |name: HeaderName| headers.get(name).map(|v| v.to_str().unwrap_or("?"));
    let host = text(header::HOST).unwrap_or("");
    if headers.get_all(header::HOST).iter().count() != 1
        || !shared.hosts.iter().any(|h| h.eq_ignore_ascii_case(host))
    {
        return Some(no(
            StatusCode::MISDIRECTED_REQUEST,
            "this is not the host of this bench",
        ));
    }
    // Another page in the same browser must not read, write or listen in.
    let own = |origin: &str| {
        let rest = origin.strip_prefix(shared.scheme);
        rest.and_then(|r| r.strip_prefix("://"))
            .is_some_and(|h| h.eq_ignore_ascii_case(host))
    };
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    let upgrade = headers.contains_key(header::UPGRADE);
    match text(header::ORIGIN) {
        Some(origin) if !own(origin) => {
            return Some(no(
                StatusCode::FORBIDDEN,
                "another page may not use this bench",
            ));
        }
        None if !reads || upgrade => {
            return Some(no(
                StatusCode::FORBIDDEN,
                "the page that asks must name itself",
            ));
        }
        _ => {}
    }
    let site = text(HeaderName::from_static("sec-fetch-site"));
    let foreign = !matches!(site, None | Some("same-origin" | "none"));
    let navigates = text(HeaderName::from_static("sec-fetch-mode")) == Some("navigate");
    if foreign && !(navigates && reads) {
        return Some(no(
            StatusCode::FORBIDDEN,
            "another page may not use this bench",
        ));
    }
    if OPEN.contains(&request.uri().path()) {
        return None;
    }
    if shared.device(headers).is_some() {
        return None;
    }
    if reads && navigates {
        let to = [(header::LOCATION, "/pair")];
        return Some((StatusCode::SEE_OTHER, to).into_response());
    }
    Some(no(StatusCode::UNAUTHORIZED, "this device is not paired"))
}
