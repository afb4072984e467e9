//! The pages and what belongs to them, inside the program.

use super::gate::no;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// Name, kind, content.
pub(super) const FILES: [(&str, &str, &str); 13] = [
    ("board.html", HTML, include_str!("pages/board.html")),
    ("board.css", CSS, include_str!("pages/board.css")),
    ("board.js", JS, include_str!("pages/board.js")),
    ("head.js", JS, include_str!("pages/head.js")),
    ("phone.js", JS, include_str!("pages/phone.js")),
    ("microphone.js", JS, include_str!("pages/microphone.js")),
    ("review.html", HTML, include_str!("pages/review.html")),
    ("review.css", CSS, include_str!("pages/review.css")),
    ("review.js", JS, include_str!("pages/review.js")),
    ("pair.html", HTML, include_str!("pages/pair.html")),
    ("pair.js", JS, include_str!("pages/pair.js")),
    ("common.css", CSS, include_str!("pages/common.css")),
    ("icon.svg", "image/svg+xml", include_str!("pages/icon.svg")),
];

/// A page by its name.
pub(super) fn page(name: &str) -> Response {
    file(name)
}

/// A script, style or picture by its name.
pub(super) fn asset(name: &str) -> Response {
    if name.ends_with(".html") {
        return no(StatusCode::NOT_FOUND, "there is no such page");
    }
    file(name)
}

fn file(name: &str) -> Response {
    match FILES.iter().find(|(known, ..)| *known == name) {
        Some((_, kind, content)) => ([(header::CONTENT_TYPE, *kind)], *content).into_response(),
        None => no(StatusCode::NOT_FOUND, "there is no such page"),
    }
}
