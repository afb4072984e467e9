//! What changes while one works: the state, the board, the words being heard, the level. Only the latest
//! state is kept, so a slow page misses steps but never lags, and costs no memory.

use axum::response::sse::{Event, Sse};
use futures_util::stream::{self, Stream};
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// A page hears from the server at least this often.
const BEAT: Duration = Duration::from_millis(500);

/// Loudness of what the microphone brings.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Level {
    /// Root mean square, dB below full scale.
    pub dbfs: f32,
    /// Loud enough to be heard above the noise.
    pub heard: bool,
    /// Counts up with every update: a page that sees it stand still is cut off.
    pub beat: u64,
}

#[derive(Clone, Debug)]
struct Now {
    state: Arc<str>,
    board: Arc<str>,
    partial: Arc<str>,
    level: Level,
}

/// Where the listener puts what the board shows. Never waits.
#[derive(Clone, Debug)]
pub struct Live {
    now: watch::Sender<Now>,
}

impl Live {
    /// With a first state and board, as JSON.
    #[must_use]
    pub fn new(state: &str, board: &str) -> Self {
        let level = Level {
            dbfs: crate::audio::SILENCE_DBFS,
            heard: false,
            beat: 0,
        };
        let now = Now {
            state: state.into(),
            board: board.into(),
            partial: "".into(),
            level,
        };
        Self {
            now: watch::Sender::new(now),
        }
    }

    /// What the bench does from now on, as JSON.
    pub fn state(&self, json: &str) {
        self.now.send_modify(|now| now.state = json.into());
    }

    /// A new board, as JSON; what was being heard is over.
    pub fn board(&self, json: &str) {
        self.now.send_modify(|now| {
            now.board = json.into();
            now.partial = "".into();
        });
    }

    /// What is being heard, while the person still speaks.
    pub fn on_partial(&self, text: &str) {
        self.now.send_if_modified(|now| {
            let other = *now.partial != *text;
            if other {
                now.partial = text.into();
            }
            other
        });
    }

    /// The level; also tells the pages that they are connected.
    pub fn level(&self, dbfs: f32, heard: bool) {
        self.now.send_modify(|now| {
            let beat = now.level.beat + 1;
            now.level = Level { dbfs, heard, beat };
        });
    }

    /// The stream of one page: everything at first, then what changes.
    pub(super) fn stream(&self) -> Sse<impl Stream<Item = Result<Event, Infallible>> + use<>> {
        let mut from = self.now.subscribe();
        from.mark_changed();
        let stream = stream::unfold((from, None::<Now>), |(mut from, shown)| async move {
            // With nothing new the page still hears that it is connected.
            if let Ok(ended) = tokio::time::timeout(BEAT, from.changed()).await {
                ended.ok()?;
            }
            let now = from.borrow_and_update().clone();
            let event = Event::default().data(message(&now, shown.as_ref()));
            Some((Ok(event), (from, Some(now))))
        });
        Sse::new(stream)
    }
}

/// One message: only what differs from what the page has.
fn message(now: &Now, shown: Option<&Now>) -> String {
    let mut out = format!(
        "{{\"level\":{{\"dbfs\":{:.1},\"heard\":{},\"beat\":{}}}",
        now.level.dbfs, now.level.heard, now.level.beat
    );
    if shown.is_none_or(|s| !Arc::ptr_eq(&s.state, &now.state)) {
        out.push_str(",\"state\":");
        out.push_str(&now.state);
    }
    if shown.is_none_or(|s| !Arc::ptr_eq(&s.board, &now.board)) {
        out.push_str(",\"board\":");
        out.push_str(&now.board);
    }
    if shown.is_none_or(|s| !Arc::ptr_eq(&s.partial, &now.partial)) {
        out.push_str(",\"partial\":");
        out.push_str(&serde_json::Value::from(&*now.partial).to_string());
    }
    out.push('}');
    out
}
