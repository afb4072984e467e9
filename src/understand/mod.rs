//! Understanding: from sound to a hearing. Endpointing, decoding passes, hypotheses with their
//! interpretations, acceptance, and what goes on after a premature endpoint.

mod acceptance;
mod continuation;
mod decoding;
mod endpointing;
mod hypothesis;
mod listener;
#[cfg(test)]
pub(crate) mod testing;

pub use decoding::{Recognition, recognise};
pub use endpointing::Timeouts;
pub use hypothesis::{Evidence, Hypothesis};
pub use listener::{Conversation, Listener, OnPartial, Recognised};
