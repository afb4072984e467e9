//! The record as JSON, with the job's events (and, if wanted, sounds) inside it, and back.

use super::{Compared, Error, Report, SCHEMA_VERSION};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// WAV files by the SHA-256 of their bytes.
pub(crate) type Sounds = BTreeMap<String, Vec<u8>>;

/// What a report brings back.
#[derive(Clone, PartialEq, Debug)]
pub struct Imported {
    /// The events as the store writes them, oldest first.
    pub events: Vec<Value>,
    /// The sounds that it carries.
    pub sounds: Sounds,
}

#[derive(Serialize)]
struct Whole<'a> {
    #[serde(flatten)]
    report: &'a Report,
    #[serde(skip_serializing_if = "Option::is_none")]
    since: Option<&'a Compared>,
    events: &'a [Value],
    sounds: BTreeMap<&'a str, String>,
}

/// Writes a report with the job's events, each as the store writes it.
///
/// # Errors
/// None that can be met; serde's type asks for it.
pub fn write(
    report: &Report,
    since: Option<&Compared>,
    events: &[Value],
    sounds: &Sounds,
) -> Result<String, Error> {
    let sounds = sounds
        .iter()
        .map(|(name, wav)| (name.as_str(), STANDARD.encode(wav)))
        .collect();
    Ok(serde_json::to_string_pretty(&Whole {
        report,
        since,
        events,
        sounds,
    })?)
}

/// Reads what [`write()`] wrote.
///
/// # Errors
/// No report, one of a newer schema, a sound that is no base64.
pub fn read(text: &str) -> Result<Imported, Error> {
    let mut whole: Value = serde_json::from_str(text)?;
    let shape = |what: &str| Error::Shape(what.to_owned());
    match whole.get("report").and_then(Value::as_u64) {
        Some(SCHEMA_VERSION) => {}
        Some(found) if found > SCHEMA_VERSION => return Err(Error::TooNew { found }),
        _ => return Err(shape("it has no \"report\" with the number of its schema")),
    }
    let events = match whole.get_mut("events").map(Value::take) {
        Some(Value::Array(events)) if !events.is_empty() => events,
        _ => return Err(shape("it has no list \"events\"")),
    };
    let mut sounds = Sounds::new();
    match whole.get_mut("sounds").map(Value::take) {
        None => {}
        Some(Value::Object(all)) => {
            for (name, sound) in all {
                let wav = sound.as_str().and_then(|s| STANDARD.decode(s).ok());
                sounds.insert(name.clone(), wav.ok_or(Error::Sound(name))?);
            }
        }
        Some(_) => return Err(shape("its \"sounds\" are not an object")),
    }
    Ok(Imported { events, sounds })
}
