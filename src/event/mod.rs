//! Facts of a job. State is always the fold of its events; nothing is ever changed in place.

mod about;
mod closing;
mod fact;
mod part;
mod position;
mod repair;
#[cfg(test)]
pub(crate) mod review;
mod wish;

pub use about::About;
pub(crate) use about::{Reached, until_next_check};
pub(crate) use closing::NewRound;
pub use fact::{
    Doubt, Event, Fact, Gap, Outcome, Question, Reading, Rival, Sound, Source, Unplaced, Value,
};
pub(crate) use part::Escape;
pub use part::{Coil, Fastener, Head, Height, Line, Part};
pub use position::{Position, Side, Valve};
pub use repair::Repair;
pub(crate) use wish::Wish;
