//! An event as versioned JSON: `{"v":7, ...}`.
//!
//! A change of the event that older software cannot read raises [`BODY_VERSION`] and keeps a
//! decoder of the older one; `fixtures/stores/` holds jobs of every version.

use crate::event::Event;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The version that is written.
pub(crate) const BODY_VERSION: u64 = 8;

/// Why an event cannot be written as JSON, or not be read from it.
#[derive(Debug, thiserror::Error)]
pub enum CodecError {
    /// Written by later software.
    #[error(
        "its format {found} is newer than {BODY_VERSION}, the newest known here; update benchcall"
    )]
    TooNew {
        /// The version found.
        found: u64,
    },
    /// No version that ever was.
    #[error("no format version: expected \"v\" from 1 to {BODY_VERSION}")]
    NoVersion,
    /// No event.
    #[error("no event in JSON: {0}")]
    Malformed(#[from] serde_json::Error),
    /// A key that this version does not have. Dropping it could drop a meaning.
    #[error("unknown key \"{key}\"")]
    UnknownKey {
        /// With the keys above it.
        key: String,
    },
    /// It would not come back as it went in.
    #[error("event {id} would not be read back as it was written: {why}")]
    Lossy {
        /// The event.
        id: u64,
        /// What would be lost.
        why: String,
    },
}

#[derive(Serialize)]
struct Body<'a> {
    v: u64,
    #[serde(flatten)]
    event: &'a Event,
}

/// Writes an event as JSON, and makes sure that it can be read again.
///
/// # Errors
/// [`CodecError::Lossy`] where it cannot, as with a confidence that is not a number.
pub fn encode(event: &Event) -> Result<String, CodecError> {
    let lossy = |why: String| CodecError::Lossy { id: event.id, why };
    if !event.confidence.is_finite() {
        return Err(lossy("its confidence is not a number".to_owned()));
    }
    let body = serde_json::to_string(&Body {
        v: BODY_VERSION,
        event,
    })?;
    match decode(&body) {
        Ok(back) if back == *event => Ok(body),
        Ok(_) => Err(lossy("it differs".to_owned())),
        Err(e) => Err(lossy(e.to_string())),
    }
}

/// Reads an event.
///
/// # Errors
/// Where it is not an event, of a newer format, or has keys that this format does not have.
pub fn decode(body: &str) -> Result<Event, CodecError> {
    let mut stored: Value = serde_json::from_str(body)?;
    let version = stored.as_object_mut().and_then(|keys| keys.remove("v"));
    match version.as_ref().and_then(Value::as_u64) {
        // Older versions lack what later ones add, and every addition has a value for its absence.
        Some(1..=BODY_VERSION) => {}
        Some(found) if found > BODY_VERSION => return Err(CodecError::TooNew { found }),
        _ => return Err(CodecError::NoVersion),
    }
    let event = Event::deserialize(&stored)?;
    match unknown_key(&stored, &serde_json::to_value(&event)?) {
        Some(key) => Err(CodecError::UnknownKey { key }),
        None => Ok(event),
    }
}

/// The first key in `stored` that did not make it into the event.
fn unknown_key(stored: &Value, known: &Value) -> Option<String> {
    match (stored, known) {
        (Value::Object(stored), Value::Object(known)) => {
            stored.iter().find_map(|(key, value)| match known.get(key) {
                None => Some(key.clone()),
                Some(inner) => unknown_key(value, inner).map(|below| format!("{key}.{below}")),
            })
        }
        (Value::Array(stored), Value::Array(known)) => {
            let mut pairs = stored.iter().zip(known).enumerate();
            pairs.find_map(|(i, (s, k))| unknown_key(s, k).map(|below| format!("{i}.{below}")))
        }
        _ => None,
    }
}
