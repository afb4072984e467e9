//! German with sound: the multilingual model of the manifest, where its file is. espeak-ng speaks.
#![allow(clippy::unwrap_used)]

use super::support::espeak;
use benchcall::app::assets;
use benchcall::app::job::Job;
use benchcall::app::recogniser;
use benchcall::event::{Event, Fact, Outcome};
use benchcall::measure::LengthUnit;
use benchcall::understand::Listener;
use std::path::{Path, PathBuf};

const PHRASES: [&str; 4] = [
    "drei Auslass links, fünfzehn geht, achtzehn geht nicht",
    "zwei Einlass rechts, null Komma eins acht",
    "eins Auslass links, Plättchen zwei fünfundsechzig",
    "zwei Auslass rechts, zweiundzwanzig",
];

/// The file named in `BENCHCALL_MULTILINGUAL`, in `models/`, or in `shared/models` beside the
/// project's folder.
fn model() -> Option<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let file = assets::model_entry("base-multilingual").unwrap().file;
    let named = std::env::var_os("BENCHCALL_MULTILINGUAL").map(PathBuf::from);
    let places = [
        root.join("models").join(&file),
        root.join("../shared/models").join(&file),
    ];
    named.into_iter().chain(places).find(|p| p.is_file())
}

/// What an event reads, opened valves aside.
fn readings(event: &Event) -> Vec<Fact> {
    let read = event.facts.iter().filter(|f| matches!(f, Fact::Read(_)));
    read.cloned().collect()
}

#[test]
fn german_speech_is_stored_as_meant_or_not_at_all() {
    let Some(model) = model() else {
        return println!("SKIPPED: the multilingual model is not here");
    };
    let job = || {
        let german = assets::grammar("de").unwrap();
        Job::unkept(german, "triple", LengthUnit::Millimetre).unwrap()
    };
    let mut listener = Listener::new(recogniser::load("de", Some(&model)).unwrap());
    let mut right = 0;
    for text in PHRASES {
        let Some(mut sound) = espeak(&["-v", "de"], text) else {
            return;
        };
        sound.extend(vec![0.0; 32_000]);
        let heard = listener.play(&sound, &mut job()).unwrap();
        let stored = heard
            .iter()
            .map(|h| &h.event)
            .filter(|e| e.outcome == Outcome::Stored);
        let stored: Vec<Fact> = stored.flat_map(readings).collect();
        let spoken: Vec<&str> = heard.iter().map(|h| h.event.spoken.as_str()).collect();
        println!("{text} => {}", spoken.join(" / "));
        let meant = readings(&job().say(text).unwrap());
        assert!(!meant.is_empty(), "{text} is not a phrase");
        assert!(stored.is_empty() || stored == meant, "{text}: {stored:?}");
        right += usize::from(stored == meant);
    }
    println!("{right} of {} stored as meant", PHRASES.len());
    assert!(right * 2 >= PHRASES.len(), "{right} only");
}
