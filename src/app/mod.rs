//! Wiring: opens models, jobs and sound, and performs the session's effects.

pub mod assets;
pub mod board;
mod certain;
mod class;
pub mod ear;
pub mod evidence;
pub mod export;
pub mod figures;
pub mod forget;
mod gone_on;
pub mod hear;
pub mod hear_again;
pub mod house;
pub mod job;
mod mixture;
pub mod phone;
mod plot;
pub mod record;
pub mod report;
pub mod room;
pub mod score;
pub mod session_view;
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
