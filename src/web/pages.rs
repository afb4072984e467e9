//! The pages and what belongs to them, inside the program.

use super::shared::no;
use askama::Template;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// Name, kind, content of what the pages load.
pub(super) const FILES: [(&str, &str, &[u8]); 29] = [
    ("board.css", CSS, include_bytes!("pages/board.css")),
    ("board.js", JS, include_bytes!("pages/board.js")),
    ("head.js", JS, include_bytes!("pages/head.js")),
    ("phone.js", JS, include_bytes!("pages/phone.js")),
    ("microphone.js", JS, include_bytes!("pages/microphone.js")),
    ("touch.js", JS, include_bytes!("pages/touch.js")),
    ("touch.css", CSS, include_bytes!("pages/touch.css")),
    ("home.css", CSS, include_bytes!("pages/home.css")),
    ("home.js", JS, include_bytes!("pages/home.js")),
    ("engine.css", CSS, include_bytes!("pages/engine.css")),
    ("engine.js", JS, include_bytes!("pages/engine.js")),
    ("network.js", JS, include_bytes!("pages/network.js")),
    ("sound.css", CSS, include_bytes!("pages/sound.css")),
    ("sound.js", JS, include_bytes!("pages/sound.js")),
    ("results.css", CSS, include_bytes!("pages/results.css")),
    ("results.js", JS, include_bytes!("pages/results.js")),
    ("plan.js", JS, include_bytes!("pages/plan.js")),
    ("findings.js", JS, include_bytes!("pages/findings.js")),
    ("bar.css", CSS, include_bytes!("pages/bar.css")),
    ("bar.js", JS, include_bytes!("pages/bar.js")),
    ("review.css", CSS, include_bytes!("pages/review.css")),
    ("review.js", JS, include_bytes!("pages/review.js")),
    ("pair.js", JS, include_bytes!("pages/pair.js")),
    ("key.js", JS, include_bytes!("pages/key.js")),
    ("ticket.js", JS, include_bytes!("pages/ticket.js")),
    ("common.css", CSS, include_bytes!("pages/common.css")),
    (
        "icon.svg",
        "image/svg+xml; charset=utf-8",
        include_bytes!("pages/icon.svg"),
    ),
    ("icon.png", "image/png", include_bytes!("pages/icon.png")),
    (
        "app.webmanifest",
        "application/manifest+json",
        include_bytes!("pages/app.webmanifest"),
    ),
];

/// The board.
#[derive(Template)]
#[template(path = "board.html")]
pub(super) struct Board {
    /// On the local network, where devices are paired.
    pub(super) lan: bool,
    /// This device may be the microphone.
    pub(super) phone: bool,
    /// There is a page with other jobs.
    pub(super) jobs: bool,
}

/// The jobs, and a new one.
#[derive(Template)]
#[template(path = "home.html")]
pub(super) struct Home {
    /// On the local network, where devices are paired.
    pub(super) lan: bool,
}

/// An engine, entered from its manual.
#[derive(Template)]
#[template(path = "engine.html")]
pub(super) struct Engine;

/// Microphone and loudspeaker, and how they sound.
#[derive(Template)]
#[template(path = "sound.html")]
pub(super) struct Sound;

/// Phones and tablets on the local network.
#[derive(Template)]
#[template(path = "network.html")]
pub(super) struct Network;

/// The review.
#[derive(Template)]
#[template(path = "review.html")]
pub(super) struct Review;

/// The sheet, the plan, what to buy, where to turn the crank.
#[derive(Template)]
#[template(path = "plan.html")]
pub(super) struct Plan;

/// What the inspection found, and how far the job is.
#[derive(Template)]
#[template(path = "findings.html")]
pub(super) struct Findings;

/// Pairing, and the devices that are paired.
#[derive(Template)]
#[template(path = "pair.html")]
pub(super) struct Pair {
    /// On the local network a code is typed; on this machine it is a part of the address.
    pub(super) lan: bool,
}

/// How a phone trusts the bench for good.
#[derive(Template)]
#[template(path = "certificate.html")]
pub(super) struct CertificatePage {
    /// The certificate is this person's own.
    pub(super) own: bool,
    /// Fingerprint of what is to be trusted; empty for one's own.
    pub(super) root_words: String,
    pub(super) root_figures: String,
    /// Fingerprint of the certificate that a browser shows.
    pub(super) words: String,
    pub(super) figures: String,
}

/// What a browser gets that goes to a page with the cookie alone: it goes there again with a ticket.
#[derive(Template)]
#[template(path = "ticket.html")]
pub(super) struct TicketPage;

/// The report as the bench shows it: with a bar that leads back, prints and saves, and is not printed.
pub(super) fn with_bar(report: &str) -> String {
    let head = format!("{}</head>", include_str!("pages/bar_head.html"));
    let body = format!("<body>\n{}", include_str!("pages/bar.html"));
    let report = report.replacen("</head>", &head, 1);
    report.replacen("<body>", &body, 1)
}

/// A page that is filled in.
pub(super) fn page(page: &impl Template) -> Response {
    match page.render() {
        Ok(text) => ([(header::CONTENT_TYPE, HTML)], text).into_response(),
        Err(_) => no(StatusCode::INTERNAL_SERVER_ERROR, "that broke"),
    }
}

/// A script, style or picture by its name.
pub(super) fn asset(name: &str) -> Response {
    match FILES.iter().find(|(known, ..)| *known == name) {
        Some((_, kind, content)) => ([(header::CONTENT_TYPE, *kind)], *content).into_response(),
        None => no(StatusCode::NOT_FOUND, "there is no such page"),
    }
}
