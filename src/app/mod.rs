//! Wiring: opens models, jobs and sound, and performs the session's effects.

pub mod assets;
mod certain;
pub mod ear;
pub mod figures;
pub mod hear;
pub mod job;
mod mixture;
mod plot;
pub mod record;
pub mod score;
pub mod spoken;
mod statistics;
pub mod truth;
pub mod turn;
pub mod voiced;

/// Milliseconds since 1970 UTC; the only place that reads the clock.
#[must_use]
pub fn now_ms() -> i64 {
    jiff::Timestamp::now().as_millisecond()
}
