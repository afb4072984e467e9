//! What pairs a device, lists the paired ones, renames them and sends them away:
//!
//! - `POST /pair {"code","name"}` answers `{"key"}` and sets the cookie; the page keeps the key.
//! - `GET /devices` answers `[{"id","name","me","paired_ms","until_ms"}]`.
//! - `POST /devices/rename {"id","name"}`, `POST /devices/remove {"id"}`.
//! - `POST /devices/code` shows the codes at the bench and lets locked addresses try again.
//! - `POST /ticket` answers `{"ticket"}`, with which a browser may go to one page.
//!
//! All but the first need cookie and key (`X-Benchcall-Key`), as everything else does; see `gate.rs`.

use super::Error;
use super::connections::Connection;
use super::devices::Device;
use super::gate::Paired;
use super::shared::{Sent, Shared, body, no};
use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Extension, Router};
use serde::Deserialize;
use std::sync::Arc;
use std::time::Instant;

pub(super) fn routes() -> Router<Arc<Shared>> {
    Router::new()
        .route("/pair", post(pair))
        .route("/ticket", post(ticket))
        .route("/devices", get(devices))
        .route("/devices/rename", post(rename))
        .route("/devices/remove", post(remove))
        .route("/devices/code", post(code))
}

type App = State<Arc<Shared>>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Code {
    code: String,
    name: String,
}

async fn pair(
    State(shared): App,
    Extension(connection): Extension<Arc<Connection>>,
    sent: Sent,
) -> Response {
    let Code { code, name } = match body(sent) {
        Ok(code) => code,
        Err(refusal) => return *refusal,
    };
    let (opened, changed) = {
        let mut pairing = shared.pairing();
        let before = pairing.last_codes().clone();
        let opened = pairing.open(&code, &name, connection.address, Instant::now());
        (opened, *pairing.last_codes() != before)
    };
    // Used up, or grown old: whoever stands at the bench must see the next one.
    if changed {
        shared.show_codes();
    }
    match opened {
        Ok(Ok(pass)) => {
            let cookie = [(header::SET_COOKIE, shared.set_cookie(&pass.token))];
            let key = serde_json::json!({ "key": pass.key });
            (cookie, json(&key)).into_response()
        }
        Ok(Err(refusal)) => no(StatusCode::FORBIDDEN, &refusal.to_string()),
        Err(error) => failed(&error),
    }
}

fn json(value: &serde_json::Value) -> Response {
    let kind = [(header::CONTENT_TYPE, "application/json")];
    (kind, value.to_string()).into_response()
}

fn failed(error: &Error) -> Response {
    no(StatusCode::INTERNAL_SERVER_ERROR, &error.to_string())
}

async fn ticket(State(shared): App, Extension(Paired(me)): Extension<Paired>, _: Sent) -> Response {
    match shared.tickets().draw(me, Instant::now()) {
        Ok(ticket) => json(&serde_json::json!({ "ticket": ticket })),
        Err(error) => failed(&error),
    }
}

async fn devices(State(shared): App, Extension(Paired(me)): Extension<Paired>) -> Response {
    let device = |d: &Device| {
        serde_json::json!({
            "id": d.id, "name": d.name, "me": d.id == me,
            "paired_ms": d.paired_ms, "until_ms": d.until_ms(),
        })
    };
    let list: Vec<serde_json::Value> = shared.pairing().devices.all().iter().map(device).collect();
    json(&list.into())
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rename {
    id: u64,
    name: String,
}

async fn rename(State(shared): App, sent: Sent) -> Response {
    let Rename { id, name } = match body(sent) {
        Ok(rename) => rename,
        Err(refusal) => return *refusal,
    };
    if name.trim().is_empty() {
        return no(StatusCode::BAD_REQUEST, "a device needs a name");
    }
    let renamed = shared.pairing().devices.rename(id, &name);
    done(renamed)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Remove {
    id: u64,
}

async fn remove(State(shared): App, sent: Sent) -> Response {
    let Remove { id } = match body(sent) {
        Ok(remove) => remove,
        Err(refusal) => return *refusal,
    };
    let removed = shared.pairing().devices.remove(id);
    shared.keep_only_paired();
    done(removed)
}

fn done(there: Result<bool, Error>) -> Response {
    match there {
        Ok(true) => StatusCode::NO_CONTENT.into_response(),
        Ok(false) => no(StatusCode::NOT_FOUND, "there is no such device"),
        Err(error) => failed(&error),
    }
}

/// Shows the codes at the bench, not in the answer: who wants to let somebody in must stand there.
async fn code(State(shared): App, _: Sent) -> Response {
    shared.pairing().unlock();
    shared.show_codes();
    StatusCode::NO_CONTENT.into_response()
}
