//! Evaluation: clips and sessions with known words, how each came out, and figures of it.

mod class;
mod figures;
mod mixture;
mod plot;
mod score;
mod statistics;
mod truth;
mod voiced;

pub use class::Class;
pub use figures::pictures;
pub use mixture::Noises;
pub use score::{Item, Score, Setting, Tally, Trial, Wrong, manifest, score};
pub use truth::{Comparison, Script};
pub use voiced::Voiced;
