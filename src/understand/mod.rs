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

pub use decoding::recognise;
pub(crate) use hypothesis::Evidence;
pub(crate) use listener::{Conversation, OnPartial};
pub use listener::{Listener, Recognised};
