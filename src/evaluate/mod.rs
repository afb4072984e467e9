//! Evaluation: clips and sessions with known words, how each came out, and figures of it.

mod class;
mod figures;
mod mixture;
mod plot;
mod score;
mod statistics;
mod truth;
mod voiced;

pub(crate) use class::Class;
pub use figures::pictures;
pub(crate) use mixture::Noises;
pub(crate) use score::Setting;
pub(crate) use score::Trial;
pub use score::{Item, manifest, score};
pub use truth::Script;
