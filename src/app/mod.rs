//! Wiring: opens models, jobs and sound, and performs the session's effects.

pub mod assets;
pub(crate) mod backend;
pub(crate) mod bench_pages;
pub mod bench_state;
pub(crate) mod board;
pub(crate) mod disk_space;
pub(crate) mod engine_change;
pub(crate) mod engine_page;
pub(crate) mod engine_words;
pub(crate) mod export;
pub(crate) mod forget;
pub(crate) mod hear_again;
pub(crate) mod in_words;
pub mod job;
pub(crate) mod jobs;
pub(crate) mod loudspeaker_delay;
pub(crate) mod network;
pub(crate) mod own_words;
pub(crate) mod phone;
pub(crate) mod progress;
pub mod recogniser;
pub(crate) mod recover;
pub mod report;
pub(crate) mod results_view;
pub mod session_loop;
pub(crate) mod session_view;
pub(crate) mod settings;
pub(crate) mod sound;
pub(crate) mod sound_check;
pub(crate) mod sound_choice;
pub mod speech;
pub(crate) mod terminal;
#[cfg(feature = "learn")]
pub(crate) mod voice_guard;
#[cfg(feature = "learn")]
pub(crate) mod voice_learning;
#[cfg(feature = "learn")]
pub(crate) mod voice_reading;
#[cfg(feature = "learn")]
pub(crate) mod voice_recording;
#[cfg(feature = "learn")]
pub(crate) mod voice_take;
pub(crate) mod voices;

/// Milliseconds since 1970 UTC.
#[must_use]
pub fn now_ms() -> i64 {
    jiff::Timestamp::now().as_millisecond()
}
