//! Benchcall: a voice companion for cylinder-head benchwork.
//!
//! | floor | modules |
//! |---|---|
//! | 0 values | [`measure`], [`event`] |

pub mod event;
pub mod grammar;
pub mod measure;
