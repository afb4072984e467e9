//! Wiring: opens models, jobs and sound, and performs the session's effects.

pub mod assets;
pub mod backend;
pub mod board;
pub mod disk_space;
pub mod export;
pub mod forget;
pub mod hear_again;
pub mod job;
pub mod phone;
pub mod recogniser;
pub mod report;
pub mod session_loop;
pub mod session_view;
pub mod sound;
pub mod speech;

/// Milliseconds since 1970 UTC; the only place that reads the clock.
#[must_use]
pub fn now_ms() -> i64 {
    jiff::Timestamp::now().as_millisecond()
}
