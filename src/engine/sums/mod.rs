//! Sums that know nothing of engines: assignment, covering, and trigonometry.

pub(crate) mod assign;
pub(crate) mod cover;
pub(crate) mod geometry;
