//! Learning a voice: the recogniser's network with gradients, what a few phrases of one speaker teach
//! it, and which phrases to ask for.
//!
//! Only biases and layer norms are trained (46 848 numbers of the shipped weights), so what is learnt
//! is small, and the matrices stay those that ship.

mod batch;
mod network;
mod ops;
mod phrases;
mod train;

pub use batch::{Example, machine_noise};
pub use phrases::{is_of_value, phrases_to_read};
pub use train::{Learnt, Lesson, half_way, learn};

/// What can go wrong while a voice is learnt.
#[derive(Debug, thiserror::Error)]
pub enum LearnError {
    /// The file of weights is none that can be trained.
    #[error("the recogniser's weights cannot learn a voice: {0}")]
    Weights(String),
    /// There is nothing to learn from.
    #[error("there are no phrases to learn from")]
    NoPhrases,
    /// It was to stop.
    #[error("learning was stopped")]
    Stopped,
    /// The sums failed.
    #[error("learning failed: {0}")]
    Sums(#[from] candle_core::Error),
}
