//! The page that tells how a phone trusts this bench for good, and what it needs for that:
//!
//! - `GET /certificate` is the page, `GET /certificate.crt` the root, `GET /certificate.svg` a picture to
//!   scan that leads to the page.
//!
//! None of it is secret, and it is needed before a device is paired.

use super::fingerprint::Fingerprint;
use super::pages;
use super::shared::{Shared, no};
use axum::Router;
use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use qrcode::QrCode;
use qrcode::render::svg;
use std::sync::Arc;

pub(super) fn routes() -> Router<Arc<Shared>> {
    Router::new()
        .route("/certificate", get(page))
        .route("/certificate.crt", get(root))
        .route("/certificate.svg", get(picture))
}

type App = State<Arc<Shared>>;

fn none() -> Response {
    no(
        StatusCode::NOT_FOUND,
        "this bench is reached from this machine alone, without a certificate",
    )
}

async fn page(State(shared): App) -> Response {
    let Some(certificate) = &shared.certificate else {
        return none();
    };
    let root = certificate.root.as_deref().map(Fingerprint::of);
    pages::page(&pages::CertificatePage {
        own: root.is_none(),
        root_words: root.as_ref().map(Fingerprint::in_words).unwrap_or_default(),
        root_figures: root.map(|r| r.in_figures()).unwrap_or_default(),
        words: certificate.fingerprint.in_words(),
        figures: certificate.fingerprint.in_figures(),
    })
}

async fn root(State(shared): App) -> Response {
    let certificate = shared.certificate.as_ref();
    match certificate.and_then(|c| c.root.clone()) {
        Some(der) => {
            let kind = [(header::CONTENT_TYPE, "application/x-x509-ca-cert")];
            (kind, der).into_response()
        }
        None => none(),
    }
}

async fn picture(State(shared): App) -> Response {
    if shared.certificate.is_none() {
        return none();
    }
    let address = format!("{}certificate", shared.url());
    match QrCode::new(address) {
        Ok(code) => {
            let picture = code.render::<svg::Color>().min_dimensions(240, 240).build();
            (
                [(header::CONTENT_TYPE, "image/svg+xml; charset=utf-8")],
                picture,
            )
                .into_response()
        }
        Err(_) => no(StatusCode::INTERNAL_SERVER_ERROR, "that broke"),
    }
}
