//! Wiring: opens models, jobs and sound, and performs the session's effects.

pub mod assets;
pub mod ear;
pub mod hear;
pub mod job;
pub mod record;
pub mod score;
pub mod spoken;
mod statistics;
pub mod truth;

/// Milliseconds since 1970 UTC; the only place that reads the clock.
#[must_use]
pub fn now_ms() -> i64 {
    jiff::Timestamp::now().as_millisecond()
}
