//! What can be asked for.

use super::connections::Connection;
use super::shared::{
    BODY, ENGINE_BODY, SAVED_BODY, Sent, SentFile, Shared, WEIGHTS_BODY, body, body_within,
    file_within, no, text_within,
};
use super::{
    Boxes, Edit, EngineAsk, EngineOf, Fault, Forget, NetworkAsk, NewJob, ReportForm, Rest,
    SoundAsk, Touch, certificate_routes, gate, pages, pairing_routes,
};
use axum::extract::ws::WebSocketUpgrade;
use axum::extract::{DefaultBodyLimit, Path, State};
use axum::http::{Method, StatusCode, Uri, header};
use axum::middleware;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Extension, Router};
use serde::Deserialize;
use std::sync::Arc;
use std::time::Duration;

/// How long it may take to send one.
const SLOW: Duration = Duration::from_secs(10);
/// So much longer it may take for each byte that is announced: the sounds of a job are sent, written and
/// synced, and weights are large.
const SLOW_BYTE: Duration = Duration::from_micros(4);

pub(super) fn router(shared: Arc<Shared>) -> Router {
    Router::new()
        .route("/", get(home))
        .route("/review", get(async || pages::page(&pages::Review)))
        .merge(pairing_routes::routes())
        .merge(certificate_routes::routes())
        .route("/pair", get(pairing))
        .route(
            "/a/{name}",
            get(|Path(name): Path<String>| async move { pages::asset(&name) }),
        )
        .route("/live", get(live))
        .route("/phone", get(phone))
        .route("/session.json", get(session))
        .route(
            "/hear-again",
            post(|s, _: Sent| ask(s, "application/json", |h| h.hear_again())),
        )
        .route(
            "/hear-again/with/{name}",
            post(hear_again_with).layer(DefaultBodyLimit::max(WEIGHTS_BODY)),
        )
        .route(
            "/results.json",
            get(|s| ask(s, "application/json", |h| h.results())),
        )
        .route(
            "/export",
            post(|s, _: Sent| ask(s, "application/json", |h| h.export())),
        )
        .route("/what-if", post(what_if))
        .route("/plan", get(async || pages::page(&pages::Plan)))
        .route("/findings", get(async || pages::page(&pages::Findings)))
        .route("/report", get(report))
        .route("/report/beside/{before}", get(report))
        .route(
            "/report.csv",
            get(|s, q| report_as(s, q, "text/csv; charset=utf-8", ReportForm::Csv)),
        )
        .route(
            "/report.json",
            get(|s, q| report_as(s, q, "application/json", ReportForm::Json)),
        )
        .route(
            "/report.json/beside/{before}",
            get(|s, q| report_as(s, q, "application/json", ReportForm::Json)),
        )
        .route(
            "/report-with-sounds.json",
            get(|s, q| report_as(s, q, "application/json", ReportForm::JsonWithSounds)),
        )
        .route(
            "/report-lost-sounds.json",
            get(|s, q| report_as(s, q, "application/json", ReportForm::LostSounds)),
        )
        .route(
            "/earlier.json",
            get(|s| ask(s, "application/json", |h| h.earlier())),
        )
        .route("/forget", post(forget))
        .route("/clip/{name}", get(clip))
        .route("/jobs", get(jobs))
        .route(
            "/jobs.json",
            get(|s| ask(s, "application/json", |h| h.jobs())),
        )
        .route("/jobs/new", post(new_job))
        .route(
            "/jobs/bring-back",
            post(bring_back).layer(DefaultBodyLimit::max(SAVED_BODY)),
        )
        .route("/jobs/save-rest", post(save_rest))
        .route("/jobs/go-on", post(go_on))
        .route(
            "/jobs/end",
            post(|s, _: Sent| ask(s, "application/json", |h| h.end())),
        )
        .route("/engine", get(async || pages::page(&pages::Engine)))
        .route("/engine/open", post(engine_open))
        .route("/engine/check", post(engine_check).layer(engine_most()))
        .route("/engine/save", post(engine_save).layer(engine_most()))
        .route("/sound", get(async || pages::page(&pages::Sound)))
        .route("/sound/ask", post(sound))
        .route(
            "/network",
            get(network_page).post(network).layer(engine_most()),
        )
        .route("/edit", post(edit))
        .route("/touch", post(touch))
        .method_not_allowed_fallback(other_method)
        .fallback(async || no(StatusCode::NOT_FOUND, "there is no such page"))
        .layer(DefaultBodyLimit::max(BODY))
        .layer(middleware::from_fn(in_time))
        .layer(middleware::from_fn_with_state(shared.clone(), gate::guard))
        .with_state(shared)
}

async fn in_time(request: axum::extract::Request, next: middleware::Next) -> Response {
    let length = request.headers().get(header::CONTENT_LENGTH);
    let length = length.and_then(|l| l.to_str().ok()?.parse::<usize>().ok());
    let bytes = u32::try_from(length.unwrap_or(0).min(WEIGHTS_BODY)).unwrap_or(u32::MAX);
    let time = SLOW + SLOW_BYTE * bytes;
    // Streams and websockets answer at once and go on by themselves.
    tokio::time::timeout(time, next.run(request))
        .await
        .unwrap_or_else(|_| no(StatusCode::REQUEST_TIMEOUT, "that took too long to arrive"))
}

/// The router adds `Allow`, which names the methods that the address takes.
async fn other_method(method: Method) -> Response {
    let why =
        format!("{method} cannot be used here: pages are read with GET, changes sent by POST");
    no(StatusCode::METHOD_NOT_ALLOWED, &why)
}

type App = State<Arc<Shared>>;

async fn jobs(State(shared): App) -> Response {
    if !shared.backend.has_jobs() {
        return refused(&super::one_job());
    }
    let lan = shared.is_on_lan();
    pages::page(&pages::Home { lan })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GoOn {
    /// `None` ends the job that is open.
    job: Option<String>,
}

async fn new_job(state: App, sent: Sent) -> Response {
    match body::<NewJob>(sent) {
        Ok(new) => ask(state, "application/json", move |h| h.new_job(&new)).await,
        Err(refusal) => *refusal,
    }
}

async fn bring_back(state: App, sent: Sent) -> Response {
    match text_within(sent, SAVED_BODY) {
        Ok(text) => ask(state, "application/json", move |h| h.bring_back(&text)).await,
        Err(refusal) => *refusal,
    }
}

async fn save_rest(state: App, sent: Sent) -> Response {
    match body::<Rest>(sent) {
        Ok(rest) => ask(state, "application/json", move |h| h.save_rest(&rest)).await,
        Err(refusal) => *refusal,
    }
}

async fn hear_again_with(state: App, Path(name): Path<String>, sent: SentFile) -> Response {
    match file_within(sent, WEIGHTS_BODY) {
        Ok(weights) => {
            let json = "application/json";
            ask(state, json, move |h| h.hear_again_with(&name, &weights)).await
        }
        Err(refusal) => *refusal,
    }
}

async fn forget(state: App, sent: Sent) -> Response {
    match body::<Forget>(sent) {
        Ok(what) => ask(state, "application/json", move |h| h.forget(&what)).await,
        Err(refusal) => *refusal,
    }
}

async fn go_on(state: App, sent: Sent) -> Response {
    match body::<GoOn>(sent) {
        Ok(GoOn { job }) => ask(state, "application/json", move |h| h.go_on(job.as_deref())).await,
        Err(refusal) => *refusal,
    }
}

async fn home(State(shared): App) -> Response {
    if shared.backend.has_jobs() && !shared.backend.is_open() {
        let lan = shared.is_on_lan();
        return pages::page(&pages::Home { lan });
    }
    if shared.live.is_none() {
        return pages::page(&pages::Review);
    }
    pages::page(&pages::Board {
        lan: shared.is_on_lan(),
        phone: shared.phone.is_some(),
        jobs: shared.backend.has_jobs(),
    })
}

async fn pairing(State(shared): App) -> Response {
    let lan = shared.is_on_lan();
    pages::page(&pages::Pair { lan })
}

/// Asks the backend, off the server's own threads.
async fn ask(
    State(shared): App,
    kind: &'static str,
    what: impl FnOnce(&dyn super::Backend) -> Result<String, Fault> + Send + 'static,
) -> Response {
    let backend = shared.backend.clone();
    let answer = tokio::task::spawn_blocking(move || what(backend.as_ref())).await;
    match answer {
        Ok(Ok(text)) => ([(header::CONTENT_TYPE, kind)], text).into_response(),
        Ok(Err(fault)) => refused(&fault),
        Err(_) => no(StatusCode::INTERNAL_SERVER_ERROR, "that broke"),
    }
}

fn refused(fault: &Fault) -> Response {
    let status = match fault {
        Fault::NotFound(_) => StatusCode::NOT_FOUND,
        Fault::Refused(_) => StatusCode::CONFLICT,
        Fault::Asks(_) => StatusCode::PRECONDITION_REQUIRED,
        Fault::Broken(_) => StatusCode::INTERNAL_SERVER_ERROR,
    };
    no(status, &fault.to_string())
}

/// The name of an earlier job that a report is set beside, if there is one in the address.
type Beside = Option<Path<String>>;

async fn report_as(state: App, before: Beside, kind: &'static str, form: ReportForm) -> Response {
    let before = before.map(|Path(name)| name);
    ask(state, kind, move |h| h.report(form, before.as_deref())).await
}

async fn report(state: App, before: Beside) -> Response {
    let kind = "text/html; charset=utf-8";
    let before = before.map(|Path(name)| name);
    let with_bar = move |h: &dyn super::Backend| {
        let page = h.report(ReportForm::Page, before.as_deref())?;
        Ok(pages::with_bar(&page))
    };
    let mut page = ask(state, kind, with_bar).await;
    // The report carries its own style; the only scripts are those of the bar above it.
    let policy = "default-src 'none'; style-src 'self' 'unsafe-inline'; script-src 'self'; \
                  connect-src 'self'; img-src 'self'; manifest-src 'self'; base-uri 'none'; \
                  form-action 'none'; frame-ancestors 'none'";
    let value = axum::http::HeaderValue::from_static(policy);
    page.headers_mut()
        .insert(header::CONTENT_SECURITY_POLICY, value);
    page
}

async fn clip(State(shared): App, Path(name): Path<String>) -> Response {
    let sha256 = name.strip_suffix(".wav").unwrap_or_default().to_owned();
    let hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
    if sha256.len() != 64 || !sha256.bytes().all(hex) {
        return no(StatusCode::NOT_FOUND, "there is no such clip");
    }
    let backend = shared.backend.clone();
    let Ok(_turn) = shared.clips.acquire().await else {
        return no(StatusCode::SERVICE_UNAVAILABLE, "the bench is ending");
    };
    match tokio::task::spawn_blocking(move || backend.clip(&sha256)).await {
        Ok(Ok(wav)) => ([(header::CONTENT_TYPE, "audio/wav")], wav).into_response(),
        Ok(Err(fault)) => refused(&fault),
        Err(_) => no(StatusCode::INTERNAL_SERVER_ERROR, "that broke"),
    }
}

async fn session(state: App, address: Uri) -> Response {
    match gate::in_address(&address, "seen").map_or(Ok(0), str::parse) {
        Ok(seen) => ask(state, "application/json", move |h| h.session(seen)).await,
        Err(_) => no(
            StatusCode::BAD_REQUEST,
            "`seen` takes the number that an earlier answer gave as `seen`, or is left out",
        ),
    }
}

async fn edit(state: App, sent: Sent) -> Response {
    match body::<Edit>(sent) {
        Ok(edit) => {
            let done = move |h: &dyn super::Backend| h.edit(&edit).map(|()| "{}".to_owned());
            ask(state, "application/json", done).await
        }
        Err(refusal) => *refusal,
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entered {
    of: EngineOf,
    #[serde(default)]
    boxes: Boxes,
}

fn engine_most() -> DefaultBodyLimit {
    DefaultBodyLimit::max(ENGINE_BODY)
}

async fn engine(state: App, sent: Sent, what: fn(Entered) -> EngineAsk) -> Response {
    match body_within::<Entered>(sent, ENGINE_BODY) {
        Ok(entered) => {
            let what = what(entered);
            ask(state, "application/json", move |h| h.engine(&what)).await
        }
        Err(refusal) => *refusal,
    }
}

async fn engine_open(state: App, sent: Sent) -> Response {
    engine(state, sent, |e| EngineAsk::Open(e.of)).await
}

async fn engine_check(state: App, sent: Sent) -> Response {
    engine(state, sent, |e| EngineAsk::Check(e.of, e.boxes)).await
}

async fn engine_save(state: App, sent: Sent) -> Response {
    engine(state, sent, |e| EngineAsk::Save(e.of, e.boxes)).await
}

async fn what_if(state: App, sent: Sent) -> Response {
    match body::<Vec<String>>(sent) {
        Ok(changes) => ask(state, "application/json", move |h| h.what_if(&changes)).await,
        Err(refusal) => *refusal,
    }
}

async fn sound(state: App, sent: Sent) -> Response {
    match body::<SoundAsk>(sent) {
        Ok(what) => ask(state, "application/json", move |h| h.sound(&what)).await,
        Err(refusal) => *refusal,
    }
}

/// The network is opened and shut at the bench alone, never over the network.
fn at_the_bench(shared: &Shared) -> Result<(), Box<Response>> {
    if shared.is_on_lan() {
        let why = "only a page of the machine at the bench opens or shuts the network";
        return Err(no(StatusCode::FORBIDDEN, why).into());
    }
    Ok(())
}

async fn network_page(State(shared): App) -> Response {
    match at_the_bench(&shared) {
        Ok(()) if shared.backend.has_jobs() => pages::page(&pages::Network),
        Ok(()) => refused(&super::one_job()),
        Err(refusal) => *refusal,
    }
}

async fn network(state: App, sent: Sent) -> Response {
    let asked = at_the_bench(&state.0).and_then(|()| body_within::<NetworkAsk>(sent, ENGINE_BODY));
    match asked {
        Ok(what) => ask(state, "application/json", move |h| h.network(&what)).await,
        Err(refusal) => *refusal,
    }
}

async fn touch(state: App, sent: Sent) -> Response {
    match body::<Touch>(sent) {
        Ok(touch) => ask(state, "application/json", move |h| h.touch(&touch)).await,
        Err(refusal) => *refusal,
    }
}

async fn live(State(shared): App) -> Response {
    match &shared.live {
        Some(live) => {
            let kind = [(header::CONTENT_TYPE, "text/event-stream; charset=utf-8")];
            (kind, live.stream()).into_response()
        }
        None => no(StatusCode::NOT_FOUND, "nothing is live here"),
    }
}

async fn phone(
    State(shared): App,
    Extension(connection): Extension<Arc<Connection>>,
    upgrade: WebSocketUpgrade,
) -> Response {
    let Some(link) = shared.phone.clone() else {
        return no(
            StatusCode::NOT_FOUND,
            "this bench listens to its own microphone",
        );
    };
    upgrade
        .max_message_size(64 * 1024)
        .max_frame_size(64 * 1024)
        .on_upgrade(async move |socket| {
            tokio::select! {
                () = link.clone().serve(socket) => {}
                () = connection.told_to_leave() => link.sent_away(),
            }
        })
}
